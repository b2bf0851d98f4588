"""Facts of the wood of a blank, and of rules about seams that it breaks: codes G701 to G707, G720 to G722.

Each has a severity: a warning needs a person, a note does not.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import Discriminator

from nestyield.model.facts.joints import JointNote


@dataclass(frozen=True, slots=True, kw_only=True)
class WidthMoves:
    """The blank's width moves over the season.

    Parameters
    ----------
    quartersawn_um, flatsawn_um : int
        From the driest to the dampest, with growth rings upright and lying.
    driest_pct, dampest_pct : float
        Moisture content over the season.
    own : tuple of str
        Species whose figures are the maker's own.
    """

    code: Literal["G701"] = "G701"
    severity: Literal["note"] = "note"
    quartersawn_um: int
    flatsawn_um: int
    driest_pct: float
    dampest_pct: float
    own: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class MovementUnknown:
    """There are no movement figures for some of the wood.

    Parameters
    ----------
    species : tuple of str
    """

    code: Literal["G702"] = "G702"
    severity: Literal["note"] = "note"
    species: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MoistureApart:
    """Neighbors at a seam differ in moisture by more than the shop allows.

    Parameters
    ----------
    seam : str
    difference_points : float
        Percent of moisture content between the two.
    limit_points : float
        The most that the shop allows.
    """

    code: Literal["G703"] = "G703"
    severity: Literal["warning"] = "warning"
    seam: str
    difference_points: float
    limit_points: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonalStep:
    """A step shows at a seam over the season.

    Parameters
    ----------
    seam : str
    alike_um : int
        At most, with growth rings alike on both sides.
    unlike_um : int
        At most, with flatsawn beside quartersawn.
    driest_pct, dampest_pct : float
        Moisture content over the season.
    """

    code: Literal["G704"] = "G704"
    severity: Literal["note"] = "note"
    seam: str
    alike_um: int
    unlike_um: int
    driest_pct: float
    dampest_pct: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SidesPull:
    """Grain crosses at a seam, and the sides pull at each other over the season.

    Parameters
    ----------
    seam : str
    crossing_deg : float
        Between the grain of the two sides.
    mismatch_um : int
        By how much the sides would differ in length if they were free.
    """

    code: Literal["G705"] = "G705"
    severity: Literal["warning"] = "warning"
    seam: str
    crossing_deg: float
    mismatch_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class WeakJoint:
    """A seam is no long-grain joint.

    Parameters
    ----------
    seam : str
    joint : JointNote
    severity : {"note", "warning"}
        A warning for end grain.
    """

    code: Literal["G706"] = "G706"
    severity: Literal["note", "warning"] = "note"
    seam: str
    joint: JointNote


@dataclass(frozen=True, slots=True, kw_only=True)
class MoistureOffSeason:
    """A piece is drier or damper than its place of use.

    Parameters
    ----------
    piece : str
    moisture_pct : float
    low_pct, high_pct : float
        What is expected, with what may be off.
    """

    code: Literal["G707"] = "G707"
    severity: Literal["warning"] = "warning"
    piece: str
    moisture_pct: float
    low_pct: float
    high_pct: float


@dataclass(frozen=True, slots=True, kw_only=True)
class InNoSeamZone:
    """Rule: no seam through a zone that the drawing keeps free of seams.

    Parameters
    ----------
    zone : str
    """

    code: Literal["in a no-seam zone"] = "in a no-seam zone"
    zone: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NearHole:
    """Rule: wood between a seam and a drilled hole.

    Parameters
    ----------
    zone : str
    clearance_um : int
    """

    code: Literal["near a hole"] = "near a hole"
    zone: str
    clearance_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class AlongScrews:
    """Rule: no seam lengthwise through a row of screws.

    Parameters
    ----------
    zone : str
    """

    code: Literal["along a row of screws"] = "along a row of screws"
    zone: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NearOutline:
    """Rule: no sliver between a seam and an outline along it.

    Parameters
    ----------
    least_um : int
        Width that is no sliver.
    """

    code: Literal["near a parallel outline"] = "near a parallel outline"
    least_um: int


SeamRule = Annotated[InNoSeamZone | NearHole | AlongScrews | NearOutline, Discriminator("code")]


@dataclass(frozen=True, slots=True, kw_only=True)
class SeamRuleBroken:
    """A seam runs where none should run: no place keeps the rule, or the shop lets it be broken.

    Parameters
    ----------
    seam : str
    placement : int
        Index in the layout's placements.
    part : str
    rule : SeamRule
    inside_um : int
        How far the seam lies inside the range where none may run.
    """

    code: Literal["G720"] = "G720"
    severity: Literal["warning"] = "warning"
    seam: str
    placement: int
    part: str
    rule: SeamRule
    inside_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class GrainOffPart:
    """The grain of a piece is off the part's by more than the part tolerates.

    Parameters
    ----------
    part, piece : str
    off_deg, tolerance_deg : float
    """

    code: Literal["G721"] = "G721"
    severity: Literal["warning"] = "warning"
    part: str
    piece: str
    off_deg: float
    tolerance_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class UnlikeSpecies:
    """A blank is glued from unlike species.

    Parameters
    ----------
    species : tuple of str
    """

    code: Literal["G722"] = "G722"
    severity: Literal["warning"] = "warning"
    species: tuple[str, ...]


#: What a maker should know about the wood and the seams of a blank before gluing and cutting it.
WoodFact = Annotated[
    WidthMoves
    | MovementUnknown
    | MoistureApart
    | SeasonalStep
    | SidesPull
    | WeakJoint
    | MoistureOffSeason
    | SeamRuleBroken
    | GrainOffPart
    | UnlikeSpecies,
    Discriminator("code"),
]
