"""The shop's rules for glue-ups: which pieces may be neighbors, and where seams may not run.

Measured on true outlines. A little is forgiven, as chords of the search may lie at other angles than these.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence

import numpy as np
import shapely

from nestyield.audit.curves import TOL_MM
from nestyield.audit.joints import Joined
from nestyield.audit.sheet import CheckedBlank, CheckedPlacement
from nestyield.model import Blank, Member, Piece
from nestyield.model.facts import SeamRuleBroken

#: An outline within so many degrees of the seam, for so many millimeters, leaves a sliver for certain; the
#: rule itself is 10 degrees and 40 mm.
SURELY_PARALLEL_DEG = 8.0
SURELY_LONG_MM = 46.0
#: What is forgiven of a distance, millimeters.
FORGIVEN_MM = 0.05
#: Seams of strips on edge may come so near to the outline, millimeters (practice, no source).
STRIP_SLIVER_MM = 5.0
_ANGLE_TOL_DEG = 1e-3
_FAR_MM = 1e5


def _grain(piece: Piece, member: Member) -> float | None:
    if piece.grain_deg is None:
        return None
    return (180.0 - piece.grain_deg if member.mirrored else piece.grain_deg) + member.angle_deg


def _board(piece: Piece) -> str:
    """Name of the row that a piece was cut from, or its own; what came of a glue-up stands for itself."""
    return piece.parent if piece.parent and "+" not in piece.parent.split() else piece.name


def _apart(one: float, other: float) -> float:
    return abs((one - other + 90.0) % 180.0 - 90.0)


def check_neighbors(bench: CheckedBlank, blank: Blank, joints: Sequence[Joined]) -> None:
    """Check species, moisture and grain on both sides of each seam, and each member's grain under parts."""
    settings = bench.sheet.plan.shop.settings.glueup
    pieces = [bench.sheet.pieces[m.piece] for m in blank.members]
    grains = [_grain(p, m) for p, m in zip(pieces, blank.members)]
    for joint in joints:
        one, other = pieces[joint.below], pieces[joint.above]
        pair = f"pieces {one.name} and {other.name}"
        if one.species != other.species and not settings.mixed_species:
            bench.say("A116", f"{pair} are {one.species} and {other.species}; the shop does not mix species")
        if settings.one_board and _board(one) != _board(other):
            bench.say("A116", f"{pair} are not known to be of one board, as the shop asks")
        if one.moisture_pct is not None and other.moisture_pct is not None:
            apart, most = (
                abs(one.moisture_pct - other.moisture_pct),
                settings.moisture_difference,
            )
            if apart > most + 1e-6:
                bench.say("A116", f"{pair} are {apart:g} points of moisture apart; at most {most:g}")
        a, b = grains[joint.below], grains[joint.above]
        crossed = settings.crossed_grain_deg
        if a is None or b is None or settings.crossed == "allowed":
            continue
        if _apart(a, b) > crossed + _ANGLE_TOL_DEG:
            bench.say(
                "A116", f"the grain of {pair} differs by {_apart(a, b):.2f} degrees; at most {crossed:g}"
            )
    copies = {(m.piece, m.copy) for m in blank.members}
    if settings.one_board and len(copies) > len({m.piece for m in blank.members}):
        bench.say("A116", "two copies of one row are not known to be of one board, as the shop asks")
    for laid in bench.laid:
        if joints and not laid.part.glue:
            bench.say("A128", f"{laid.part.name} is not to be cut from a glue-up", laid.part.name)
    if settings.crossed == "allowed":
        return
    for laid in bench.laid:
        if laid.part.grain_deg is None:
            continue
        drawn = laid.part.grain_deg
        lies = (180.0 - drawn if laid.placement.mirrored else drawn) + laid.placement.angle_deg
        for piece, grain in zip(pieces, grains):
            if grain is not None and _apart(grain, lies) > laid.part.grain_tolerance_deg + _ANGLE_TOL_DEG:
                bench.say(
                    "A116",
                    f"the grain of piece {piece.name} lies {_apart(grain, lies):.2f} degrees off that of "
                    f"{laid.name}; at most {laid.part.grain_tolerance_deg:g}",
                )


