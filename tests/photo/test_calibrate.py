"""Lens and place of a camera from markers that OpenCV's own camera model projects."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from nestyield.photo.board import corners
from nestyield.photo.calibrate import Calibration, CalibrationError, View, calibrate
from nestyield.photo.markers import Markers

SIZE = (3000, 2250)
SHEETS = {1: (0.0, 0.0, 0.0), 2: (310.0, 12.0, 2.0), 3: (-5.0, -380.0, -1.5), 4: (300.0, -370.0, 1.0)}
FOCAL, CENTER, BEND = 2350.0, (1492.0, 1131.0), (0.05, -0.02)


def laid(marker: int) -> np.ndarray:
    x, y, deg = SHEETS[marker // 24 + 1]
    c, s = np.cos(np.radians(deg)), np.sin(np.radians(deg))
    return corners(marker) @ np.array([[c, s], [-s, c]]) + (x, y)


def view(tilt_deg: float, sheets: tuple[int, ...] = (1, 2, 3, 4), seed: int = 1, noise: float = 0.07) -> View:
    """A camera a meter off, tilted about the x axis; corners with noise."""
    rng = np.random.default_rng(seed)
    ids = tuple(m for s in sheets for m in range(24 * (s - 1), 24 * s))
    flat = np.concatenate([laid(m) for m in ids])
    turn, _ = cv2.Rodrigues(np.array([np.pi - np.radians(tilt_deg), 0.0, 0.0]))
    middle = np.array([260.0, -130.0, 0.0])
    shift = np.array([0.0, 0.0, 1000.0]) - turn @ middle
    matrix = np.array([[FOCAL, 0, CENTER[0]], [0, FOCAL, CENTER[1]], [0, 0, 1]])
    seen, _ = cv2.projectPoints(
        np.column_stack([flat, np.zeros(len(flat))]),
        cv2.Rodrigues(turn)[0],
        shift,
        matrix,
        np.array([*BEND, 0, 0]),
    )
    pixels = seen.reshape(-1, 4, 2) + noise * rng.standard_normal((len(ids), 4, 2))
    return View(markers=Markers(ids=ids, corners=pixels, blur_px=1.0), size=SIZE, focal_px=None)


def spread(found: Calibration) -> float:
    """Standard deviation of the focal length, relative."""
    return float(np.sqrt(found.covariance[0, 0]))


@pytest.mark.outside(source="cv2.projectPoints, OpenCV's camera model", mark="D")
def test_tilted_camera_is_found() -> None:
    """Focal length, sheets and distortion come out, within three of the deviations that are told."""
    found = calibrate([view(22.0)])
    lens = found.camera(0).lens
    assert abs(np.log(lens.focal_px / FOCAL)) < 3 * spread(found)
    assert spread(found) < 0.03
    assert lens.k1 == pytest.approx(BEND[0], abs=0.01)
    first, other = found.sheets[0], found.sheets[1]
    x, y, deg = np.subtract(SHEETS[other], SHEETS[first])
    assert first == 1
    assert found.sheet_pose(other)[:2] == pytest.approx((x, y), abs=0.1)
    assert np.degrees(found.sheet_pose(other)[2]) == pytest.approx(deg, abs=0.03)


@pytest.mark.outside(
    source="a plane seen straight on gives focal length and distance only as one ratio", mark="D"
)
def test_from_straight_above_the_focal_length_is_not_known() -> None:
    """However many markers there are, what the picture does not tell stays as uncertain as it was before."""
    assert spread(calibrate([view(0.0, (1, 4))])) > 0.3


@pytest.mark.study
def test_a_tilted_picture_helps_a_straight_one() -> None:
    """Two pictures of the same sheets by one camera share what one of them tells of the lens."""
    both = calibrate([view(0.0, (1, 2)), view(22.0, (1, 2), seed=2)])
    assert spread(both) < 0.05


def test_marker_that_moved_is_left_out() -> None:
    """One marker off by 4 pixels is told and does not bend the rest."""
    one = view(22.0, (1, 2))
    moved = one.markers.corners.copy()
    moved[10] += (4.0, -3.0)
    markers = Markers(ids=one.markers.ids, corners=moved, blur_px=1.0)
    found = calibrate([View(markers=markers, size=SIZE, focal_px=None)])
    assert found.left_out == (10,)
    assert found.residual_px < 0.2


def test_pictures_without_a_sheet_in_common() -> None:
    """Pictures that show no sheet in common cannot be put together."""
    with pytest.raises(CalibrationError, match="no marker sheet"):
        calibrate([view(20.0, (1, 2)), view(20.0, (3, 4))])
