"""Facts of the work at the bench and on the bed: the steps of one blank, in their order."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import Discriminator

from nestyield.model.axis import Axis, CutFace
from nestyield.model.roles import ZoneRole

UpFace = Literal["top", "bottom"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaneEvenly:
    """Solid wood is planed to the thickness of the thickest part, as much off one face as off the other."""

    code: Literal["plane evenly"] = "plane evenly"
    to_um: int
    each_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaneFaces:
    """Solid wood is planed to the thickness of the thickest part, so much off each face."""

    code: Literal["plane faces"] = "plane faces"
    to_um: int
    top_um: int
    bottom_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaneTo:
    """Solid wood is planed to the thickness of the thickest part; parts ask for different shares a face."""

    code: Literal["plane to thickness"] = "plane to thickness"
    to_um: int


#: What is planed off before routing.
Planing = Annotated[PlaneEvenly | PlaneFaces | PlaneTo, Discriminator("code")]


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchMetal:
    """The wood is searched for metal at these defects before any blade or cutter touches it."""

    code: Literal["search metal"] = "search metal"
    kinds: tuple[str, ...]
    defects: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SawOff:
    """The blank is sawn off its piece before anything else: between which lines from the piece's corner."""

    code: Literal["saw off"] = "saw off"
    piece: str
    from_x_um: int
    to_x_um: int
    from_y_um: int
    to_y_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ResawFirst:
    """The blank is a leaf of a piece that is resawn first: between which depths below the piece's top face.

    Its top and bottom face are those of the piece, or sawn.
    """

    code: Literal["resaw first"] = "resaw first"
    piece: str
    from_um: int
    to_um: int
    top_sawn: bool
    bottom_sawn: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkTop:
    """The top face and the datum corner are marked on the wood."""

    code: Literal["mark top"] = "mark top"


@dataclass(frozen=True, slots=True, kw_only=True)
class DrillBlank:
    """Index holes are drilled through the blank before it goes on the bed, and numbered on the wood."""

    code: Literal["drill blank"] = "drill blank"
    holes: tuple[str, ...]
    diameter_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class DrillTable:
    """Holes for pins are drilled into the table by the machine before the blank is laid."""

    code: Literal["drill table"] = "drill table"
    pins: tuple[str, ...]
    diameter_um: int
    depth_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class DrillTableByHand:
    """As ``DrillTable``, by hand, for holes beyond the travel."""

    code: Literal["drill table by hand"] = "drill table by hand"
    pins: tuple[str, ...]
    diameter_um: int
    depth_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class DrillThrough:
    """The machine drills pin holes square through the held blank and so deep into the table."""

    code: Literal["drill through"] = "drill through"
    holes: tuple[str, ...]
    diameter_um: int
    depth_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class DrillThroughByHand:
    """As ``DrillThrough``, by hand, for holes beyond the travel, before the blank is moved."""

    code: Literal["drill through by hand"] = "drill through by hand"
    holes: tuple[str, ...]
    diameter_um: int
    depth_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class RemoveBlank:
    """The blank is unscrewed and taken off the bed, so that pins can be fitted."""

    code: Literal["remove blank"] = "remove blank"


@dataclass(frozen=True, slots=True, kw_only=True)
class FitPins:
    """Dowel pins go into the holes of the table, below the surface of the blank: so long at most."""

    code: Literal["fit pins"] = "fit pins"
    pins: tuple[str, ...]
    diameter_um: int
    longest_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class HoleOnPin:
    """A hole of the blank goes on a pin of the table."""

    code: Literal["hole on pin"] = "hole on pin"
    hole: str
    pin: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LayBlank:
    """The blank is laid on the bed as its setup shows."""

    code: Literal["lay blank"] = "lay blank"
    setup: str
    up: UpFace


@dataclass(frozen=True, slots=True, kw_only=True)
class LayBlankOver:
    """The blank is laid on the bed turned over about its flip axis, as its setup shows."""

    code: Literal["lay blank over"] = "lay blank over"
    setup: str
    up: UpFace


