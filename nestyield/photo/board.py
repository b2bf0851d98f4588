"""The marker sheet: which markers are where on it. The same for A4 and US Letter.

Markers are AprilTags of the family 36h11 (E. Olson, AprilTag: a robust and flexible visual fiducial system,
ICRA 2011), which OpenCV carries. Sheet n has its own 24 of the 587, so that several lie side by side.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

#: Columns and rows of markers, side of a marker's black square, distance from marker to marker, mm.
COLUMNS, ROWS = 6, 4
SIDE_MM, PITCH_MM = 28.0, 40.0
PER_SHEET = COLUMNS * ROWS
#: Sheets that differ: 24 of 587 markers each.
MOST_SHEETS = 24
#: Modules across a marker, its black border included.
MODULES = 8
#: Size of the field of markers, mm; 0,0 of a sheet is its lower left corner.
FIELD_MM = ((COLUMNS - 1) * PITCH_MM + SIDE_MM, (ROWS - 1) * PITCH_MM + SIDE_MM)
#: Sizes of paper, and from its left and upper edge to the field of markers, mm: sheets differ in nothing else.
PAPERS = {"a4": (297.0, 210.0), "letter": (279.4, 215.9)}
LEFT_MM, TOP_MM = 15.0, 12.0
#: Lengths of the lines to check the print by, along X and along Y of the sheet, mm.
LINES_MM = (240.0, 160.0)


def sheet_of(marker: int) -> int:
    """Return the number of the sheet that a marker is on, from 1."""
    return marker // PER_SHEET + 1


def markers_of(sheet: int) -> range:
    """Return the markers of a sheet."""
    return range((sheet - 1) * PER_SHEET, sheet * PER_SHEET)


def lower_left(marker: int) -> tuple[float, float]:
    """Return the lower left corner of a marker on its sheet, mm."""
    row, column = divmod(marker % PER_SHEET, COLUMNS)
    return column * PITCH_MM, (ROWS - 1 - row) * PITCH_MM


def corners(marker: int, scale: Sequence[float] = (1.0, 1.0), spread_mm: float = 0.0) -> Array:
    """Return the corners of a marker on its sheet.

    Parameters
    ----------
    marker : int
    scale : (float, float)
        What the printer made of a millimeter, along X and along Y.
    spread_mm : float
        How far black reaches over its edges, by ink or by the light curve of a camera.

    Returns
    -------
    array (4, 2)
        Millimeters; upper left first, then clockwise, as OpenCV finds them.
    """
    x, y = lower_left(marker)
    s, b = SIDE_MM, spread_mm
    square = np.array([(x - b, y + s + b), (x + s + b, y + s + b), (x + s + b, y - b), (x - b, y - b)])
    return square * np.asarray(scale, dtype=float)


def black_modules(marker: int, cv2: object) -> NDArray[np.bool_]:
    """Return which modules of a marker are black, array (8, 8), first row on top."""
    aruco = cv2.aruco  # type: ignore[attr-defined]
    family = aruco.getPredefinedDictionary(aruco.DICT_APRILTAG_36h11)
    return np.asarray(aruco.generateImageMarker(family, marker, MODULES)) < 128
