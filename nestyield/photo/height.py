"""How thick wood looks: where its side is seen, from its lower rim up to where the upper face begins."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nestyield.photo.calibrate import Calibration
from nestyield.photo.camera import Camera
from nestyield.photo.edges import Edge, normals

Array = NDArray[np.float64]

#: A side counts where the camera looks at it so squarely (cosine), and shows a millimeter by so many pixels.
_SQUARELY, _PX_MM = 0.7, 0.3
#: Least and most places along outlines, px apart one by one; neighbors that err together.
_LEAST, _MOST, _TOGETHER = 80, 1500, 8.0
#: Profiles: from below the rim, to so much above what the thickness may be, mm; step, mm.
_BELOW_MM, _ABOVE, _ABOVE_MM, _STEP_MM = 6.0, 1.7, 12.0, 0.25
#: The lower rim may be off by this; the least thickness that is looked for, mm.
_RIM_MM, _THINNEST_MM = 2.0, 1.5
#: The face differs from the side by at least this share of its brightness; any other height fits worse by this.
_LEAST_STEP, _CLEARLY = 0.12, 1.6
#: Standard deviations of lens and camera that are allowed for.
_COVER = 2.0
#: Heights nearer than this, mm and share, are the same height.
_SAME_MM, _SAME = 2.0, 0.12


@dataclass(frozen=True, slots=True, kw_only=True)
class Height:
    """A thickness as a picture shows it.

    Parameters
    ----------
    thickness_mm : float
    within_mm : float
        How far it may be off.
    """

    thickness_mm: float
    within_mm: float


def seen_height(
    cv2: Any,
    shown: NDArray[np.float32],
    edges: Sequence[Edge],
    calibration: Calibration,
    picture: int,
    thickness_mm: float,
    blur_px: float,
) -> Height | None:
    """Return how thick pieces look; None where their sides do not tell.

    Parameters
    ----------
    cv2 : module
    shown : array (h, w, 3)
        Tones.
    edges : sequence of Edge
    calibration : Calibration
    picture : int
        Number of the picture in it.
    thickness_mm : float
        As it is said to be.
    blur_px : float
    """
    camera = calibration.camera(picture)
    ground, scale = _places(edges, camera, thickness_mm)
    if len(ground) < _LEAST:
        return None
    heights = np.arange(-_BELOW_MM, _ABOVE * thickness_mm + _ABOVE_MM, _STEP_MM)
    mean, error = _profile(cv2, shown, camera, ground, heights)
    found = _split(heights, mean, error, blur_px / scale)
    if found is None:
        return None
    share = 0.03 + _COVER * _scale_error(calibration, picture, ground, thickness_mm)
    return Height(thickness_mm=found, within_mm=max(1.0, 0.75 / scale) + share * found)


def _scale_error(calibration: Calibration, picture: int, ground: Array, thickness_mm: float) -> float:
    """Return how far off the height of a side in pixels may be by lens and camera, as a share: one standard deviation."""
    place = ground[:: max(1, len(ground) // 20)]
    middle = calibration.camera(picture).pixels(np.column_stack([place, np.zeros(len(place))]))

    def rises(values: Array) -> float:
        camera = calibration.camera(picture, values)
        low = camera.ground(middle)
        high = camera.pixels(np.column_stack([low, np.full(len(low), thickness_mm)]))
        return float(np.log(np.hypot(*(high - middle).T)).mean())

    first = rises(calibration.values)
    sizes = np.sqrt(np.maximum(np.diag(calibration.covariance), 1e-30))
    change = np.zeros(len(sizes))
    for k, size in enumerate(sizes):
        moved = calibration.values.copy()
        moved[k] += 1e-2 * size
        change[k] = (rises(moved) - first) / (1e-2 * size)
    return float(np.sqrt(max(float(change @ calibration.covariance @ change), 0.0)))


def _places(edges: Sequence[Edge], camera: Camera, thickness_mm: float) -> tuple[Array, float]:
    """Return places of lower rims whose sides are seen squarely, and pixels a millimeter of height."""
    found, scales = [], []
    for edge in edges:
        ground = camera.ground(edge.points)
        up = camera.pixels(np.column_stack([ground, np.full(len(ground), thickness_mm)])) - edge.points
        length = np.hypot(*up.T)
        into = -(up * normals(edge.points, edge.hole)).sum(axis=1)
        good = (into > _SQUARELY * length) & (length > _PX_MM * thickness_mm)
        found.append(ground[good])
        scales.append(length[good] / thickness_mm)
    every = np.concatenate(found) if found else np.zeros((0, 2))
    if len(every) < _LEAST:
        return every, 1.0
    return every[:: len(every) // _MOST + 1], float(np.median(np.concatenate(scales)))


def _profile(
    cv2: Any, shown: NDArray[np.float32], camera: Camera, ground: Array, heights: Array
) -> tuple[Array, Array]:
    """Return the mean tones at heights over places, (k, 3), and their standard errors."""
    at = np.column_stack([np.repeat(ground, len(heights), axis=0), np.tile(heights, len(ground))])
    pixels = camera.pixels(at).astype(np.float32).reshape(len(ground), len(heights), 2)
    rows = cv2.remap(
        shown, pixels[..., 0], pixels[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    ).astype(float)
    share = np.sqrt(_TOGETHER / len(ground))
    return rows.mean(axis=0), rows.std(axis=0) * share + np.array([2e-3, 2e-3, 2e-3])


def _split(heights: Array, mean: Array, error: Array, blur_mm: float) -> float | None:
    """Return the height from ground to face of the three levels that fit best, where no other height does."""
    rims = np.arange(-_RIM_MM, _RIM_MM + 0.01, 0.5)
    tops = np.arange(_THINNEST_MM, heights[-1] - 3.0, 0.5)
    worst = np.full(len(tops), np.inf)
    best: tuple[float, float, Array] = (np.inf, 0.0, np.zeros((3, 3)))
    for low in rims:
        out = 1.0 - _step((heights - low) / blur_mm)
        for k, top in enumerate(tops):
            if top - low < _THINNEST_MM:
                continue
            face = _step((heights - top) / blur_mm)
            levels, cost = _levels(np.column_stack([out, 1.0 - out - face, face]), mean, error)
            worst[k] = min(worst[k], cost)
            if cost < best[0]:
                best = (cost, top - low, levels)
    cost, height, levels = best
    step = levels[2, 0] - levels[1, 0]
    if abs(step) < _LEAST_STEP * max(levels[2, 0], 1e-6):
        return None
    k = int(worst.argmin())
    far = np.abs(tops - tops[k]) > max(_SAME_MM, _SAME * height)
    if far.any() and worst[far].min() < _CLEARLY * cost:
        return None
    return float(height)


def _levels(base: Array, mean: Array, error: Array) -> tuple[Array, float]:
    """Fit levels, (3, 3), to tones; return them and the weighted mean square left."""
    total, levels = 0.0, np.zeros((3, 3))
    for c in range(3):
        w = 1.0 / error[:, c]
        levels[:, c], *_ = np.linalg.lstsq(base * w[:, None], mean[:, c] * w, rcond=None)
        total += float((((base @ levels[:, c] - mean[:, c]) * w) ** 2).mean())
    return levels, total


def _step(x: Array) -> Array:
    from scipy.special import ndtr

    return np.asarray(ndtr(x))
