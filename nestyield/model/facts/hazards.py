"""Facts of what can hurt, spoil the work or a machine: of the bed, of the wood, and in general."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import Discriminator

from nestyield.model.axis import Axis, BlankEdge

# ---- of the setup on the bed


@dataclass(frozen=True, slots=True, kw_only=True)
class MixedFaces:
    """Some parts are front up and some back up, so that what is cut first differs by part."""

    code: Literal["mixed faces"] = "mixed faces"
    front_up: tuple[int, ...]
    back_up: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FlipOffPlace:
    """Turned over about its axis the blank does not fit the bed at the same place."""

    code: Literal["flip off place"] = "flip off place"
    bed: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NoFlipPins:
    """The bed has no pins: the blank is turned over against a fence.

    Parameters
    ----------
    code, bed : str
    fence : {"x", "y"} or None
        Axis of the bed along which the fence runs; None when the blank lies aslant, or is no rectangle whose
        edges along the flip axis are sound.
    at_um : int
        Where the fence's face is on the bed's other axis, at the blank's lower or left side, top face up.
    then_um : int
        Where it is with the bottom face up; the same when the flip axis is the middle of the blank.
    """

    code: Literal["no flip pins"] = "no flip pins"
    bed: str
    fence: Axis | None = None
    at_um: int = 0
    then_um: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class NoPlaceForFlipPins:
    """The waste over the table holds no two flip pins clear of the cutter."""

    code: Literal["no place for flip pins"] = "no place for flip pins"


@dataclass(frozen=True, slots=True, kw_only=True)
class PinsNotUnique:
    """So few pins also take the blank turned end for end."""

    code: Literal["pins not unique"] = "pins not unique"
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class IndexHolesAlike:
    """Index holes are alike: the ends of the blank must be marked, and a section finished before the next."""

    code: Literal["index holes alike"] = "index holes alike"
    sections: int


@dataclass(frozen=True, slots=True, kw_only=True)
class BothFacesInSections:
    """Both faces are cut in sections: the blank is turned over about the line of holes after the last."""

    code: Literal["both faces in sections"] = "both faces in sections"


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionsFlipBlocked:
    """Turned over about the line of holes the blank meets a keep-out, a closed end or the end of travel."""

    code: Literal["sections flip blocked"] = "sections flip blocked"
    bed: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FewScrews:
    """The waste over the table holds fewer than two screws clear of the cutter."""

    code: Literal["few screws"] = "few screws"
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ScrewsCutFree:
    """Screws stand in wood that is cut free before the outline of a part is cut: they do not hold it then."""

    code: Literal["screws cut free"] = "screws cut free"
    position: str
    placement: int
    names: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldByFew:
    """Fewer than two screws hold the wood around a part when its outline is cut."""

    code: Literal["held by few"] = "held by few"
    position: str
    placement: int
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PinInOpening:
    """A pin is located in an opening of a part: it comes out before that opening is cut, as the last."""

    code: Literal["pin in opening"] = "pin in opening"
    pin: str


@dataclass(frozen=True, slots=True, kw_only=True)
class HolesInLeftover:
    """Pins or screws leave holes in a leftover that is kept."""

    code: Literal["holes in leftover"] = "holes in leftover"
    leftover: str
    names: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PartsComeLoose:
    """A part is loose once its outline is cut through."""

    code: Literal["parts come loose"] = "parts come loose"


#: A caution of the setup on a bed.
BedCaution = Annotated[
    MixedFaces
    | FlipOffPlace
    | NoFlipPins
    | NoPlaceForFlipPins
    | PinsNotUnique
    | IndexHolesAlike
    | BothFacesInSections
    | SectionsFlipBlocked
    | FewScrews
    | ScrewsCutFree
    | HeldByFew
    | PinInOpening
    | HolesInLeftover
    | PartsComeLoose,
    Discriminator("code"),
]

# ---- of the wood of a blank and of the parts on it


@dataclass(frozen=True, slots=True, kw_only=True)
class EdgeGap:
    """A defect takes wood off an edge of the blank, from the datum corner's side."""

    code: Literal["edge gap"] = "edge gap"
    kind: str
    from_um: int
    to_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasureFromOpposite:
    """A datum edge is damaged: measure from the opposite edge, so far away."""

    code: Literal["measure from opposite"] = "measure from opposite"
    edge: BlankEdge
    opposite: BlankEdge
    size_um: int
    gaps: tuple[EdgeGap, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasureFromLine:
    """A datum edge and the opposite edge are damaged: draw the datum edge as a line and measure from it."""

    code: Literal["measure from line"] = "measure from line"
    edge: BlankEdge
    gaps: tuple[EdgeGap, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LittleWoodFromOpposite:
    """Little wood reaches a datum edge: measure from the opposite edge, so far away."""

    code: Literal["little wood, measure from opposite"] = "little wood, measure from opposite"
    edge: BlankEdge
    opposite: BlankEdge
    size_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class LittleWoodFromLine:
    """Little wood reaches a datum edge or its opposite: draw the datum edge as a line, measure from it."""

    code: Literal["little wood, measure from line"] = "little wood, measure from line"
    edge: BlankEdge


@dataclass(frozen=True, slots=True, kw_only=True)
class NoWoodAtCorner:
    """There is no sound wood at the datum corner: it is where the two datum edges meet.

    Parameters
    ----------
    code
    kind : str
        Kind of the defect that the wood there is; empty where there is no wood.
    """

    code: Literal["no wood at datum corner"] = "no wood at datum corner"
    kind: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class InZone:
    """Something is under the cutter in zones of a part, which share this name."""

    code: Literal["in zone"] = "in zone"
    placement: int
    zone: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AtOutline:
    """Something is under the cutter along the outline of a part."""

    code: Literal["at outline"] = "at outline"
    placement: int


#: Where the cutter meets a defect.
CutPlace = Annotated[InZone | AtOutline, Discriminator("code")]


@dataclass(frozen=True, slots=True, kw_only=True)
class KnotUnderCutter:
    """The cutter runs through knots: they may come loose and be thrown."""

    code: Literal["knot under cutter"] = "knot under cutter"
    knots: tuple[str, ...]
    places: tuple[CutPlace, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MetalUnderCutter:
    """The cutter runs through metal, or through a hole in which a nail or screw may still be."""

    code: Literal["metal under cutter"] = "metal under cutter"
    kinds: tuple[str, ...]
    defects: tuple[str, ...]
    places: tuple[CutPlace, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class HoleNearCut:
    """Metal, the hole of a nail or screw or a mortise is nearer to what is cut than the shop wants."""

    code: Literal["hole near cut"] = "hole near cut"
    kinds: tuple[str, ...]
    defects: tuple[str, ...]
    places: tuple[CutPlace, ...]
    within_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class MetalInWood:
    """Metal or holes of nails or screws are marked in the wood, clear of the cutter."""

    code: Literal["metal in wood"] = "metal in wood"
    kinds: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LooseInWood:
    """Loose wood is marked: it comes off before the blank goes on a machine."""

    code: Literal["loose in wood"] = "loose in wood"
    kinds: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ShortStock:
    """The blank is shorter than jointer or planer take on their own.

    ``least_um`` is the larger of the two limits of the shop's ``[machines]`` that the blank is under.
    """

    code: Literal["short stock"] = "short stock"
    length_um: int
    least_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SmallParts:
    """Parts are narrower than ``under_um``: too small to hold by hand at a cutter.

    ``placements`` are indices in the layout's placements; the limit is the shop's for push blocks.
    """

    code: Literal["small parts"] = "small parts"
    placements: tuple[int, ...]
    under_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredWood:
    """Pieces of the blank are measured no better than this: their edges and flaws may be that far off.

    ``room_um`` is by how much an edge may be off before a part lacks its margin; None for a glue-up, which is
    made of what its pieces hold in any case.
    """

    code: Literal["measured wood"] = "measured wood"
    pieces: tuple[str, ...]
    measured_um: int
    room_um: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FibersRise:
    """Along so much outline the fibers rise against the cutter, and the edge is likely to tear out."""

    code: Literal["fibers rise"] = "fibers rise"
    feed: Literal["climb", "conventional"]
    total_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PointsBreak:
    """So many narrow points off the grain have short fibers and may break off."""

    code: Literal["points break off"] = "points break off"
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class NoBed:
    """No bed of the shop takes the blank."""

    code: Literal["no bed"] = "no bed"


#: Where a blank ends: at an edge that faces down, up, left or right, or at a hole in it.
WoodEnd = Literal["lower", "upper", "left", "right", "hole"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameCutOpen:
    """Beside parts the cutter leaves a sliver of wood, or none, at an edge of the blank.

    Parameters
    ----------
    placements : tuple of int
    under_um : int
        Less wood than this is left.
    ends : tuple of tuple of WoodEnd
        For each placement where; empty in plans of earlier versions.
    """

    code: Literal["frame cut open"] = "frame cut open"
    placements: tuple[int, ...]
    under_um: int
    ends: tuple[tuple[WoodEnd, ...], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class FarFromScrews:
    """In these positions the cutter works farther than this beyond the screws."""

    code: Literal["far from screws"] = "far from screws"
    positions: tuple[str, ...]
    beyond_um: int


#: A caution of one blank, of its wood and the parts on it; those of its setup on a bed are ``BedCaution``.
Caution = Annotated[
    MeasureFromOpposite
    | MeasureFromLine
    | LittleWoodFromOpposite
    | LittleWoodFromLine
    | NoWoodAtCorner
    | MeasuredWood
    | FibersRise
    | PointsBreak
    | MetalUnderCutter
    | HoleNearCut
    | MetalInWood
    | KnotUnderCutter
    | LooseInWood
    | ShortStock
    | SmallParts
    | FrameCutOpen
    | FarFromScrews
    | NoBed,
    Discriminator("code"),
]

# ---- for any work that a plan asks for


@dataclass(frozen=True, slots=True, kw_only=True)
class OperatorDecides:
    """The machine's manual, local rules and a qualified person come first; the operator decides."""

    code: Literal["operator decides"] = "operator decides"


@dataclass(frozen=True, slots=True, kw_only=True)
class ReclaimedMetal:
    """Reclaimed wood may hold nails, screws and grit."""

    code: Literal["reclaimed metal"] = "reclaimed metal"


@dataclass(frozen=True, slots=True, kw_only=True)
class LooseKnots:
    """Loose knots and splits come off before machining."""

    code: Literal["loose knots"] = "loose knots"


@dataclass(frozen=True, slots=True, kw_only=True)
class GuardsOn:
    """Guards, eyes, ears, sleeves, hair; the bed is cleared before the spindle starts."""

    code: Literal["guards on"] = "guards on"


@dataclass(frozen=True, slots=True, kw_only=True)
class CrosscutSafely:
    """Boards are crosscut with gauge or sled, never against the rip fence, long ends held up."""

    code: Literal["crosscut safely"] = "crosscut safely"


@dataclass(frozen=True, slots=True, kw_only=True)
class ResawSafely:
    """Boards are resawn along a high fence, no higher and no shorter than the shop's limits."""

    code: Literal["resaw safely"] = "resaw safely"
    highest_um: int
    shortest_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class DryRun:
    """The first run is checked in air."""

    code: Literal["dry run"] = "dry run"


@dataclass(frozen=True, slots=True, kw_only=True)
class PushStick:
    """At the saw a push stick is used, so long at least, for the last so much of a cut (shop's setting)."""

    code: Literal["push stick"] = "push stick"
    stick_um: int
    last_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PushBlocks:
    """At the jointer push blocks are used below these sizes (settings of the shop's ``[machines]``).

    Pieces shorter than ``shortest_um`` do not go over it by themselves.
    """

    code: Literal["push blocks"] = "push blocks"
    length_um: int
    width_um: int
    thickness_um: int
    shortest_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class WoodDust:
    """Wood dust harms the lungs and can burn."""

    code: Literal["wood dust"] = "wood dust"


@dataclass(frozen=True, slots=True, kw_only=True)
class MdfDust:
    """Dust of MDF is very fine and holds resin."""

    code: Literal["mdf dust"] = "mdf dust"


#: A caution for any work that a plan asks for.
GeneralCaution = Annotated[
    OperatorDecides
    | ReclaimedMetal
    | LooseKnots
    | GuardsOn
    | CrosscutSafely
    | ResawSafely
    | DryRun
    | PartsComeLoose
    | PushStick
    | PushBlocks
    | WoodDust
    | MdfDust,
    Discriminator("code"),
]
