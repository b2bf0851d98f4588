"""Pins and screws on the bed checked again, in every position, also when all stands off its place."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely
from shapely.affinity import affine_transform

from nestyield.audit.beds import swept
from nestyield.audit.curves import TOL_MM, points_of, polygon, unit
from nestyield.audit.sheet import CheckedBlank
from nestyield.model import Bed, HoldDown, Pin, Section, Setup

#: Directions in which the setup is pushed off its place.
_WAYS = 16
#: Keep-outs may be touched this deep by curves that are drawn as chords, millimeters.
_CHORD_MM = 0.02


def check_stands(bench: CheckedBlank) -> None:
    """Check where pins and screws of the chosen setup come to lie on its bed."""
    layout = bench.layout
    work = layout.work
    if work is None or layout.chosen is None or not 0 <= layout.chosen < len(layout.setups):
        return
    chosen = layout.setups[layout.chosen]
    bed = bench.sheet.beds.get(chosen.bed)
    if bed is None:
        return
    held: list[Pin | HoldDown] = [*work.hold_downs, *(p for p in work.pins if p.use == "flip")]
    places: Sequence[Setup | Section] = chosen.sections or (chosen,)
    pushes = [0j, *(work.clearance_mm * unit(360.0 * k / _WAYS) for k in range(_WAYS))]
    for up in dict.fromkeys(p.up for p in work.positions):
        for number, place in enumerate(places, start=1):
            move = _move(bench, up == "bottom", place)
            for item in held:
                if isinstance(item, HoldDown) and item.sections and number not in item.sections:
                    continue
                _stands(bench, bed, item, move, pushes, f"{up} face up")
            if not chosen.sections:
                _pushed(bench, bed, move, work.clearance_mm, f"{up} face up")


def _move(bench: CheckedBlank, bottom: bool, place: Setup | Section) -> list[float]:
    """From blank to bed as [a, b, d, e, x, y]: x' = a x + b y + x, y' = d x + e y + y."""
    work = bench.layout.work
    turn, shift = unit(place.turned_deg), complex(place.x_mm, place.y_mm)
    if bottom and work is not None and work.flip_axis_mm is not None:
        p, q = (complex(*v) for v in work.flip_axis_mm)
        along = (q - p) / abs(q - p)
        # z -> p + along^2 conj(z - p), then turned and shifted
        w = turn * along * along
        at = turn * p - w * p.conjugate() + shift
        return [w.real, w.imag, w.imag, -w.real, at.real, at.imag]
    return [turn.real, -turn.imag, turn.imag, turn.real, shift.real, shift.imag]


def _stands(
    bench: CheckedBlank, bed: Bed, item: Pin | HoldDown, move: list[float], pushes: list[complex], where: str
) -> None:
    spot = affine_transform(shapely.Point(item.x_mm, item.y_mm), move)
    drilled = isinstance(item, Pin) and not item.by_hand
    radius = item.diameter_mm / 2.0
    for push in pushes:
        x, y = spot.x + push.real, spot.y + push.imag
        off = f", {abs(push):g} mm off its place" if push else ""
        past = max(
            bed.table_x_mm[0] + radius - x,
            x + radius - bed.table_x_mm[1],
            bed.table_y_mm[0] + radius - y,
            y + radius - bed.table_y_mm[1],
        )
        if past > TOL_MM:
            bench.say("A512", f"{item.name}, {where}{off}, stands {past:.3f} mm past the table's edge")
            return
        past = max(-x, x - bed.travel_x_mm, -y, y - bed.travel_y_mm)
        if drilled and past > TOL_MM:
            bench.say("A512", f"{item.name}, {where}{off}, lies {past:.3f} mm beyond the machine's reach")
            return
        for keep_out in bed.keep_outs:
            ground = polygon(points_of(keep_out.outline))
            if ground.distance(shapely.Point(x, y)) < radius - _CHORD_MM:
                bench.say("A512", f"{item.name}, {where}{off}, stands in keep-out '{keep_out.name}'")
                return


def check_clearances(bench: CheckedBlank) -> None:
    """Check how far the blank may lie off the place of each setup that fits.

    Parameters
    ----------
    bench : CheckedBlank
    """
    for setup in bench.layout.setups:
        bed = bench.sheet.beds.get(setup.bed)
        if setup.fits and bed is not None:
            where = f"bed {bed.name} along {setup.along.upper()}"
            _pushed(bench, bed, _move(bench, False, setup), setup.clearance_mm, where, "A506")


def _pushed(
    bench: CheckedBlank, bed: Bed, move: list[float], off_mm: float, where: str, code: str = "A512"
) -> None:
    """Blank and cutter keep table, travel and keep-outs when all stands off its place."""
    if off_mm <= 0.0 or not bench.laid:
        return
    diameter = bench.sheet.plan.shop.settings.cutter_diameter_mm
    wood = affine_transform(bench.wood, move)
    bodies = [affine_transform(body, move) for laid in bench.laid for body in swept(laid, diameter)]
    ends = np.array([affine_transform(laid.outline, move).bounds for laid in bench.laid])
    low, high = ends[:, :2].min(axis=0) - diameter / 2.0, ends[:, 2:].max(axis=0) + diameter / 2.0
    least = math.inf
    for i, (axis, travel, table) in enumerate(
        (("x", bed.travel_x_mm, bed.table_x_mm), ("y", bed.travel_y_mm, bed.table_y_mm))
    ):
        least = min(least, low[i], travel - high[i])
        if f"{axis}-" not in bed.open_ends:
            least = min(least, wood.bounds[i] - table[0])
        if f"{axis}+" not in bed.open_ends:
            least = min(least, table[1] - wood.bounds[i + 2])
    for keep_out in bed.keep_outs:
        ground = polygon(points_of(keep_out.outline))
        if keep_out.blocks != "cutter":
            least = min(least, float(ground.distance(wood)))
        if keep_out.blocks != "blank":
            least = min(least, *(float(ground.distance(body)) for body in bodies))
    if off_mm > least + _CHORD_MM:
        bench.say(code, f"{where}, all may stand {least:.3f} mm off, the plan says {off_mm:.3f}")
