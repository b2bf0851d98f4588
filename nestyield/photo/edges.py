"""Outlines of a mask to a fraction of a pixel, and how sharp and how plain their edges are.

Across every place of an outline the light is looked at along the color that parts inside from outside best
there (R. A. Fisher, The use of multiple measurements in taxonomic problems, 1936): figure of the wood, shadow,
and black on white paper then count little. The edge is where it is half way, in linear light.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nestyield.photo.needs import opencv
from nestyield.photo.strip import outer_edge
from nestyield.photo.tones import half_way
from nestyield.photo.tones import level as levelled

Array = NDArray[np.float64]

#: Half lengths of the profiles of the passes, and how far their results are smoothed along the outline, px.
_PASSES = ((9.0, 1.2), (7.0, 2.0), (6.0, 4.0))
#: The mask is as near as this to the edge, px: what lies further off, as the edge of a sheet of paper, is another edge.
_NEAR_PX = 3.0
#: The steps of a mask are smoothed over so many pixels of the picture.
_STEPS_PX = 2.5
#: Places to each side that share their colors.
_NEIGHBORS = 14
#: Blur of a picture before any was measured, px.
USUAL_BLUR_PX = 0.8
#: Noise of light that is always allowed for, so that equal colors do not part.
_LEAST_NOISE = 2e-3


@dataclass(frozen=True, slots=True, kw_only=True)
class Edge:
    """A closed outline in a picture.

    Parameters
    ----------
    points : array (n, 2)
        Pixels, about one apart; wood on the left as seen with y up.
    blur_px : float
        Standard deviation of the blur across it, median.
    plain : float
        How far inside and outside are apart, in standard deviations of a pixel; its 5th percentile.
    noise_px : float
        How far the outline lies off a smooth one, standard deviation.
    hole : bool
    """

    points: Array
    blur_px: float
    plain: float
    noise_px: float
    hole: bool


def outlines(wood: NDArray[np.bool_], scale: float) -> list[tuple[Array, list[Array]]]:
    """Return outer outline and holes of each region of a mask, pixels of the picture before it was scaled."""
    cv2 = opencv()
    rings, tree = cv2.findContours(wood.astype(np.uint8), cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
    if tree is None:
        return []
    found: dict[int, tuple[Array, list[Array]]] = {}
    points = [(r.reshape(-1, 2).astype(float) + 0.5) / scale - 0.5 for r in rings]
    for i, (_, _, _, parent) in enumerate(tree[0]):
        if parent < 0:
            found[i] = (points[i], [])
    for i, (_, _, _, parent) in enumerate(tree[0]):
        if parent >= 0 and len(points[i]) >= 8:
            found[parent][1].append(points[i])
    return list(found.values())


def refined(
    light: NDArray[np.float32],
    ring: Array,
    hole: bool,
    side: Callable[[Array], Array] | None = None,
    spread_px: tuple[float, float] = (USUAL_BLUR_PX, 0.0),
) -> Edge | None:
    """Move an outline to where its edge is.

    Parameters
    ----------
    light : array (h, w, 3)
        Tones of the whole picture (`tones.tones`).
    ring : array (n, 2)
        Pixels, within a few of the edge.
    hole : bool
        Whether wood is outside it.
    side : callable, optional
        From pixels of a lower rim, array (n, 2), to where it lies from the upper one, px. Where the side of the wood is
        seen as a narrow strip, its outer edge is looked for.
    spread_px : (float, float)
        Standard deviations of the blur of light, and of what colors are spread by besides.

    Returns
    -------
    Edge or None
        None when it is too short to be looked at.
    """
    points = _even(ring)
    if _area(points) < 0 ^ hole:  # y down: the sense does not matter as long as it is one
        points = points[::-1]
    edge = None
    if len(points) < 24:
        return None
    points = _even(_along(points, _STEPS_PX))
    for reach, smooth in _PASSES:
        if len(points) < 24:
            return None
        edge = _pass(opencv(), light, points, reach, smooth, hole, side, spread_px)
        points = _even(edge.points)
    assert edge is not None
    return replace(edge, points=points)


def _pass(
    cv2: Any,
    light: NDArray[np.float32],
    points: Array,
    reach: float,
    smooth: float,
    hole: bool,
    side: Callable[[Array], Array] | None,
    spread_px: tuple[float, float],
) -> Edge:
    out = normals(points, hole)
    steps = np.arange(-reach, reach + 0.25, 0.5)
    at = (points[:, None, :] + steps[None, :, None] * out[:, None, :]).astype(np.float32)
    rows = np.concatenate(
        [
            np.asarray(
                cv2.remap(
                    light, part[..., 0], part[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
                ),
                dtype=float,
            )
            for part in np.array_split(at, max(1, len(at) // 16000 + 1))
        ]
    )
    n = max(3, len(steps) // 4)
    inside, outside = rows[:, :n], rows[:, -n:]
    mean_in, spread_in = _shared(inside)
    mean_out, spread_out = _shared(outside)
    apart = mean_in - mean_out
    # what differs between neighbors outside (ink and paper) counts as noise, too
    spread = spread_in + spread_out + _LEAST_NOISE**2 * np.eye(3)
    axis = np.linalg.solve(spread, apart[..., None])[..., 0]
    contrast = np.einsum("ij,ij->i", axis, apart)
    level = np.einsum("ikj,ij->ik", rows - mean_out[:, None], axis) / np.maximum(contrast, 1e-9)[:, None]
    level = levelled(_along(level, 1.2), half_way(mean_in, mean_out, np.asarray(axis, float), *spread_px))
    place, width = (
        _crossing(level, steps),
        np.abs(_crossing(level, steps, 0.16) - _crossing(level, steps, 0.84)) / 2,
    )
    if side is not None:
        found = outer_edge(cv2, light, points, out, (side(points) * out).sum(axis=1), smooth, spread_px)
        place = np.where(np.isfinite(found), found, place)
    steady = _robust(place)
    fine = _along(steady[:, None], smooth)[:, 0]
    wide = _along(steady[:, None], 3 * smooth)[:, 0]
    # along the rim of the picture there is no edge to judge
    h, w = light.shape[:2]
    within = ((points > 2 * reach) & (points < np.array([w, h]) - 1 - 2 * reach)).all(axis=1)
    judged = within if within.any() else np.ones(len(points), bool)
    return Edge(
        points=points + fine[:, None] * out,
        blur_px=float(np.nanmedian(width[judged])) if np.isfinite(width[judged]).any() else reach,
        plain=float(np.percentile(np.sqrt(np.maximum(contrast[judged], 0.0)), 5)),
        noise_px=float(1.4826 * np.median(np.abs(fine - wide)[judged])),
        hole=hole,
    )


def _shared(samples: Array) -> tuple[Array, Array]:
    """Return mean color and spread of samples of each place and its neighbors, (n, k, 3) to (n, 3), (n, 3, 3)."""
    mean = samples.mean(axis=1)
    square = np.einsum("ijk,ijl->ikl", samples, samples) / samples.shape[1]
    mean = _box(mean, _NEIGHBORS)
    square = _box(square.reshape(len(mean), 9), _NEIGHBORS).reshape(-1, 3, 3)
    return mean, square - np.einsum("ij,ik->ijk", mean, mean)


def _box(values: Array, half: int) -> Array:
    """Return the mean over neighbors on a ring, along the first axis."""
    half = min(half, (len(values) - 1) // 2)
    ring = np.concatenate([values[-half:], values, values[:half]]) if half else values
    total = np.concatenate([np.zeros((1, values.shape[1])), np.cumsum(ring, axis=0)])
    return (total[2 * half + 1 :] - total[: -2 * half - 1]) / (2 * half + 1)


def _along(values: Array, sigma: float) -> Array:
    """Smooth along a ring by a Gaussian."""
    half = min(int(3 * sigma + 1), (len(values) - 1) // 2)
    k = np.arange(-half, half + 1)
    weights = np.exp(-0.5 * (k / sigma) ** 2)
    weights /= weights.sum()
    out = np.zeros_like(values)
    for shift, weight in zip(k, weights):
        out += weight * np.roll(values, -int(shift), axis=0)
    return out


def _crossing(level: Array, steps: Array, at: float = 0.5, most: float = np.inf) -> Array:
    """Return the crossing from above to below that is nearest to the middle and within so many pixels; nan for none."""
    down = (level[:, :-1] >= at) & (level[:, 1:] < at)
    a, b = level[:, :-1], level[:, 1:]
    place = steps[:-1] + (a - at) / np.where(a == b, 1.0, a - b) * (steps[1] - steps[0])
    far = np.where(down & (np.abs(place) <= most), np.abs(place), np.inf)
    best = far.argmin(axis=1)
    rows = np.arange(len(level))
    return np.where(np.isfinite(far[rows, best]), place[rows, best], np.nan)


def _robust(place: Array) -> Array:
    """Replace places that are missing, or far from their neighbors' median, by that median."""
    half = 6
    ring = np.stack([np.roll(place, s) for s in range(-half, half + 1)])
    with np.errstate(all="ignore"):
        finite = np.isfinite(ring).any(axis=0)
        middle = np.where(finite, np.nanmedian(np.where(finite, ring, 0.0), axis=0), 0.0)
    off = np.abs(place - middle)
    return np.where(np.isfinite(place) & (off < 1.5), place, middle)


def normals(points: Array, hole: bool) -> Array:
    """Return unit vectors out of the wood."""
    smooth = _along(points, 3.0)
    along = np.roll(smooth, -1, axis=0) - np.roll(smooth, 1, axis=0)
    along /= np.maximum(np.hypot(*along.T), 1e-9)[:, None]
    out = np.column_stack([along[:, 1], -along[:, 0]])
    return -out if (_area(points) < 0) ^ hole else out


def _area(points: Array) -> float:
    x, y = points.T
    return 0.5 * float((x * np.roll(y, -1) - y * np.roll(x, -1)).sum())


def _even(ring: Array, step: float = 1.0) -> Array:
    """Return points of a closed line at even distances."""
    closed = np.concatenate([ring, ring[:1]])
    lengths = np.hypot(*np.diff(closed, axis=0).T)
    keep = np.concatenate([[True], lengths > 1e-9])
    closed, lengths = closed[keep], lengths[lengths > 1e-9]
    at = np.concatenate([[0.0], np.cumsum(lengths)])
    n = max(3, round(at[-1] / step))
    where = np.arange(n) * at[-1] / n
    return np.column_stack([np.interp(where, at, closed[:, k]) for k in range(2)])
