"""Constraints of a caller: a fixed region of a piece and what of a part must stay clear of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from nestyield.model import Blank, Shape


@dataclass(frozen=True, slots=True, kw_only=True)
class Constraint:
    """A pair of regions whose interiors may not meet, whatever the angle: one more no-fit polygon.

    Parameters
    ----------
    name : str
        Named where it rules a placement out.
    piece, part : str
        Names of the piece and the part that it is about.
    fixed : Shape
        In the piece, millimeters.
    moving : Shape
        Of the part, drawing coordinates, millimeters.
    """

    name: str
    piece: str
    part: str
    fixed: Shape
    moving: Shape


def constraints_on(constraints: Sequence[Constraint], part: str, blank: Blank) -> tuple[Constraint, ...]:
    """Return the constraints about a part in a blank of one piece; none hold on a glue-up as a whole.

    Parameters
    ----------
    constraints : sequence of Constraint
    part : str
    blank : Blank
        A blank with one member has the coordinates of its piece.
    """
    if len(blank.members) != 1:
        return ()
    piece = blank.members[0].piece
    return tuple(c for c in constraints if c.part == part and c.piece == piece)
