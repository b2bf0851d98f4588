"""Facts of the order of work of a glue-up: one a step."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import Discriminator

from nestyield.model.facts.machines import Remedy


@dataclass(frozen=True, slots=True, kw_only=True)
class CrosscutFirst:
    """Crosscut a piece that is too long for the bed, as its saw sheet shows.

    Parameters
    ----------
    piece : str
        With its copy where the rack has several alike.
    boards : tuple of str
        Letters of the boards that come out of what stays.
    """

    code: Literal["crosscut first"] = "crosscut first"
    piece: str
    boards: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SawApart:
    """Saw a piece that gives several boards.

    Parameters
    ----------
    way : {"crosscut", "rip"}
        Across the grain, measured along the length; or along it, measured across the width.
    piece : str
        With its copy where the rack has several alike.
    length_um, width_um : int
        On the rack.
    at_um : int
        From corner 0 to the middle of the kerf.
    to_um : int or None
        The same at the other end of the kerf, where the cut runs askew.
    kerf_um : int
    before, after : str
        Letters of the boards: towards corner 0, and beyond the cut.
    """

    code: Literal["saw apart"] = "saw apart"
    way: Literal["crosscut", "rip"]
    piece: str
    length_um: int
    width_um: int
    at_um: int
    to_um: int | None = None
    kerf_um: int
    before: str
    after: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ResawLeaves:
    """Resaw a piece into the leaves of a book match, as its saw sheet shows.

    Parameters
    ----------
    piece : str
        With its copy where the rack has several alike.
    upper, lower : str
        Letters of the two leaves: the one toward the top face of the piece, and the one under it.
    """

    code: Literal["resaw leaves"] = "resaw leaves"
    piece: str
    upper: str
    lower: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenBook:
    """Open the two leaves like a book: one is turned over about the edge to be jointed, the other stays.

    Parameters
    ----------
    board : str
        Letter of the leaf that is turned over.
    """

    code: Literal["open book"] = "open book"
    board: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LayBoards:
    """Lay the boards on the bench as picture 2 shows them."""

    code: Literal["lay boards"] = "lay boards"


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelBoards:
    """Write letters and arrows on the faces that are up."""

    code: Literal["label boards"] = "label boards"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanedBoard:
    """A board that is planed before gluing.

    Parameters
    ----------
    board : str
        Letter.
    off_um : int
    face : {"upper", "lower"}
        From which that comes off.
    """

    code: Literal["planed board"] = "planed board"
    board: str
    off_um: int
    face: Literal["upper", "lower"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaneBoards:
    """Plane boards before gluing.

    Parameters
    ----------
    to_um : int
    boards : tuple of PlanedBoard
    """

    code: Literal["plane boards"] = "plane boards"
    to_um: int
    boards: tuple[PlanedBoard, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ThickBoard:
    """A board that is thicker than the blank and does not go through the planer.

    Parameters
    ----------
    board : str
        Letter.
    thickness_um : int
    """

    code: Literal["thick board"] = "thick board"
    board: str
    thickness_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelAfterGluing:
    """Boards that the planer refuses are glued as they are; the blank is leveled afterwards.

    Parameters
    ----------
    to_um : int
    boards : tuple of ThickBoard
    """

    code: Literal["level after gluing"] = "level after gluing"
    to_um: int
    boards: tuple[ThickBoard, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardEdge:
    """An edge of a board that goes to a seam.

    Parameters
    ----------
    board : str
        Letter.
    seam : str
    """

    code: Literal["board edge"] = "board edge"
    board: str
    seam: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RipBoards:
    """Rip along the joint lines.

    Parameters
    ----------
    leave_um : int
        Between saw and line; 0 where the shop takes nothing off at the jointer.
    """

    code: Literal["rip boards"] = "rip boards"
    leave_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class JointOff:
    """What comes off some edges is too little to saw.

    Parameters
    ----------
    edges : tuple of BoardEdge
    """

    code: Literal["joint off"] = "joint off"
    edges: tuple[BoardEdge, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class KeepOffcuts:
    """Offcuts that go back to the rack.

    Parameters
    ----------
    edges : tuple of BoardEdge
        Off which they come.
    """

    code: Literal["keep offcuts"] = "keep offcuts"
    edges: tuple[BoardEdge, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class JointEdges:
    """Joint each edge to its line, the two edges of a seam with opposite faces against the fence."""

    code: Literal["joint edges"] = "joint edges"


@dataclass(frozen=True, slots=True, kw_only=True)
class NotOverJointer:
    """A board does not go over the jointer by itself.

    Parameters
    ----------
    board : str
        Letter.
    remedy : Remedy
    """

    code: Literal["not over the jointer"] = "not over the jointer"
    board: str
    remedy: Remedy


@dataclass(frozen=True, slots=True, kw_only=True)
class SetMarks:
    """Set the marks along the jointed edges."""

    code: Literal["set marks"] = "set marks"


@dataclass(frozen=True, slots=True, kw_only=True)
class CutSlots:
    """Cut stopped slots for splines in both edges of some seams.

    Parameters
    ----------
    seams : tuple of str
    width_um, depth_um : int
        Of the slot; its depth goes into either edge.
    below_um : tuple of int
        Its middle below the face that is up, rising.
    """

    code: Literal["cut slots"] = "cut slots"
    seams: tuple[str, ...]
    width_um: int
    depth_um: int
    below_um: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BoreHoles:
    """Bore holes for dowels in both edges of some seams.

    Parameters
    ----------
    seams : tuple of str
    diameter_um, depth_um : int
        Of the hole; its depth goes into either edge.
    below_um : tuple of int
        Its middle below the face that is up, rising.
    """

    code: Literal["bore holes"] = "bore holes"
    seams: tuple[str, ...]
    diameter_um: int
    depth_um: int
    below_um: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class DryFit:
    """Put the boards together dry."""

    code: Literal["dry fit"] = "dry fit"


@dataclass(frozen=True, slots=True, kw_only=True)
class GlueAndClamp:
    """Glue and clamp.

    Parameters
    ----------
    seams, splines, dowels : int
        How many.
    """

    code: Literal["glue and clamp"] = "glue and clamp"
    seams: int
    splines: int
    dowels: int


@dataclass(frozen=True, slots=True, kw_only=True)
class LeaveInClamps:
    """Leave the blank in the clamps, then a day before planing."""

    code: Literal["leave in clamps"] = "leave in clamps"


@dataclass(frozen=True, slots=True, kw_only=True)
class ScrapeGlue:
    """Scrape off the glue."""

    code: Literal["scrape glue"] = "scrape glue"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaneBlank:
    """Plane the blank to its finished thickness after gluing, as its shop sheet shows.

    Parameters
    ----------
    to_um : int
    """

    code: Literal["plane the blank"] = "plane the blank"
    to_um: int


#: A step of the order of work of a glue-up.
GlueStep = Annotated[
    SawApart
    | CrosscutFirst
    | ResawLeaves
    | OpenBook
    | LayBoards
    | LabelBoards
    | PlaneBoards
    | LevelAfterGluing
    | RipBoards
    | JointOff
    | KeepOffcuts
    | JointEdges
    | NotOverJointer
    | SetMarks
    | CutSlots
    | BoreHoles
    | DryFit
    | GlueAndClamp
    | LeaveInClamps
    | ScrapeGlue
    | PlaneBlank,
    Discriminator("code"),
]
