"""Places to pixels and back."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from nestyield.photo.camera import Camera, Lens, rotation

LENS = Lens(focal_px=1200.0, center_px=(801.0, 597.0), k1=0.06, k2=-0.03)
CAMERA = Camera(lens=LENS, turn=np.array([2.7, 0.2, -0.3]), shift=np.array([30.0, -20.0, 640.0]))
PLACES = np.column_stack([np.repeat(np.linspace(-250, 250, 5), 5), np.tile(np.linspace(-180, 180, 5), 5)])


@pytest.mark.outside(source="cv2.projectPoints, OpenCV's camera model", mark="D")
@pytest.mark.parametrize("height", [0.0, 44.5])
def test_pixels(height: float) -> None:
    """Places are seen where OpenCV's model sees them."""
    points = np.column_stack([PLACES, np.full(len(PLACES), height)])
    matrix = np.array([[1200.0, 0, 801.0], [0, 1200.0, 597.0], [0, 0, 1]])
    seen, _ = cv2.projectPoints(points, CAMERA.turn, CAMERA.shift, matrix, np.array([0.06, -0.03, 0, 0]))
    assert CAMERA.pixels(points) == pytest.approx(seen.reshape(-1, 2), abs=1e-6)


def test_ground_undoes_pixels() -> None:
    """A pixel leads back to its place at the height that is told."""
    points = np.column_stack([PLACES, np.full(len(PLACES), 25.0)])
    assert CAMERA.ground(CAMERA.pixels(points), 25.0) == pytest.approx(PLACES, abs=1e-6)


def test_rotation_is_one() -> None:
    """Matrices of rotation vectors turn and do nothing else; a quarter about z takes x to y."""
    turn = rotation(np.array([0.3, -1.2, 0.7]))
    assert turn @ turn.T == pytest.approx(np.eye(3), abs=1e-12)
    assert rotation(np.array([0, 0, np.pi / 2])) @ (1, 0, 0) == pytest.approx((0, 1, 0), abs=1e-12)
