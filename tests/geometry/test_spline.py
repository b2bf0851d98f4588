"""Ellipses and B-splines as curves."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.interpolate import BSpline

from nestyield.geometry.spline import bspline_curve, ellipse_curve
from nestyield.model import ModelError


@pytest.mark.outside(source="scipy.interpolate.BSpline, evaluation of B-splines", mark="S")
@pytest.mark.parametrize("degree", [1, 2, 3, 4, 5, 7])
def test_bspline_agrees_with_scipy(degree: int) -> None:
    """Points and derivatives of clamped and unclamped splines agree with an independent library."""
    rng = np.random.default_rng(degree)
    n = degree + 6
    for knots in (
        np.arange(n + degree + 1, dtype=float),
        np.r_[[0.0] * (degree + 1), np.sort(rng.uniform(0, 1, n - degree - 1)), [1.0] * (degree + 1)],
        np.sort(rng.uniform(-3, 9, n + degree + 1)),
    ):
        control = rng.normal(size=(n, 2)) * 50
        curve, pieces = bspline_curve(control, knots, degree)
        spans = [j for j in range(degree, n) if knots[j + 1] > knots[j]]
        assert pieces == len(spans)
        reference = BSpline(knots, control, degree)
        for k, j in enumerate(spans):
            s = np.linspace(0.01, 0.99, 9)
            u = knots[j] + s * (knots[j + 1] - knots[j])
            points, derivatives = curve(np.full(9, k), s)
            assert points == pytest.approx(reference(u), abs=1e-8)
            slope = reference.derivative()(u) * (knots[j + 1] - knots[j])
            assert derivatives == pytest.approx(slope, abs=1e-6)


@pytest.mark.outside(
    source="scipy.interpolate.BSpline of homogeneous control points (a rational spline by definition)",
    mark="S",
)
def test_rational_spline_agrees_with_scipy() -> None:
    """A rational spline is the quotient of two plain ones."""
    rng = np.random.default_rng(2)
    n, degree = 9, 3
    knots = np.r_[[0.0] * 4, 1, 2, 3, 4, 5, [6.0] * 4]
    control, weights = rng.normal(size=(n, 2)) * 30, rng.uniform(0.2, 5, n)
    curve, pieces = bspline_curve(control, knots, degree, weights)
    top = BSpline(knots, control * weights[:, None], degree)
    bottom = BSpline(knots, weights, degree)
    for k in range(pieces):
        s = np.linspace(0, 1, 7)[:-1]
        points, _ = curve(np.full(6, k), s)
        assert points == pytest.approx(top(k + s) / bottom(k + s)[:, None], abs=1e-9)


def test_ellipse_points_and_derivatives() -> None:
    """An ellipse curve runs as its formula says."""
    curve, pieces = ellipse_curve((1.0, 2.0), (3.0, 4.0), (-2.0, 1.5), 0.3, 5.0)
    t = 0.3 + (np.array([0, 1, 2]) + 0.25) * (4.7 / pieces)
    points, d = curve(np.array([0, 1, 2]), np.full(3, 0.25))
    assert points[:, 0] == pytest.approx(1 + 3 * np.cos(t) - 2 * np.sin(t))
    assert points[:, 1] == pytest.approx(2 + 4 * np.cos(t) + 1.5 * np.sin(t))
    assert d[:, 0] == pytest.approx((-3 * np.sin(t) - 2 * np.cos(t)) * 4.7 / pieces)


def test_ellipse_pieces_are_quarters_at_most() -> None:
    """A full turn has four pieces."""
    assert ellipse_curve((0, 0), (1, 0), (0, 1), 0.0, 2 * math.pi)[1] == 4
    assert ellipse_curve((0, 0), (1, 0), (0, 1), 0.0, 0.1)[1] == 1


@pytest.mark.parametrize(
    ("control", "knots", "degree", "weights"),
    [
        (np.zeros((3, 2)), np.arange(7.0), 3, None),
        (np.zeros((4, 2)), np.arange(7.0), 3, None),
        (np.zeros((4, 2)), np.arange(8.0)[::-1], 3, None),
        (np.zeros((4, 2)), np.zeros(8), 3, None),
        (np.zeros((4, 2)), np.arange(8.0), 3, np.array([1.0, 0.0, 1.0, 1.0])),
        (np.zeros((4, 2)), np.arange(8.0), 3, np.ones(3)),
        (np.full((4, 2), np.nan), np.arange(8.0), 3, None),
        (np.zeros((1, 2)), np.arange(2.0), 0, None),
    ],
)
def test_bspline_refuses_what_does_not_fit(control, knots, degree, weights) -> None:  # type: ignore[no-untyped-def]
    """Counts that do not fit, falling knots and weights of 0 are errors."""
    with pytest.raises(ModelError, match="expected"):
        bspline_curve(control, knots, degree, weights)


def test_ellipse_refuses_an_empty_range() -> None:
    """An end before the start is an error."""
    with pytest.raises(ModelError, match="above the start"):
        ellipse_curve((0, 0), (1, 0), (0, 1), 1.0, 1.0)
