"""The outer edge of wood whose side is seen as a narrow strip: three surfaces across an edge, not two.

How wide the strip is follows from camera and thickness. Along each profile the upper face, the side and the
ground are fitted by least squares for each place of the outer edge; the side is expected to be the wood's own
color in less light, so that a strip as dark as the ground is not taken for ground.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from nestyield.photo.tones import in_less_light

Array = NDArray[np.float64]

#: Narrower strips do not show, wider ones are two edges far apart, px.
NARROWEST_PX, WIDEST_PX = 0.5, 14.0
#: Where the outer edge is looked for, from where it is thought to be, and in what steps; samples along a profile, px.
_LOOK_PX, _STEP_PX, _SAMPLE_PX = 4.0, 0.5, 0.5
#: Samples of the face begin so far inside the strip, and of the ground so far outside, and are so many px long.
_CLEAR_PX, _LONG_PX = 3.0, 4.0
#: Light on the side as a share of that on the face, and how far that is off: standard deviation (P).
_SHARE, _SHARE_OFF = 0.5, 0.3
#: How far the color of the side is off that, besides: brightness as a share of the face's, colors (P).
_BRIGHT_OFF, _COLOR_OFF = 0.05, 0.012
#: Neighbors that share colors, and that share a place, px along the outline.
_NEIGHBORS_PX = 12.0


def outer_edge(
    cv2: Any,
    shown: NDArray[np.float32],
    points: Array,
    out: Array,
    strip_px: Array,
    smooth_px: float,
    spread_px: tuple[float, float],
) -> Array:
    """Return how far out of points the outer edge is.

    Parameters
    ----------
    cv2 : module
    shown : array (h, w, 3)
        Tones.
    points, out : array (n, 2)
        A ring, about one pixel apart, and directions out of the wood.
    strip_px : array (n,)
        How wide the side is seen; negative where it is not.
    smooth_px : float
        How far along the outline places are alike.
    spread_px : (float, float)
        Blur, and spread of colors besides.

    Returns
    -------
    array (n,)
        Pixels; nan where no strip is seen, or where it is wide.
    """
    result = np.full(len(points), np.nan)
    seen = (strip_px > NARROWEST_PX) & (strip_px < WIDEST_PX)
    for run in _runs(seen):
        if len(run) >= 3:
            result[run] = _run(cv2, shown, points[run], out[run], strip_px[run], smooth_px, spread_px)
    return result


def _runs(seen: NDArray[np.bool_]) -> list[NDArray[np.intp]]:
    """Return the stretches of a ring on which something is so."""
    n = len(seen)
    if seen.all():
        return [np.arange(n)]
    if not seen.any():
        return []
    start = int(np.flatnonzero(~seen)[0])
    turned = np.roll(np.arange(n), -start)
    ends = np.flatnonzero(np.diff(np.r_[0, seen[turned].astype(np.int8), 0]))
    return [turned[a:b] for a, b in zip(ends[::2], ends[1::2])]


def _run(
    cv2: Any,
    shown: NDArray[np.float32],
    points: Array,
    out: Array,
    strip: Array,
    smooth: float,
    spread: tuple[float, float],
) -> Array:
    steps = np.arange(-(strip.max() + _CLEAR_PX + _LONG_PX), _CLEAR_PX + _LONG_PX + 0.1, _SAMPLE_PX)
    at = (points[:, None, :] + steps[None, :, None] * out[:, None, :]).astype(np.float32)
    rows = np.concatenate(
        [
            cv2.remap(shown, a[..., 0], a[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
            for a in np.array_split(at, max(1, len(at) // 16000 + 1))
        ]
    ).astype(float)
    depth = -(strip[:, None] + _CLEAR_PX) - steps[None, :]
    face, face_var = _mean(rows, (depth >= 0) & (depth <= _LONG_PX))
    ground, ground_var = _mean(rows, np.broadcast_to(steps[None, :] >= _CLEAR_PX, depth.shape))
    noise = face_var + ground_var + np.array([1e-3, 3e-3, 3e-3]) ** 2
    side, slope = in_less_light(face, _SHARE)
    off = np.column_stack([_BRIGHT_OFF * face[:, 0], *[np.full(len(face), _COLOR_OFF)] * 2])
    prior = off**2 + (_SHARE_OFF * slope) ** 2
    looks = np.arange(-_LOOK_PX, _LOOK_PX + 0.1, _STEP_PX)
    cost = np.stack(
        [_cost(rows, steps, e, strip, face, side, ground, noise, prior, spread) for e in looks], axis=1
    )
    cost = _shared(cost, 2 * smooth)
    best = np.clip(cost.argmin(axis=1), 1, len(looks) - 2)
    k = np.arange(len(best))
    a, b, c = cost[k, best - 1], cost[k, best], cost[k, best + 1]
    bend = np.maximum(a - 2 * b + c, 1e-9)
    return looks[best] + np.clip(0.5 * (a - c) / bend, -1.0, 1.0) * _STEP_PX


def _cost(
    rows: Array,
    steps: Array,
    edge: float,
    strip: Array,
    face: Array,
    side: Array,
    ground: Array,
    noise: Array,
    prior: Array,
    spread: tuple[float, float],
) -> Array:
    """Return how badly three surfaces with the outer edge at a place fit the profiles, array (n,)."""
    total = np.zeros(len(rows))
    for c in range(3):
        sigma = float(np.hypot(spread[0], spread[1] if c else 0.0))
        out = _step((steps - edge) / sigma)[None, :]
        top = 1.0 - _step((steps[None, :] - edge + strip[:, None]) / sigma)
        between = np.maximum(1.0 - out - top, 0.0)
        rest = rows[..., c] - face[:, c, None] * top - ground[:, c, None] * out
        v, p = noise[:, c], prior[:, c]
        a, b = (between**2).sum(axis=1) / v, (between * rest).sum(axis=1) / v
        here = (b + side[:, c] / p) / (a + 1.0 / p)
        total += (rest**2).sum(axis=1) / v - 2 * here * b + here**2 * a + (here - side[:, c]) ** 2 / p
    return total


def _mean(rows: Array, where: NDArray[np.bool_]) -> tuple[Array, Array]:
    """Return mean and variance of samples of each place and its neighbors, (n, 3) each."""
    weight = where.astype(float)
    count = _shared(weight.sum(axis=1)[:, None], _NEIGHBORS_PX)
    mean = _shared(np.einsum("ijk,ij->ik", rows, weight), _NEIGHBORS_PX) / np.maximum(count, 1e-9)
    square = _shared(np.einsum("ijk,ij->ik", rows**2, weight), _NEIGHBORS_PX) / np.maximum(count, 1e-9)
    return mean, np.maximum(square - mean**2, 0.0)


def _shared(values: Array, sigma: float) -> Array:
    """Smooth along a stretch by a Gaussian, ends as they are."""
    half = int(min(3 * sigma + 1, max(len(values) - 1, 1)))
    k = np.arange(-half, half + 1)
    weights = np.exp(-0.5 * (k / sigma) ** 2)
    index = np.clip(np.arange(len(values))[:, None] + k[None, :], 0, len(values) - 1)
    out = np.zeros_like(values)
    for j, w in enumerate(weights / weights.sum()):
        out += w * values[index[:, j]]
    return out


def _step(x: Array) -> Array:
    from scipy.special import ndtr

    return np.asarray(ndtr(x))
