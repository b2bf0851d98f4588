"""Positions of a blank on its bed worked out again: poses, pins of the table, the square edge."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from nestyield.audit.curves import TOL_MM, region, unit
from nestyield.audit.sheet import CheckedBlank
from nestyield.model import BedPosition, Section, Setup, WorkPlan

#: A pose may put a point of the blank so far from where setup and flip axis put it, mm.
POSE_TOL_MM = 0.01
#: A hole may be so far off its pin, mm.
HOLE_TOL_MM = 0.05
#: Whole micrometers may differ so much from millimeters, mm.
UM_MM = 0.001
#: Wood so near to an edge reaches it, and samples along it lie so far apart, mm.
_ON_MM = 0.6
_APART_MM = 1.0
#: A sound edge lacks no more than this share of its length.
_MOST_GONE = 0.2
#: Slips that short defects along an edge allow.
_SLIP = 0.02

Move = tuple[complex, complex, bool]


def put(move: Move, at: complex) -> complex:
    """Return where a move puts a point."""
    turn, shift, mirrored = move
    return turn * (-at.conjugate() if mirrored else at) + shift


def of_position(position: BedPosition) -> Move:
    """Return the move from blank to bed that a position tells."""
    return unit(position.angle_deg), complex(position.x_mm, position.y_mm), position.mirrored


def check_positions(bench: CheckedBlank, work: WorkPlan, setup: Setup) -> list[Move] | None:
    """Check the poses against setup, sections and flip axis; return those that the audit works out."""
    places: Sequence[Setup | Section] = setup.sections or (setup,)
    count = len(places)
    ups = [p.up for p in work.positions]
    faces = list(dict.fromkeys(ups))
    wanted = [(up, k + 1 if setup.sections else 0) for up in faces for k in range(count)]
    if not faces or [(p.up, p.section) for p in work.positions] != wanted:
        bench.say("A520", f"has {len(ups)} positions; each face is up once in each of {count} places")
        return None
    if len({p.name for p in work.positions}) < len(ups):
        bench.say("A520", "two positions have one name")
    x0, y0, x1, y1 = bench.wood.bounds
    corners = [complex(x, y) for x in (x0, x1) for y in (y0, y1)]
    moves = []
    for k, position in enumerate(work.positions):
        place = places[k % count]
        turn, shift = unit(place.turned_deg), complex(place.x_mm, place.y_mm)

        def flat(at: complex, turn: complex = turn, shift: complex = shift) -> complex:
            return turn * at + shift

        lies = [flat(at) for at in corners]
        if position.up == "bottom":
            if work.flip_axis_mm is None:
                bench.say("A520", f"position {position.name} has the bottom up, and there is no flip axis")
                return None
            a, b = (complex(*at) for at in work.flip_axis_mm)
            along = (b - a) / abs(b - a)
            lies = [flat(a + along * ((at - a) / along).conjugate()) for at in corners]
        told = of_position(position)
        off = max(abs(put(told, at) - where) for at, where in zip(corners, lies, strict=True))
        if off > POSE_TOL_MM:
            bench.say("A520", f"position {position.name} puts the blank {off:.3f} mm off its place")
        moves.append(_move_from(corners, lies, position.up == "bottom"))
    return moves


def _move_from(corners: list[complex], lies: list[complex], mirrored: bool) -> Move:
    """Return the move that brings corners where they lie."""
    a, b = corners[0], corners[-1]
    span = -(b - a).conjugate() if mirrored else b - a
    turn = (lies[-1] - lies[0]) / span
    return turn, lies[0] - turn * (-a.conjugate() if mirrored else a), mirrored


def check_table(bench: CheckedBlank, work: WorkPlan, moves: list[Move]) -> None:
    """Check that each pin of the table carries a hole of the blank in every position."""
    holes = {p.name: p for p in work.pins}
    if work.pins and len(moves) > 1 and len(work.table_pins) < 2:
        bench.say("A521", f"{len(work.table_pins)} pins of the table serve in every position; two must")
    flips = {p.name for p in work.pins if p.use == "flip"}
    if flips and flips != {p.name for p in work.table_pins}:
        bench.say("A521", "not every hole for turning over has its pin in the table")
    bed = bench.sheet.beds.get(bench.layout.setups[bench.layout.chosen or 0].bed)
    for pin in work.table_pins:
        if len(pin.holes) != len(moves) or not set(pin.holes) <= holes.keys():
            bench.say("A521", f"{pin.name} of the table does not have a hole for each position")
            continue
        if pin.holes[0] != pin.name or not pin.depth_mm > 0.0:
            bench.say("A521", f"{pin.name} of the table has a wrong name or no depth")
        for name, move, position in zip(pin.holes, moves, work.positions, strict=True):
            hole = holes[name]
            off = abs(put(move, complex(hole.x_mm, hole.y_mm)) - complex(pin.x_mm, pin.y_mm))
            if off > HOLE_TOL_MM or abs(hole.diameter_mm - pin.diameter_mm) > UM_MM:
                bench.say("A521", f"{name} is {off:.3f} mm off {pin.name} of the table in {position.name}")
        if bed is not None and not pin.by_hand:
            past = max(-pin.x_mm, pin.x_mm - bed.travel_x_mm, -pin.y_mm, pin.y_mm - bed.travel_y_mm)
            if past > TOL_MM:
                bench.say("A521", f"{pin.name} of the table is {past:.3f} mm beyond the machine's reach")


def check_square(bench: CheckedBlank, work: WorkPlan, moves: list[Move]) -> None:
    """Check that the edge to lay a blank square by is one of its edges, where the first position puts it."""
    square = work.square
    if square is None:
        return
    turn, shift, mirrored = moves[0]
    x0, y0, x1, y1 = bench.wood.bounds
    y = y0 if square.edge == "lower" else y1
    ends = []
    for at in (square.from_mm, square.to_mm):
        back = (complex(*at) - shift) / turn
        ends.append(-back.conjugate() if mirrored else back)
    off = max(abs(at.imag - y) for at in ends)
    low, high = sorted(at.real for at in ends)
    if off > POSE_TOL_MM + UM_MM or low < x0 - POSE_TOL_MM or high > x1 + POSE_TOL_MM:
        bench.say("A522", f"the {square.edge} edge to lay the blank square by is {off:.3f} mm off its wood")
        return
    samples = shapely.points([(x, y) for x in np.arange(x0 + _APART_MM / 2, x1, _APART_MM)])
    reached = shapely.dwithin(bench.wood, samples, _ON_MM)
    taken = [region(d.shape) for d in bench.layout.blank.defects if d.traits.wood_missing]
    gone = np.zeros(len(samples), dtype=bool)
    for ground in taken:
        gone |= shapely.dwithin(ground, samples, _ON_MM)
    share = float(np.mean(gone))
    ends_on = all(bench.wood.distance(shapely.Point(at.real, at.imag)) < _ON_MM for at in ends)
    if share > _MOST_GONE + _SLIP or not ends_on or not np.any(reached & ~gone):
        bench.say(
            "A522", f"the {square.edge} edge to lay the blank square by is not sound: {share:.0%} is gone"
        )
