"""What the wood of a blank asks of whoever measures and cuts it, whatever the bed."""

from __future__ import annotations

from dataclasses import dataclass

from nestyield.model.axis import BlankEdge
from nestyield.model.facts.hazards import CutPlace, EdgeGap
from nestyield.model.facts.work import Planing


@dataclass(frozen=True, slots=True, kw_only=True)
class EdgeCheck:
    """One edge of the box around a blank.

    Parameters
    ----------
    edge : {"lower", "upper", "left", "right"}
    sound : bool
        Whether one may measure from it.
    wood_um : int
        Length along which sound wood reaches it, stretches of 5 mm and less left out.
    gaps : tuple of EdgeGap
        What is missing, from where to where, counted from the datum corner's side; defects in the blank's
        order, gaps of 5 mm and less left out.
    """

    edge: BlankEdge
    sound: bool
    wood_um: int
    gaps: tuple[EdgeGap, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class DefectUnderCutter:
    """A knot, metal, or the hole of a nail or screw where the cutter goes.

    Parameters
    ----------
    defect : str
        Its name.
    kind : str
    places : tuple of CutPlace
        By placement, zones in drawing order, the outline last.
    """

    defect: str
    kind: str
    places: tuple[CutPlace, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftoverDefects:
    """What a leftover to keep still holds.

    Parameters
    ----------
    leftover : str
    defects : tuple of str
        Names, in the blank's order.
    clear_mm : (x, y, length, width)
        Largest rectangle along the grain that is clear of them and of the holes that pins and screws make in
        it, as ``Leftover.rectangle_mm``; all 0 for none.
    """

    leftover: str
    defects: tuple[str, ...]
    clear_mm: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Inspection:
    """What the wood of a blank asks of whoever measures and cuts it.

    Parameters
    ----------
    planing : Planing or None
        What is planed off before routing; None for nothing and for sheets.
    edges : tuple of EdgeCheck
        Lower, left, upper, right.
    corner : bool
        Whether there is wood at the datum corner, lower left.
    under_cutter : tuple of DefectUnderCutter
        In the blank's order.
    near_cutter : tuple of DefectUnderCutter
        Metal, holes of nails and screws, and mortises nearer to what is cut than the shop wants; places where
        the cutter meets metal are left out.
    leftovers : tuple of LeftoverDefects
        Of leftovers to keep.
    """

    planing: Planing | None = None
    edges: tuple[EdgeCheck, ...] = ()
    corner: bool = True
    under_cutter: tuple[DefectUnderCutter, ...] = ()
    near_cutter: tuple[DefectUnderCutter, ...] = ()
    leftovers: tuple[LeftoverDefects, ...] = ()
