"""Smooth curves as lines and circular arcs that keep the tangent, within a stated distance.

A pair of arcs that share a tangent where they meet (a biarc) joins two points with given tangents.
Bolton, K. M.: Biarc curves. Computer-Aided Design 7 (1975) 89-92. Formulas derived here.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
#: Points and derivatives, each ``(n, 2)``, of piece ``k`` at local parameter ``s`` in 0..1, both ``(n,)``.
Curve = Callable[[NDArray[np.int64], FloatArray], tuple[FloatArray, FloatArray]]

#: Farthest that fitted arcs may lie from the curve: half the grid.
ARC_FIT_MM = 0.0005
#: Spans shorter than this become a straight line (cusps).
SHORTEST_SPAN_MM = 1e-5
#: A curve that needs more spans at once is none that anybody draws: it is refused.
MOST_SPANS = 200_000
_DEEPEST = 48
_SAMPLES = 9
_WIDEST_TURN = np.cos(np.radians(60.0))


def fit_arcs(curve: Curve, pieces: int, error_mm: float = ARC_FIT_MM) -> tuple[FloatArray, FloatArray]:
    """Fit lines and arcs to a curve of smooth pieces.

    Parameters
    ----------
    curve : callable
        Gives points and derivatives; neighboring pieces meet.
    pieces : int
        Number of pieces, at least 1. The curve need not be smooth between pieces.
    error_mm : float
        Largest distance between curve and arcs, above 0.

    Returns
    -------
    points : float64 array, shape (n + 1, 2)
        Vertices, from the curve's beginning to its end.
    bulges : float64 array, shape (n,)
        Bulge of each segment, at most 1 in size.

    Raises
    ------
    ValueError
        When more than ``MOST_SPANS`` spans would be needed.
    """
    piece = np.arange(pieces, dtype=np.int64)
    begin, end = np.zeros(pieces), np.ones(pieces)
    done_keys: list[FloatArray] = []
    done_points: list[FloatArray] = []
    done_bulges: list[FloatArray] = []
    for depth in range(_DEEPEST + 1):
        p0, d0 = curve(piece, begin)
        p1, d1 = curve(piece, end)
        t0 = _tangent(curve, piece, begin, end, p0, d0)
        t1 = -_tangent(curve, piece, end, begin, p1, -d1)
        middle, bulge0, bulge1, good = _biarc(p0, t0, p1, t1)
        good &= _error(curve, piece, begin, end, p0, middle, p1, t0, bulge0, bulge1) <= 0.9 * error_mm
        half, _ = curve(piece, 0.5 * (begin + end))
        length = np.linalg.norm(half - p0, axis=1) + np.linalg.norm(p1 - half, axis=1)
        short = length < SHORTEST_SPAN_MM
        if depth == _DEEPEST:
            short |= True
        flat = short & ~good
        bulge0[flat] = bulge1[flat] = 0.0
        middle[flat] = half[flat]
        take = good | short
        keys = piece[take] + begin[take]
        done_keys.append(np.stack([keys, piece[take] + 0.5 * (begin[take] + end[take])], axis=1).ravel())
        done_points.append(np.stack([p0[take], middle[take]], axis=1).reshape(-1, 2))
        done_bulges.append(np.stack([bulge0[take], bulge1[take]], axis=1).ravel())
        split = ~take
        if not split.any():
            break
        if 2 * np.count_nonzero(split) > MOST_SPANS:
            raise ValueError(f"expected a curve that {MOST_SPANS} arcs can follow; it is too rough")
        center = 0.5 * (begin[split] + end[split])
        piece = np.concatenate([piece[split], piece[split]])
        begin, end = np.concatenate([begin[split], center]), np.concatenate([center, end[split]])
    order = np.argsort(np.concatenate(done_keys), kind="stable")
    last, _ = curve(np.array([pieces - 1]), np.ones(1))
    points = np.concatenate([np.concatenate(done_points)[order], last])
    bulges = np.concatenate(done_bulges)[order]
    return _merge(points, bulges)


def _tangent(
    curve: Curve,
    piece: NDArray[np.int64],
    at: FloatArray,
    other: FloatArray,
    point: FloatArray,
    d: FloatArray,
) -> FloatArray:
    """Unit tangent at ``at`` towards ``other``; where the derivative vanishes, from a point close by."""
    size = np.linalg.norm(d, axis=1)
    near, _ = curve(piece, at + 1e-3 * (other - at))
    chord = near - point
    reach = np.linalg.norm(chord, axis=1)
    weak = size * np.abs(other - at) * 1e-3 < 1e-3 * reach
    direction = np.where(weak[:, None], chord, d)
    norm = np.linalg.norm(direction, axis=1)
    norm[norm == 0.0] = 1.0
    return np.asarray(direction / norm[:, None], dtype=np.float64)


def _biarc(
    p0: FloatArray, t0: FloatArray, p1: FloatArray, t1: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray, NDArray[np.bool_]]:
    """Join points with unit tangents by two arcs of equal tangent length."""
    v = p1 - p0
    vv = _dot(v, v)
    vt = _dot(v, t0 + t1)
    c = _dot(t0, t1)
    q = 1.0 - c
    # d solves q d^2 + (v.t) d - v.v / 2 = 0; written so that q -> 0 needs no case of its own.
    root = np.sqrt(np.maximum(vt * vt + 2.0 * q * vv, 0.0))
    below = vt + root
    good = (vt > 0.0) & (c > _WIDEST_TURN) & (below > 0.0) & (vv > 0.0)
    d = vv / np.where(good, below, 1.0)
    middle = 0.5 * (p0 + p1 + d[:, None] * (t0 - t1))
    bulge0 = np.tan(0.5 * _turn(t0, middle - p0))
    bulge1 = np.tan(0.5 * _turn(p1 - middle, t1))
    good &= (np.abs(bulge0) < 0.5) & (np.abs(bulge1) < 0.5)
    return middle, bulge0, bulge1, good


def _error(
    curve: Curve,
    piece: NDArray[np.int64],
    begin: FloatArray,
    end: FloatArray,
    p0: FloatArray,
    middle: FloatArray,
    p1: FloatArray,
    t0: FloatArray,
    bulge0: FloatArray,
    bulge1: FloatArray,
) -> FloatArray:
    """Largest distance of sampled points of the curve from the two arcs."""
    n = len(piece)
    steps = (np.arange(_SAMPLES) + 1.0) / (_SAMPLES + 1.0)
    s = begin[:, None] + (end - begin)[:, None] * steps
    points, _ = curve(np.repeat(piece, _SAMPLES), s.ravel())
    points = points.reshape(n, _SAMPLES, 2)
    first = middle - p0
    angle = 2.0 * np.arctan(bulge0)
    cos, sin = np.cos(angle), np.sin(angle)
    at_middle = np.stack(
        [cos * first[:, 0] - sin * first[:, 1], sin * first[:, 0] + cos * first[:, 1]], axis=1
    )
    before = np.einsum("nkc,nc->nk", points - middle[:, None, :], at_middle) < 0.0
    far0 = _off_arc(points, p0, middle, bulge0)
    far1 = _off_arc(points, middle, p1, bulge1)
    return np.asarray(np.where(before, far0, far1).max(axis=1), dtype=np.float64)


def _off_arc(points: FloatArray, a: FloatArray, b: FloatArray, bulge: FloatArray) -> FloatArray:
    """Distance of points ``(n, k, 2)`` from the circles (or lines) through arcs a-b."""
    chord = b - a
    length = np.linalg.norm(chord, axis=1)
    safe = np.where(length > 0.0, length, 1.0)
    along = chord / safe[:, None]
    normal = np.stack([-along[:, 1], along[:, 0]], axis=1)
    offset = points - a[:, None, :]
    x = np.einsum("nkc,nc->nk", offset, along)
    y = np.einsum("nkc,nc->nk", offset, normal)
    # Circle through (0, 0), (L, 0), (L/2, -bL/2): x^2 + y^2 - L x - e y = 0, e = L (1/b - b) / 2, times
    # b / (1 + b^2) so that a line (b = 0) needs no case of its own; gradient length tends to L / 2.
    b_ = bulge[:, None]
    scale = 1.0 + b_ * b_
    f = b_ * (x * x + y * y - safe[:, None] * x) / scale - 0.5 * safe[:, None] * (1.0 - b_ * b_) / scale * y
    return np.asarray(np.abs(f) / (0.5 * safe[:, None]), dtype=np.float64)


def _merge(points: FloatArray, bulges: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Drop vertices that repeat, and those inside a straight line or one and the same arc."""
    keep = np.ones(len(points), dtype=bool)
    step = np.linalg.norm(np.diff(points, axis=0), axis=1)
    keep[1:] = step > 0.0
    if not keep[1:].any():
        return points[[0, -1]], np.zeros(1)
    points, bulges = points[keep], bulges[keep[1:]]
    out_p, out_b = [points[0]], [float(bulges[0])]
    for i in range(1, len(bulges)):
        a, m, b = out_p[-1], points[i], points[i + 1]
        joint = _join(a, m, b, out_b[-1], float(bulges[i]))
        if joint is None:
            out_p.append(m)
            out_b.append(float(bulges[i]))
        else:
            out_b[-1] = joint
    out_p.append(points[-1])
    return np.array(out_p), np.array(out_b)


