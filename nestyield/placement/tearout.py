"""Where the cutter meets rising or short grain: stretches of an outline to watch.

The cutter runs around the outline in a given direction. Grain rises against it where the wood of the part
is lifted by the cutter's edge: on a stretch where going along the outline turns the grain into the part.
At a narrow point that leaves the grain the fibers are short (short grain), so the point may break out.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from nestyield.geometry.flatten import flatten
from nestyield.geometry.grid import UM_PER_MM
from nestyield.model import Part, Placement, Point, Preferences, TearOutKind
from nestyield.model.facts import NarrowPoint, RisingGrain, TearOutRule
from nestyield.model.micrometers import nearest_um
from nestyield.model.pose import Pose

Floats = NDArray[np.float64]
Feed = Literal["climb", "conventional"]

#: Slope of grain from which an edge is called short, degrees: 1 in 5 (trade facts, section 5; derived).
SHORT_GRAIN_DEG = 11.0
#: From this angle between outline and grain the cutter meets rising grain, degrees (common practice).
RISING_DEG = 15.0
#: Shorter stretches of rising grain are not told, millimeters.
LEAST_MM = 3.0

_USUAL = Preferences()


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A stretch of outline to watch, blank coordinates.

    Parameters
    ----------
    line_mm : tuple of points
        At least two points along the outline.
    length_mm : float
    angle_deg : float
        Largest angle between outline and grain on the stretch, 0 to 90.
    rule : TearOutRule
        The rule that it breaks.
    """

    line_mm: tuple[Point, ...]
    length_mm: float
    angle_deg: float
    rule: TearOutRule

    @property
    def kind(self) -> TearOutKind:
        """Rising grain or narrow point."""
        return self.rule.code


def tear_out(
    part: Part,
    placement: Placement,
    grain_deg: float | None,
    *,
    feed: Feed = _USUAL.feed,
    narrow_mm: float = _USUAL.narrow_point_mm,
    chord_error_mm: float = 0.05,
) -> tuple[Stretch, ...]:
    """List the stretches of a placed outline where the edge may tear.

    Parameters
    ----------
    part : Part
    placement : Placement
    grain_deg : float or None
        Of the blank; None (no grain) gives no stretches.
    feed : {"climb", "conventional"}
        Conventional: seen from the top, a cutter that turns clockwise runs counter-clockwise around the
        outside of the outline.
    narrow_mm : float
        Least width at a convex point.
    chord_error_mm : float

    Returns
    -------
    tuple of Stretch
        In the order of the outline. Rising grain: angle between edge and grain from 15 to 75 degrees on the
        side where the feed lifts the fibers, over 3 mm or more. Narrow point: a convex corner whose wood is
        narrower than ``narrow_mm`` at ``narrow_mm`` from its tip, with its direction more than 11 degrees off
        the grain.
    """
    if grain_deg is None:
        return ()
    outline = Pose.of(placement).outline(part.outline)
    ring = flatten(outline, chord_error_mm, "nearest") / UM_PER_MM
    edge = np.roll(ring, -1, axis=0) - ring
    length = np.hypot(edge[:, 0], edge[:, 1])
    way = np.degrees(np.arctan2(edge[:, 1], edge[:, 0])) - grain_deg
    line = (way + 90.0) % 180.0 - 90.0  # signed angle from grain to edge, -90 to 90
    off = np.abs(line)
    # Counter-clockwise with the wood on the left: fibers run out of the edge ahead of the cutter, and are
    # lifted, where the edge turns clockwise from the grain.
    against = (line < 0) if feed == "conventional" else (line > 0)
    rising = against & (off >= RISING_DEG) & (off <= 90.0 - RISING_DEG)
    rule = RisingGrain(from_deg=RISING_DEG, to_deg=90.0 - RISING_DEG)
    return (*_runs(ring, rising, off, length, rule), *_points(ring, grain_deg, narrow_mm))


def short_grain_share(ring_mm: Floats, grain_deg: float | None) -> float:
    """Return the part of an outline's length that runs at more than 11 degrees and less than 79 to the grain.

    Between the two the fibers that hold the edge end on it at a slant; the share is what a turn within the
    grain tolerance can make smaller.
    """
    if grain_deg is None:
        return 0.0
    edge = np.roll(ring_mm, -1, axis=0) - ring_mm
    length = np.hypot(edge[:, 0], edge[:, 1])
    off = np.abs((np.degrees(np.arctan2(edge[:, 1], edge[:, 0])) - grain_deg + 90.0) % 180.0 - 90.0)
    slant = (off > SHORT_GRAIN_DEG) & (off < 90.0 - SHORT_GRAIN_DEG)
    return float(length[slant].sum() / length.sum())


def _runs(
    ring: Floats, mask: NDArray[np.bool_], off: Floats, length: Floats, rule: RisingGrain
) -> list[Stretch]:
    """Neighboring edges of a mask joined to stretches, around the corner where the ring begins."""
    n = len(ring)
    if not mask.any():
        return []
    if mask.all():
        starts = [0]
    else:
        starts = [k for k in range(n) if mask[k] and not mask[k - 1]]
    out = []
    for k in starts:
        ids: list[int] = []
        while mask[k % n] and len(ids) < n:
            ids.append(k % n)
            k += 1
        if length[ids].sum() < LEAST_MM:
            continue
        line = _line([*(ring[i] for i in ids), ring[k % n]])
        out.append(
            Stretch(
                line_mm=line,
                length_mm=float(length[ids].sum()),
                angle_deg=float(off[ids].max()),
                rule=rule,
            )
        )
    return out


def _points(ring: Floats, grain_deg: float, narrow_mm: float) -> list[Stretch]:
    """Convex points that are narrow and lean off the grain."""
    n = len(ring)
    out: list[Stretch] = []
    reach = narrow_mm
    last_tip: Floats | None = None
    for k in range(n):
        before, after = _along(ring, k, -reach), _along(ring, k, reach)
        tip = ring[k]
        u, v = before[-1] - tip, after[-1] - tip
        turn = float(v[0] * u[1] - v[1] * u[0])
        width = float(np.hypot(*(before[-1] - after[-1])))
        if turn <= 0 or width >= narrow_mm:
            continue
        axis = u / np.hypot(*u) + v / np.hypot(*v)
        lean = abs((math.degrees(math.atan2(axis[1], axis[0])) - grain_deg + 90.0) % 180.0 - 90.0)
        if lean <= SHORT_GRAIN_DEG:
            continue
        if last_tip is not None and float(np.hypot(*(tip - last_tip))) < narrow_mm:
            continue
        last_tip = tip
        line = _line([*before[::-1], *after[1:]])
        rule = NarrowPoint(width_um=nearest_um(narrow_mm), off_grain_deg=SHORT_GRAIN_DEG)
        out.append(Stretch(line_mm=line, length_mm=2 * reach, angle_deg=lean, rule=rule))
    return out


def _line(points: Sequence[Floats]) -> tuple[Point, ...]:
    return tuple((float(p[0]), float(p[1])) for p in points)


def _along(ring: Floats, k: int, reach: float) -> list[Floats]:
    """Points from vertex k along the ring for a distance, backwards when negative."""
    n, step = len(ring), 1 if reach > 0 else -1
    left, out = abs(reach), [ring[k]]
    for i in range(1, n):
        a, b = ring[(k + step * (i - 1)) % n], ring[(k + step * i) % n]
        d = float(np.hypot(*(b - a)))
        if d >= left:
            out.append(a + (b - a) * (left / d))
            return out
        out.append(b)
        left -= d
    return out
