"""Ellipses and rational B-splines as pieces that ``biarc.fit_arcs`` takes."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from nestyield.geometry.biarc import Curve, FloatArray
from nestyield.model import ModelError


def ellipse_curve(
    center: tuple[float, float],
    major: tuple[float, float],
    minor: tuple[float, float],
    start: float,
    end: float,
) -> tuple[Curve, int]:
    """Make a curve of an ellipse or a part of it.

    Parameters
    ----------
    center, major, minor : (x, y)
        Middle and half axes, millimeters; the curve is center + major cos t + minor sin t.
    start, end : float
        Parameters, radians; ``end`` above ``start``.

    Returns
    -------
    (Curve, int)
        The curve and its number of pieces, none wider than a quarter.
    """
    if not end > start:
        raise ModelError(f"expected an end parameter above the start, got {start} and {end}")
    pieces = max(1, math.ceil((end - start) / (0.5 * math.pi) - 1e-9))
    width = (end - start) / pieces
    c, a, b = np.array(center), np.array(major), np.array(minor)

    def curve(k: NDArray[np.int64], s: FloatArray) -> tuple[FloatArray, FloatArray]:
        t = (start + width * (k + s))[:, None]
        cos, sin = np.cos(t), np.sin(t)
        return c + a * cos + b * sin, width * (b * cos - a * sin)

    return curve, pieces


def bspline_curve(
    control: FloatArray, knots: FloatArray, degree: int, weights: FloatArray | None = None
) -> tuple[Curve, int]:
    """Make a curve of a B-spline, rational or not, clamped or not.

    Parameters
    ----------
    control : float64 array, shape (n, 2)
        Control points, millimeters.
    knots : float64 array, shape (n + degree + 1,)
        Never falling.
    degree : int
        At least 1.
    weights : float64 array, shape (n,), optional
        All above 0; None means all 1.

    Returns
    -------
    (Curve, int)
        The curve over the knots ``degree`` to ``n``, and its number of pieces (one a knot span).

    Raises
    ------
    ModelError
        When the counts do not fit, knots fall or weights are not above 0.
    """
    n = len(control)
    if degree < 1 or n < degree + 1 or len(knots) != n + degree + 1:
        raise ModelError(
            f"expected at least degree + 1 control points and n + degree + 1 knots, got degree {degree}, "
            f"{n} control points and {len(knots)} knots"
        )
    if not (np.isfinite(control).all() and np.isfinite(knots).all()):
        raise ModelError("expected finite control points and knots")
    if (np.diff(knots) < 0).any() or not knots[n] > knots[degree]:
        raise ModelError("expected knots that do not fall and span an interval")
    w = np.ones(n) if weights is None else np.asarray(weights, dtype=np.float64)
    if len(w) != n or not (np.isfinite(w).all() and (w > 0).all()):
        raise ModelError("expected one weight above 0 a control point")
    homogeneous = np.column_stack([control * w[:, None], w])
    spans = [j for j in range(degree, n) if knots[j + 1] > knots[j]]
    pieces = np.stack([_bezier(homogeneous, knots, degree, j) for j in spans])

    def curve(k: NDArray[np.int64], s: FloatArray) -> tuple[FloatArray, FloatArray]:
        level = pieces[k]
        t = s[:, None, None]
        for _ in range(degree - 1):
            level = (1.0 - t) * level[:, :-1] + t * level[:, 1:]
        step = degree * (level[:, 1] - level[:, 0])
        value = (1.0 - t[:, 0]) * level[:, 0] + t[:, 0] * level[:, 1]
        point = value[:, :2] / value[:, 2:]
        return point, (step[:, :2] - point * step[:, 2:]) / value[:, 2:]

    return curve, len(spans)


def _bezier(control: FloatArray, knots: FloatArray, degree: int, span: int) -> FloatArray:
    """Bezier points of one knot span by its polar form (blossom)."""
    lo, hi = knots[span], knots[span + 1]
    out = []
    for j in range(degree + 1):
        arguments = [lo] * (degree - j) + [hi] * j
        level = control[span - degree : span + 1].copy()
        for r in range(1, degree + 1):
            x = arguments[r - 1]
            for i in range(degree, r - 1, -1):
                left = knots[span - degree + i]
                right = knots[span + 1 + i - r]
                a = (x - left) / (right - left)
                level[i] = (1.0 - a) * level[i - 1] + a * level[i]
        out.append(level[degree])
    return np.array(out)
