"""Tabs: where the groove around a part is left uncut, so that the part stays joined to waste that is held."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from nestyield.bed.sweep import grown, outline_polygon, shape_polygon
from nestyield.bed.waste import Pairs
from nestyield.model import HoldDown, Layout, Settings, Tab
from nestyield.model.pose import Pose

#: Places are looked at this far apart along an outline, millimeters.
_STEP_MM = 4.0
#: A tab reaches into so much wood beyond the groove (common practice, no source), millimeters: rather the
#: first, at least the second. All of it is looked at, in these steps from the groove on.
BEYOND_MM = (10.0, 4.0)
_DEPTHS_MM = (0.5, 2.0, 3.5, 4.0, 6.0, 8.0, 10.0)
#: Wood that is told by rounded curves may be so much less, millimeters.
_LESS_MM = 0.05
#: An outline that turns by more than this along a tab is no place for one, degrees.
_MOST_TURN_DEG = 25.0
#: Tabs stand at least this many of their widths apart.
_APART_WIDTHS = 4.0


def tabs_of(
    layout: Layout,
    pairs: Pairs,
    settings: Settings,
    holds: Sequence[HoldDown],
) -> tuple[Tab, ...]:
    """Return the tabs of each part, spread along its outline, in waste that screws hold till the end.

    Rather where the outline is not likely to tear out, and where more wood stays beyond the groove.

    Parameters
    ----------
    layout : Layout
    pairs : sequence of (Part, Placement)
        Of the layout.
    settings : Settings
    holds : sequence of HoldDown
        Without any, the largest piece of waste counts as held.
    """
    most, width = settings.holding.tabs, settings.holding.tab_width_mm
    if not most:
        return ()
    bodies = [outline_polygon(part.outline, Pose.of(p)) for part, p in pairs]
    held = _held_to_the_end(layout, bodies, settings, holds)
    tear = shapely.union_all([shapely.LineString(w.line_mm).buffer(width / 2.0) for w in layout.watch])
    out: list[Tab] = []
    for k, body in enumerate(bodies):
        at, outwards, turn = _places(body, width)
        length = float(body.exterior.length)
        found: list[int] = []
        for beyond in BEYOND_MM:
            good = turn <= _MOST_TURN_DEG
            for deep in (d for d in _DEPTHS_MM if d <= beyond):
                # A turning outline may cut across the foot of a tab: its sides are looked at farther out.
                for side in (-1.0, 0.0, 1.0) if deep > 3.0 else (0.0,):
                    end = at + ((settings.cutter_diameter_mm + deep) + side * width / 2.0 * 1j) * outwards
                    good &= shapely.contains_xy(held, end.real, end.imag)
            for spared in (good & ~shapely.contains_xy(tear, at.real, at.imag), good):
                found = _spread(np.flatnonzero(spared), found, len(at), length, most, _APART_WIDTHS * width)
        for n in sorted(found):
            out.append(
                Tab(
                    name=f"tab {len(out) + 1}",
                    placement=k,
                    x_mm=round(float(at[n].real), 3),
                    y_mm=round(float(at[n].imag), 3),
                    angle_deg=round(float(np.degrees(np.angle(outwards[n]))), 3),
                    width_mm=width,
                )
            )
    return tuple(out)


def _held_to_the_end(
    layout: Layout, bodies: Sequence[BaseGeometry], settings: Settings, holds: Sequence[HoldDown]
) -> BaseGeometry:
    """Return the sound waste that screws still hold when every outline is cut."""
    wood = shape_polygon(layout.blank.shape)
    cut = [grown(body, settings.cutter_diameter_mm) for body in bodies]
    rest = [p for p in shapely.get_parts(wood.difference(shapely.union_all(cut))) if p.area > 0.0]
    screws = shapely.MultiPoint([(h.x_mm, h.y_mm) for h in holds]) if holds else None
    if screws is None:
        standing = [max(rest, key=lambda p: p.area)] if rest else []
    else:
        standing = [p for p in rest if p.intersects(screws)]
    flaws = [shape_polygon(d.shape) for d in layout.blank.defects if not d.traits.sound]
    return shapely.union_all(standing).difference(shapely.union_all(flaws)).buffer(-_LESS_MM)


def _places(body: BaseGeometry, width: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return places along an outline, the way outwards at each, and how much it turns along a tab, degrees."""
    ring = shapely.normalize(body).exterior
    count = max(16, round(ring.length / _STEP_MM))
    along = np.arange(count) * (ring.length / count)

    def points(offset: float) -> np.ndarray:
        found = shapely.get_coordinates(shapely.line_interpolate_point(ring, (along + offset) % ring.length))
        return np.asarray(found[:, 0] + 1j * found[:, 1])

    half = width / 2.0 + 1.0
    before, at, after = points(-half), points(0.0), points(half)
    chord = after - before
    chord /= np.maximum(np.abs(chord), 1e-9)
    outwards = chord * 1j if not ring.is_ccw else chord * -1j
    turn = np.abs(np.degrees(np.angle((after - at) * (at - before).conjugate())))
    return at, outwards, turn


def _spread(
    good: np.ndarray, chosen: list[int], count: int, length: float, most: int, apart_mm: float
) -> list[int]:
    """Add places, always the one farthest along the outline from those chosen, until there are enough."""
    chosen = list(chosen)
    while len(chosen) < most and len(good):
        if not chosen:
            chosen.append(int(good[0]))
            continue
        off = np.abs(good[:, None] - np.array(chosen)[None, :])
        far = np.minimum(off, count - off).min(axis=1) * length / count
        best = int(np.argmax(far))
        if far[best] < apart_mm:
            break
        chosen.append(int(good[best]))
    return chosen
