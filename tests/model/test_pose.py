import math

import numpy as np
import pytest
import shapely

from nestyield.geometry.flatten import flatten
from nestyield.geometry.grid import area_um2, ring_area_um2
from nestyield.model import Outline, Placement, Shape
from nestyield.model.arc import cos_sin
from nestyield.model.pose import Pose

LENS = Outline(points_mm=((0.0, 0.0), (100.0, 10.0)), bulges=(0.4, 0.7))
HOOK = np.array([(0, 0), (70_000, 0), (70_000, 50_000), (30_000, 50_000), (30_000, 31_003), (0, 5001)])
FRAME = [
    np.array([(0, 0), (80_000, 0), (80_000, 80_000), (0, 80_000)]),
    np.array([(20_000, 60_000), (60_000, 60_000), (60_000, 20_000), (20_000, 20_000)]),
]


def test_mirror_then_turn_then_shift():
    """As the model says, worked by hand: (10, 5) mirrored is (-10, 5), turned by 90 degrees (-5, -10)."""
    ring = np.array([[10_000, 5000], [20_000, 5000], [10_000, 9000]])
    out = Pose(angle_deg=90.0, mirrored=True, x_mm=0.1, y_mm=0.2).on_grid(ring)
    assert [-5000 + 100, -10_000 + 200] in out.tolist()
    assert ring_area_um2(out) == ring_area_um2(ring)


@pytest.mark.outside(source="shapely.affinity", mark="D")
@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize("angle", [0.0, 33.3, 90.0, 180.0, -271.5])
def test_agrees_with_shapely(angle, mirrored):
    """Rings turned here and by shapely lie within the rounding of each other."""
    ring = np.rint(flatten(LENS, 0.01, "nearest")).astype(np.int64)
    want = shapely.Polygon(ring)
    if mirrored:
        want = shapely.affinity.scale(want, -1, 1, origin=(0, 0))
    want = shapely.affinity.translate(shapely.affinity.rotate(want, angle, origin=(0, 0)), 500, -700)
    got = shapely.Polygon(Pose(angle_deg=angle, mirrored=mirrored, x_mm=0.5, y_mm=-0.7).on_grid(ring))
    assert shapely.hausdorff_distance(got, want) < 0.72


@pytest.mark.parametrize("quarter", range(-5, 6))
def test_quarter_turns_are_exact(quarter):
    """Cosine and sine at multiples of 90 degrees are whole."""
    want = (round(math.cos(quarter * math.pi / 2)), round(math.sin(quarter * math.pi / 2)))
    assert cos_sin(90.0 * quarter) == want


def test_four_quarters_come_home():
    """Four quarter turns of the grid are no turn at all."""
    ring = HOOK
    for _ in range(4):
        ring = Pose(angle_deg=90.0).on_grid(ring)
    assert ring.tolist() == HOOK.tolist()


def test_regions_keep_their_directions():
    """Holes stay holes when mirrored."""
    frame = FRAME
    assert area_um2(Pose(mirrored=True).on_grid(frame)) == area_um2(frame)
    assert area_um2(Pose(angle_deg=12.0, mirrored=True).on_grid(frame)) == pytest.approx(
        area_um2(frame), rel=1e-4
    )


@pytest.mark.parametrize("mirrored", [False, True])
def test_arcs_stay_arcs(mirrored):
    """Moving an outline and then flattening it is flattening and then moving it."""
    one = flatten(Pose(angle_deg=25.0, mirrored=mirrored, x_mm=3.0, y_mm=-4.0).outline(LENS), 0.01, "nearest")
    two = Pose(angle_deg=25.0, mirrored=mirrored, x_mm=3.0, y_mm=-4.0).on_grid(flatten(LENS, 0.01, "nearest"))
    assert shapely.hausdorff_distance(shapely.Polygon(one), shapely.Polygon(two)) < 1.5
    area = Pose(angle_deg=25.0, mirrored=mirrored).outline(LENS).signed_area_mm2
    assert abs(area) == pytest.approx(abs(LENS.signed_area_mm2))


