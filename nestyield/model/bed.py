"""Router beds, and how a blank lies on one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from nestyield.model.axis import Axis, OpenEnd
from nestyield.model.errors import ModelError
from nestyield.model.facts.beds import BedRefusal, SectionOutcome
from nestyield.model.outline import Outline
from nestyield.model.ranges import NotNegative, Positive, check_fields

Blocks = Literal["cutter", "blank", "both"]


@dataclass(frozen=True, slots=True, kw_only=True)
class KeepOut:
    """A place on the bed that something may not enter.

    Parameters
    ----------
    name : str
    outline : Outline
        Bed coordinates, millimeters.
    blocks : {"cutter", "blank", "both"}
        What may not enter it.
    """

    name: str
    outline: Outline
    blocks: Blocks = "both"


@dataclass(frozen=True, slots=True, kw_only=True)
class Bed:
    """A router bed. Its coordinates start at the corner where both axes read zero.

    Parameters
    ----------
    name : str
    travel_x_mm, travel_y_mm, travel_z_mm : float
        How far the cutter's center moves; Z may be None when unknown.
    table_x_mm, table_y_mm : (float, float)
        Extent of the table along each axis; the blank lies inside, except over open ends.
    open_ends : tuple of {"x-", "x+", "y-", "y+"}
        Ends over which the blank may hang out.
    keep_outs : tuple of KeepOut
    pin_diameter_mm : float
        Of locating pins; 0 when there are none.
    """

    name: str
    travel_x_mm: Positive
    travel_y_mm: Positive
    travel_z_mm: Positive | None = None
    table_x_mm: tuple[float, float]
    table_y_mm: tuple[float, float]
    open_ends: tuple[OpenEnd, ...] = ()
    keep_outs: tuple[KeepOut, ...] = ()
    pin_diameter_mm: NotNegative = 0.0

    def __post_init__(self) -> None:
        check_fields(self)
        for axis, (low, high) in (("x", self.table_x_mm), ("y", self.table_y_mm)):
            if not low < high:
                raise ModelError(
                    f"expected table_{axis}_mm of bed {self.name!r} to begin below its end, "
                    f"got {low:g}, {high:g}"
                )


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """One of several positions of a blank that is longer than the travel.

    Parameters
    ----------
    x_mm, y_mm : float
        Where the blank's origin comes to lie on the bed in this section.
    turned_deg : float
        Turn of the blank, as in Setup.
    from_mm, to_mm : float
        What is cut in this section: from here to there on the bed's axis, outline coordinates
        on the bed (the cutter's center goes at most a radius further).
    """

    x_mm: float
    y_mm: float
    turned_deg: float
    from_mm: float
    to_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    """The answer for one blank on one bed in one direction.

    Parameters
    ----------
    bed : str
    along : {"x", "y"}
        The bed axis that the blank's length (its X) lies along.
    fits : bool
    turned_deg : float
        Turn of the blank from its own coordinates to the bed's (0 along X, 90 along Y).
    x_mm, y_mm : float
        Where the blank's origin comes to lie on the bed after the turn.
    spare_x_mm, spare_y_mm : float
        Travel left over along each bed axis; negative says how much is missing.
    needs_x_mm, needs_y_mm : float
        Least travel that would do in this direction: extent of what is cut plus the cutter diameter.
    refusals : tuple of BedRefusal
        Why it does not fit in one go; empty when it does.
    in_sections : SectionOutcome or None
        What the search for sections came to; None when they were not searched for.
    clearance_mm : float
        How far the blank may be laid off this place, in any direction, and still do.
    sections : tuple of Section
        Only when it does not fit in one go: positions along an open axis that together cut all.
    """

    bed: str
    along: Axis
    fits: bool
    turned_deg: float
    x_mm: float
    y_mm: float
    spare_x_mm: float
    spare_y_mm: float
    needs_x_mm: float
    needs_y_mm: float
    refusals: tuple[BedRefusal, ...] = ()
    in_sections: SectionOutcome | None = None
    clearance_mm: float = 0.0
    sections: tuple[Section, ...] = ()

    @property
    def is_usable(self) -> bool:
        """Whether the bed can do the job this way, in one go or in sections."""
        return self.fits or bool(self.sections)
