"""What comes out: placements on blanks, setups, seams, leftovers, and the whole plan."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from nestyield.model.bed import Setup
from nestyield.model.facts.beds import BedPassedOver
from nestyield.model.facts.cautions import PlanCaution
from nestyield.model.facts.hazards import Caution, GeneralCaution
from nestyield.model.facts.reasons import Reason
from nestyield.model.facts.search import LayoutsTried, Untried
from nestyield.model.facts.wood import WoodFact
from nestyield.model.finding import Finding
from nestyield.model.glueup import GlueUp
from nestyield.model.inspection import Inspection
from nestyield.model.laminate import Laminate
from nestyield.model.layer import Layer, StackLayer
from nestyield.model.leftover import Leftover
from nestyield.model.off_by import OffBy
from nestyield.model.on_edge import OnEdge, Strip
from nestyield.model.outline import Shape
from nestyield.model.piece import Defect, Seam
from nestyield.model.proof import Certificate
from nestyield.model.sawing import Sawing
from nestyield.model.shop import Shop
from nestyield.model.slack import Fill, Slack, TearOutRisk
from nestyield.model.weight import PartWeight
from nestyield.model.work import WorkPlan

SCHEMA = "nestyield plan 2"


@dataclass(frozen=True, slots=True, kw_only=True)
class Placement:
    """Where one copy of a part lies in a blank.

    A point of the part's drawing is mirrored in X if ``mirrored`` (x becomes -x), then turned
    counter-clockwise about the origin by ``angle_deg``, rounded to whole micrometers, then
    shifted by (``x_um``, ``y_um``). The result is in the blank's coordinates, seen from its top.

    Parameters
    ----------
    part : str
    order : str
    copy : int
        1 for the first copy of its order.
    angle_deg : float
    mirrored : bool
    x_um, y_um : int
        Shift, micrometers.
    front_up : bool
        Whether the part's front face lies on the blank's top face. A part whose back lies on top is
        seen mirrored: then ``mirrored`` is true for a part that is cut as drawn.
    top_off_mm : float or None
        Planed off the blank's top face, the rest off its bottom; None for half and half.
    """

    part: str
    order: str
    copy: int
    angle_deg: float
    mirrored: bool
    x_um: int
    y_um: int
    front_up: bool = True
    top_off_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Member:
    """A rack piece as it lies in a blank; transformed as a ``Placement`` is.

    Parameters
    ----------
    piece : str
    copy : int
        Which of the row's copies, from 1.
    angle_deg, mirrored, x_um, y_um
        As in Placement; all zero for a blank of a single piece. ``mirrored`` means bottom face up.
    cut : Shape or None
        What of the piece becomes this member when several members come out of one copy, or when the blank is
        sawn off its piece, in the piece's coordinates; None for all of it. Members of one copy lie at least
        the saw's kerf apart in it.
    layer : Layer or None
        Which of the piece's thickness it is, where the piece is resawn into leaves: then ``cut`` is all of
        the piece. None for all of the thickness.
    strip : Strip or None
        How what is sawn off is turned by a quarter onto its edge, in a blank of strips; None for wood that
        lies flat.
    """

    piece: str
    copy: int
    angle_deg: float = 0.0
    mirrored: bool = False
    x_um: int = 0
    y_um: int = 0
    cut: Shape | None = None
    layer: Layer | None = None
    strip: Strip | None = None

    @property
    def label(self) -> str:
        """Name of the piece, with ``/2`` for the second copy of a row."""
        return self.piece if self.copy == 1 else f"{self.piece}/{self.copy}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Blank:
    """What goes on the bed: one piece or a glue-up.

    Parameters
    ----------
    name : str
        The piece's name (with ``/2`` for the second copy of a row), or ``glue-up 1`` ...
    members : tuple of Member
    species : str
        Of all members; unlike ones joined by `` + ``, in their order.
    thickness_mm : float
    shape : Shape
        Blank coordinates, millimeters.
    grain_deg : float or None
    seams : tuple of Seam
    defects : tuple of Defect
    measured_mm : float
        How far off its outline and its defects may be: that of its piece. A glue-up is made of what its
        pieces hold in any case, so it is 0.
    stack : tuple of StackLayer
        Of a blank that is laminated: where each member lies in its thickness, from the top down. Empty for
        others, whose members lie side by side.
    """

    name: str
    members: tuple[Member, ...]
    species: str
    thickness_mm: float
    shape: Shape
    grain_deg: float | None
    seams: tuple[Seam, ...] = ()
    defects: tuple[Defect, ...] = ()
    measured_mm: float = 0.0
    stack: tuple[StackLayer, ...] = ()

    @property
    def on_edge(self) -> bool:
        """Whether it is glued from strips that are turned onto their edges."""
        return any(m.strip is not None for m in self.members)

    @property
    def copies(self) -> tuple[tuple[str, int], ...]:
        """Pieces spent and which copy of each, every copy once, in the order of members."""
        return tuple(dict.fromkeys((m.piece, m.copy) for m in self.members))

    @property
    def stock(self) -> tuple[str, ...]:
        """Labels of the pieces spent, every copy once, in the order of members."""
        return tuple(dict.fromkeys(m.label for m in self.members))


@dataclass(frozen=True, slots=True, kw_only=True)
class SeamUnderPart:
    """A seam where it runs under a part.

    Parameters
    ----------
    seam : str
    placement : int
        Index in the layout's placements.
    length_mm : float
        Length inside the part's outline.
    zones : tuple of (str, float)
        Zones that it crosses, with the length inside each, millimeters.
    visible : tuple of {"front", "back", "edge"}
        Where a player would see it.
    wood_left_mm : tuple of (str, float)
        Zones of these from which wood is cut, with the least thickness that stays at the seam there.
    """

    seam: str
    placement: int
    length_mm: float
    zones: tuple[tuple[str, float], ...] = ()
    visible: tuple[Literal["front", "back", "edge"], ...] = ()
    wood_left_mm: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """One blank and all that lies on it.

    Parameters
    ----------
    blank : Blank
    placements : tuple of Placement
    setups : tuple of Setup
        Every bed that the orders allow, along X and along Y, in file order: the preferred bed first.
    chosen : int or None
        Index of the setup to use.
    passed_over : tuple of BedPassedOver
        Beds that stand before the chosen one in the shop file, in that order, and why they are not used.
    seams : tuple of SeamUnderPart
    leftovers : tuple of Leftover
    part_area_mm2, stock_area_mm2, usable_area_mm2 : float
        Wood in parts, in the pieces taken, and in usable leftovers and strips ripped off pieces of a glue-up.
    board_feet : float
        Of the pieces taken, each at its own thickness.
    value : float
        Of the stock taken, in the maker's money.
    work : WorkPlan or None
        Faces, flip axis, pins and screws on the chosen bed; None when there is no chosen bed.
    rooms : tuple of Slack
        One for each placement, in their order: how far it may still be shifted and turned.
    watch : tuple of TearOutRisk
        Stretches of outline where the edge may tear, by placement, along the outline.
    fills : tuple of Fill
        Defects that stay in parts and are filled, with how much filler.
    inspection : Inspection or None
        What its wood asks of whoever measures and cuts it.
    cautions : tuple of Caution
        Of the wood and the parts on it; those of the setup on the bed are in ``work``.
    wood : tuple of WoodFact
        What the wood of a blank with seams will do, and the rules about seams that it breaks.
    weights : tuple of PartWeight
        What each part weighs when it is finished, in the order of the placements; empty in plans of earlier
        versions.
    glueup : GlueUp or None
        How the blank is glued up; None for one that is not glued up from pieces of the rack.
    laminate : Laminate or None
        How the blank is laminated; None for one that is not.
    on_edge : OnEdge or None
        How the blank is glued from strips on edge; None for one that is not.
    off : OffBy or None
        By how much it can be off; None in plans of earlier versions.
    """

    blank: Blank
    placements: tuple[Placement, ...]
    setups: tuple[Setup, ...]
    chosen: int | None
    passed_over: tuple[BedPassedOver, ...] = ()
    seams: tuple[SeamUnderPart, ...] = ()
    leftovers: tuple[Leftover, ...] = ()
    part_area_mm2: float
    stock_area_mm2: float
    usable_area_mm2: float
    board_feet: float
    value: float
    work: WorkPlan | None = None
    rooms: tuple[Slack, ...] = ()
    watch: tuple[TearOutRisk, ...] = ()
    fills: tuple[Fill, ...] = ()
    weights: tuple[PartWeight, ...] = ()
    glueup: GlueUp | None = None
    inspection: Inspection | None = None
    cautions: tuple[Caution, ...] = ()
    wood: tuple[WoodFact, ...] = ()
    laminate: Laminate | None = None
    on_edge: OnEdge | None = None
    off: OffBy | None = None


#: What the choice aims at, in the order in which it counts.
Goal = Literal["copies", "sawn apart", "weight", "value", "wood", "seams"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Objective:
    """One aim of the choice, as it was reached; an earlier aim is never given up for a later one.

    Parameters
    ----------
    goal : {"copies", "sawn apart", "weight", "value", "wood", "seams"}
        Copies placed; members beyond the first out of one piece; weight of parts that are to be as light
        as can be, kg; value of the stock taken less what comes back, and of joints, the maker's money;
        wood used up, board feet; length of seams under parts, mm.
    orders : tuple of str
        Whose copies; empty for other goals.
    value : float
        What the plan reaches.
    bound : float
        What no choice from the same pool of candidates can beat, earlier aims kept.
    proven : bool
        Whether value and bound are the same by proof.
    """

    goal: Goal
    orders: tuple[str, ...] = ()
    value: float
    bound: float
    proven: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Purchase:
    """The least stock to buy so that what is missing of an order can be made.

    Parameters
    ----------
    order : str
    count : int
        Pieces of this size, one for each missing copy.
    species : tuple of str
        Any of these serve; empty means any.
    thickness_mm : float
        Least thickness before planing.
    length_mm, width_mm : float
        Least size along and across the grain, margins included.
    board_feet : float
        All pieces together.
    panel_mm : (float, float) or None
        For sheet material, the least usual panel that such a piece can be cut from; None when there is none.
    density_kg_m3 : (float or None, float or None) or None
        Least and most density with which the part is in its range of weight; None when it has none.
    layer : {"", "cap", "core"}
        Which layer of a part with a cap it is for; such an order may be told twice.
    """

    order: str
    count: int
    species: tuple[str, ...]
    thickness_mm: float
    length_mm: float
    width_mm: float
    board_feet: float
    panel_mm: tuple[float, float] | None = None
    density_kg_m3: tuple[float | None, float | None] | None = None
    layer: Literal["", "cap", "core"] = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderResult:
    """What became of an order.

    Parameters
    ----------
    order : str
    placed : int
        Copies placed, of the order's count.
    count : int
        Copies ordered.
    reasons : tuple of Reason
        Why the rest could not be placed, most telling first.
    certificates : tuple of Certificate
        Proofs that single pieces do not hold the part, in rack order.
    """

    order: str
    placed: int
    count: int
    reasons: tuple[Reason, ...] = ()
    certificates: tuple[Certificate, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherWay:
    """A blank that could be made instead of one of the plan, all other blanks staying as they are.

    Parameters
    ----------
    instead_of : str
        Name of the plan's blank.
    blank : Blank
        From pieces that the rest of the plan leaves free.
    placements : tuple of Placement
        The same parts for the same orders.
    value : float
        Of the stock taken, the maker's money.
    back : float
        Of the usable leftovers.
    costs_more : float
        How much more the plan would cost by the aim "value": stock taken, less what comes back as far as that
        counts, and joints. Negative when it costs less, and an earlier aim stands against it.
    used_up : float
        Wood taken and not given back as usable leftovers, board feet.
    part_area_mm2, stock_area_mm2 : float
        Wood in parts and in the pieces taken.
    seams_mm : float
        Length of seams under parts.
    """

    instead_of: str
    blank: Blank
    placements: tuple[Placement, ...]
    value: float
    back: float
    costs_more: float
    used_up: float
    part_area_mm2: float
    stock_area_mm2: float
    seams_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """A finished plan. Everything on paper is rebuilt from this and nothing else.

    Parameters
    ----------
    schema : str
    shop : Shop
        What was read, in millimeters, with the hashes of the files it was read from.
    seed, effort : int
    stopped : str
        ``""``, or why the run ended early (``seconds``, ``interrupt``).
    layouts : tuple of Layout
    orders : tuple of OrderResult
    objectives : tuple of Objective
        In the order in which they count.
    purchases : tuple of Purchase
        What to buy for orders that could not be met, in the order in which they are served.
    intake : tuple of Finding
        What was found while reading the shop, and accepted blanks that no longer hold.
    notices : tuple of PlanCaution
        What planning itself has to say of the plan as a whole.
    cautions : tuple of GeneralCaution
        For any work that the plan asks for.
    sawings : tuple of Sawing
        Pieces that are sawn into blanks before any of them goes on a bed, by row of the rack.
    other_ways : tuple of OtherWay
        The runners-up for each blank, best first, blanks in their order; made from what was tried.
    tried : LayoutsTried or None
        What the plan was chosen from; None for a plan that was not chosen.
    untried : tuple of Untried
        What was not tried, with or without loss.
    """

    schema: str = SCHEMA
    shop: Shop
    seed: int
    effort: int
    stopped: str = ""
    layouts: tuple[Layout, ...]
    orders: tuple[OrderResult, ...]
    objectives: tuple[Objective, ...] = ()
    purchases: tuple[Purchase, ...] = ()
    intake: tuple[Finding, ...] = ()
    notices: tuple[PlanCaution, ...] = ()
    cautions: tuple[GeneralCaution, ...] = ()
    sawings: tuple[Sawing, ...] = ()
    other_ways: tuple[OtherWay, ...] = ()
    tried: LayoutsTried | None = None
    untried: tuple[Untried, ...] = ()

    def leftover_thickness_mm(self, layout: Layout) -> float:
        """Return how thick the leftovers of a layout are, millimeters.

        Solid wood is planed to the finished thickness (of the thickest part on it) before routing; a sheet
        without grain keeps its thickness.
        """
        blank = layout.blank
        if blank.grain_deg is None or not layout.placements:
            return blank.thickness_mm
        return min(blank.thickness_mm, max(self.shop.part(p.part).thickness_mm for p in layout.placements))
