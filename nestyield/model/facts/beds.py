"""Facts about a bed: why it does not take a blank, and why the blank cannot be cut in sections."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import Discriminator

from nestyield.model.axis import Axis, OpenEnd


@dataclass(frozen=True, slots=True, kw_only=True)
class TravelShort:
    """The path of the cutter's center is longer than the travel along one axis."""

    code: Literal["travel short"] = "travel short"
    axis: Axis
    needs_um: int
    travel_um: int
    short_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class TableShort:
    """The blank is longer than the table along an axis with no open end."""

    code: Literal["table short"] = "table short"
    axis: Axis
    blank_um: int
    table_um: int
    over_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ClosedEndOverhang:
    """To reach all of the cut along an axis the blank would hang over a closed end of the table."""

    code: Literal["closed end overhang"] = "closed end overhang"
    axis: Axis
    end: OpenEnd
    over_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class DepthShort:
    """The Z travel is less than the deepest cut."""

    code: Literal["depth short"] = "depth short"
    needs_um: int
    travel_um: int
    short_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class KeepOutInTheWay:
    """One keep-out leaves no place on the bed: without it there would be one."""

    code: Literal["keep-out in the way"] = "keep-out in the way"
    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AnyKeepOutInTheWay:
    """Keep-outs leave no place on the bed: without any single one of these there would be one."""

    code: Literal["any keep-out in the way"] = "any keep-out in the way"
    names: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class KeepOutsTogether:
    """Keep-outs leave no place on the bed, and no single one of them is to blame alone."""

    code: Literal["keep-outs together in the way"] = "keep-outs together in the way"
    names: tuple[str, ...]


#: Why one bed does not take a blank in one direction in one go.
BedRefusal = Annotated[
    TravelShort
    | TableShort
    | ClosedEndOverhang
    | DepthShort
    | KeepOutInTheWay
    | AnyKeepOutInTheWay
    | KeepOutsTogether,
    Discriminator("code"),
]


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionsByMoving:
    """The blank can be cut in sections: it moves on along an axis by the same step each time."""

    code: Literal["sections by moving"] = "sections by moving"
    axis: Axis
    count: int
    step_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionsByTurning:
    """The blank can be cut in two sections along an axis: it is turned end for end on the same two pins."""

    code: Literal["sections by turning"] = "sections by turning"
    axis: Axis
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class NothingToSection:
    """The travel is short along no axis, or nothing is cut."""

    code: Literal["nothing to section"] = "nothing to section"


@dataclass(frozen=True, slots=True, kw_only=True)
class BothAxesShort:
    """The travel is short along both axes."""

    code: Literal["both axes short"] = "both axes short"


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionDepthShort:
    """The Z travel is too short in every section."""

    code: Literal["section depth short"] = "section depth short"
    needs_um: int
    travel_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class NoOpenEnd:
    """The table has no open end along the axis in which the blank would move."""

    code: Literal["no open end"] = "no open end"
    axis: Axis


@dataclass(frozen=True, slots=True, kw_only=True)
class NoIndexPins:
    """The bed has no pins to index the blank by."""

    code: Literal["no index pins"] = "no index pins"


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionTooShort:
    """A section as long as the travel allows does not overlap the next by enough."""

    code: Literal["section too short"] = "section too short"
    section_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionClosedEnd:
    """In some section the blank would hang over a closed end of the table."""

    code: Literal["section over closed end"] = "section over closed end"


@dataclass(frozen=True, slots=True, kw_only=True)
class NoHoleLine:
    """No line of index holes at equal distances along the axis fits in the waste."""

    code: Literal["no line of index holes"] = "no line of index holes"
    count: int
    step_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class IndexPinsOffTable:
    """The index pins would be beyond the table or in a keep-out."""

    code: Literal["index pins off the table"] = "index pins off the table"


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionKeepOuts:
    """Keep-outs leave no place for every section."""

    code: Literal["section keep-outs"] = "section keep-outs"


@dataclass(frozen=True, slots=True, kw_only=True)
class LongerThanTwoSections:
    """The cut is longer than two sections, so that turning end for end does not reach all of it."""

    code: Literal["longer than two sections"] = "longer than two sections"
    section_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class NoTurningHoles:
    """No two index holes in the waste let the blank be turned end for end on the table."""

    code: Literal["no turning holes"] = "no turning holes"


#: Why a blank cannot be cut in sections.
NoSections = Annotated[
    NothingToSection
    | BothAxesShort
    | SectionDepthShort
    | NoOpenEnd
    | NoIndexPins
    | SectionTooShort
    | SectionClosedEnd
    | NoHoleLine
    | IndexPinsOffTable
    | SectionKeepOuts
    | LongerThanTwoSections
    | NoTurningHoles,
    Discriminator("code"),
]

#: What the search for sections came to.
SectionOutcome = Annotated[
    SectionsByMoving
    | SectionsByTurning
    | NothingToSection
    | BothAxesShort
    | SectionDepthShort
    | NoOpenEnd
    | NoIndexPins
    | SectionTooShort
    | SectionClosedEnd
    | NoHoleLine
    | IndexPinsOffTable
    | SectionKeepOuts
    | LongerThanTwoSections
    | NoTurningHoles,
    Discriminator("code"),
]


@dataclass(frozen=True, slots=True, kw_only=True)
class BedPassedOver:
    """A bed that the shop prefers to the chosen one, and that does not take the blank in one go.

    Parameters
    ----------
    code, bed : str
    along : {"x", "y"}
        The direction in which it comes closest.
    why : tuple of BedRefusal
        What it refuses in that direction; empty when it serves, but its work failed the plan's own check.
    in_sections : SectionOutcome or None
        What the search for sections on it came to.
    """

    code: Literal["bed passed over"] = "bed passed over"
    bed: str
    along: Axis
    why: tuple[BedRefusal, ...]
    in_sections: SectionOutcome | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LeastBlankTooLong:
    """The least blank around a part, laid along one axis, is longer than the table with no open end."""

    code: Literal["least blank too long"] = "least blank too long"
    along: Axis
    axis: Axis
    margin_um: int
    length_um: int
    over_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class BlankTooLong:
    """A blank, laid along one axis, is longer than the table with no open end."""

    code: Literal["blank too long"] = "blank too long"
    along: Axis
    axis: Axis
    blank: str
    length_um: int
    over_um: int


#: What ``fit`` notes about a blank when only the part was asked about.
BlankNote = Annotated[LeastBlankTooLong | BlankTooLong, Discriminator("code")]
