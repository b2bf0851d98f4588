"""How far a traced outline may be off: by the corners of the markers, pixels, sharpness, thickness and print."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray

from nestyield.photo.board import LINES_MM
from nestyield.photo.calibrate import Calibration
from nestyield.photo.parallax import Tower

Array = NDArray[np.float64]

#: Standard deviations: of a thickness by caliper; of a line on the sheet by a rule, mm.
THICKNESS_MM, RULE_MM = 0.2, 0.12
#: What the light curve of a camera does to an edge, as a share of its blur.
_CURVE = 0.25
#: What an edge is off where wood hardly stands out, px, by the square of how many standard deviations it does: made
#: so that the error told holds for rendered photos of dark wood on dark card (D: scripts/RESULTS-photo.md).
_FAINT_PX, _MOST_FAINT_PX = 50.0, 0.75
#: Standard deviations that hold 95 % of places.
_COVER = 2.0
_PLACES = 160


@dataclass(frozen=True, slots=True, kw_only=True)
class Accuracy:
    """An estimate, two standard deviations, mm.

    Parameters
    ----------
    camera_mm : float
        Lens, places of camera and sheets, thickness, print.
    edge_mm : float
        Noise, pixels and sharpness along the edges.
    shares_mm : dict of str to float
        What the camera's part is made of: ``markers`` (lens, places of camera and sheets), ``thickness``, ``print``;
        each by itself, at 95 % of places. Empty for scans.
    """

    camera_mm: float
    edge_mm: float
    shares_mm: dict[str, float] = field(default_factory=dict)

    @property
    def largest(self) -> str:
        """The largest share by name: ``edges``, ``scanner``, ``markers``, ``thickness`` or ``print``."""
        shares = {**(self.shares_mm or {"scanner": self.camera_mm}), "edges": self.edge_mm}
        return max(shares, key=lambda name: shares[name])

    @property
    def error_mm(self) -> float:
        """Both together."""
        return float(np.hypot(self.camera_mm, self.edge_mm))


def edge_error_mm(noise_px: float, blur_px: float, plain: float, pixel_mm: float) -> float:
    """Return the error of an edge in the picture that stands out by ``plain`` standard deviations."""
    faint = min(_FAINT_PX / max(plain, 1.0) ** 2, _MOST_FAINT_PX)
    return _COVER * float(np.hypot(np.hypot(noise_px, _CURVE * blur_px), faint)) * pixel_mm


def camera_error_mm(
    outline: shapely.Polygon, calibration: Calibration, picture: int, thickness_mm: float
) -> tuple[float, dict[str, float]]:
    """Return what lens, places, thickness and print do to the shape of an outline, at 95 % of its places, and shares.

    Where the piece lies does not count: its places are moved together as well as they can be.
    """
    camera = calibration.camera(picture)
    tower = Tower.of(camera, thickness_mm)
    places, out = _along(outline)
    height = np.where(((places - tower.foot) * out).sum(axis=1) > 0, thickness_mm, 0.0)
    pixels = camera.pixels(np.column_stack([places, height]))
    columns, sizes = [], np.sqrt(np.maximum(np.diag(calibration.covariance), 1e-30))
    for k, size in enumerate(sizes):
        moved = calibration.values.copy()
        moved[k] += size * 1e-2
        columns.append((calibration.camera(picture, moved).ground(pixels, height) - places) / (size * 1e-2))
    change = np.stack([c.ravel() for c in columns], axis=1)
    root = _root(calibration.covariance)
    more = [THICKNESS_MM * (camera.ground(pixels, height + 0.1 * (height > 0)) - places).ravel() / 0.1]
    for axis, length in enumerate(LINES_MM):
        stretch = np.zeros_like(places)
        stretch[:, axis] = places[:, axis] * RULE_MM / length
        more.append(stretch.ravel())
    every = np.column_stack([change @ root, *more])
    shape = every - _rigid(places) @ (np.linalg.pinv(_rigid(places)) @ every)
    across = (shape.reshape(len(places), 2, -1) * out[:, :, None]).sum(axis=1)
    n = len(sizes)

    def at_95(part: Array) -> float:
        return _COVER * float(np.percentile(np.sqrt((part**2).sum(axis=1)), 95))

    shares = {"markers": across[:, :n], "thickness": across[:, n : n + 1], "print": across[:, n + 1 :]}
    return at_95(across), {name: at_95(part) for name, part in shares.items()}


def _root(covariance: Array) -> Array:
    values, vectors = np.linalg.eigh(covariance)
    return np.asarray(vectors * np.sqrt(np.maximum(values, 0.0)))


def _along(outline: shapely.Polygon) -> tuple[Array, Array]:
    """Return places around an outline and the directions out of it."""
    ring = shapely.LinearRing(shapely.orient_polygons(outline).exterior)
    at = np.linspace(0, ring.length, _PLACES, endpoint=False)
    near = shapely.get_coordinates(ring.interpolate(at))
    ahead = shapely.get_coordinates(ring.interpolate((at + 0.01) % ring.length))
    along = (ahead - near) / np.maximum(np.hypot(*(ahead - near).T), 1e-12)[:, None]
    return near, np.column_stack([along[:, 1], -along[:, 0]])


def _rigid(places: Array) -> Array:
    n = len(places)
    one, none = np.ones(n), np.zeros(n)
    return np.column_stack(
        [
            np.column_stack([one, none]).ravel(),
            np.column_stack([none, one]).ravel(),
            np.column_stack([-places[:, 1], places[:, 0]]).ravel(),
        ]
    )