def test_shapes_move_with_their_holes():
    """The area of a shape with holes does not change."""
    shape = Shape(outer=Outline.rectangle(0, 0, 50, 40), holes=(Outline.circle(20, 20, 5),))
    assert Pose(angle_deg=71.0, mirrored=True, x_mm=9, y_mm=9).shape(shape).area_mm2 == pytest.approx(
        shape.area_mm2
    )


POSES = [
    Pose(mirrored=m, angle_deg=a, x_mm=x, y_mm=-7.5)
    for m in (False, True)
    for a in (0.0, 90.0, -33.3, 471.0)
    for x in (0.0, 120.25)
]


@pytest.mark.parametrize("pose", POSES)
def test_there_and_back(pose):
    """A pose and its inverse, either way round, leave every point where it was."""
    for both in (pose.then(pose.inverse()), pose.inverse().then(pose)):
        assert not both.mirrored
        assert both.point((31.0, -4.0)) == pytest.approx((31.0, -4.0), abs=1e-9)


@pytest.mark.parametrize("pose", POSES)
def test_every_form_goes_to_the_same_place(pose):
    """Point, array, matrix (by shapely), direction and outline agree, worked out here with complex numbers."""
    p = (12.0, 5.0)
    z = complex(*p)
    want = (-z.conjugate() if pose.mirrored else z) * np.exp(1j * math.radians(pose.angle_deg))
    assert complex(*pose.direction(p)) == pytest.approx(want, abs=1e-9)
    want += complex(pose.x_mm, pose.y_mm)
    by_shapely = shapely.affinity.affine_transform(shapely.Point(p), pose.matrix())
    moved = pose.outline(Outline.polygon([p, (40.0, 0.0), (0.0, 9.0)])).points_mm[0]
    for found in (pose.point(p), pose.array(np.array([p]))[0], moved, (by_shapely.x, by_shapely.y)):
        assert complex(*found) == pytest.approx(want, abs=1e-9)


@pytest.mark.parametrize("one", POSES[::3])
@pytest.mark.parametrize("two", POSES[1::3])
def test_one_pose_after_another(one, two):
    """Two poses made one do what they do one after the other."""
    assert one.then(two).point((3.0, 8.0)) == pytest.approx(two.point(one.point((3.0, 8.0))), abs=1e-9)


@pytest.mark.outside(source="mirror image about a line", mark="D")
@pytest.mark.parametrize(
    "line", [((0.0, 10.0), (50.0, 10.0)), ((7.0, 0.0), (7.0, 9.0)), ((1.0, 2.0), (4.0, 6.0))]
)
def test_reflection(line):
    """Points on the line stay; any other point and its image lie across the line, as far from it."""
    a, b = (np.array(p) for p in line)
    mirror = Pose.reflection(*line)
    assert mirror.point(line[0]) == pytest.approx(line[0], abs=1e-9)
    assert mirror.point(line[1]) == pytest.approx(line[1], abs=1e-9)
    p = np.array((20.0, -3.0))
    q = np.array(mirror.point((20.0, -3.0)))
    assert (q - p) @ (b - a) == pytest.approx(0.0, abs=1e-9)
    middle = (p + q) / 2 - a
    assert middle[0] * (b - a)[1] - middle[1] * (b - a)[0] == pytest.approx(0.0, abs=1e-9)


def test_a_placement_as_documented():
    """Mirror in X, turn, shift: the corner goes where the model says."""
    placement = Placement(
        part="p", order="o", copy=1, angle_deg=90.0, mirrored=True, x_um=10_000, y_um=-5_000
    )
    assert Pose.of(placement).point((3.0, 2.0)) == (8.0, -8.0)


def test_turned_is_not_rounded():
    """The unrounded turn keeps lengths."""
    p = np.array([[3000, 4000]])
    assert np.hypot(*Pose(angle_deg=17.0).array(p)[0]) == pytest.approx(5000, rel=1e-14)
