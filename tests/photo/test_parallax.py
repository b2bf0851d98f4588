"""Thickness: what a camera sees of upright wood, worked out here by pinhole geometry, and back."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from nestyield.photo.parallax import Tower, hidden_ends, not_wood

TOWER = Tower(foot=np.array([0.0, 0.0]), grow=1.06)
AROUND = shapely.box(-50, -400, 600, 400)


def hidden_ground(wood: shapely.Polygon) -> shapely.Geometry:
    """The ground that upright wood hides: its outline at many heights, seen from above the origin."""
    layers = [shapely.transform(wood, lambda p, s=s: p * s) for s in np.linspace(1.0, TOWER.grow, 400)]
    return shapely.unary_union(layers)


def seen_wood(wood: shapely.Polygon) -> shapely.Geometry:
    return AROUND.difference(not_wood(hidden_ground(wood), AROUND, TOWER))


def test_block_comes_back() -> None:
    """A block beside the foot of the camera, whose near side shows, comes back as it is."""
    block = shapely.box(150, -90, 420, 110)
    assert seen_wood(block).symmetric_difference(block).area < 3.0


def test_wide_hole_comes_back() -> None:
    """A square hole, wider than the shift along every line from the foot but near two corners, comes back with caps."""
    hole = shapely.box(250, 20, 310, 80)
    block = shapely.box(150, -90, 420, 180).difference(hole)
    wood = max(shapely.get_parts(seen_wood(block)), key=lambda g: g.area)
    ends = hidden_ends(wood, TOWER, 1.0)
    assert not ends.gap
    left = wood.difference(shapely.unary_union(ends.caps))
    assert left.intersection(hole).area < 2.0
    assert block.difference(left).area < 12.0


def test_notch_across_the_view_is_not_filled() -> None:
    """The tip of a notch that its own side hides is taken away by leading its edges on."""
    notch = shapely.Polygon([(260, 120), (340, 120), (300, 20)])
    block = shapely.box(200, -60, 400, 120).difference(notch)
    wood = max(shapely.get_parts(seen_wood(block)), key=lambda g: g.area)
    assert wood.intersection(notch).area > 60  # the tip is hidden
    left = wood.difference(shapely.unary_union(hidden_ends(wood, TOWER, 1.0).caps))
    assert left.intersection(notch).area < 4.0


def test_slot_without_end_is_told() -> None:
    """A slot of parallel sides that is narrower than the shift has no end that could be worked out."""
    slot = shapely.box(300, 0, 309, 130)
    block = shapely.box(200, -60, 400, 120).difference(slot)
    wood = max(shapely.get_parts(seen_wood(block)), key=lambda g: g.area)
    assert wood.intersection(slot).area > 200
    assert hidden_ends(wood, TOWER, 1.0).gap


@pytest.mark.parametrize("thickness", [6.0, 44.5])
def test_shift(thickness: float) -> None:
    """From 800 mm above, the upper rim of wood 300 mm off stands over the lower one by similar triangles."""
    tower = Tower(foot=np.zeros(2), grow=800 / (800 - thickness))
    assert tower.shift_mm(np.array([300.0, 0.0])) == pytest.approx(300 * thickness / 800)
