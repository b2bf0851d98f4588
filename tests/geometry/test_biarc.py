"""Arcs fitted to smooth curves."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from nestyield.geometry.biarc import ARC_FIT_MM, fit_arcs
from nestyield.geometry.spline import bspline_curve, ellipse_curve
from nestyield.model import Outline


def outline(points: np.ndarray, bulges: np.ndarray) -> Outline:
    return Outline(points_mm=tuple(map(tuple, points[:-1].tolist())), bulges=tuple(bulges.tolist()))


def dense(points: np.ndarray, bulges: np.ndarray, pieces: int = 64) -> shapely.LineString:
    """Arcs as very fine chords, by the center and radius of each."""
    out = []
    for a, b, bulge in zip(points[:-1], points[1:], bulges):
        if bulge == 0:
            out.append(a)
            continue
        chord = b - a
        center = 0.5 * (a + b) + np.array([-chord[1], chord[0]]) * (1 - bulge**2) / (4 * bulge)
        turn = 4 * math.atan(bulge) * np.arange(pieces) / pieces
        d = a - center
        cos, sin = np.cos(turn), np.sin(turn)
        out += list(center + np.column_stack([d[0] * cos - d[1] * sin, d[0] * sin + d[1] * cos]))
    out.append(points[-1])
    return shapely.LineString(out)


def farthest(samples: np.ndarray, points: np.ndarray, bulges: np.ndarray) -> float:
    """Largest distance of samples from the arcs."""
    vertices = shapely.get_coordinates(dense(points, bulges))
    tree = shapely.STRtree(shapely.linestrings(np.stack([vertices[:-1], vertices[1:]], axis=1)))
    _, distance = tree.query_nearest(shapely.points(samples), return_distance=True)
    return float(distance.max())


@pytest.mark.parametrize(("a", "b"), [(200, 100), (300, 5), (10, 9.99), (2000, 700), (0.5, 0.1)])
def test_ellipse_stays_within_half_a_micrometer(a: float, b: float) -> None:
    """Every point of an ellipse lies within the fit error of the arcs, and the area agrees with pi a b."""
    curve, pieces = ellipse_curve((3.0, 4.0), (a, 0.0), (0.0, b), 0.0, 2 * math.pi)
    points, bulges = fit_arcs(curve, pieces)
    k = np.arange(pieces).repeat(1000)
    samples, _ = curve(k, np.tile(np.linspace(0, 1, 1000), pieces))
    assert farthest(samples, points, bulges) <= ARC_FIT_MM * 1.02 + 1e-6
    perimeter = shapely.LineString(samples).length
    assert abs(outline(points, bulges).signed_area_mm2 - math.pi * a * b) <= ARC_FIT_MM * perimeter


def test_circle_stays_an_arc() -> None:
    """A circle drawn as an ellipse comes back as few arcs with its exact area."""
    curve, pieces = ellipse_curve((0.0, 0.0), (50.0, 0.0), (0.0, 50.0), 0.0, 2 * math.pi)
    points, bulges = fit_arcs(curve, pieces)
    assert len(bulges) <= 8
    assert outline(points, bulges).signed_area_mm2 == pytest.approx(math.pi * 2500, abs=1e-8)


def test_straight_curve_stays_a_line() -> None:
    """A cubic whose control points lie on a line becomes one line."""
    control = np.array([[0.0, 0.0], [1.0, 1.0], [5.0, 5.0], [9.0, 9.0]])
    curve, pieces = bspline_curve(control, np.array([0.0] * 4 + [1.0] * 4), 3)
    points, bulges = fit_arcs(curve, pieces)
    assert bulges.tolist() == [0.0]
    assert points.tolist() == [[0.0, 0.0], [9.0, 9.0]]


def test_arcs_keep_the_tangent() -> None:
    """Inside a smooth curve neighboring arcs share their tangent."""
    control = np.random.default_rng(5).normal(size=(10, 2)) * 40
    knots = np.r_[[0.0] * 4, 1, 2, 3, 4, 5, 6, [7.0] * 4]
    curve, pieces = bspline_curve(control, knots, 3)
    points, bulges = fit_arcs(curve, pieces)
    chord = np.diff(points, axis=0)
    heading = np.arctan2(chord[:, 1], chord[:, 0])
    leave, arrive = heading - 2 * np.arctan(bulges), heading + 2 * np.arctan(bulges)
    turn = np.angle(np.exp(1j * (leave[1:] - arrive[:-1])))
    assert np.abs(turn).max() < 1e-6


def test_random_splines_stay_within_half_a_micrometer() -> None:
    """Thirty random splines of degree 2 to 5, rational and not: no sample farther than the fit error."""
    rng = np.random.default_rng(8)
    worst = 0.0
    for case in range(30):
        degree = int(rng.integers(2, 6))
        n = int(rng.integers(degree + 1, degree + 9))
        inner = np.sort(rng.uniform(0, 1, n - degree - 1))
        knots = np.r_[[0.0] * (degree + 1), inner, [1.0] * (degree + 1)]
        control = rng.normal(size=(n, 2)) * rng.choice([5.0, 60.0, 400.0])
        weights = rng.uniform(0.2, 4.0, n) if case % 2 else None
        curve, pieces = bspline_curve(control, knots, degree, weights)
        points, bulges = fit_arcs(curve, pieces)
        k = np.arange(pieces).repeat(400)
        samples, _ = curve(k, np.tile(np.linspace(0, 1, 400), pieces))
        worst = max(worst, farthest(samples, points, bulges))
        assert np.abs(bulges).max() <= 1.0
    assert worst <= ARC_FIT_MM * 1.02 + 2e-6


def test_cusp_and_kink_are_kept() -> None:
    """A curve with a cusp, and one with a repeated control point, end where they should."""
    cusp = np.array([[0.0, 0.0], [10.0, 10.0], [0.0, 10.0], [10.0, 0.0]])
    for control in (cusp, cusp[[0, 0, 1, 2]], cusp[[0, 1, 1, 1]], cusp[[0, 0, 1, 1]]):
        curve, pieces = bspline_curve(control, np.array([0.0] * 4 + [1.0] * 4), 3)
        points, bulges = fit_arcs(curve, pieces)
        assert np.isfinite(points).all()
        assert np.isfinite(bulges).all()
        assert points[0] == pytest.approx(control[0])
        assert points[-1] == pytest.approx(control[-1])


def test_curve_of_no_length() -> None:
    """All control points in one place give a line of no length, not an error."""
    curve, pieces = bspline_curve(np.zeros((4, 2)), np.array([0.0] * 4 + [1.0] * 4), 3)
    points, bulges = fit_arcs(curve, pieces)
    assert points.tolist() == [[0.0, 0.0], [0.0, 0.0]]
    assert bulges.tolist() == [0.0]


def test_a_curve_too_rough_to_follow_is_refused():
    """A curve that is noise at every scale ends in an error, not in spans without number."""

    def noise(piece, s):
        x = 1000.0 * s
        y = 50.0 * np.sin(1e9 * s + 1e5 * np.sin(3e7 * s))
        return np.stack([x, y], axis=1), np.stack([np.full_like(x, 1000.0), np.cos(7e8 * s)], axis=1)

    with pytest.raises(ValueError, match="too rough"):
        fit_arcs(noise, 1)
