"""A camera: from places in space to pixels and, on a known height, back.

Radial distortion in two terms, as D. C. Brown, Close-range camera calibration, 1971.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_UNDO_STEPS = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Lens:
    """What all pictures of one camera share.

    Parameters
    ----------
    focal_px : float
    center_px : (float, float)
    k1, k2 : float
        Radial distortion: a ray at distance r from the axis is seen at r (1 + k1 r^2 + k2 r^4).
    """

    focal_px: float
    center_px: tuple[float, float]
    k1: float = 0.0
    k2: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Camera:
    """A lens and where it stands.

    Parameters
    ----------
    lens : Lens
    turn : array (3,)
        Rotation vector from the ground (x right, y up, z toward the camera) to the camera (y down, z ahead).
    shift : array (3,)
        Millimeters.
    """

    lens: Lens
    turn: Array
    shift: Array

    def pixels(self, points_mm: Array) -> Array:
        """Return where places of space are seen, array (n, 3) mm to (n, 2) px."""
        seen = points_mm @ rotation(self.turn).T + self.shift
        return distorted(seen[:, :2] / seen[:, 2:3], self.lens)

    def ground(self, pixels: Array, height_mm: float | Array = 0.0) -> Array:
        """Return the places at a height that are seen in pixels, array (n, 2) px to (n, 2) mm."""
        rays = np.column_stack([undistorted(pixels, self.lens), np.ones(len(pixels))])
        turn = rotation(self.turn)
        rays = rays @ turn
        eye = self.eye
        reach = (height_mm - eye[2]) / rays[:, 2]
        return eye[:2] + reach[:, None] * rays[:, :2]

    @property
    def eye(self) -> Array:
        """Where the camera stands, mm, array (3,)."""
        return np.asarray(-rotation(self.turn).T @ self.shift)


def rotation(vector: Array) -> Array:
    """Return the matrix of a rotation vector (O. Rodrigues), array (3, 3)."""
    angle = float(np.linalg.norm(vector))
    x, y, z = vector / angle if angle > 1e-12 else vector
    k = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    if angle <= 1e-12:
        return np.eye(3) + k
    return np.eye(3) + np.sin(angle) * k + (1 - np.cos(angle)) * (k @ k)


def distorted(rays: Array, lens: Lens) -> Array:
    """Return pixels of rays, array (n, 2) to (n, 2)."""
    r2 = (rays**2).sum(axis=1, keepdims=True)
    return rays * (1 + lens.k1 * r2 + lens.k2 * r2**2) * lens.focal_px + lens.center_px


def undistorted(pixels: Array, lens: Lens) -> Array:
    """Return rays of pixels, array (n, 2) to (n, 2), by Newton steps along the radius."""
    seen = (np.asarray(pixels, float) - lens.center_px) / lens.focal_px
    far = np.hypot(seen[:, 0], seen[:, 1])
    r = far.copy()
    for _ in range(_UNDO_STEPS):
        slope = 1 + 3 * lens.k1 * r**2 + 5 * lens.k2 * r**4
        step = (r * (1 + lens.k1 * r**2 + lens.k2 * r**4) - far) / np.where(slope > 0.2, slope, 0.2)
        r = r - step
        if np.abs(step).max(initial=0.0) < 1e-13:
            break
    return seen * (r / np.where(far > 0, far, 1.0))[:, None]
