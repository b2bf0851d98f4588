"""Blanks of strips on edge: ripped off boards, turned by a quarter and glued face to face."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from nestyield.model.errors import ModelError
from nestyield.model.facts.machines import MachineRule
from nestyield.model.facts.on_edge import OnEdgeCaution, OnEdgeStep
from nestyield.model.laminate import Press


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """How a strip of a board is turned: about its length, so that its edge lies up and its faces are glued.

    What is sawn off the board is the member's ``cut``. Before the member is laid as its angle, ``mirrored``
    and shift say, a point of the board at x, y and a depth below its top face comes to x and that depth, less
    ``top_off_mm``, in the blank; it lies as deep below the strip's upper edge as y is less than at the cut's
    farther edge.

    Parameters
    ----------
    top_off_mm, bottom_off_mm : float
        Planed off the two faces of the board before gluing.
    """

    top_off_mm: float
    bottom_off_mm: float

    def __post_init__(self) -> None:
        if not (self.top_off_mm >= 0.0 and self.bottom_off_mm >= 0.0):
            raise ModelError(
                f"expected top_off_mm and bottom_off_mm >= 0 of a strip, got {self.top_off_mm:g} and "
                f"{self.bottom_off_mm:g}"
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class EdgeStrip:
    """One strip as it goes into a blank on edge; they stand in the order of its members, lowest first.

    Parameters
    ----------
    letter : str
        What the maker writes on it, ``A`` is lowest.
    ripped_mm : float
        How wide it is ripped: so thick is the blank when it is glued.
    rough_mm, planed_mm : float
        Thickness of its board on the rack, and of the strip when it is glued: so much of the blank's width.
    length_mm : float
    up : {"far", "near"}
        Which of its edges lies up: that farther from the board's corner 0, or the nearer one.
    end_for_end : bool
        Whether the end where the board's length begins lies at the right.
    top_face : {"lower", "upper"}
        Toward which side of the blank the board's top face looks.
    machine_rules : tuple of MachineRule
        What to mind before it goes to a machine.
    """

    letter: str
    ripped_mm: float
    rough_mm: float
    planed_mm: float
    length_mm: float
    up: Literal["far", "near"]
    end_for_end: bool
    top_face: Literal["lower", "upper"]
    machine_rules: tuple[MachineRule, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class OnEdge:
    """All that it takes to glue a blank from strips on edge.

    Parameters
    ----------
    strips : tuple of EdgeStrip
    press : Press
        Clamps across the blank; every glue line bears the same force.
    thickness_mm : float
        When glued.
    top_off_mm, bottom_off_mm : float
        Planed off the blank afterwards, to the finished thickness.
    steps : tuple of OnEdgeStep
        Order of work.
    cautions : tuple of OnEdgeCaution
        In addition to the rules of the strips' machines.
    """

    strips: tuple[EdgeStrip, ...]
    press: Press
    thickness_mm: float
    top_off_mm: float
    bottom_off_mm: float
    steps: tuple[OnEdgeStep, ...]
    cautions: tuple[OnEdgeCaution, ...] = ()
