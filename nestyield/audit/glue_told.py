"""What the plan tells of a glue-up beside lines and joints: planing, movement, crossings, what is seen."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from nestyield.audit.curves import points_of, region, unit
from nestyield.audit.depth import planed_off
from nestyield.audit.reinforcements import line_of, on_line, span_of
from nestyield.audit.sheet import CheckedBlank, CheckedPlacement
from nestyield.model import GlueSeam, GlueUp, Piece, Seam

#: Lengths told to the maker are right to this, millimeters.
SAME_MM = 0.05
#: Shorter stretches of a seam may be told or not; so much does the chord error move the ends of one.
STRETCH_MM = 0.1
#: Turns are right to this.
ANGLE_TOL_DEG = 0.01


def check_glue_told(bench: CheckedBlank, told: GlueUp, pieces: Sequence[Piece]) -> None:
    """Check planing, movement and seams of a glue-up as they are told.

    Parameters
    ----------
    bench : CheckedBlank
    told : GlueUp
    pieces : sequence of Piece
        Of the blank's members.
    """
    _planed(bench, told)
    _season(bench, told)
    _widths(bench, told, pieces)
    _laid(bench, told)
    drawn = {s.name: s for s in bench.layout.blank.seams}
    for seam in told.seams:
        if seam.seam in drawn:
            _crossings(bench, seam, drawn[seam.seam])
            _seen(bench, seam, drawn[seam.seam])


def _planed(bench: CheckedBlank, told: GlueUp) -> None:
    """What is planed off afterwards leaves the thickest part, between its own faces."""
    if not bench.laid:
        return
    thickest = max(laid.part.thickness_mm for laid in bench.laid)
    ways = [planed_off(bench, laid) for laid in bench.laid if laid.part.thickness_mm == thickest]
    if not any(
        abs(told.top_off_mm - top) <= SAME_MM and abs(told.bottom_off_mm - bottom) <= SAME_MM
        for top, bottom in ways
    ):
        what = f"{told.top_off_mm:g} and {told.bottom_off_mm:g} mm"
        bench.say("A119", f"{what} are told as planed off afterwards, worked out {ways[0]}")


def _laid(bench: CheckedBlank, told: GlueUp) -> None:
    """Each board lies the way round that is told, and its edges are measured at both ends alike."""
    seams = {s.name: s for s in bench.layout.blank.seams}
    for mine, member in zip(told.members, bench.layout.blank.members):
        where = f"piece {mine.letter}"
        if not mine.edges or mine.edges[0].seam not in seams:
            continue
        along = line_of(seams[mine.edges[0].seam])[1]
        length = unit(member.angle_deg) * (-1.0 if member.mirrored else 1.0) / along
        off = math.degrees(math.atan(length.imag / length.real)) if abs(length.real) > 1e-9 else 90.0
        if abs(length.real) > 1e-6 and mine.end_for_end != (length.real < 0.0):
            bench.say("A119", "it is told to lie the other way round", where)
        if abs((off - mine.turned_deg + 90.0) % 180.0 - 90.0) > ANGLE_TOL_DEG:
            bench.say("A119", f"it is turned by {off:.3f} degrees, told as {mine.turned_deg:g}", where)
        for edge in mine.edges:
            first, last = edge.off_at_mm
            if abs(first + last - math.dist(*edge.line_mm)) > 2 * SAME_MM or first > last + SAME_MM:
                bench.say("A119", "what comes off is not told at both ends alike", f"{where}, {edge.seam}")


def _season(bench: CheckedBlank, told: GlueUp) -> None:
    wood = bench.sheet.plan.shop.settings.wood
    if told.temperature_c != wood.temperature or told.humidity_pct != (wood.humidity_low, wood.humidity_high):
        bench.say("A121", "the air of the season is not the shop's")


def _widths(bench: CheckedBlank, told: GlueUp, pieces: Sequence[Piece]) -> None:
    """Each board and the blank have their row: whose, of which wood, how wide across the joints."""
    blank = bench.layout.blank
    rows = [*((m.letter, p.species) for m, p in zip(told.members, pieces)), ("blank", blank.species)]
    if [(r.what, r.species) for r in told.movement] != rows:
        bench.say("A121", f"movement is told of {[r.what for r in told.movement]}, there are {rows}")
        return
    first = line_of(blank.seams[0])
    woods = [shapely.union_all([region(s) for s in m.wood]) for m in told.members]
    corners = [*(shapely.get_coordinates(w) for w in woods), points_of(blank.shape.outer)]
    for row, some in zip(told.movement, corners):
        across = [on_line((float(x), float(y)), *first).imag for x, y in some]
        width = float(np.ptp(across)) if across else 0.0
        if abs(width - row.width_mm) > SAME_MM:
            bench.say("A121", f"{row.what} is told as {row.width_mm:g} mm wide, measured {width:.3f}")
    boards, whole = told.movement[:-1], told.movement[-1]
    total = sum(r.width_mm for r in boards)
    for name in ("quartersawn_mm", "flatsawn_mm"):
        moves = [getattr(r, name) for r in boards]
        right = None if None in moves or not total else sum(moves) * whole.width_mm / total
        mine = getattr(whole, name)
        if (right is None) != (mine is None) or abs((mine or 0.0) - (right or 0.0)) > SAME_MM:
            bench.say("A121", f"movement of the blank is told as {mine}, worked out {right}")
    marks = {mark for r in boards for mark in r.marks}
    if not set(whole.marks) <= marks or (marks and whole.flatsawn_mm is not None and not whole.marks):
        bench.say(
            "A121", f"figures of the blank are marked {whole.marks}, those of its boards {sorted(marks)}"
        )


def _crossings(bench: CheckedBlank, seam: GlueSeam, drawn: Seam) -> None:
    """Every zone that is cut and that the seam runs through is told, from which face and how far."""
    line = shapely.LineString(drawn.line_mm)
    chord = bench.sheet.plan.shop.settings.chord_error_mm
    told = Counter((c.placement, c.zone) for c in seam.crossings)
    by_key = {(c.placement, c.zone): c for c in seam.crossings}
    for laid in bench.laid:
        for zone in laid.part.zones:
            if zone.shape is None or (span := span_of(zone, laid)) is None:
                continue
            low, high = _in(line, laid, laid.zone(zone.shape), chord)
            one = by_key.get((laid.index, zone.name))
            if one is None:
                if low > STRETCH_MM:
                    bench.say("A119", f"runs {low:.3f} mm through {zone.name}, which is not told", seam.seam)
                continue
            if not low - STRETCH_MM <= one.length_mm <= high + STRETCH_MM:
                bench.say(
                    "A119",
                    f"runs through {zone.name} for {one.length_mm:.3f} mm by the plan, {low:.3f} as measured",
                    seam.seam,
                )
            through = span[0] <= 0.0 and span[1] >= laid.part.thickness_mm
            face = "through" if through else "up" if span[0] <= 0.0 else "down"
            if one.face != face:
                bench.say("A119", f"{zone.name} is told as cut {one.face}, it is {face}", seam.seam)
    if any(n > 1 for n in told.values()):
        bench.say("A119", "a zone is told twice", seam.seam)


def _in(line: BaseGeometry, laid: CheckedPlacement, ground: BaseGeometry, by: float) -> tuple[float, float]:
    """Return the length of a seam in a zone of a part: at least, and at most."""
    inside = [line.intersection(laid.outline.buffer(d)).intersection(ground.buffer(d)) for d in (-by, by)]
    return float(inside[0].length), float(inside[1].length)


def _seen(bench: CheckedBlank, seam: GlueSeam, drawn: Seam) -> None:
    """A seam of a glue-up is seen where it is seen on any part, told in the same order."""
    on_parts = {v for s in bench.layout.seams if s.seam == seam.seam for v in s.visible}
    if list(seam.visible) != [v for v in ("front", "back", "edge") if v in on_parts]:
        bench.say("A119", f"is told as seen on {seam.visible}, on parts it is {sorted(on_parts)}", seam.seam)


def check_seen(bench: CheckedBlank) -> None:
    """Check where a player would see each seam under a part: on a face that is not cut away, on the edge.

    Parameters
    ----------
    bench : CheckedBlank
    """
    chord = bench.sheet.plan.shop.settings.chord_error_mm
    drawn = {s.name: shapely.LineString(s.line_mm) for s in bench.layout.blank.seams}
    for told in bench.layout.seams:
        laid = next((p for p in bench.laid if p.index == told.placement), None)
        line = drawn.get(told.seam)
        if laid is None or line is None:
            continue
        inside = line.intersection(laid.outline)
        for face in ("front", "back"):
            gone = [
                laid.zone(z.shape)
                for z in laid.part.zones
                if z.shape is not None
                and z.does.cuts
                and not z.does.slopes
                and (z.depth_mm is None or z.face in (face, "through"))
            ]
            rest = inside.difference(shapely.union_all(gone)).length if gone else inside.length
            seen = face in told.visible
            if seen != (rest > STRETCH_MM) and abs(rest - STRETCH_MM) > 4 * chord + STRETCH_MM:
                bench.say(
                    "A401",
                    f"{told.seam} is {'' if seen else 'not '}told as seen on the {face} of {laid.name}; "
                    f"{rest:.3f} mm of it are on that face",
                )
        edge = line.distance(laid.outline.exterior) if hasattr(laid.outline, "exterior") else 0.0
        if ("edge" in told.visible) != (edge <= chord) and edge > 2 * chord:
            bench.say("A401", f"{told.seam} is told as seen on the edge of {laid.name}, {edge:.3f} mm away")
        if "edge" not in told.visible and line.crosses(laid.outline.buffer(-2 * chord)):
            bench.say("A401", f"{told.seam} is not told as seen on the edge of {laid.name}")
        if len(set(told.visible)) != len(told.visible):
            bench.say("A401", f"{told.seam} is told as seen twice in one place")
