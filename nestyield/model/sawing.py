"""How a piece that no bed takes whole is sawn into blanks first."""

from __future__ import annotations

from dataclasses import dataclass

from nestyield.model.arc import Point
from nestyield.model.axis import Axis
from nestyield.model.inspection import LeftoverDefects
from nestyield.model.layer import Layer
from nestyield.model.leftover import Leftover


@dataclass(frozen=True, slots=True, kw_only=True)
class SawCut:
    """One straight cut, square to the piece's length or width, right through what it divides.

    Parameters
    ----------
    across : {"x", "y"}
        The axis of the piece that the cut divides: ``x`` for one across the length.
    at_mm : float
        Where what lies before the cut ends; the blade takes its kerf beyond. Piece coordinates.
    start_mm : float
        Where the wood that the cut divides begins, on the same axis.
    from_mm, to_mm : float
        Between which the cut runs, on the other axis.
    defects : tuple of str
        Defects that may hold metal and that the blade meets.
    """

    across: Axis
    at_mm: float
    start_mm: float
    from_mm: float
    to_mm: float
    defects: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ResawCut:
    """One cut along the length through the thickness of a piece that stands on its edge.

    Parameters
    ----------
    at_mm : float
        Depth below the top face of the piece at which the wood toward that face ends; the blade takes its
        kerf beyond.
    fence_mm : float
        From the flat face that lies against the fence to the blade: what comes off, rough.
    defects : tuple of str
        Defects that may come loose and that the blade meets.
    """

    at_mm: float
    fence_mm: float
    defects: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Resaw:
    """How a piece is sawn into leaves, from its top face on.

    Parameters
    ----------
    edge_mm : (point, point)
        The edge on which it stands, from end to end, piece coordinates.
    height_mm : float
        As it stands on that edge.
    planing_mm : float
        Planed off each sawn face, after the leaves have rested.
    cuts : tuple of ResawCut
        In the order in which they are made.
    rests : tuple of Layer
        Which of the thickness each of the sawing's ``rests`` is; the leaves that become blanks have it in
        their one member.
    """

    edge_mm: tuple[Point, Point]
    height_mm: float
    planing_mm: float
    cuts: tuple[ResawCut, ...]
    rests: tuple[Layer, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Sawing:
    """One copy of a piece, sawn before any of it goes on a bed.

    Parameters
    ----------
    piece : str
    copy : int
    kerf_mm : float
        What the blade takes.
    cuts : tuple of SawCut
        In the order in which they are made.
    blanks : tuple of str
        Names of the blanks that come of it, from the piece's corner on; each has what is sawn off as the
        ``cut`` of its one member.
    rests : tuple of Leftover
        What is not used, piece coordinates; the usable ones go back on the rack, rough as they are.
    flaws : tuple of LeftoverDefects
        What each usable rest holds.
    value : float
        Of the whole copy, the maker's money.
    resaw : Resaw or None
        The piece is sawn through its thickness into leaves, each as long and as wide as the piece; then there
        are no ``cuts``, and ``kerf_mm`` is what the resaw takes. None for cuts across and along.
    """

    piece: str
    copy: int
    kerf_mm: float
    cuts: tuple[SawCut, ...]
    blanks: tuple[str, ...]
    rests: tuple[Leftover, ...] = ()
    flaws: tuple[LeftoverDefects, ...] = ()
    value: float = 0.0
    resaw: Resaw | None = None
