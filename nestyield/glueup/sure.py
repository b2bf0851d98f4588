"""What of a piece is there in any case, however its measures are off."""

from __future__ import annotations

from dataclasses import replace

from nestyield.geometry.boolean import union
from nestyield.geometry.flatten import flatten_shape
from nestyield.geometry.grid import UM_PER_MM
from nestyield.geometry.offset import grow, shrink
from nestyield.geometry.shape import region_to_shape
from nestyield.model import Outline, Piece, Shape

#: Stands for a piece of which nothing is certain: no part fits on it, millimeters.
_NOTHING_MM = 0.01


def surely_there(piece: Piece, chord_error_mm: float) -> Piece:
    """Return a piece without what its measuring error leaves in doubt, in the same coordinates.

    Parameters
    ----------
    piece : Piece
    chord_error_mm : float

    Returns
    -------
    Piece
        Smaller by the error all round, its holes and defects larger, its error 0; the piece itself when that is 0.
    """
    by = piece.measured_mm * UM_PER_MM
    if by == 0:
        return piece
    inner = region_to_shape(shrink(flatten_shape(piece.shape, chord_error_mm, "inside"), by))
    x, y = piece.shape.outer.points_mm[0]
    nothing = Shape(outer=Outline.rectangle(x, y, x + _NOTHING_MM, y + _NOTHING_MM))
    defects = []
    for defect in piece.defects:
        grown = union(grow(flatten_shape(defect.shape, chord_error_mm, "outside"), by))
        defects += [replace(defect, shape=shape) for shape in region_to_shape(grown)]
    shape = max(inner, key=lambda s: s.area_mm2, default=nothing)
    return replace(piece, shape=shape, defects=tuple(defects), measured_mm=0.0)
