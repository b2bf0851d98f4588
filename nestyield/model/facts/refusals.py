"""Why one piece of the rack is not usable for one part.

Every refusal names its ``piece`` and says in ``far_um`` how far the piece is from being usable; None where no
number says it. Pieces are compared by it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import Discriminator

from nestyield.model.facts.beds import BedRefusal, SectionOutcome
from nestyield.model.facts.relaxations import Relaxation


@dataclass(frozen=True, slots=True, kw_only=True)
class WrongSpecies:
    """The part allows other species only.

    Parameters
    ----------
    code, piece : str
    species : str
        Of the piece.
    sheet : bool
        Whether it is a sheet, and the part has a grain and names no species.
    far_um : None
    """

    code: Literal["wrong species"] = "wrong species"
    piece: str
    species: str
    sheet: bool = False
    far_um: None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class TooThin:
    """The piece, which is not planed, is thinner than the part.

    Parameters
    ----------
    code, piece : str
    thickness_um : int
        Of the piece.
    far_um : int
        By how much it is too thin.
    enough : bool
        Whether the part is known to go on the piece when its thickness is right.
    """

    code: Literal["too thin"] = "too thin"
    piece: str
    thickness_um: int
    far_um: int
    enough: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class TooThinWhenPlaned:
    """The piece is thinner than the part when both faces are planed.

    Parameters
    ----------
    code, piece : str
    thickness_um, planed_um : int
        Of the piece on the rack, and planed.
    far_um : int
        By how much it is too thin.
    enough : bool
        Whether the part is known to go on the piece when its thickness is right.
    """

    code: Literal["too thin when planed"] = "too thin when planed"
    piece: str
    thickness_um: int
    planed_um: int
    far_um: int
    enough: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class TooThick:
    """More would have to be planed off than the shop allows.

    Parameters
    ----------
    code, piece : str
    thickness_um : int
        Of the piece.
    far_um : int
        By how much it is too thick.
    enough : bool
        Whether the part is known to go on the piece when its thickness is right.
    """

    code: Literal["too thick"] = "too thick"
    piece: str
    thickness_um: int
    far_um: int
    enough: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetTooThick:
    """A sheet, which is never planed, is thicker than the part.

    Parameters
    ----------
    code, piece : str
    thickness_um : int
        Of the piece.
    far_um : int
        By how much it is too thick.
    enough : bool
        Whether the part is known to go on the piece when its thickness is right.
    """

    code: Literal["sheet too thick"] = "sheet too thick"
    piece: str
    thickness_um: int
    far_um: int
    enough: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class TooHeavy:
    """The part, cut from the piece, would be heavier than it may be.

    Parameters
    ----------
    code, piece : str
    weight_kg, most_kg : float
        What the part would weigh, and may weigh.
    far_um : None
    """

    code: Literal["too heavy"] = "too heavy"
    piece: str
    weight_kg: float
    most_kg: float
    far_um: None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class TooLight:
    """The part, cut from the piece, would be lighter than it may be.

    Parameters
    ----------
    code, piece : str
    weight_kg, least_kg : float
        What the part would weigh, and must weigh.
    far_um : None
    """

    code: Literal["too light"] = "too light"
    piece: str
    weight_kg: float
    least_kg: float
    far_um: None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class WeightUnknown:
    """The part has a range of weight, and the density of the piece is not known.

    Parameters
    ----------
    code, piece : str
    species : str
        Of the piece.
    far_um : None
    """

    code: Literal["weight unknown"] = "weight unknown"
    piece: str
    species: str
    far_um: None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class TooShort:
    """The piece is shorter along the grain than the part at any allowed angle, margins included.

    Parameters
    ----------
    code, piece : str
    far_um : int
        What is missing along the grain.
    """

    code: Literal["too short"] = "too short"
    piece: str
    far_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class TooNarrow:
    """The piece is narrower across the grain than the part at any allowed angle, margins included.

    Parameters
    ----------
    code, piece : str
    far_um : int
        What is missing across the grain.
    """

    code: Literal["too narrow"] = "too narrow"
    piece: str
    far_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class TooShortAndNarrow:
    """The piece is shorter and narrower than the part at any allowed angle, margins included.

    Parameters
    ----------
    code, piece : str
    along_um, across_um : int
        What is missing along and across the grain.
    far_um : int
        The greater of the two.
    """

    code: Literal["too short and narrow"] = "too short and narrow"
    piece: str
    along_um: int
    across_um: int
    far_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class TooNarrowAnyWay:
    """The piece is narrower than the part in its narrowest direction; the grain of one of them is free.

    Parameters
    ----------
    code, piece : str
    far_um : int
        What is missing.
    """

    code: Literal["too narrow any way"] = "too narrow any way"
    piece: str
    far_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class NoPlace:
    """The part has no place on the piece at any allowed angle; what would help was not looked for.

    Parameters
    ----------
    code, piece : str
    length_um, width_um : int
        Of the part as drawn.
    piece_length_um, piece_width_um : int
    margin_um : int
    measured_um : int
        How far off the piece's outline may be.
    far_um : None
    """

    code: Literal["no place"] = "no place"
    piece: str
    length_um: int
    width_um: int
    piece_length_um: int
    piece_width_um: int
    margin_um: int
    measured_um: int = 0
    far_um: None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FitsIfRelaxed:
    """The part has no place on the piece as it is; any one of the relaxations makes one.

    Parameters
    ----------
    code, piece : str
    relaxations : tuple of Relaxation
        At least one: those that the maker can act on without other wood come first.
    far_um : int
        The least that has to give, as a length to compare pieces by.
    """

    code: Literal["fits if relaxed"] = "fits if relaxed"
    piece: str
    relaxations: tuple[Relaxation, ...]
    far_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class TooMuchFiller:
    """Every place tried on the piece needs more filler than the part allows.

    Parameters
    ----------
    code, piece : str
    limit_ml : float
    far_um : None
    """

    code: Literal["too much filler"] = "too much filler"
    piece: str
    limit_ml: float
    far_um: None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class NoPlaceForBed:
    """The part has places on the piece, but the bed takes none of those tried.

    Parameters
    ----------
    code, piece : str
    far_um : None
    """

    code: Literal["no place for the bed"] = "no place for the bed"
    piece: str
    far_um: None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class NotBookMatched:
    """The piece gives no two neighboring leaves that hold the part, opened like a book about its middle."""

    code: Literal["not book matched"] = "not book matched"
    piece: str
    far_um: None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class NotLaminated:
    """The part has a cap: no single piece makes it, and no other goes with this one as its layers."""

    code: Literal["not laminated"] = "not laminated"
    piece: str
    far_um: None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class NotOnEdge:
    """The part is made of strips on edge: this piece gives none, or none with which others make it."""

    code: Literal["not on edge"] = "not on edge"
    piece: str
    far_um: None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class NoPlaceLeft:
    """The part has no place beside the parts already on the piece.

    Parameters
    ----------
    code, piece : str
    far_um : None
    """

    code: Literal["no place left"] = "no place left"
    piece: str
    far_um: None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BedsRefuse:
    """The piece is large enough, but no bed that the order allows can cut it; the closest bed and why.

    Parameters
    ----------
    code, piece : str
    bed : str
    along : {"x", "y"}
    why : tuple of BedRefusal
        What that bed refuses in one go.
    in_sections : SectionOutcome or None
        What the search for sections on it came to.
    sawn_first : bool
        Whether the piece is larger than that table: a part of it, sawn off and entered in the rack table, may
        be usable.
    far_um : int
        Travel that is missing; 0 when something else is.
    enough : bool
        Whether the piece is known to be usable when the bed has that much more travel, and no less.
    """

    code: Literal["beds refuse"] = "beds refuse"
    piece: str
    bed: str
    along: Literal["x", "y"]
    why: tuple[BedRefusal, ...]
    in_sections: SectionOutcome | None
    sawn_first: bool
    far_um: int
    enough: bool = False


#: What leaves a part no place on a piece that is long and wide enough.
Blocked = Literal["shape", "shape and defects", "shape and beds"]


@dataclass(frozen=True, slots=True, kw_only=True)
class WrongShape:
    """The part has no place on the piece, and no single relaxation makes one.

    Parameters
    ----------
    code, piece : str
    blocked_by : {"shape", "shape and defects", "shape and beds"}
        Whether the piece has defects that matter; beds when a relaxation makes a place, but no bed takes it.
    bed : BedsRefuse or None
        What the closest bed has against the piece where a relaxation makes a place.
    far_um : None
    """

    code: Literal["wrong shape"] = "wrong shape"
    piece: str
    blocked_by: Blocked
    bed: BedsRefuse | None = None
    far_um: None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class NoAllowedBed:
    """No bed is allowed by all orders that share the piece.

    Parameters
    ----------
    code, piece : str
    far_um : None
    """

    code: Literal["no allowed bed"] = "no allowed bed"
    piece: str
    far_um: None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OnHold:
    """The piece is on hold.

    Parameters
    ----------
    code, piece : str
    usable : bool
        Whether the part would go on it.
    far_um : int or None
        0 when it is usable; otherwise as in the refusal that it would also get.
    """

    code: Literal["on hold"] = "on hold"
    piece: str
    usable: bool
    far_um: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """The piece is taken: no copy of it is left.

    Parameters
    ----------
    code, piece : str
    far_um : None
    """

    code: Literal["taken"] = "taken"
    piece: str
    far_um: None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Spent:
    """The piece is usable, but the plan spends it on other orders or copies.

    Parameters
    ----------
    code, piece : str
    far_um : None
    """

    code: Literal["spent"] = "spent"
    piece: str
    far_um: None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftForSet:
    """The piece is usable, and nothing is cut from it since the order's set is not whole.

    Parameters
    ----------
    code, piece : str
    far_um : None
    """

    code: Literal["left for a set"] = "left for a set"
    piece: str
    far_um: None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class NotTried:
    """The run was stopped before the piece was tried.

    Parameters
    ----------
    code, piece : str
    far_um : None
    """

    code: Literal["not tried"] = "not tried"
    piece: str
    far_um: None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Undecided:
    """The plan's own check rejected the layout of the piece, or the proof that it has no place for the part.

    Parameters
    ----------
    code, piece : str
    because : {"layout", "proof"}
        What was rejected.
    far_um : None
    """

    code: Literal["undecided"] = "undecided"
    piece: str
    because: Literal["layout", "proof"]
    far_um: None = None


Refusal = Annotated[
    WrongSpecies
    | TooThin
    | TooThinWhenPlaned
    | TooThick
    | SheetTooThick
    | TooHeavy
    | TooLight
    | WeightUnknown
    | TooShort
    | TooNarrow
    | TooShortAndNarrow
    | TooNarrowAnyWay
    | NoPlace
    | FitsIfRelaxed
    | WrongShape
    | TooMuchFiller
    | NoPlaceForBed
    | NoPlaceLeft
    | NotBookMatched
    | NotLaminated
    | NotOnEdge
    | BedsRefuse
    | NoAllowedBed
    | OnHold
    | Taken
    | Spent
    | LeftForSet
    | NotTried
    | Undecided,
    Discriminator("code"),
]
