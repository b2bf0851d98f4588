"""Outlines that run along the edge of a sheet's paper, where nobody can tell one from the other."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

from nestyield.photo.board import FIELD_MM, LEFT_MM, PAPERS, TOP_MM
from nestyield.photo.calibrate import Calibration

Array = NDArray[np.float64]

#: An outline this near to the paper's edge, turned from it by no more than this, may be that edge, mm and degrees.
NEAR_MM, ASLANT_DEG = 3.0, 12.0
#: So much of it must run so, mm; where wood lies across the edge of the paper less does.
LONG_MM = 20.0
_STEP_MM = 1.0


def along_paper(lines: Iterable[shapely.LineString], calibration: Calibration) -> tuple[int, Array] | None:
    """Return a sheet along whose edge an outline runs, and where; None where none does.

    Parameters
    ----------
    lines : iterable of LineString
        Outlines of pieces as they hide the ground, millimeters.
    calibration : Calibration
        Where the sheets lie.

    Returns
    -------
    (int, array (2,)) or None
        Number of the sheet, and the middle of the stretch on the ground, mm.
    """
    edges = list(_edges(calibration))
    for line in lines:
        points = shapely.get_coordinates(shapely.segmentize(line, _STEP_MM))
        steps = np.diff(points, axis=0)
        lengths = np.hypot(*steps.T)
        middles = (points[:-1] + points[1:]) / 2
        turn = np.degrees(np.arctan2(steps[:, 1], steps[:, 0]))
        for sheet, edge, angle in edges:
            off = np.abs((turn - angle + 90.0) % 180.0 - 90.0)
            near = (off <= ASLANT_DEG) & (shapely.distance(shapely.points(middles), edge) <= NEAR_MM)
            for run in _runs(near):
                if lengths[run].sum() >= LONG_MM:
                    return sheet, middles[run].mean(axis=0)
    return None


def _edges(calibration: Calibration) -> Iterator[tuple[int, shapely.LineString, float]]:
    """Give the edges of the paper of all sheets on the ground, with their directions in degrees."""
    high = FIELD_MM[1] + TOP_MM
    for sheet in calibration.sheets:
        x, y, turn = calibration.sheet_pose(sheet)
        c, s = np.cos(turn), np.sin(turn)
        for length, width in PAPERS.values():
            box = shapely.box(-LEFT_MM, high - width, length - LEFT_MM, high)
            ring = shapely.get_coordinates(box) @ np.array([[c, s], [-s, c]]) + (x, y)
            for a, b in pairwise(ring):
                angle = float(np.degrees(np.arctan2(b[1] - a[1], b[0] - a[0])))
                yield sheet, shapely.LineString([a, b]), angle


def _runs(near: NDArray[np.bool_]) -> Iterator[slice]:
    """Give the stretches of a ring that are near without a break."""
    ends = np.flatnonzero(np.diff(np.r_[0, near.astype(np.int8), 0]))
    for a, b in zip(ends[::2], ends[1::2]):
        yield slice(int(a), int(b))
