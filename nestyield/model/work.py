"""How a blank is held and worked on the bed: faces, flip axis, pins and screws."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from nestyield.model.arc import Point
from nestyield.model.axis import BlankEdge
from nestyield.model.errors import ModelError
from nestyield.model.facts.hazards import BedCaution
from nestyield.model.facts.work import UpFace, WorkStep
from nestyield.model.outline import Outline, Shape
from nestyield.model.piece import Defect

#: Hole that a screw leaves, of the diameter of its head (P: about half).
SCREW_OF_HEAD = 0.5

PinUse = Literal["flip", "index"]
HoldPlace = Literal["waste", "cutout"]
StagePlace = Literal["before the bed", "on the bed", "after the bed"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Pin:
    """A locating pin: a hole through the blank and a pin in the bed below it.

    Parameters
    ----------
    name : str
        ``pin 1``, ``pin 2`` ... of its blank.
    x_mm, y_mm : float
        Middle, blank coordinates seen from the top.
    diameter_mm : float
    use : {"flip", "index"}
        Whether it guides turning the blank over, or moving it along between sections.
    place : {"waste", "cutout"}
        Waste between outlines and edge, or an opening that is cut out at the end.
    by_hand : bool
        Whether its hole is beyond the machine's reach and is drilled by hand.
    leftover : str
        Leftover to keep in which it leaves a hole; ``""`` for none.
    """

    name: str
    x_mm: float
    y_mm: float
    diameter_mm: float
    use: PinUse = "flip"
    place: HoldPlace = "waste"
    by_hand: bool = False
    leftover: str = ""

    def __post_init__(self) -> None:
        if not self.diameter_mm > 0:
            raise ModelError(f"expected diameter_mm > 0 for {self.name}, got {self.diameter_mm}")


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldDown:
    """A place for a screw or a clamp's pad, clear of the cutter.

    Parameters
    ----------
    name : str
        ``screw 1``, ``screw 2`` ...
    x_mm, y_mm : float
        Middle, blank coordinates.
    diameter_mm : float
        Of the head or pad.
    place : {"waste", "cutout"}
    leftover : str
        Leftover to keep in which it leaves a hole; ``""`` for none.
    sections : tuple of int
        Sections in which it is driven, from 1; empty: always.
    """

    name: str
    x_mm: float
    y_mm: float
    diameter_mm: float
    place: HoldPlace = "waste"
    leftover: str = ""
    sections: tuple[int, ...] = ()

    def driven_in(self, section: int) -> bool:
        """Tell whether it holds the blank in a section; 0 for a blank that is cut in one go."""
        return not self.sections or section in self.sections


@dataclass(frozen=True, slots=True, kw_only=True)
class Tab:
    """A bridge that is left in the groove around a part, so that the part stays joined to held waste.

    Parameters
    ----------
    name : str
        ``tab 1``, ``tab 2`` ... of its blank.
    placement : int
        Index in the layout's placements.
    x_mm, y_mm : float
        Its middle on the part's outline, blank coordinates.
    angle_deg : float
        Outwards, across the groove.
    width_mm : float
        Along the outline.
    """

    name: str
    placement: int
    x_mm: float
    y_mm: float
    angle_deg: float
    width_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BedPosition:
    """One position of a blank on its bed: a pose from blank to bed coordinates.

    Parameters
    ----------
    name : str
        ``A`` for the first in order of work; shown as ``Setup A``.
    up : {"top", "bottom"}
        Face of the blank that is up.
    section : int
        From 1; 0 when the blank is cut in one go.
    mirrored : bool
        Whether the blank is turned over: mirrored in X first, then turned, then shifted.
    angle_deg : float
    x_mm, y_mm : float
    """

    name: str
    up: UpFace
    section: int
    mirrored: bool
    angle_deg: float
    x_mm: float
    y_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TablePin:
    """A pin in the table that is used in every position of the blank.

    Parameters
    ----------
    name : str
        That of the blank's hole that is on it in the first position.
    x_mm, y_mm : float
        Bed coordinates.
    diameter_mm, depth_mm : float
        Of the pin, and of its hole in the table.
    holes : tuple of str
        Hole of the blank that is on it in each position, in their order.
    by_hand : bool
        Whether its hole is beyond the travel and is drilled by hand.
    """

    name: str
    x_mm: float
    y_mm: float
    diameter_mm: float
    depth_mm: float
    holes: tuple[str, ...]
    by_hand: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class SquareEdge:
    """A sound edge of the blank to lay it square by in the first position, from end to end of its wood.

    Parameters
    ----------
    edge : {"lower", "upper"}
        Of the blank, top view.
    from_mm, to_mm : (x, y)
        Bed coordinates.
    """

    edge: BlankEdge
    from_mm: Point
    to_mm: Point


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """Steps that belong together.

    Parameters
    ----------
    place : {"before the bed", "on the bed", "after the bed"}
    position : str
        Name of the position on the bed; ``""`` elsewhere.
    steps : tuple of WorkStep
        In order.
    """

    place: StagePlace
    position: str = ""
    steps: tuple[WorkStep, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldCut:
    """An outline that is cut right through in a position, and what holds the wood around its part until then.

    Parameters
    ----------
    position : str
    placement : int
        Index in the layout's placements.
    holds : tuple of str
        Screws in wood that is in one piece with the part before its outline is cut, in their order.
    """

    position: str
    placement: int
    holds: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkPlan:
    """Holding and order of work for one blank on its chosen bed.

    Parameters
    ----------
    positions : tuple of BedPosition
        In order of work: a face after the other, each in all its sections.
    stages : tuple of Stage
        All steps in order: before the bed, one stage a position, after the bed.
    table_pins : tuple of TablePin
    square : SquareEdge or None
    flip_axis_mm : (point, point) or None
        Line about which the blank is turned over, blank coordinates; None when none is cut from the bottom.
    pins : tuple of Pin
    hold_downs : tuple of HoldDown
    tabs : tuple of Tab
    outlines : tuple of HeldCut
        In the order in which they are cut.
    cautions : tuple of BedCaution
    clearance_mm : float
        How far blank, pins and screws together may stand off their place on the bed, in any direction, in
        every position in which the blank is worked; 0 also when it is cut in sections.
    """

    positions: tuple[BedPosition, ...] = ()
    stages: tuple[Stage, ...] = ()
    table_pins: tuple[TablePin, ...] = ()
    square: SquareEdge | None = None
    flip_axis_mm: tuple[Point, Point] | None = None
    pins: tuple[Pin, ...] = ()
    hold_downs: tuple[HoldDown, ...] = ()
    tabs: tuple[Tab, ...] = ()
    outlines: tuple[HeldCut, ...] = ()
    cautions: tuple[BedCaution, ...] = ()
    clearance_mm: float = 0.0

    def holes_in(self, leftover: str) -> tuple[Defect, ...]:
        """Return the holes that pins and screws leave in a leftover to keep, blank coordinates.

        Parameters
        ----------
        leftover : str
            Its name.
        """
        found: list[tuple[Pin | HoldDown, str, float]] = [
            *((pin, "drilled hole", pin.diameter_mm) for pin in self.pins),
            *((hold, "screw hole", hold.diameter_mm * SCREW_OF_HEAD) for hold in self.hold_downs),
        ]
        return tuple(
            Defect(
                name=each.name,
                kind=kind,
                shape=Shape(outer=Outline.circle(each.x_mm, each.y_mm, size / 2.0)),
                face="through",
            )
            for each, kind, size in found
            if each.leftover == leftover
        )
