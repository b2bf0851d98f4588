"""Areas of curves against closed formulas, from entity to flattened polygon."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from numpy.polynomial import Polynomial
from scipy.integrate import quad
from scipy.interpolate import BSpline

from nestyield.geometry.biarc import ARC_FIT_MM
from nestyield.geometry.flatten import flatten
from nestyield.geometry.grid import IntPoly
from nestyield.intake.dxf_units import UnitRule
from nestyield.model import Outline

BODY = {"layer": "BODY"}
CHORD_MM = 0.02


def polygon_mm2(poly: IntPoly) -> float:
    x, y = poly[:, 0].astype(float), poly[:, 1].astype(float)
    return float(0.5 * np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)) / 1e6


def length_mm(poly: IntPoly) -> float:
    return float(np.hypot(*(np.roll(poly, -1, axis=0) - poly).T.astype(float)).sum()) / 1e3


def check_safe_side(outline: Outline, exact: float) -> None:
    """Flattened outside never smaller, inside never larger, both within the chord error all along."""
    outside, inside = flatten(outline, CHORD_MM, "outside"), flatten(outline, CHORD_MM, "inside")
    slack = (ARC_FIT_MM + 0.001) * length_mm(outside)  # fit of arcs, rounding to the grid
    assert exact - slack <= polygon_mm2(outside) <= exact + CHORD_MM * length_mm(outside) + slack
    assert exact - CHORD_MM * length_mm(outside) - slack <= polygon_mm2(inside) <= exact + slack


@pytest.mark.outside(source="closed formula: circle, pi r^2", mark="D")
@pytest.mark.parametrize("radius", [0.5, 3.0, 60.0, 800.0])
def test_circle(radius: float, new: Any, read: Any) -> None:
    """A circle has its exact area as arcs, and stays on the safe side when flattened."""
    doc, space = new()
    space.add_circle((5, -3), radius, dxfattribs=BODY)
    result = read(doc)
    assert result.areas() == pytest.approx([math.pi * radius**2], rel=1e-12)
    check_safe_side(result.closed["BODY"][0].outline, math.pi * radius**2)


@pytest.mark.outside(source="closed formula: ellipse, pi a b", mark="D")
@pytest.mark.parametrize(("a", "ratio"), [(200, 0.5), (150, 0.02), (40, 0.999), (3, 0.3), (900, 0.25)])
def test_ellipse(a: float, ratio: float, new: Any, read: Any) -> None:
    """A turned ellipse agrees with pi a b within the fit error along its length."""
    doc, space = new()
    axis = (a * math.cos(0.4), a * math.sin(0.4))
    space.add_ellipse((10, 20), axis, ratio, dxfattribs=BODY)
    result = read(doc)
    exact = math.pi * a * a * ratio
    assert result.areas() == pytest.approx([exact], abs=ARC_FIT_MM * 4 * a * (1 + ratio))
    check_safe_side(result.closed["BODY"][0].outline, exact)


@pytest.mark.outside(source="closed formula: sector of an ellipse, a b (t1 - t0) / 2", mark="D")
def test_elliptic_arc_with_its_radii(new: Any, read: Any) -> None:
    """An elliptic arc closed by two lines to its center has the area a b (t1 - t0) / 2."""
    a, b, t0, t1 = 120.0, 48.0, 0.3, 2.6
    doc, space = new()
    space.add_ellipse((0, 0), (a, 0), b / a, t0, t1, dxfattribs=BODY)
    space.add_line((0, 0), (a * math.cos(t0), b * math.sin(t0)), dxfattribs=BODY)
    space.add_line((a * math.cos(t1), b * math.sin(t1)), (0, 0), dxfattribs=BODY)
    result = read(doc)
    exact = a * b * (t1 - t0) / 2
    assert result.areas() == pytest.approx([exact], abs=0.15)
    check_safe_side(result.closed["BODY"][0].outline, exact)


@pytest.mark.outside(source="closed formula: circular segment, r^2 (t - sin t) / 2", mark="D")
@pytest.mark.parametrize("bulge", [1e-4, 0.05, 0.5, 1.0, 2.5, 12.0, -0.3])
def test_bulge_segment(bulge: float, new: Any, read: Any) -> None:
    """A square with one bulged side has the area of square and segment, for arcs flat to nearly full."""
    doc, space = new()
    points = [(0, 0, 0), (100, 0, bulge), (100, 100, 0), (0, 100, 0)]
    space.add_lwpolyline(points, format="xyb", close=True, dxfattribs=BODY)
    angle = 4 * math.atan(abs(bulge))
    radius = 50 / math.sin(angle / 2)
    exact = 10_000 + math.copysign(radius**2 * (angle - math.sin(angle)) / 2, bulge)
    result = read(doc)
    assert result.areas() == pytest.approx([exact], rel=1e-9)
    check_safe_side(result.closed["BODY"][0].outline, exact)


def exact_spline_area(control: np.ndarray, knots: np.ndarray, degree: int) -> float:
    """Area under a closed plain B-spline by exact integration of its polynomial pieces (Green's theorem)."""
    spline = BSpline(knots, control, degree)
    n = len(control)
    total = 0.0
    for j in range(degree, n):
        if knots[j + 1] > knots[j]:
            u = np.linspace(0, 1, degree + 1)
            at = spline(knots[j] + u * (knots[j + 1] - knots[j]))
            x, y = (Polynomial.fit(u, at[:, k], degree, domain=[0, 1], window=[0, 1]) for k in (0, 1))
            integrand = (x * y.deriv() - y * x.deriv()).integ()
            total += 0.5 * (integrand(1.0) - integrand(0.0))
    return total


@pytest.mark.outside(source="exact integration of the spline's polynomials (scipy BSpline, Green)", mark="D")
@pytest.mark.parametrize("degree", [2, 3, 4])
def test_closed_spline(degree: int, new: Any, read: Any) -> None:
    """A closed spline of known control points has the area that exact integration gives."""
    t = np.linspace(0, 2 * math.pi, 9, endpoint=False)
    radius = 80 + 15 * np.cos(3 * t)
    ring = np.column_stack([radius * np.cos(t), 0.7 * radius * np.sin(t)])
    control = np.vstack([ring, ring[:degree]])
    knots = np.arange(len(control) + degree + 1, dtype=float)
    doc, space = new()
    spline = space.add_spline(degree=degree, dxfattribs=BODY)
    spline.control_points = [(x, y, 0) for x, y in control]
    spline.knots = knots
    spline.closed = True
    result = read(doc)
    exact = exact_spline_area(control, knots, degree)
    assert result.areas() == pytest.approx([exact], abs=ARC_FIT_MM * 700)
    assert result.codes == []
    check_safe_side(result.closed["BODY"][0].outline, exact)


@pytest.mark.outside(
    source="closed formula: parabola segment, 2/3 of base times height (Archimedes)", mark="D"
)
def test_parabola(new: Any, read: Any) -> None:
    """A quadratic spline over a chord is a parabola of area two thirds of base times height."""
    doc, space = new()
    space.add_open_spline([(0, 0), (50, 120), (100, 0)], degree=2, dxfattribs=BODY)
    space.add_line((0, 0), (100, 0), dxfattribs=BODY)
    assert read(doc).areas() == pytest.approx([2 / 3 * 100 * 60], abs=0.15)


@pytest.mark.outside(source="rational quadratic spline of a circle (closed formula pi r^2)", mark="D")
def test_rational_spline_of_a_circle(new: Any, read: Any) -> None:
    """A circle written as a rational spline comes back as a few arcs with its area."""
    w = math.sqrt(0.5)
    square = [(1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0), (-1, -1), (0, -1), (1, -1), (1, 0)]
    doc, space = new()
    spline = space.add_spline(degree=2, dxfattribs=BODY)
    spline.control_points = [(50 * x, 50 * y, 0) for x, y in square]
    spline.knots = [0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 4]
    spline.weights = [1, w, 1, w, 1, w, 1, w, 1]
    (closed,) = read(doc).closed["BODY"]
    assert closed.outline.signed_area_mm2 == pytest.approx(2500 * math.pi, abs=1e-6)
    assert len(closed.outline.bulges) <= 8


@pytest.mark.outside(source="numeric integration of a rational spline (scipy quad)", mark="D")
def test_rational_spline_with_a_line(new: Any, read: Any) -> None:
    """A rational spline of uneven weights agrees with numeric integration of its quotient."""
    control = np.array([[0, 0], [20, 70], [60, 90], [100, 20], [120, 0]], dtype=float)
    weights = np.array([1, 0.4, 3, 1.7, 1])
    knots = np.array([0, 0, 0, 0, 0.4, 1, 1, 1, 1], dtype=float)
    doc, space = new()
    space.add_rational_spline(
        control.tolist(), weights.tolist(), degree=3, knots=knots.tolist(), dxfattribs=BODY
    )
    space.add_line((0, 0), (120, 0), dxfattribs=BODY)
    top, bottom = BSpline(knots, control * weights[:, None], 3), BSpline(knots, weights, 3)
    dt, db = top.derivative(), bottom.derivative()

    def area_rate(u: float) -> float:
        p, w, dp, dw = top(u), float(bottom(u)), dt(u), float(db(u))
        q, dq = p / w, (dp - p / w * dw) / w
        return float(q[0] * dq[1] - q[1] * dq[0]) / 2

    exact = sum(quad(area_rate, a, b, epsabs=1e-10)[0] for a, b in ((0, 0.4), (0.4, 1)))
    assert read(doc).areas() == pytest.approx([abs(exact)], abs=0.15)


def test_spline_of_fit_points_only_is_told(new: Any, read: Any) -> None:
    """A spline without control points is read with a warning, since programs draw it differently."""
    doc, space = new()
    space.add_spline([(0, 0), (20, 30), (50, 10), (80, 0)], dxfattribs=BODY)
    space.add_line((0, 0), (80, 0), dxfattribs=BODY)
    result = read(doc)
    assert len(result.areas()) == 1
    assert result.one("D022").severity == "warning"


def test_old_polyline_with_spline_frame(new: Any, read: Any) -> None:
    """Frame points of a spline-fit polyline are not part of the curve."""
    doc, space = new("R2000")
    polyline = space.add_polyline2d([(0, 0), (50, 0), (50, 40), (0, 40)], close=True, dxfattribs=BODY)
    polyline.append_vertex((500, 500), dxfattribs={"flags": 16})
    assert read(doc).areas() == pytest.approx([2000])


def test_polyline_closed_by_its_last_point(new: Any, read: Any) -> None:
    """A polyline that repeats its first point, flagged closed or not, is one outline."""
    for close in (True, False):
        doc, space = new()
        points = [(0, 0), (50, 0), (50, 40), (0, 40), (0, 0)]
        space.add_lwpolyline(points, close=close, dxfattribs=BODY)
        assert read(doc).areas() == pytest.approx([2000])


def test_full_turn_arcs_are_circles(new: Any, read: Any) -> None:
    """An arc from 0 to 360 degrees is a circle; one of 359 degrees is open."""
    doc, space = new()
    space.add_arc((0, 0), 10, 0, 360, dxfattribs=BODY)
    space.add_arc((50, 0), 10, 90, 450, dxfattribs=BODY)
    assert read(doc).areas() == pytest.approx([100 * math.pi] * 2)
    space.add_arc((100, 0), 10, 0, 359, dxfattribs=BODY)
    assert "D007" in read(doc).codes


def test_scale_of_the_unit(new: Any, read: Any) -> None:
    """The fit error counts in millimeters, whatever the drawing's unit."""
    for unit, mm in (("in", 25.4), ("m", 1000.0)):
        doc, space = new(units=0)
        space.add_ellipse((0, 0), (100 / mm, 0), 0.5, dxfattribs=BODY)
        result = read(doc, rule=UnitRule(stated=unit))
        assert result.areas() == pytest.approx([5000 * math.pi], abs=0.3)


@pytest.mark.parametrize("spoil", ["radius", "knots", "weights", "nan", "far", "bulge"])
def test_contradictory_entities_are_errors(spoil: str, new: Any, read: Any) -> None:
    """Entities with impossible numbers are told by handle, not read somehow."""
    doc, space = new()
    if spoil == "radius":
        space.add_circle((0, 0), -3, dxfattribs=BODY)
    elif spoil in ("knots", "weights"):
        spline = space.add_spline(degree=3, dxfattribs=BODY)
        spline.control_points = [(0, 0, 0), (1, 5, 0), (2, 5, 0), (3, 0, 0)]
        spline.knots = [0, 0, 0, 0, 1, 1, 1, 1] if spoil == "weights" else [3, 2, 1, 0, 0, 0, 0, 0]
        if spoil == "weights":
            spline.weights = [1, -1, 0, 1]
    elif spoil == "nan":
        space.add_line((0, 0), (float("nan"), 1), dxfattribs=BODY)
    elif spoil == "far":
        space.add_circle((1e9, 0), 3, dxfattribs=BODY)
    else:
        space.add_lwpolyline([(0, 0, float("inf")), (1, 0, 0)], format="xyb", dxfattribs=BODY)
    errors = [f for f in read(doc).findings if f.severity == "error"]
    assert errors
    assert {f.code for f in errors} <= {"D025", "D001"}
