"""Outlines under mirroring, turning and shifting."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestyield.model import Outline, Placement
from nestyield.paperwork import curves
from nestyield.paperwork.curves import Move


def radius(p: tuple[float, float], q: tuple[float, float], bulge: float) -> float:
    """Return the radius of an arc by the definition of its bulge: tangent of a quarter of the angle it turns."""
    return math.dist(p, q) / (2 * abs(math.sin(2 * math.atan(bulge))))


MOVES = st.builds(
    Move,
    angle_deg=st.floats(-720, 720),
    mirrored=st.booleans(),
    scale=st.floats(0.01, 10),
    dx=st.floats(-1000, 1000),
    dy=st.floats(-1000, 1000),
)


def radii(outline):
    """Radii of the arcs, in order."""
    return [radius(p, q, b) for p, q, b in curves.segments(outline) if b]


@given(MOVES)
def test_arcs_survive(build, move):
    """As many arcs come out as went in, each with its radius times the scale."""
    outline = build.body_outline()
    moved = move.outline(outline)
    assert len(radii(moved)) == len(radii(outline)) == 8
    for before, after in zip(radii(outline), radii(moved)):
        assert after == pytest.approx(before * move.scale, abs=1e-6 * max(1.0, move.scale))


@given(MOVES)
def test_area_follows_scale_and_mirror(build, move):
    """The exact area scales by the square, and a mirror turns its sign."""
    before = build.body_outline().signed_area_mm2
    after = move.outline(build.body_outline()).signed_area_mm2
    sign = -1 if move.mirrored else 1
    assert after == pytest.approx(sign * before * move.scale**2, rel=1e-6)


@given(MOVES, MOVES, st.tuples(st.floats(-500, 500), st.floats(-500, 500)))
def test_one_move_after_another(first, second, p):
    """Two moves made one do what they did one after the other."""
    a = second.point(first.point(p))
    b = first.then(second).point(p)
    assert b == pytest.approx(a, abs=1e-6)


def test_a_placement_as_documented():
    """Mirror in X, turn, shift: the corner goes where the model says."""
    placement = Placement(
        part="p", order="o", copy=1, angle_deg=90.0, mirrored=True, x_um=10_000, y_um=-5_000
    )
    assert curves.move_of(placement).point((3.0, 2.0)) == pytest.approx((8.0, -8.0))


def test_bounds_hold_the_bulges():
    """The box around arcs is that of the curve, not of its corners."""
    circle = Outline.circle(10, 20, 5)
    assert curves.bounds([circle]) == pytest.approx((5, 15, 15, 25))
    assert curves.circle_of(circle) == pytest.approx((10, 20, 5))
    turned = Move(angle_deg=33).outline(circle)
    x, y = Move(angle_deg=33).point((10, 20))
    assert curves.bounds([turned]) == pytest.approx((x - 5, y - 5, x + 5, y + 5))


@given(st.floats(0, 360))
def test_bounds_hold_every_chord(build, angle):
    """Points along a turned outline never leave its box, and reach each side."""
    outline = Move(angle_deg=angle).outline(build.body_outline())
    x0, y0, x1, y1 = curves.bounds([outline])
    points = curves.chords(outline, 0.001)
    assert min(p[0] for p in points) == pytest.approx(x0, abs=0.01)
    assert max(p[0] for p in points) == pytest.approx(x1, abs=0.01)
    assert min(p[1] for p in points) == pytest.approx(y0, abs=0.01)
    assert max(p[1] for p in points) == pytest.approx(y1, abs=0.01)


@pytest.mark.outside(source="area of a circle", mark="D")
def test_chords_close_in_on_the_circle():
    """Chords enclose nearly the area of the circle that they follow."""
    points = curves.chords(Outline.circle(0, 0, 100), 0.001)
    area = 0.5 * sum(a[0] * b[1] - a[1] * b[0] for a, b in zip(points, points[1:] + points[:1]))
    assert area == pytest.approx(math.pi * 100**2, rel=1e-4)
