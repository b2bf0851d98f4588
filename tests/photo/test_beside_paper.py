"""Outlines along the edge of a sheet's paper: A4 reaches from y = -50 to 160 and from x = -15 to 282 of the markers."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
import shapely.affinity

from nestyield.photo.beside_paper import along_paper
from nestyield.photo.calibrate import Calibration

ONE_SHEET = Calibration(
    values=np.zeros(11), covariance=np.zeros((11, 11)), sheets=(3,), pictures=1, residual_px=0.1, left_out=()
)
#: A piece of 150 x 80 mm, its upper edge at y = 0, as it hides the ground.
PIECE = shapely.box(40, -80, 190, 0).exterior


@pytest.mark.parametrize(
    ("up", "turned", "found"),
    [
        (-52.0, 0.0, True),  # 2 mm below the paper's lower edge
        (-48.0, 0.0, True),  # over the paper, its edge 2 mm inside the wood's
        (-70.0, 0.0, False),  # 20 mm below A4's edge, 14 below Letter's
        (-20.0, 0.0, False),  # well over it
        (-20.0, 45.0, False),  # lies across the edge
    ],
)
def test_where_wood_and_paper_cannot_be_told_apart(up: float, turned: float, found: bool) -> None:
    line = shapely.affinity.rotate(shapely.affinity.translate(PIECE, 0, up), turned)
    told = along_paper([shapely.LineString(line)], ONE_SHEET)
    assert (told is not None) == found
    if told is not None:
        sheet, at = told
        assert sheet == 3
        assert at[1] == pytest.approx(up, abs=1.0)
