"""Why an order is not met in full: the closest piece first, then the whole rack counted by cause."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import Discriminator

from nestyield.model.facts.refusals import Refusal

#: Kinds of refusals, in the order in which they are counted.
Cause = Literal[
    "spent",
    "left for a set",
    "on no bed",
    "without a place",
    "too thin",
    "too thick",
    "of other species",
    "of other weight",
    "on hold",
    "taken",
    "not tried",
    "undecided",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderOnHold:
    """The order is on hold.

    Parameters
    ----------
    code : str
    """

    code: Literal["order on hold"] = "order on hold"


@dataclass(frozen=True, slots=True, kw_only=True)
class EmptyRack:
    """The rack has no rows.

    Parameters
    ----------
    code : str
    """

    code: Literal["empty rack"] = "empty rack"


@dataclass(frozen=True, slots=True, kw_only=True)
class NoBedForPart:
    """No bed that the order allows takes the part, not even on the smallest board that holds it.

    Parameters
    ----------
    code : str
    """

    code: Literal["no bed for the part"] = "no bed for the part"


@dataclass(frozen=True, slots=True, kw_only=True)
class PiecesSpent:
    """Pieces that are usable, but that the plan spends on other orders or copies.

    Parameters
    ----------
    code : str
    pieces : tuple of str
        In the order of the rack.
    """

    code: Literal["pieces spent"] = "pieces spent"
    pieces: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LackingPart:
    """A part that lacks for sets that are not made.

    Parameters
    ----------
    code : str
    order, part : str
    copies : int
        With so many more all sets of the name would be whole.
    species : tuple of str
        Of these, where the set's species must match; empty means any.
    """

    code: Literal["lacking part"] = "lacking part"
    order: str
    part: str
    copies: int
    species: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SetNotWhole:
    """The order is of a set that cannot be made whole as often as it is wanted.

    Parameters
    ----------
    code, set : str
    made, wanted : int
        How many of the set are made, and wanted.
    lacking : tuple of LackingPart
        Orders of the set that the wood is not enough for.
    match : {"", "species", "row", "board"}
        What the wood of its matching parts must have in common.
    singly : bool
        Whether some row of the rack makes each of its matching parts, by itself: then one row or board for
        all of them is what lacks.
    """

    code: Literal["set not whole"] = "set not whole"
    set: str
    made: int
    wanted: int
    lacking: tuple[LackingPart, ...]
    match: Literal["", "species", "row", "board"] = ""
    singly: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class PiecesOnHold:
    """Pieces that would be usable, but are on hold.

    Parameters
    ----------
    code : str
    pieces : tuple of str
        In the order of the rack.
    """

    code: Literal["pieces on hold"] = "pieces on hold"
    pieces: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ClosestRefusal:
    """The piece that is closest to being usable, and why it is not.

    Parameters
    ----------
    code : str
    species : tuple of str
        That the part allows; empty means any.
    thickness_um : int
        Of the part.
    refusal : Refusal
    used : bool
        Whether the plan uses every copy of the piece for other parts.
    """

    code: Literal["closest refusal"] = "closest refusal"
    species: tuple[str, ...] = ()
    thickness_um: int
    refusal: Refusal
    used: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class StoppedBeforeTrying:
    """The run was stopped before every piece that might be usable was tried.

    Parameters
    ----------
    code : str
    """

    code: Literal["stopped before trying"] = "stopped before trying"


@dataclass(frozen=True, slots=True, kw_only=True)
class NoPieceOfSpecies:
    """The rack has no piece of the species that the part allows.

    Parameters
    ----------
    code : str
    species : tuple of str
        Any of these; empty means any.
    """

    code: Literal["no piece of the species"] = "no piece of the species"
    species: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class NoneReady:
    """The rack has no piece of the species that the part allows that is neither taken nor on hold.

    Parameters
    ----------
    code : str
    species : tuple of str
        Any of these; empty means any.
    """

    code: Literal["none ready"] = "none ready"
    species: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RowsRefused:
    """How many rows of the rack are refused for one cause.

    Parameters
    ----------
    code : str
    rows : int
    cause : str
    """

    code: Literal["rows refused"] = "rows refused"
    rows: int
    cause: Cause


@dataclass(frozen=True, slots=True, kw_only=True)
class RackCounts:
    """All rows of the rack, counted by the cause for which they are refused.

    Parameters
    ----------
    code : str
    rows : int
    refused : tuple of RowsRefused
        Their rows add up to ``rows``.
    """

    code: Literal["rack counts"] = "rack counts"
    rows: int
    refused: tuple[RowsRefused, ...]


Reason = Annotated[
    OrderOnHold
    | EmptyRack
    | NoBedForPart
    | PiecesSpent
    | SetNotWhole
    | PiecesOnHold
    | ClosestRefusal
    | StoppedBeforeTrying
    | NoPieceOfSpecies
    | NoneReady
    | RackCounts,
    Discriminator("code"),
]
