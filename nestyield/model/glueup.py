"""How a blank is glued up: what is marked, ripped, jointed, slid, slotted and clamped, in which order."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from nestyield.model.arc import Point
from nestyield.model.errors import ModelError
from nestyield.model.facts.glue import GlueCaution, Reinforcement, ReinforcementConflict
from nestyield.model.facts.glue_steps import GlueStep
from nestyield.model.facts.joints import JointNote
from nestyield.model.facts.machines import MachineRule
from nestyield.model.facts.sources import Mark, SourceKey
from nestyield.model.outline import Outline, Shape

BoardFace = Literal["up", "down"]


@dataclass(frozen=True, slots=True, kw_only=True)
class GlueEdge:
    """One edge of a member that is ripped and jointed to a seam.

    Left and right are those of the blank as it lies: left is where the seam begins.

    Parameters
    ----------
    seam : str
    upper : bool
        Whether the neighbor lies beyond the member's upper edge.
    line_mm : (point, point)
        The jointed edge on this member from left to right, blank coordinates.
    on_piece_mm : (point, point)
        The same two points measured on the piece from its ``corner_mm``: along and across.
    rip_on_piece_mm : (point, point)
        Where the saw cuts: the same line, full by the jointing allowance; measured as ``on_piece_mm``.
    off_at_mm : (float, float)
        Where the two figures of ``off_mm`` are taken, from the left end of the jointed edge: 25 mm (1 in) in
        from either end.
    off_mm : (float, float)
        Width of the piece beyond the jointed edge there, jointing allowance included.
    mark_mm : float
        From the left end of the jointed edge to the mark that meets the neighbor's.
    mark_at_mm : point
        That mark, blank coordinates.
    """

    seam: str
    upper: bool
    line_mm: tuple[Point, Point]
    on_piece_mm: tuple[Point, Point]
    rip_on_piece_mm: tuple[Point, Point]
    off_at_mm: tuple[float, float]
    off_mm: tuple[float, float]
    mark_mm: float
    mark_at_mm: Point


@dataclass(frozen=True, slots=True, kw_only=True)
class RipOffcut:
    """A piece of wood that a member loses when it is ripped.

    Parameters
    ----------
    seam : str
        Of the cut that takes it off.
    shape : Shape
        Blank coordinates, jointing allowance and kerf of the saw left out.
    area_mm2 : float
        Of the shape.
    length_mm, width_mm : float
        Largest rectangle in it along the joint.
    usable : bool
        Whether that rectangle reaches the shop's least size of a leftover.
    value : float or None
        What it is worth, rough as it is; 0 when it is not usable. None in plans of earlier versions, whose
        aims leave it out.
    """

    seam: str
    shape: Shape
    area_mm2: float
    length_mm: float
    width_mm: float
    usable: bool
    value: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class GlueMember:
    """One piece as it goes into a glue-up; they stand in the order of the blank's members, lowest first.

    Parameters
    ----------
    letter : str
        What the maker writes on it, ``A`` is lowest.
    top_up : bool
        Whether the piece's top face lies up.
    end_for_end : bool
        Whether the end where its length begins lies at the right.
    turned_deg : float
        Turn from lying along the joints, either end first; not zero where a tapered or slanting piece is
        brought to the joint.
    as_on_rack : bool
        Whether places on it are measured as on the rack: along its length and across, from the corner where
        these begin (of what is sawn from it, where several members come out of one piece). Otherwise, for
        pieces that lie askew or have no such corner: along the joint and square to it, as it lies.
    corner_mm : point
        Where that corner lies, or the lower left of the box around the piece as it lies; blank coordinates.
    size_mm : (float, float)
        Greatest extent along and across, before it is ripped.
    wood : tuple of Shape
        What stays of it in the blank, blank coordinates.
    edges : tuple of GlueEdge
        Lower one first.
    strips : tuple of RipOffcut
    loses_mm2 : float
        Area that comes off in all, jointing allowance included.
    rough_mm, planed_mm : float
        Thickness on the rack and when it is glued.
    planed_from : {"up", "down"}
        As it lies, the face from which that comes off; flaws of less than the whole thickness go first.
    machine_rules : tuple of MachineRule
        What to mind before it goes to a machine.
    """

    letter: str
    top_up: bool
    end_for_end: bool
    turned_deg: float
    as_on_rack: bool
    corner_mm: Point
    size_mm: tuple[float, float]
    wood: tuple[Shape, ...]
    edges: tuple[GlueEdge, ...]
    strips: tuple[RipOffcut, ...] = ()
    loses_mm2: float
    rough_mm: float
    planed_mm: float
    planed_from: BoardFace = "down"
    machine_rules: tuple[MachineRule, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossing:
    """A zone of a part that a seam runs through.

    Parameters
    ----------
    placement : int
        Index in the layout's placements.
    zone : str
    face : {"up", "down", "through"}
        Face of the blank from which the zone is cut.
    length_mm : float
        Of the seam in the zone.
    wood_left_mm : float
        Least thickness of wood that stays at the seam there, with all that is cut from the other face.
    """

    placement: int
    zone: str
    face: Literal["up", "down", "through"]
    length_mm: float
    wood_left_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class GlueSeam:
    """A joint of a glue-up; they stand in the order of the blank's seams.

    Parameters
    ----------
    seam : str
    lower, upper : str
        Letters of the members that meet there.
    from_edge_mm : (float, float)
        Of its left and right end from the lower datum edge of the blank.
    length_mm : float
        Where both members are.
    slide_mm : float
        How far the left end of the upper member's edge lies to the right of that of the lower member.
    joint : JointNote
        How the grain meets it.
    crossings : tuple of Crossing
    visible : tuple of str
        ``front``, ``back``, ``edge``: where a player would see it on any part.
    step_flatsawn_mm, step_quartersawn_mm, step_unlike_mm : float
        Largest step at the seam over the season with both sides flatsawn, both quartersawn, and one of each.
    mismatch_mm : float
        By how much the sides would differ in length over the season if they were free.
    moisture_points : float or None
        Between the two pieces; None when one is not known.
    """

    seam: str
    lower: str
    upper: str
    from_edge_mm: tuple[float, float]
    length_mm: float
    slide_mm: float
    joint: JointNote
    crossings: tuple[Crossing, ...] = ()
    visible: tuple[Literal["front", "back", "edge"], ...] = ()
    step_flatsawn_mm: float = 0.0
    step_quartersawn_mm: float = 0.0
    step_unlike_mm: float = 0.0
    mismatch_mm: float = 0.0
    moisture_points: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class JointReinforcement:
    """A spline or dowel hidden in a seam.

    Parameters
    ----------
    name : str
        ``spline 1``, ``dowel 1`` ...
    seam : str
    kind : {"spline", "dowel"}
    line_mm : (point, point)
        Its ends along the seam, blank coordinates; the same point twice for a dowel.
    along_mm : (float, float)
        From the mark of the seam to its left and right end, right positive.
    depth_mm : float
        Of slot or hole, into each of the two edges.
    thick_mm : float
        Width of the slot, or diameter of the dowel.
    below_top_mm : float
        Its middle below the face that lies up, when the pieces are planed for gluing.
    outline : Outline
        Of slot or holes seen from above, both edges together, blank coordinates.
    """

    name: str
    seam: str
    kind: Reinforcement
    line_mm: tuple[Point, Point]
    along_mm: tuple[float, float]
    depth_mm: float
    thick_mm: float
    below_top_mm: float
    outline: Outline

    def __post_init__(self) -> None:
        if not (self.depth_mm > 0 and self.thick_mm > 0):
            raise ModelError(
                f"expected depth and thickness > 0 for {self.name}, got {self.depth_mm:g} x {self.thick_mm:g}"
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Clamps:
    """Clamps across all seams of a blank; the longest seam decides, as every seam bears the same force.

    Parameters
    ----------
    seam : str
        Which one that is.
    pressure_psi : (float, float)
        Least and most on that seam, pounds-force a square inch.
    force_n : (float, float)
        Of all clamps together, newtons.
    clamp_n : float
        What one clamp of the shop gives, newtons.
    needed : int
        How many of them the least pressure and the widest spacing ask for.
    each_n : (float, float)
        How hard to set each of those in ``at_mm``, least and most, newtons; no more than it gives.
    reached_psi : float
        Pressure when each gives all it can, at most the highest that is asked for.
    limit : {"none", "owned", "room"}
        Why there are fewer in ``at_mm`` than needed: the shop has no more, or no more stand along the seam.
    at_mm : tuple of float
        Of each clamp from the left datum edge of the blank.
    slips_mm : tuple of float
        Those of ``at_mm`` where a clamp finds no edge, or one at more than 15 degrees to the seam.
    first_mm, spacing_mm : float
        From the left end of that seam to the first clamp, and between neighbors.
    density : {"soft", "medium", "dense"}
        Of the softest wood in the blank.
    source : SourceKey
    """

    seam: str
    pressure_psi: tuple[float, float]
    force_n: tuple[float, float]
    clamp_n: float
    needed: int
    each_n: tuple[float, float]
    reached_psi: float
    limit: Literal["none", "owned", "room"]
    at_mm: tuple[float, ...]
    slips_mm: tuple[float, ...] = ()
    first_mm: float
    spacing_mm: float
    density: Literal["soft", "medium", "dense"]
    source: SourceKey


@dataclass(frozen=True, slots=True, kw_only=True)
class Movement:
    """How much a width moves over the season.

    Parameters
    ----------
    what : str
        A member's letter, or ``blank``.
    species : str
    width_mm : float
        Across the joints.
    quartersawn_mm, flatsawn_mm : float or None
        From the driest to the dampest; None where the species has no figures.
    marks : tuple of {"S", "M", "D", "P", "O"}
        How far the species' figures can be trusted; empty where there are none.
    """

    what: str
    species: str
    width_mm: float
    quartersawn_mm: float | None
    flatsawn_mm: float | None
    marks: tuple[Mark, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceCut:
    """A straight cut right through a piece of the rack, before anything else, that gives two members.

    Parameters
    ----------
    piece : str
    copy : int
    before, after : str
        Letters of the members on either side: the first nearer to the corner where length and width begin.
    across : bool
        Across the grain, or along it.
    line_mm : (point, point)
        Middle of the kerf from edge to edge, measured on the piece as it stands on the rack: along its length
        and across, from that corner.
    kerf_mm : float
        Slack for the saw between the two.
    """

    piece: str
    copy: int
    before: str
    after: str
    across: bool
    line_mm: tuple[Point, Point]
    kerf_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class GlueUp:
    """All that it takes to glue a blank up from pieces of the rack.

    Parameters
    ----------
    members : tuple of GlueMember
    seams : tuple of GlueSeam
    cuts : tuple of PieceCut
        Of pieces that give several members.
    keys : tuple of JointReinforcement
        Splines and dowels, by seam, from left to right.
    conflicts : tuple of ReinforcementConflict
        What keeps splines or dowels out of where they were asked for.
    clamps : Clamps
    humidity_pct, moisture_pct : (float, float)
        The season: driest and dampest air, and the moisture that wood comes to in it.
    temperature_c : float
        Of that air, degrees Celsius.
    movement : tuple of Movement
        Members, then the blank.
    thickness_mm : float
        When glued.
    top_off_mm, bottom_off_mm : float
        Planed off the blank afterwards, to the finished thickness.
    steps : tuple of GlueStep
        Order of work.
    cautions : tuple of GlueCaution
        In addition to the rules of the members' machines, the conflicts, and the facts of the wood.
    """

    members: tuple[GlueMember, ...]
    seams: tuple[GlueSeam, ...]
    cuts: tuple[PieceCut, ...] = ()
    keys: tuple[JointReinforcement, ...] = ()
    conflicts: tuple[ReinforcementConflict, ...] = ()
    clamps: Clamps
    humidity_pct: tuple[float, float]
    moisture_pct: tuple[float, float]
    temperature_c: float
    movement: tuple[Movement, ...]
    thickness_mm: float
    top_off_mm: float
    bottom_off_mm: float
    steps: tuple[GlueStep, ...]
    cautions: tuple[GlueCaution, ...] = ()
