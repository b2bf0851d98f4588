"""The grid's geometry against shapely, pyclipper and scipy, on odd shapes and random ones."""

from __future__ import annotations

import math

import numpy as np
import pyclipper
import pytest
import shapely
from scipy.spatial import ConvexHull
from shapely import affinity

from nestyield.geometry import boolean, minkowski, offset, rectangles
from nestyield.geometry.flatten import flatten_shape
from nestyield.geometry.grid import area_um2, to_grid
from nestyield.geometry.shape import to_shapely
from nestyield.model import Outline, Shape
from nestyield.model.pose import Pose

SHAPELY = pytest.mark.outside(source="shapely 2 (GEOS), a general geometry library", mark="D")
CLIPPER = pytest.mark.outside(source="pyclipper, MinkowskiSum of a general clipping library", mark="D")
SCIPY = pytest.mark.outside(source="scipy.spatial.ConvexHull (Qhull)", mark="D")


def ring(points):
    return [to_grid(np.array(points, dtype=float))]


def star(rng, spikes, inner, outer):
    angles = np.sort(rng.uniform(0, 2 * math.pi, 2 * spikes))
    radii = np.where(np.arange(2 * spikes) % 2, rng.uniform(inner, outer, 2 * spikes), inner)
    return ring(np.column_stack([radii * np.cos(angles), radii * np.sin(angles)]))


def zoo():
    """Return odd shapes by name, as regions, millimeters in the making."""
    rng = np.random.default_rng(7)
    frame = Shape(outer=Outline.rectangle(0, 0, 90, 70), holes=(Outline.rectangle(20, 15, 70, 50),))
    washer = Shape(outer=Outline.circle(0, 0, 40), holes=(Outline.circle(5, 0, 20),))
    return {
        "square": ring([(0, 0), (50, 0), (50, 50), (0, 50)]),
        "sliver": ring([(0, 0), (300, 0.4), (300, 1)]),
        "triangle": ring([(0, 0), (80, 10), (30, 60)]),
        "ell": ring([(0, 0), (80, 0), (80, 20), (20, 20), (20, 90), (0, 90)]),
        "comb": ring(
            [
                (0, 0),
                (100, 0),
                (100, 60),
                (80, 60),
                (80, 20),
                (60, 20),
                (60, 60),
                (40, 60),
                (40, 20),
                (20, 20),
                (20, 60),
                (0, 60),
            ]
        ),
        "hook": ring([(0, 0), (60, 0), (60, 60), (20, 60), (20, 40), (40, 40), (40, 20), (0, 20)]),
        "frame": flatten_shape(frame, 0.02, "outside"),
        "washer": flatten_shape(washer, 0.02, "outside"),
        "two": [*ring([(0, 0), (20, 0), (20, 30), (0, 30)]), *ring([(40, 5), (70, 5), (55, 40)])],
        "star": star(rng, 9, 15, 60),
        "spikes": star(rng, 25, 5, 55),
    }


ZOO = zoo()
#: No piece of a hole, one ring: for sums that pyclipper makes ring by ring.
PLAIN = ("square", "sliver", "triangle", "ell", "comb", "hook", "star", "spikes")
every = pytest.mark.parametrize("name", sorted(ZOO))
#: Crossings are rounded to whole micrometers: two outlines agree when they lie within this, millimeters.
ROUNDING_MM = 1.5e-3


def area(region):
    return area_um2(region) / 1e6


def agree(one, other):
    """Return whether two shapely regions differ by no more than rounding, all along their borders."""
    return one.symmetric_difference(other).difference(other.boundary.buffer(ROUNDING_MM)).area == 0


def within(inner, outer):
    return inner.difference(outer).area == 0


@SHAPELY
@every
def test_area_and_turning(name):
    """Area, box and hull agree with shapely, and turning and mirroring move points as shapely's do."""
    region = ZOO[name]
    theirs = to_shapely(region)
    assert area(region) == pytest.approx(theirs.area, rel=1e-9)
    moved = to_shapely(Pose(angle_deg=33.0, mirrored=True, x_mm=12.345, y_mm=-0.678).on_grid(region))
    expected = affinity.translate(
        affinity.rotate(affinity.scale(theirs, -1, 1, origin=(0, 0)), 33, origin=(0, 0)), 12.345, -0.678
    )
    assert shapely.hausdorff_distance(moved.boundary, expected.boundary) < 0.001


@SHAPELY
@every
@pytest.mark.parametrize("other", ["ell", "washer", "spikes"])
def test_booleans(name, other):
    """Union, difference and intersection are shapely's, but for rounding along the borders."""
    a, b = ZOO[name], [r + np.array([17_003, 9_001]) for r in ZOO[other]]
    p, q = to_shapely(a), to_shapely(b)
    for ours, theirs in (
        (boolean.union(a, b), p.union(q)),
        (boolean.difference(a, b), p.difference(q)),
        (boolean.intersection(a, b), p.intersection(q)),
    ):
        assert area(ours) == pytest.approx(theirs.area, abs=ROUNDING_MM * theirs.length)
        assert agree(to_shapely(ours), theirs)


@SHAPELY
@every
@pytest.mark.parametrize("distance", [0.8, 6.35])
def test_growing_and_shrinking(name, distance):
    """Grown and shrunk regions lie on the safe side of shapely's fine buffer, within the arc tolerance."""
    region, theirs = ZOO[name], to_shapely(ZOO[name])
    fine, off = 256, 0.012
    grown = to_shapely(offset.grow(region, distance * 1000))
    assert within(theirs.buffer(distance, quad_segs=fine), grown.buffer(0.003))
    assert within(grown, theirs.buffer(distance + off, quad_segs=fine))
    shrunk = to_shapely(offset.shrink(region, distance * 1000))
    assert within(shrunk, theirs.buffer(-distance + 0.003, quad_segs=fine))
    assert within(theirs.buffer(-distance - off, quad_segs=fine), shrunk)