@dataclass(frozen=True, slots=True, kw_only=True)
class LayOnPins:
    """The blank is laid on pins of the table as its setup shows."""

    code: Literal["lay on pins"] = "lay on pins"
    setup: str
    up: UpFace
    on: tuple[HoleOnPin, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Flip:
    """The blank is turned over about its flip axis, with no pins to guide it."""

    code: Literal["flip"] = "flip"
    setup: str
    up: UpFace


@dataclass(frozen=True, slots=True, kw_only=True)
class FlipOnPins:
    """The blank is turned over about its flip axis onto pins: which hole goes on which pin."""

    code: Literal["flip on pins"] = "flip on pins"
    setup: str
    up: UpFace
    on: tuple[HoleOnPin, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MoveOn:
    """The blank moves on along an axis by one hole: which hole then goes on which pin."""

    code: Literal["move on"] = "move on"
    setup: str
    axis: Axis
    step_um: int
    on: tuple[HoleOnPin, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TurnEndForEnd:
    """The blank is turned by half a turn on its pins: which hole then goes on which pin."""

    code: Literal["turn end for end"] = "turn end for end"
    setup: str
    on: tuple[HoleOnPin, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Hold:
    """The blank is screwed or clamped down at these places; they hold until the next move."""

    code: Literal["hold"] = "hold"
    holds: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldOtherwise:
    """No place for a screw is clear of the cutter: vacuum, tape or tabs hold the blank."""

    code: Literal["hold otherwise"] = "hold otherwise"


@dataclass(frozen=True, slots=True, kw_only=True)
class CutBetween:
    """In this section only what is drawn between two places of the bed's axis is cut."""

    code: Literal["cut between"] = "cut between"
    section: int
    axis: Axis
    from_um: int
    to_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class CutZone:
    """Zones of one part that are alike are cut to a depth from the face that is up.

    Parameters
    ----------
    placement : int
        Number of the part on its blank, from 1: index of the placement + 1.
    part : str
    zone : str
        Common name.
    zones : tuple of str
        Each zone by its full name, drawing order.
    role : ZoneRole
        One that cuts.
    face : {"top", "bottom"}
        Face of the wood from which it is cut.
    section : int
        From 1; 0 when the blank is cut in one go.
    depth_um : int
        From that face.
    count : int
        How many zones.
    """

    code: Literal["cut zone"] = "cut zone"
    placement: int
    part: str
    zone: str
    zones: tuple[str, ...]
    role: ZoneRole
    face: CutFace
    section: int
    depth_um: int
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class CutThrough:
    """Zones of one part that are alike are cut through; fields as of ``CutZone``, ``face`` being through."""

    code: Literal["cut through"] = "cut through"
    placement: int
    part: str
    zone: str
    zones: tuple[str, ...]
    role: ZoneRole
    face: CutFace = "through"
    section: int
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class CutOutline:
    """The outline of a part is cut through but for these tabs, after everything else in the same position."""

    code: Literal["cut outline"] = "cut outline"
    placement: int
    part: str
    section: int
    tabs: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class CutNothing:
    """Nothing is cut in this position: it is left out."""

    code: Literal["cut nothing"] = "cut nothing"


@dataclass(frozen=True, slots=True, kw_only=True)
class FillDefect:
    """A defect that stays in a part is filled."""

    code: Literal["fill defect"] = "fill defect"
    placement: int
    part: str
    defect: str
    kind: str
    filler_ml: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SawLeftover:
    """A leftover is cut off clear of screw holes: sawn at its straight lines, or along its exact outline."""

    code: Literal["saw leftover"] = "saw leftover"
    leftover: str
    straight: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelLeftovers:
    """Leftovers to keep are labeled and returned to the rack."""

    code: Literal["label leftovers"] = "label leftovers"
    leftovers: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FreeParts:
    """The parts are freed; where this is the last of the work, no leftover is worth keeping."""

    code: Literal["free parts"] = "free parts"
    last: bool = True


#: One step of the work on a blank.
WorkStep = Annotated[
    PlaneEvenly
    | PlaneFaces
    | PlaneTo
    | MarkTop
    | SawOff
    | ResawFirst
    | SearchMetal
    | DrillBlank
    | DrillTable
    | DrillTableByHand
    | DrillThrough
    | DrillThroughByHand
    | RemoveBlank
    | FitPins
    | LayBlank
    | LayBlankOver
    | LayOnPins
    | Flip
    | FlipOnPins
    | MoveOn
    | TurnEndForEnd
    | Hold
    | HoldOtherwise
    | CutBetween
    | CutZone
    | CutThrough
    | CutOutline
    | CutNothing
    | FillDefect
    | SawLeftover
    | LabelLeftovers
    | FreeParts,
    Discriminator("code"),
]
