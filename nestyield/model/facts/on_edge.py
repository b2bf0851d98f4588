"""Facts of a blank of strips on edge: its order of work, and what to mind."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import Discriminator

from nestyield.model.facts.glue import (
    BlankRefused,
    GuardsInPlace,
    ManualsFirst,
    MoistureDiffers,
    MoistureUnknown,
    SearchForMetal,
)
from nestyield.model.facts.glue_steps import LeaveInClamps, PlaneBlank, ScrapeGlue
from nestyield.model.facts.laminate import PressShort


@dataclass(frozen=True, slots=True, kw_only=True)
class RipStrips:
    """Saw the boards into strips, as their saw sheets say.

    Parameters
    ----------
    strips : int
        How many.
    boards : tuple of str
        What the boards are called.
    to_um : int
        How wide the strips are ripped.
    """

    code: Literal["rip strips"] = "rip strips"
    strips: int
    boards: tuple[str, ...]
    to_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class LookAtEnds:
    """Look at the end grain of the strips: a quarter turn makes flat-sawn boards quartersawn."""

    code: Literal["look at ends"] = "look at ends"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanedStrips:
    """Strips that are planed alike.

    Parameters
    ----------
    boards : tuple of str
        Letters.
    top_um, bottom_um : int
        Off the two faces of the board.
    to_um : int
        Their thickness then.
    """

    code: Literal["planed strips"] = "planed strips"
    boards: tuple[str, ...]
    top_um: int
    bottom_um: int
    to_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaneStrips:
    """Plane the faces of the strips just before gluing.

    Parameters
    ----------
    strips : tuple of PlanedStrips
    """

    code: Literal["plane strips"] = "plane strips"
    strips: tuple[PlanedStrips, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class StandStrips:
    """Turn each strip on its edge and stand them side by side, dry."""

    code: Literal["stand strips"] = "stand strips"


@dataclass(frozen=True, slots=True, kw_only=True)
class GlueStrips:
    """Glue the strips and press them.

    Parameters
    ----------
    seams : int
    clamps : int
    """

    code: Literal["glue strips"] = "glue strips"
    seams: int
    clamps: int


#: A step of the order of work of a blank of strips on edge.
OnEdgeStep = Annotated[
    RipStrips | LookAtEnds | PlaneStrips | StandStrips | GlueStrips | LeaveInClamps | ScrapeGlue | PlaneBlank,
    Discriminator("code"),
]


@dataclass(frozen=True, slots=True, kw_only=True)
class RipNarrow:
    """Narrow strips are ripped: what the hands and the saw need.

    Parameters
    ----------
    wide_um : int
        Of the strips.
    last_um : int
        A push stick for the last so much of each cut.
    """

    code: Literal["rip narrow"] = "rip narrow"
    wide_um: int
    last_um: int


#: What to mind with a blank of strips on edge, beside what each strip's machines ask for.
OnEdgeCaution = Annotated[
    PressShort
    | MoistureDiffers
    | MoistureUnknown
    | BlankRefused
    | RipNarrow
    | SearchForMetal
    | GuardsInPlace
    | ManualsFirst,
    Discriminator("code"),
]
