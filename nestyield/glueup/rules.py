"""Where seams may run under a part, and where they are wanted."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from nestyield.geometry.flatten import flatten_shape
from nestyield.geometry.grid import UM_PER_MM, bounds, to_grid
from nestyield.glueup.band import OrientedPart
from nestyield.model import GlueUpRules, Zone
from nestyield.model.facts import AlongScrews, InNoSeamZone, NearHole, NearOutline, SeamRule

#: From and to, micrometers, both ends allowed or both forbidden as the use says.
Interval = tuple[int, int]

#: Outline flatter than this to the seam counts as parallel, degrees.
_PARALLEL_DEG = 10.0
#: A parallel stretch shorter than this leaves no sliver, millimeters.
_STRETCH_MM = 40.0


#: Farther along a seam than any part reaches, micrometers.
_FAR_UM = 10**9


@dataclass(frozen=True, slots=True, kw_only=True)
class ForbiddenInterval:
    """An open interval of y where no seam may run, and the rule that forbids it.

    A seam that ends before ``left`` or begins after ``right`` keeps the rule wherever it runs.
    """

    low: int
    high: int
    rule: SeamRule
    left: int = -_FAR_UM
    right: int = _FAR_UM


def _zone_box(zone: Zone, lying: OrientedPart) -> tuple[int, int, int, int]:
    assert zone.shape is not None
    return bounds(lying.turn.on_grid(flatten_shape(zone.shape, 0.05, "outside")))


def forbidden_intervals(lying: OrientedPart, rules: GlueUpRules) -> tuple[ForbiddenInterval, ...]:
    """Return the intervals of y where no seam may run under a lying part.

    Parameters
    ----------
    lying : OrientedPart
    rules : GlueUpRules

    Returns
    -------
    tuple of ForbiddenInterval
        Zones first in drawing order, then slivers from low to high.
    """
    out: list[ForbiddenInterval] = []
    clear = round(rules.hole_clearance_mm * UM_PER_MM)
    for zone in lying.part.zones:
        if zone.shape is None or zone.does.seam == "free":
            continue
        x0, y0, x1, y1 = _zone_box(zone, lying)
        if zone.does.seam == "barred":
            out.append(
                ForbiddenInterval(low=y0, high=y1, rule=InNoSeamZone(zone=zone.name), left=x0, right=x1)
            )
        elif zone.does.seam == "clear":
            near = NearHole(zone=zone.name, clearance_um=clear)
            low, high = y0 - clear, y1 + clear
            out.append(ForbiddenInterval(low=low, high=high, rule=near, left=x0 - clear, right=x1 + clear))
        elif zone.does.seam == "crosswise" and x1 - x0 > y1 - y0:
            row = AlongScrews(zone=zone.name)
            out.append(ForbiddenInterval(low=y0, high=y1, rule=row, left=x0, right=x1))
    return (*out, *_slivers(lying, rules))


def _slivers(lying: OrientedPart, rules: GlueUpRules) -> list[ForbiddenInterval]:
    ring = lying.outline
    n = len(ring)
    points = ring.tolist()
    flat: list[int] = []  # +1 wood above, -1 wood below, 0 not parallel; the ring runs counter-clockwise
    for i in range(n):
        (x0, y0), (x1, y1) = points[i], points[(i + 1) % n]
        off = math.degrees(math.atan2(abs(y1 - y0), abs(x1 - x0)))
        flat.append(0 if off > _PARALLEL_DEG else (1 if x1 > x0 else -1))
    start = next((i for i in range(n) if flat[i] != flat[i - 1]), 0)
    out: list[ForbiddenInterval] = []
    i = 0
    near = round(rules.sliver_mm * UM_PER_MM)
    while i < n:
        side = flat[(start + i) % n]
        j = i
        while j < n and flat[(start + j) % n] == side:
            j += 1
        if side:
            run = [points[(start + k) % n] for k in range(i, j + 1)]
            if abs(run[-1][0] - run[0][0]) >= _STRETCH_MM * UM_PER_MM:
                lo, hi = min(p[1] for p in run), max(p[1] for p in run)
                low, high = (lo, hi + near) if side > 0 else (lo - near, hi)
                left, right = min(p[0] for p in run), max(p[0] for p in run)
                out.append(
                    ForbiddenInterval(
                        low=low, high=high, rule=NearOutline(least_um=near), left=left, right=right
                    )
                )
        i = j
    return sorted(out, key=lambda b: (b.low, b.high))


def free_intervals(low: int, high: int, bars: Iterable[ForbiddenInterval]) -> list[Interval]:
    """Return what of a closed interval no bar covers, low to high; touching a bar's end is allowed."""
    free = [(low, high)] if low <= high else []
    for bar in bars:
        cut: list[Interval] = []
        for a, b in free:
            if bar.high <= a or bar.low >= b:
                cut.append((a, b))
                continue
            if a <= bar.low:
                cut.append((a, bar.low))
            if bar.high <= b:
                cut.append((bar.high, b))
        free = cut
    return free


def center_y(lying: OrientedPart) -> int | None:
    """Return the y of the part's center line when it runs along the grain (within 2 degrees), else None."""
    for zone in lying.part.zones:
        if zone.does.seam == "wanted" and len(zone.line_mm) >= 2:
            ends = lying.turn.on_grid(to_grid(np.array([zone.line_mm[0], zone.line_mm[-1]])))
            (x0, y0), (x1, y1) = ((int(x), int(y)) for x, y in ends.tolist())
            if abs(y1 - y0) <= math.tan(math.radians(2.0)) * abs(x1 - x0):
                return (y0 + y1) // 2
    return None


def middle_span(lying: OrientedPart) -> Interval | None:
    """Return the y range of the pockets on the center line, which the middle of three should hold."""
    center = center_y(lying)
    if center is None:
        return None
    boxes = [
        _zone_box(z, lying)
        for z in lying.part.zones
        if z.does.middle and z.shape is not None and z.face == "front"
    ]
    on = [b for b in boxes if b[1] <= center <= b[3]]
    return (min(b[1] for b in on), max(b[3] for b in on)) if on else None


def violation_um(at: int, bars: Iterable[ForbiddenInterval]) -> int:
    """Return how far a seam lies inside the intervals where none may run, together, micrometers."""
    return sum(min(at - bar.low, bar.high - at) for bar in bars if bar.low < at < bar.high)


def best_place(
    low: int, high: int, wanted: int, bars: Sequence[ForbiddenInterval], strict: bool
) -> int | None:
    """Return where in a closed interval a seam breaks the rules least, and of those the nearest to wanted.

    Parameters
    ----------
    low, high : int
    wanted : int
    bars : sequence of ForbiddenInterval
    strict : bool
        None rather than a place that breaks a rule.

    Returns
    -------
    int or None
        The lower of two places alike; None when there is none.
    """
    if low > high:
        return None
    tried = {low, high, min(max(wanted, low), high)}
    for bar in bars:
        # what is broken changes its slope only at ends and middles
        middle = (bar.low + bar.high) // 2
        tried.update(y for y in (bar.low, bar.high, middle, middle + 1) if low < y < high)
    cost, place = min(((violation_um(y, bars), abs(y - wanted)), y) for y in tried)
    return None if strict and cost[0] else place
