"""Facts of a glue-up: what keeps splines and dowels out of a seam, and what to mind."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import Discriminator

from nestyield.model.facts.machines import MachineRule

Reinforcement = Literal["spline", "dowel"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PartTooThin:
    """A part is too thin to hide a spline or dowel: as much wood as it is thick stays towards either face.

    Parameters
    ----------
    seam, part : str
    kind : {"spline", "dowel"}
    thick_um, thickness_um : int
        Of the slot or hole, and of the part.
    """

    code: Literal["part too thin to reinforce"] = "part too thin to reinforce"
    seam: str
    part: str
    kind: Reinforcement
    thick_um: int
    thickness_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class NoHiddenPlace:
    """No spline or dowel stays hidden in a seam: the outline or a zone comes too near everywhere.

    Parameters
    ----------
    seam, part : str
    kind : {"spline", "dowel"}
    zones : tuple of str
        That stand in the way, beside the outline.
    clearance_um : int
        Wood that is asked for around it.
    """

    code: Literal["no hidden place"] = "no hidden place"
    seam: str
    part: str
    kind: Reinforcement
    zones: tuple[str, ...]
    clearance_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class LoneDowel:
    """Only one dowel stays hidden in a seam: alone it aligns nothing.

    Parameters
    ----------
    seam, part : str
    """

    code: Literal["lone dowel"] = "lone dowel"
    seam: str
    part: str


#: What keeps splines or dowels out of where they were asked for.
ReinforcementConflict = Annotated[PartTooThin | NoHiddenPlace | LoneDowel, Discriminator("code")]


@dataclass(frozen=True, slots=True, kw_only=True)
class ThinAtSeam:
    """Little wood stays at a seam under a zone.

    Parameters
    ----------
    seam, zone : str
    left_um : int
    """

    code: Literal["thin at a seam"] = "thin at a seam"
    seam: str
    zone: str
    left_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class MetalAtEdge:
    """The saw or the jointer meets metal, or a hole that may hold some, at an edge of a board.

    Parameters
    ----------
    board : str
        Its letter.
    seam : str
        That the edge is for.
    kinds, defects : tuple of str
        What is met, each kind once, and the names.
    """

    code: Literal["metal at an edge"] = "metal at an edge"
    board: str
    seam: str
    kinds: tuple[str, ...]
    defects: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MoistureDiffers:
    """The boards differ in moisture.

    Parameters
    ----------
    difference_points : float
        Percent of moisture content between the driest and the dampest.
    limit_points : float
        The most that the shop allows between neighbors.
    """

    code: Literal["moisture differs"] = "moisture differs"
    difference_points: float
    limit_points: float


@dataclass(frozen=True, slots=True, kw_only=True)
class MoistureUnknown:
    """The moisture of some boards is not known.

    Parameters
    ----------
    boards : tuple of str
        Letters.
    """

    code: Literal["moisture unknown"] = "moisture unknown"
    boards: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BlankRefused:
    """A machine refuses the whole blank when it is glued.

    Parameters
    ----------
    rule : MachineRule
    """

    code: Literal["blank refused by machine"] = "blank refused by machine"
    rule: MachineRule


@dataclass(frozen=True, slots=True, kw_only=True)
class ClampsShort:
    """The clamps of the shop do not do for the longest seam of a blank: code G723.

    Parameters
    ----------
    seam : str
    needed, count : int
        How many it takes, and how many there are or fit along the seam.
    limit : {"owned", "room"}
        The shop has no more, or no more stand along the seam.
    clamp_n : float
        What each gives, newtons.
    spacing_um : int
        Between neighbors; 0 for a single clamp.
    reached_mpa, least_mpa : float
        Pressure that they give, and the least that is asked for.
    """

    code: Literal["G723"] = "G723"
    severity: Literal["warning"] = "warning"
    seam: str
    needed: int
    count: int
    limit: Literal["owned", "room"]
    clamp_n: float
    spacing_um: int
    reached_mpa: float
    least_mpa: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchForMetal:
    """Metal, grit, loose knots and splits: before any cutter touches the wood."""

    code: Literal["search for metal"] = "search for metal"


@dataclass(frozen=True, slots=True, kw_only=True)
class GuardsInPlace:
    """Saw, jointer and planer: guards, eyes, ears, push blocks, hands, dust."""

    code: Literal["guards in place"] = "guards in place"


@dataclass(frozen=True, slots=True, kw_only=True)
class ManualsFirst:
    """Manuals, the glue's leaflet, local rules and a qualified person come before the sheet."""

    code: Literal["manuals first"] = "manuals first"


#: What to mind with a glue-up, beside what each board's machines ask for, conflicts and facts of the wood.
GlueCaution = Annotated[
    ThinAtSeam
    | MetalAtEdge
    | ClampsShort
    | MoistureDiffers
    | MoistureUnknown
    | BlankRefused
    | SearchForMetal
    | GuardsInPlace
    | ManualsFirst,
    Discriminator("code"),
]
