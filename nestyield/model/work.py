"""How a blank is held and worked on the bed: faces, flip axis, pins and screws."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from nestyield.model.errors import ModelError
from nestyield.model.outline import Point
from nestyield.model.piece import PieceFace

PinUse = Literal["flip", "index"]
HoldPlace = Literal["waste", "cutout"]


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
        Whether its hole lies beyond the machine's reach and is drilled by hand.
    """

    name: str
    x_mm: float
    y_mm: float
    diameter_mm: float
    use: PinUse = "flip"
    place: HoldPlace = "waste"
    by_hand: bool = False

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
    """

    name: str
    x_mm: float
    y_mm: float
    diameter_mm: float
    place: HoldPlace = "waste"


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceWork:
    """What is done while one face of the blank is up.

    Parameters
    ----------
    up : {"top", "bottom"}
        Face of the blank that is up. ``top`` lies as the chosen setup says; ``bottom`` lies turned
        over about the flip axis.
    steps : tuple of str
        What is cut, in order, one line each.
    through : bool
        Whether the outlines are cut through in this step.
    """

    up: PieceFace
    steps: tuple[str, ...]
    through: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkPlan:
    """Holding and order of work for one blank on its chosen bed.

    Parameters
    ----------
    faces : tuple of FaceWork
        In order of work.
    flip_axis_mm : (point, point) or None
        Line about which the blank is turned over, blank coordinates; None when one face does.
    pins : tuple of Pin
    hold_downs : tuple of HoldDown
    cautions : tuple of str
        One line each.
    clearance_mm : float
        How far blank, pins and screws together may stand off their place on the bed, in any direction, in
        every position in which the blank is worked; 0 also when it is cut in sections.
    """

    faces: tuple[FaceWork, ...]
    flip_axis_mm: tuple[Point, Point] | None = None
    pins: tuple[Pin, ...] = ()
    hold_downs: tuple[HoldDown, ...] = ()
    cautions: tuple[str, ...] = ()
    clearance_mm: float = 0.0
