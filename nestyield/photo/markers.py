"""Finds markers in a picture, and their corners to a fraction of a pixel."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nestyield.photo.board import MOST_SHEETS, PER_SHEET
from nestyield.photo.needs import opencv

Array = NDArray[np.float64]

#: Markers are looked for in a picture of at most this length; corners are then refined in the whole one.
_SEARCH_PX = 2600
#: Profiles across a side of a marker, and the share of the side at each end that is left out.
_PROFILES, _ENDS = 40, 0.12
#: Least side of a marker that is used, px.
_LEAST_SIDE_PX = 16.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Markers:
    """Markers of one picture.

    Parameters
    ----------
    ids : tuple of int
    corners : array (n, 4, 2)
        Pixels, the middle of the first pixel at 0; order as of ``board.corners``.
    blur_px : float
        Standard deviation of the blur across the sides of the markers, median; nan without markers.
    """

    ids: tuple[int, ...]
    corners: Array
    blur_px: float


def find_markers(gray: NDArray[np.float32], shown: NDArray[np.uint8]) -> Markers:
    """Find the markers of a picture.

    Parameters
    ----------
    gray : array (h, w)
        Linear light.
    shown : array (h, w) of uint8
        As shown, for the search.
    """
    cv2 = opencv()
    scale = min(1.0, _SEARCH_PX / max(shown.shape))
    small = cv2.resize(shown, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA) if scale < 1 else shown
    family = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    settings = cv2.aruco.DetectorParameters()
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    settings.minMarkerPerimeterRate = 0.01
    found, ids, _ = cv2.aruco.ArucoDetector(family, settings).detectMarkers(small)
    if ids is None:
        return Markers(ids=(), corners=np.zeros((0, 4, 2)), blur_px=float("nan"))
    exact = (shown.shape[1] / small.shape[1], shown.shape[0] / small.shape[0])
    rough = [(np.asarray(q, float).reshape(4, 2) + 0.5) * exact - 0.5 for q in found]
    return _refined(cv2, gray, [int(i) for i in np.ravel(ids)], rough)


def _refined(cv2: Any, gray: NDArray[np.float32], ids: list[int], rough: list[Array]) -> Markers:
    kept: dict[int, Array] = {}
    twice: set[int] = set()
    blurs: list[float] = []
    for marker, quad in zip(ids, rough):
        if marker >= MOST_SHEETS * PER_SHEET:
            continue
        fine = _corners(cv2, gray, quad)
        if fine is None:
            continue
        if marker in kept:
            twice.add(marker)
        kept[marker] = fine[0]
        blurs.append(fine[1])
    names = tuple(sorted(set(kept) - twice))
    corners = np.array([kept[i] for i in names]).reshape(-1, 4, 2)
    return Markers(ids=names, corners=corners, blur_px=float(np.median(blurs)) if blurs else float("nan"))


def _corners(cv2: Any, gray: NDArray[np.float32], quad: Array) -> tuple[Array, float] | None:
    """Return corners where lines through the edges meet, and the blur; None when a side is not clear.

    Lines are fitted to the places where the light is half way between black and white, so that blur
    does not move them.
    """
    sides = np.roll(quad, -1, axis=0) - quad
    lengths = np.hypot(*sides.T)
    if lengths.min() < _LEAST_SIDE_PX:
        return None
    module = float(lengths.mean()) / 8.0
    reach = float(np.clip(0.75 * module, 2.0, 12.0))
    steps = np.linspace(-reach, reach, 41)
    lines: list[tuple[Array, Array]] = []
    blurs: list[float] = []
    for k in range(4):
        along = sides[k] / lengths[k]
        out = np.array([along[1], -along[0]])  # corners run clockwise as seen, y down: this points outward
        at = quad[k] + np.linspace(_ENDS, 1 - _ENDS, _PROFILES)[:, None] * sides[k]
        points = at[:, None, :] + steps[None, :, None] * out
        light = cv2.remap(
            gray,
            points[..., 0].astype(np.float32),
            points[..., 1].astype(np.float32),
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )
        crossed = _crossings(np.asarray(light, float), steps)
        if crossed is None:
            return None
        place, width, good = crossed
        fit = _line((at + place[:, None] * out)[good])
        if fit is None:
            return None
        lines.append(fit)
        blurs.append(float(np.median(width[good])))
    result = np.array([_meet(lines[k - 1], lines[k]) for k in range(4)])
    if not np.all(np.isfinite(result)) or np.abs(result - quad).max() > reach:
        return None
    return result, float(np.mean(blurs))


def _crossings(light: Array, steps: Array) -> tuple[Array, Array, NDArray[np.bool_]] | None:
    """Return where profiles cross half their height, how wide the edge is, and which profiles are clear."""
    n = len(steps) // 5
    low, high = light[:, :n].mean(axis=1), light[:, -n:].mean(axis=1)
    rise = high - low
    if np.median(rise) < 0.05:
        return None
    level = (light - low[:, None]) / np.maximum(rise, 1e-6)[:, None]
    place = _cross(level, steps, 0.5)
    # of a Gaussian blur the light goes from 0.16 to 0.84 within two standard deviations
    width = (_cross(level, steps, 0.84) - _cross(level, steps, 0.16)) / 2
    good = (rise > 0.5 * np.median(rise)) & np.isfinite(place) & np.isfinite(width)
    return (place, width, good) if good.sum() >= _PROFILES // 2 else None


def _cross(level: Array, steps: Array, at: float) -> Array:
    """Return the last crossing of a level from below, by straight lines between samples."""
    below = (level[:, :-1] < at) & (level[:, 1:] >= at)
    last = below.shape[1] - 1 - np.argmax(below[:, ::-1], axis=1)
    rows = np.arange(len(level))
    a, b = level[rows, last], level[rows, last + 1]
    place = steps[last] + (at - a) / np.where(b == a, 1.0, b - a) * (steps[1] - steps[0])
    return np.where(below.any(axis=1), place, np.nan)


def _line(points: Array) -> tuple[Array, Array] | None:
    """Fit a line; points far off are left out twice."""
    for _ in range(3):
        middle = points.mean(axis=0)
        _, _, vt = np.linalg.svd(points - middle, full_matrices=False)
        off = (points - middle) @ vt[1]
        spread = max(1.4826 * float(np.median(np.abs(off))), 0.02)
        near = np.abs(off) < 3 * spread
        if near.all():
            return middle, vt[0]
        if near.sum() < 8:
            return None
        points = points[near]
    return middle, vt[0]


def _meet(one: tuple[Array, Array], other: tuple[Array, Array]) -> Array:
    (p, u), (q, v) = one, other
    cross = u[0] * v[1] - u[1] * v[0]
    if abs(cross) < 1e-6:
        return np.array([np.nan, np.nan])
    w = q - p
    return p + u * (w[0] * v[1] - w[1] * v[0]) / cross