@CLIPPER
@pytest.mark.parametrize("name", PLAIN)
@pytest.mark.parametrize("other", ["triangle", "square", "ell"])
def test_minkowski_sum(name, other):
    """The sum of two outlines covers what pyclipper's does; both have the same area once holes are filled."""
    (a,), (b,) = ZOO[name], ZOO[other]
    ours = to_shapely(minkowski.minkowski_sum(a, b))
    rings = pyclipper.MinkowskiSum(a.tolist(), b.tolist(), True)
    theirs = shapely.union_all([shapely.Polygon(np.array(r) / 1000).buffer(0) for r in rings])
    solid = shapely.union_all([shapely.Polygon(p.exterior) for p in shapely.get_parts(theirs)])
    filled = shapely.union_all([shapely.Polygon(p.exterior) for p in shapely.get_parts(ours)])
    assert agree(filled, solid)


@SCIPY
@pytest.mark.parametrize("seed", range(12))
def test_sum_of_convex_outlines(seed):
    """The sum of two convex outlines is the hull of all sums of corners."""
    rng = np.random.default_rng(seed)
    clouds = [rng.integers(-60_000, 60_000, (int(rng.integers(3, 25)), 2)) for _ in range(2)]
    hulls = [cloud[ConvexHull(cloud).vertices] for cloud in clouds]
    sums = (hulls[0][:, None, :] + hulls[1][None, :, :]).reshape(-1, 2)
    ours = minkowski.minkowski_sum(*hulls)
    assert len(ours) == 1
    assert area(ours) == pytest.approx(ConvexHull(sums).volume / 1e6, abs=1e-6)


@SCIPY
@pytest.mark.parametrize("seed", range(12))
def test_room_in_a_convex_container(seed):
    """The room of a part in a convex container is what its edges leave: hull corners decide, edge by edge."""
    rng = np.random.default_rng(100 + seed)
    big = rng.integers(-200_000, 200_000, (40, 2))
    outer = big[ConvexHull(big).vertices]
    (part,) = star(rng, 6, 10, 45)
    room = minkowski.inner_fit_region(outer, part)
    shifts = rng.integers(-150_000, 150_000, (300, 2))
    edges = ConvexHull(outer).equations  # outward normal and offset
    reach = (edges[:, :2] @ part.T).max(axis=1)
    slack = -(edges[:, 2] + reach)[None, :] - shifts @ edges[:, :2].T
    ours = to_shapely(room)
    for shift, least in zip(shifts, slack.min(axis=1), strict=True):
        if abs(least) > 3:  # micrometers
            assert ours.covers(shapely.Point(shift / 1000)) == (least > 0)


@SHAPELY
@every
def test_no_fit_region(name):
    """A shift is forbidden just when shapely finds that the shifted part overlaps the obstacle."""
    rng = np.random.default_rng(3)
    obstacle, moving = ZOO[name], ZOO["hook"]
    ours = to_shapely(minkowski.no_fit_region(obstacle, moving))
    p, q = to_shapely(obstacle), to_shapely(moving)
    for shift in rng.integers(-90_000, 120_000, (250, 2)):
        point = shapely.Point(shift / 1000)
        if ours.boundary.distance(point) > 0.003:
            meets = p.intersection(affinity.translate(q, *(shift / 1000))).area > 0
            assert ours.covers(point) == meets


@SHAPELY
@every
@pytest.mark.parametrize("angle", [0.0, 20.0, 90.0])
def test_largest_rectangle(name, angle):
    """The largest rectangle lies in the region, and no rectangle of a grid of corners is larger."""
    region, theirs = ZOO[name], to_shapely(ZOO[name])
    x, y, length, width = rectangles.largest_rectangle(region, angle)
    found = affinity.rotate(shapely.box(x, y, x + length, y + width), angle, origin=(0, 0))
    assert theirs.buffer(0.002).covers(found)
    turned = affinity.rotate(theirs, -angle, origin=(0, 0))
    x0, y0, x1, y1 = turned.bounds
    xs, ys = np.linspace(x0, x1, 15), np.linspace(y0, y1, 15)
    boxes = [
        shapely.box(a, b, c, d)
        for i, a in enumerate(xs)
        for c in xs[i + 1 :]
        for j, b in enumerate(ys)
        for d in ys[j + 1 :]
    ]
    inside = shapely.covers(turned, boxes)
    best = max(shapely.area(np.array(boxes)[inside]), default=0.0)
    assert length * width >= best * 0.97


@pytest.mark.outside(source="area of circular segments and sectors, mathematics", mark="D")
@pytest.mark.parametrize("error", [0.2, 0.02, 0.002])
def test_arcs_become_chords_on_the_safe_side(error):
    """Chords of a washer never make it smaller outside nor larger inside, and stay within the error."""
    washer = Shape(outer=Outline.circle(0, 0, 150), holes=(Outline.circle(0, 0, 40),))
    true = math.pi * (150**2 - 40**2)
    outside = area(flatten_shape(washer, error, "outside"))
    inside = area(flatten_shape(washer, error, "inside"))
    for side in ("outside", "inside"):
        x0, y0, x1, y1 = to_shapely(flatten_shape(washer, error, side)).bounds
        assert (x0, y0, x1, y1) == pytest.approx((-150, -150, 150, 150), abs=error + 0.002)
    room = 2 * math.pi * (150 + 40) * (error + 0.002)
    assert inside <= true <= outside
    assert outside - true < room
    assert true - inside < room
