"""Lens, places of the cameras and of the sheets from the corners of markers, by least squares.

Planar calibration: Z. Zhang, A flexible new technique for camera calibration, 2000. A picture from straight
above tells little of the focal length; how little is in the covariance, and so in every error that is told.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nestyield.photo.board import corners, sheet_of
from nestyield.photo.camera import Camera, Lens
from nestyield.photo.markers import Markers
from nestyield.photo.needs import opencv

Array = NDArray[np.float64]

#: Parameters of all pictures: logarithm of the focal length, center (2), two of distortion, spread of black (mm).
_LENS = 6
#: What is known before looking: of a focal length that the file states, of one that it does not (relative).
FOCAL_STATED, FOCAL_UNKNOWN = 0.08, 0.5
#: The center is this close to the middle, as a share of the longer side (M: usual for phones).
_CENTER_OFF = 0.006
_K1_OFF, _K2_OFF = 0.3, 0.3
#: Ink and light curve move edges of black by so much, mm.
_SPREAD_OFF_MM = 0.15
#: Least error of a corner that is believed, px: paper is not quite flat.
_LEAST_SIGMA_PX = 0.05
#: A marker further off than this many standard deviations is left out.
_FAR_OFF = 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """What is known of a picture for calibration.

    Parameters
    ----------
    markers : Markers
    size : (int, int)
        Width and height, px.
    focal_px : float or None
        As the file states it.
    """

    markers: Markers
    size: tuple[int, int]
    focal_px: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibration:
    """Cameras of all pictures of a scene.

    Parameters
    ----------
    values : array (p,)
        All parameters: lens and print, six a picture, three a sheet but the first.
    covariance : array (p, p)
    sheets : tuple of int
        The first one is at 0,0.
    pictures : int
    residual_px : float
        Root mean square of the corners' distances.
    left_out : tuple of int
        Markers that do not lie with the others.
    """

    values: Array
    covariance: Array
    sheets: tuple[int, ...]
    pictures: int
    residual_px: float
    left_out: tuple[int, ...]

    def camera(self, picture: int, values: Array | None = None) -> Camera:
        """Return the camera of a picture, for these values of the parameters or other ones."""
        v = self.values if values is None else values
        return _camera(v, picture)

    def sheet_pose(self, sheet: int) -> Array:
        """Return where a sheet lies: x and y mm, angle in radians."""
        return _pose(self.values, self.pictures, self.sheets.index(sheet))


class CalibrationError(ValueError):
    """The markers of the pictures do not hang together."""


def _camera(v: Array, picture: int) -> Camera:
    at = _LENS + 6 * picture
    lens = Lens(
        focal_px=float(np.exp(v[0])), center_px=(float(v[1]), float(v[2])), k1=float(v[3]), k2=float(v[4])
    )
    return Camera(lens=lens, turn=v[at : at + 3], shift=v[at + 3 : at + 6])


def _pose(v: Array, pictures: int, sheet: int) -> Array:
    if sheet == 0:
        return np.zeros(3)
    at = _LENS + 6 * pictures + 3 * (sheet - 1)
    return v[at : at + 3]


def _laid(points: Array, pose: Array) -> Array:
    c, s = np.cos(pose[2]), np.sin(pose[2])
    return points @ np.array([[c, s], [-s, c]]) + pose[:2]


def calibrate(views: Sequence[View], scale: Sequence[float] = (1.0, 1.0)) -> Calibration:
    """Find lens, cameras and sheets.

    Parameters
    ----------
    views : sequence of View
        Pictures of one scene by one camera; each has markers.
    scale : (float, float)
        What the printer made of a millimeter along X and Y of the sheets.

    Raises
    ------
    CalibrationError
        When a picture shares no sheet with the others.
    """
    start, sheets = _start(views, scale)
    dropped: set[tuple[int, int]] = set()
    for _ in range(4):
        values, covariance, residual, off = _fit(views, scale, start, sheets, dropped)
        worst = {key for key, distance in off.items() if distance > _FAR_OFF}
        if not worst:
            break
        dropped |= worst
        start = values
    return Calibration(
        values=values,
        covariance=covariance,
        sheets=sheets,
        pictures=len(views),
        residual_px=residual,
        left_out=tuple(sorted({m for _, m in dropped})),
    )


def _start(views: Sequence[View], scale: Sequence[float]) -> tuple[Array, tuple[int, ...]]:
    """Return first values: sheets chained over pictures, cameras from a plane with a likely focal length."""
    cv2 = opencv()
    width, height = views[0].size
    focal = views[0].focal_px or 0.8 * max(width, height)
    poses: dict[int, Array] = {}
    cameras: dict[int, tuple[Array, Array]] = {}
    counts: dict[int, int] = {}
    for view in views:
        for marker in view.markers.ids:
            counts[sheet_of(marker)] = counts.get(sheet_of(marker), 0) + 1
    poses[max(sorted(counts), key=lambda s: counts[s])] = np.zeros(3)
    lens = np.array([[focal, 0, (width - 1) / 2], [0, focal, (height - 1) / 2], [0, 0, 1.0]])
    waiting = set(range(len(views)))
    while waiting:
        ready = [(sum(sheet_of(m) in poses for m in views[i].markers.ids), -i) for i in sorted(waiting)]
        known, number = max(ready)
        if known == 0:
            raise CalibrationError("the pictures share no marker sheet")
        i = -number
        waiting.discard(i)
        ids, seen = views[i].markers.ids, views[i].markers.corners
        here = [k for k, m in enumerate(ids) if sheet_of(m) in poses]
        world = np.concatenate([_laid(corners(ids[k], scale), poses[sheet_of(ids[k])]) for k in here])
        flat = np.column_stack([world, np.zeros(len(world))])
        pixels = np.concatenate([seen[k] for k in here])
        plane, _ = cv2.findHomography(pixels, world, cv2.RANSAC, 3.0)
        _, turn, shift = cv2.solvePnP(flat, pixels, lens, None, flags=cv2.SOLVEPNP_IPPE)
        cameras[i] = (np.ravel(turn), np.ravel(shift))
        for sheet in sorted({sheet_of(m) for m in ids} - set(poses)):
            mine = [k for k, m in enumerate(ids) if sheet_of(m) == sheet]
            there = cv2.perspectiveTransform(np.concatenate([seen[k] for k in mine])[None], plane)[0]
            poses[sheet] = _rigid(np.concatenate([corners(ids[k], scale) for k in mine]), there)
    order = list(poses)
    values = [np.log(focal), (width - 1) / 2, (height - 1) / 2, 0.0, 0.0, 0.0]
    for i in range(len(views)):
        values += [*cameras[i][0], *cameras[i][1]]
    for sheet in order[1:]:
        values += list(poses[sheet])
    return np.array(values), tuple(order)


def _rigid(points: Array, there: Array) -> Array:
    p, q = points - points.mean(axis=0), there - there.mean(axis=0)
    angle = float(np.arctan2((p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]).sum(), (p * q).sum()))
    return np.array(
        [*(there.mean(axis=0) - _laid(points.mean(axis=0)[None], np.array([0, 0, angle]))[0]), angle]
    )


def _fit(
    views: Sequence[View],
    scale: Sequence[float],
    start: Array,
    sheets: tuple[int, ...],
    dropped: set[tuple[int, int]],
) -> tuple[Array, Array, float, dict[tuple[int, int], float]]:
    from scipy.optimize import least_squares

    width, height = views[0].size
    stated = views[0].focal_px
    middle = np.array(
        [np.log(stated or 0.8 * max(width, height)), (width - 1) / 2, (height - 1) / 2, 0.0, 0.0, 0.0]
    )
    off = max(width, height) * _CENTER_OFF
    spread = np.array([FOCAL_STATED if stated else FOCAL_UNKNOWN, off, off, _K1_OFF, _K2_OFF, _SPREAD_OFF_MM])
    used = [
        [k for k, m in enumerate(view.markers.ids) if (i, m) not in dropped] for i, view in enumerate(views)
    ]
    boards = [
        [(sheets.index(sheet_of(v.markers.ids[k])), v.markers.ids[k]) for k in u] for v, u in zip(views, used)
    ]
    seen = [v.markers.corners[u].reshape(-1, 2) for v, u in zip(views, used)]

    def distances(values: Array) -> Array:
        rows = []
        for i, board in enumerate(boards):
            laid = np.concatenate(
                [_laid(corners(m, scale, values[5]), _pose(values, len(views), s)) for s, m in board]
            )
            flat = np.column_stack([laid, np.zeros(len(laid))])
            rows.append((_camera(values, i).pixels(flat) - seen[i]).ravel())
        return np.concatenate(rows)

    sigma, values = 0.3, start
    for _ in range(3):
        found = least_squares(
            lambda v, s=sigma: np.concatenate([distances(v) / s, (v[:_LENS] - middle) / spread]),
            values,
            x_scale="jac",
            method="trf",
            max_nfev=200,
        )
        values = found.x
        rest = distances(values)
        degrees = max(len(rest) - len(values), 1)
        robust = 1.4826 * float(np.median(np.abs(rest)))
        plain = float(np.sqrt((rest**2).sum() / degrees))
        sigma = max(robust if dropped or robust < 0.5 * plain else plain, _LEAST_SIGMA_PX)
    jac = np.asarray(found.jac)
    # the corners of a marker err together (paper, print): two count for one
    weight = np.concatenate([np.full(len(rest), 0.5), np.ones(_LENS)])
    covariance = _covariance(jac * np.sqrt(weight)[:, None])
    pieces = np.split(np.abs(rest).reshape(-1, 8).max(axis=1), np.cumsum([len(u) for u in used])[:-1])
    far = {
        (i, views[i].markers.ids[k]): float(d / max(sigma, 0.1))
        for i, (u, ds) in enumerate(zip(used, pieces))
        for k, d in zip(u, ds)
    }
    return values, covariance, float(np.sqrt((rest**2).mean() * 2)), far


def _covariance(jac: Array) -> Array:
    """Return the inverse of J^T J by orthogonal steps on even columns: what is hardly known must not be dropped."""
    sizes = np.maximum(np.linalg.norm(jac, axis=0), 1e-300)
    root = np.linalg.inv(np.linalg.qr(jac / sizes, mode="r")) / sizes[:, None]
    return root @ root.T