def check_rules(bench: CheckedBlank, blank: Blank, joints: Sequence[Joined]) -> None:
    """Check where seams run under parts: rules are kept, or broken with a word where the shop lets it."""
    may = bench.sheet.plan.shop.settings.glueup.rules == "caution"
    for joint in joints:
        start, along = joint.frame
        ends = [start - along * _FAR_MM, start + along * _FAR_MM]
        line = shapely.LineString([(z.real, z.imag) for z in ends])
        _check_line(bench, joint.seam.name, line, told=may)


def check_own_seams(bench: CheckedBlank) -> None:
    """Check that a piece which came glued up tells each rule that its seams break under parts."""
    for seam in bench.layout.blank.seams:
        for ends in itertools.pairwise(seam.line_mm):
            if ends[0] != ends[1]:
                _check_line(bench, seam.name, shapely.LineString(ends), told=True)


def _check_line(bench: CheckedBlank, name: str, line: shapely.LineString, *, told: bool) -> None:
    """Note each rule that a straight seam breaks, those left out that may be broken and are told."""
    facts = [f for f in bench.layout.wood if isinstance(f, SeamRuleBroken) and f.seam == name] if told else []
    for laid in bench.laid:
        known = {getattr(f.rule, "zone", "") for f in facts if f.placement == laid.index}
        for zone, why in _broken(bench, line, laid):
            if zone not in known:
                bench.say("A117", f"{name} runs {why} of {laid.name}")


def _broken(
    bench: CheckedBlank, line: shapely.LineString, laid: CheckedPlacement
) -> Iterator[tuple[str, str]]:
    """Give the rules that a straight seam breaks under a part, with the zone, ``""`` for the outline."""
    settings = bench.sheet.plan.shop.settings.glueup
    (x0, y0), (x1, y1) = line.coords
    start, along = complex(x0, y0), complex(x1 - x0, y1 - y0)
    along /= abs(along)
    if line.intersection(laid.outline).length <= TOL_MM:
        return
    for zone in laid.part.zones:
        if zone.shape is None:
            continue
        ground = laid.zone(zone.shape)
        inner = ground.buffer(-FORGIVEN_MM)
        if zone.does.seam == "barred" and line.intersects(inner):
            yield zone.name, f"through {zone.name}"
        elif zone.does.seam == "clear":
            least = settings.hole_clearance_mm
            room = float(shapely.distance(line, ground))
            if line.intersects(inner) or (least > 0 and room < least - FORGIVEN_MM):
                yield zone.name, f"{room:.2f} mm from the hole {zone.name}, at least {least:g} mm,"
        elif zone.does.seam == "crosswise" and line.intersects(inner):
            z = np.array([complex(x, y) for x, y in shapely.get_coordinates(ground)]) * along.conjugate()
            if np.ptp(z.real) > np.ptp(z.imag) + 2 * FORGIVEN_MM:
                yield zone.name, f"lengthwise through {zone.name}"
    near, end = settings.sliver_mm, line.length
    if bench.layout.blank.on_edge:
        near = min(near, STRIP_SLIVER_MM)
    for (left, right), (low, high) in _slivers(laid, start, along, near):
        if low + FORGIVEN_MM < 0.0 < high - FORGIVEN_MM and left < end - TOL_MM and right > TOL_MM:
            yield "", f"within {near:g} mm of a parallel stretch of the outline"
            return


def _slivers(
    laid: CheckedPlacement, start: complex, along: complex, near: float
) -> Iterator[tuple[tuple[float, float], tuple[float, float]]]:
    """Give the intervals along and across the seam, which begins at 0, that a parallel outline bars."""
    ring = shapely.get_coordinates(shapely.orient_polygons(laid.outline))[:-1]
    z = (np.array([complex(x, y) for x, y in ring]) - start) * along.conjugate()
    step = np.roll(z, -1) - z
    flat = np.abs(step.imag) <= math.tan(math.radians(SURELY_PARALLEL_DEG)) * np.abs(step.real)
    side = np.where(flat, np.where(step.real > 0, 1, -1), 0)
    first = next((i for i in range(len(z)) if side[i] != side[i - 1]), 0)
    z, side = np.roll(z, -first), np.roll(side, -first)
    i = 0
    while i < len(z):
        j = i
        while j < len(z) and side[j] == side[i]:
            j += 1
        run = z[[k % len(z) for k in range(i, j + 1)]]
        if side[i] and abs(run[-1].real - run[0].real) >= SURELY_LONG_MM:
            low, high = float(run.imag.min()), float(run.imag.max())
            across = (low, high + near) if side[i] > 0 else (low - near, high)
            yield (float(run.real.min()), float(run.real.max())), across
        i = j
