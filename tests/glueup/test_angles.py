"""Glue-ups at an angle between the usual ones."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import affinity

from nestyield.geometry.shape import to_shapely
from nestyield.glueup.band import turned_by
from nestyield.glueup.find import find
from nestyield.model import Outline, Part, Piece, Settings, Shape

MARGIN_MM, JOINTING_MM = 5.0, 0.8
SETTINGS = Settings(cutter_diameter_mm=6.0, blank_margin_mm=MARGIN_MM, jointing_mm=JOINTING_MM)
CORNERS = [(0.0, 0.0), (300.0, 0.0), (300.0, 110.0), (0.0, 110.0)]
PART = Part(
    name="plate", drawing="", outline=Outline.polygon(CORNERS), thickness_mm=40.0, grain_tolerance_deg=5.0
)


def halves(angle_deg: float, play_mm: float) -> list[Piece]:
    """The least blank of the part at an angle, larger by a play all round, in two halves along the grain."""
    around = shapely.Polygon(CORNERS).buffer(MARGIN_MM + play_mm, quad_segs=64)
    blank = affinity.rotate(around, angle_deg, origin=(0, 0))
    x0, y0, x1, y1 = blank.bounds
    middle, reach = (y0 + y1) / 2, JOINTING_MM + play_mm
    bands = [(y0, middle + reach), (middle - reach, y1)]
    out = []
    for k, (low, high) in enumerate(bands):
        wood = blank.intersection(shapely.box(x0, low, x1, high))
        points = [(x - x0, y - low) for x, y in np.array(wood.exterior.coords)[:-1]]
        shape = Shape(outer=Outline.polygon(points))
        out.append(Piece(name=f"half {k}", species="sugar maple", thickness_mm=44.0, shape=shape))
    return out


@pytest.mark.parametrize("angle_deg", [2.37, pytest.param(-4.12, marks=pytest.mark.study)])
def test_two_halves_that_fit_at_one_angle_alone(angle_deg: float) -> None:
    """With 0.05 mm of play the part turns in its blank by 0.05 mm in 150: at no usual angle (0, 2.5, 5)."""
    found = find(PART, halves(angle_deg, 0.05), SETTINGS, lambda p: p.shape.area_mm2, effort=1)
    assert [sorted(m.piece for m in glued.blank.members) for glued in found] == [["half 0", "half 1"]]
    turned = (found[0].placement.angle_deg - angle_deg + 90) % 180 - 90
    assert abs(turned) < 0.05


def test_nothing_is_found_beyond_the_tolerance() -> None:
    """The halves of a part turned by 5.4 degrees are of no use where 5 are allowed."""
    assert find(PART, halves(5.4, 0.05), SETTINGS, lambda p: p.shape.area_mm2, effort=1) == []


@pytest.mark.parametrize("half_deg", [0.65, 0.1, 0.01])
def test_what_stands_for_an_interval_lies_in_the_part_at_every_angle(half_deg: float) -> None:
    """Turned about the same center by any angle of the interval, part and margin cover it (shapely)."""
    wide = turned_by(PART, SETTINGS, 1.5, half_deg, False)
    kept = shapely.union_all([shapely.Polygon(ring) for ring in wide.wide])
    part = affinity.rotate(to_shapely(Shape(outer=PART.outline)), 1.5, origin=(0, 0))
    part = affinity.scale(part, 1000, 1000, origin=(0, 0))
    needs = []
    for off in np.linspace(-half_deg, half_deg, 9):
        turned = affinity.rotate(part, off, origin=wide.middle_um)
        needs.append(turned.buffer(MARGIN_MM * 1000, quad_segs=200))
    assert all(need.buffer(0.5).covers(kept) for need in needs)
    # and no more is given away than once more what the part moves, 163 mm times the angle, and 12 um
    surely = shapely.intersection_all(needs).buffer(-(12 + 1.2 * 163e3 * np.radians(half_deg)))
    assert kept.covers(surely)
