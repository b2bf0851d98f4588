"""The picture to check: where 0,0 lies and which way x and y run, as the row of the rack has it."""

from __future__ import annotations

import io

import numpy as np
import pytest

pytest.importorskip("cv2")

from PIL import Image

from nestyield.photo.overlay import overlay
from nestyield.photo.read import read_photos
from nestyield.photo.request import PhotoRequest

from .conftest import SAMPLES


def test_the_picture_shows_where_the_row_begins() -> None:
    """At the place of 0,0 and along both arrows from it the picture is yellow; a step outside it is not."""
    path = SAMPLES / "two.jpg"
    request = PhotoRequest(
        pictures=(path,), thickness_mm=19.0, species="cherry", name="C", lines_mm=(240.0, 160.0)
    )
    pieces, scenes, _ = read_photos(request)
    seen = scenes[0][0]
    shown = np.asarray(Image.open(io.BytesIO(overlay(path, seen, pieces, request))).convert("RGB"), int)

    def yellow(piece, x: float, y: float) -> bool:
        at, turn = np.array(piece.place[:2]), np.radians(piece.place[2])
        c, s = np.cos(turn), np.sin(turn)
        ground = at + np.array([x * c - y * s, x * s + y * c])
        column, row = seen.camera.pixels(np.array([[*ground, 19.0]]))[0] * shown.shape[1] / seen.size[0]
        r, g, b = shown[round(row), round(column)]
        return bool(r > 200 and 150 < g < 240 and b < 90)

    for piece in pieces:
        assert yellow(piece, 0.0, 0.0)
        assert yellow(piece, 15.0, 0.0)
        assert yellow(piece, 0.0, 15.0)
        assert not yellow(piece, -15.0, 0.0)
        assert not yellow(piece, 0.0, -15.0)