def _join(a: FloatArray, m: FloatArray, b: FloatArray, bulge_am: float, bulge_mb: float) -> float | None:
    """Bulge of one segment a-b that runs through m as the two do to a nanometer, or None."""
    half0, half1 = 2.0 * np.arctan(bulge_am), 2.0 * np.arctan(bulge_mb)
    first, second = m - a, b - m
    turn = float(np.arctan2(first[0] * second[1] - first[1] * second[0], first @ second))
    if abs(turn - (half0 + half1)) > 1e-9 or abs(half0 + half1) > 1.2:
        return None
    l0, l1 = float(np.hypot(*first)), float(np.hypot(*second))
    curvature0, curvature1 = 2.0 * np.sin(half0) / l0, 2.0 * np.sin(half1) / l1
    if abs(curvature0 - curvature1) * max(l0, l1) ** 2 > 1e-6:
        return None
    return float(np.tan(0.5 * (half0 + half1)))


def _dot(a: FloatArray, b: FloatArray) -> FloatArray:
    return np.asarray(np.einsum("nc,nc->n", a, b), dtype=np.float64)


def _turn(a: FloatArray, b: FloatArray) -> FloatArray:
    cross = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    return np.asarray(np.arctan2(cross, _dot(a, b)), dtype=np.float64)
