"""Settings of a shop: typed, each default in one place. Lengths in millimeters, angles in degrees.

Defaults marked P are common practice without a source, S read in the source that is named.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Annotated, Literal

from nestyield.model.errors import ModelError
from nestyield.model.own_wood import OwnWood
from nestyield.model.ranges import NotNegative, Positive, Range, check_fields

Reinforce = Literal["needed", "none", "spline", "dowel"]


@dataclass(frozen=True, slots=True, kw_only=True)
class GlueUpRules:
    """Rules of glue-ups: ``[glueup]`` of the shop file. All defaults P.

    Parameters
    ----------
    most_pieces : int
        In one blank.
    joint_cost : float
        What a joint costs in the choice: jointing, gluing, cleaning, a line to be seen; in the money of the
        rack's values, or in board feet when the shop knows no money (P: half an hour's work).
    one_board : bool
        Whether all pieces of a blank must be of one board: cut from one copy of a row, or leftovers of it.
    least_piece_width_mm : float
        Least width of a piece under a part.
    crossed_grain_deg : float
        Most between the grain of neighbors.
    crossed : {"refused", "allowed"}
        What becomes of grain crossed by more than that, and than the part's own tolerance; allowed with a
        caution.
    mixed_species : bool
        Whether neighbors may be of unlike species.
    taper_deg : float
        Most between a jointed edge and its piece's grain.
    sliver_mm : float
        No seam nearer than this to a stretch of outline along it.
    hole_clearance_mm : float
        Least wood between a seam and a drilled hole.
    rules : {"strict", "caution"}
        Whether a glue-up that breaks the rules about where seams run is refused; otherwise the one that
        breaks them least is given, with a caution, when none keeps them.
    moisture_difference : float
        Most between neighbors, points.
    reinforce : {"needed", "none", "spline", "dowel"}
        What is hidden in seams; ``needed``: a spline where grain crosses or end grain meets the seam.
    reinforce_clearance_mm : float
        Wood around splines and dowels.
    spline_thickness_mm, spline_depth_mm : float
        Of the slot; its depth goes into either edge.
    dowel_diameter_mm, dowel_depth_mm : float
        Of the hole in either edge.
    dowel_spacing_mm : float
        Most from dowel to dowel.
    clamp_force_n : float
        What one clamp of the shop gives, newtons: 1000 lbf, a bar or pipe clamp tightened by hand (P). By the
        equation of power screws a Tr 16 x 4 screw gives as much at 10 N m (D, ``tests/wood``).
    clamps : int or None
        How many of them the shop has; None: enough.
    clamp_spacing_mm : float
        No two clamps stand closer: bars above and below in turn.
    seam_tolerance_mm : float
        How far off a seam may lie once it is jointed and glued, and a layer once it is pressed (P).
    most_layers : int
        Layers of a laminated blank, one above the other; 1: nothing is laminated but parts with a cap.
    layer_cost : float
        What gluing one layer on another costs in the choice: planing two faces, gluing, pressing; in the
        money of the rack (P: an hour's work).
    """

    most_pieces: Annotated[int, Range(low=1, high=24)] = 4
    joint_cost: NotNegative = 10.0
    one_board: bool = False
    least_piece_width_mm: NotNegative = 40.0
    crossed_grain_deg: Annotated[float, Range(low=0.0, high=90.0)] = 10.0
    crossed: Literal["refused", "allowed"] = "refused"
    mixed_species: bool = False
    taper_deg: Annotated[float, Range(low=0.0, high=45.0)] = 3.0
    sliver_mm: NotNegative = 20.0
    hole_clearance_mm: NotNegative = 3.0
    rules: Literal["strict", "caution"] = "strict"
    moisture_difference: Annotated[float, Range(low=0.0, high=100.0)] = 2.0
    reinforce: Reinforce = "needed"
    reinforce_clearance_mm: NotNegative = 12.0
    spline_thickness_mm: Positive = 6.35
    spline_depth_mm: Positive = 9.5
    dowel_diameter_mm: Positive = 8.0
    dowel_depth_mm: Positive = 19.0
    dowel_spacing_mm: Positive = 150.0
    clamp_force_n: Positive = 4450.0
    clamps: Annotated[int, Range(low=1, high=10_000)] | None = None
    clamp_spacing_mm: Positive = 50.0
    seam_tolerance_mm: NotNegative = 0.3
    most_layers: Annotated[int, Range(low=1, high=3)] = 1
    layer_cost: NotNegative = 20.0

    def __post_init__(self) -> None:
        check_fields(self)

    @property
    def crossing_allowed(self) -> bool:
        """Whether grain may cross by more than the limit."""
        return self.crossed == "allowed"

    @property
    def strict(self) -> bool:
        """Whether a glue-up that breaks the rules about where seams run is refused."""
        return self.rules == "strict"


@dataclass(frozen=True, slots=True, kw_only=True)
class Season:
    """The air in which a shop's instruments live: ``[wood]`` of the shop file. Defaults P: a heated house.

    Parameters
    ----------
    humidity_low, humidity_high : float
        Relative humidity of the driest and the dampest month, percent.
    temperature : float
        Degrees C.
    """

    humidity_low: Annotated[float, Range(low=0.0, high=98.0)] = 30.0
    humidity_high: Annotated[float, Range(low=0.0, high=98.0)] = 60.0
    temperature: Annotated[float, Range(low=-1.0, high=60.0)] = 21.0

    def __post_init__(self) -> None:
        check_fields(self)
        if self.humidity_low > self.humidity_high:
            raise ModelError(
                f"expected Season.humidity_low <= humidity_high, got {self.humidity_low:g} "
                f"and {self.humidity_high:g}"
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineLimits:
    """Limits of the shop's machines: ``[machines]`` of the shop file. The machine's manual decides.

    Parameters
    ----------
    jointer_shortest_mm, jointer_narrowest_mm, jointer_thinnest_mm : float
        Least piece over the jointer (P: 12 in; shop manuals say 8 to 12. P: 3/4 in; 1/2 in).
    push_block_length_mm, push_block_width_mm, push_block_thickness_mm : float
        Below any of these a push block belongs in the hands (P: 12, 3, 3 in).
    planer_shortest_mm : float or None
        None: roller spacing + 2 in, or 12 in when that is unknown too (P).
    planer_rollers_mm : float or None
        Distance between infeed and outfeed roller.
    planer_thinnest_mm : float
        (P: 1/4 in).
    planer_widest_mm : float or None
    saw_kerf_mm : float
        What the saw takes (P: 1/8 in).
    saw_tolerance_mm : float
        How far off a saw cut to a line may be (P: 1/64 in or a little more).
    saw_cut_cost : float
        What a saw cut before the bed costs in the choice, in the money of the rack (P: a few minutes' work).
    saw_push_stick_mm : float
        A push stick for the last so many mm of a cut and all shorter cuts (S: HSE, 300 mm).
    resaw_height_mm : float or None
        The highest board on its edge that the resaw takes under its guard; None: nothing is resawn.
    resaw_kerf_mm : float
        What the resaw takes (P: 1/16 in).
    resaw_planing_mm : float
        Off each face that the resaw made, before the planing of every blank (P: 1/32 in).
    resaw_cost : float
        What a resaw cut costs in the choice, with the planing of its two faces, in the money of the rack
        (P: a quarter of an hour's work).
    resaw_shortest_mm, resaw_narrowest_mm : float
        Least length and width of a board that is resawn (P: 12 in; 2 in).
    resaw_thinnest_mm : float
        Least thickness of a leaf once it is planed flat (P: 1/4 in).
    """

    jointer_shortest_mm: Positive = 304.8
    jointer_narrowest_mm: Positive = 19.0
    jointer_thinnest_mm: Positive = 12.7
    push_block_length_mm: NotNegative = 304.8
    push_block_width_mm: NotNegative = 76.2
    push_block_thickness_mm: NotNegative = 76.2
    planer_shortest_mm: Positive | None = None
    planer_rollers_mm: Positive | None = None
    planer_thinnest_mm: Positive = 6.35
    planer_widest_mm: Positive | None = None
    saw_kerf_mm: Annotated[float, Range(low=0.0, high=20.0)] = 3.2
    saw_tolerance_mm: NotNegative = 0.5
    saw_cut_cost: NotNegative = 1.0
    saw_push_stick_mm: NotNegative = 300.0
    resaw_height_mm: Positive | None = None
    resaw_kerf_mm: Annotated[float, Range(low=0.0, high=20.0)] = 1.6
    resaw_planing_mm: NotNegative = 0.8
    resaw_cost: NotNegative = 5.0
    resaw_shortest_mm: Positive = 304.8
    resaw_narrowest_mm: NotNegative = 50.8
    resaw_thinnest_mm: Positive = 6.35

    def __post_init__(self) -> None:
        check_fields(self)

    @property
    def planer_least_length_mm(self) -> float:
        """The shortest piece for the planer, millimeters."""
        if self.planer_shortest_mm is not None:
            return self.planer_shortest_mm
        return 304.8 if self.planer_rollers_mm is None else self.planer_rollers_mm + 50.8


@dataclass(frozen=True, slots=True, kw_only=True)
class Holding:
    """How pins and screws hold a blank: ``[holding]`` of the shop file. All defaults P.

    Parameters
    ----------
    defect_clearance_mm : float
        Least wood between a pin or screw head and a defect, stain and sapwood apart.
    edge_clearance_mm : float
        Least wood between a pin or screw head and the edge of the blank.
    tabs : int
        How many tabs are listed for each outline that is cut through; 0 for none.
    tab_width_mm : float
        Along the outline.
    flip_tolerance_mm : float
        How far off a blank may lie each time it is turned over or moved on, on pins or against an edge.
    """

    defect_clearance_mm: NotNegative = 5.0
    edge_clearance_mm: NotNegative = 6.0
    tabs: Annotated[int, Range(low=0, high=24)] = 4
    tab_width_mm: Positive = 8.0
    flip_tolerance_mm: NotNegative = 0.15

    def __post_init__(self) -> None:
        check_fields(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class Preferences:
    """Which of equally good places is taken, and what is watched: ``[prefer]`` of the shop file.

    Parameters
    ----------
    largest_leftover : float
        Weight of keeping the largest strip beside or beyond the part.
    center_figure : float
        Weight of keeping the middle of the part on the middle of the blank, across the grain.
    short_grain : float
        Weight of turning so that less of the outline runs out across short grain.
    narrow_point_mm : float
        Points narrower than this are watched for tear-out; 0 for none.
    feed : {"conventional", "climb"}
        How the cutter goes around.
    hole_clearance_mm : float
        Wood wanted between what is cut and metal, holes of nails and screws, and mortises (P: 3 mm). Kept
        where there is room for it, else told.
    """

    largest_leftover: NotNegative = 1.0
    center_figure: NotNegative = 0.0
    short_grain: NotNegative = 0.0
    narrow_point_mm: NotNegative = 12.0
    feed: Literal["conventional", "climb"] = "conventional"
    hole_clearance_mm: NotNegative = 3.0

    def __post_init__(self) -> None:
        check_fields(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class ValueClass:
    """What stock of at least some size is worth.

    Parameters
    ----------
    least_length_mm, least_width_mm, least_thickness_mm : float
        Along the grain, area over length, and thickness; millimeters.
    species : tuple of str
        Only these; empty: any.
    times : float
        So many times the value of the species.
    per_board_foot : float or None
        Money a board foot, instead of ``times``.
    """

    least_length_mm: NotNegative = 0.0
    least_width_mm: NotNegative = 0.0
    least_thickness_mm: NotNegative = 0.0
    species: tuple[str, ...] = ()
    times: NotNegative = 1.0
    per_board_foot: NotNegative | None = None

    def __post_init__(self) -> None:
        check_fields(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """Every setting of the shop file that is not a part, bed or order. Lengths in millimeters.

    Parameters
    ----------
    chord_error_mm : float
        Largest distance between an arc and its chords.
    chaining_mm : float
        Largest gap closed between the ends of drawing entities.
    cutter_diameter_mm : float
    between_parts_mm : float or None
        Gap between parts; None means cutter diameter + 3 mm (P).
    blank_margin_mm : float
        Least wood between a part's outline and the edge of the blank (P: 6.35).
    jointing_mm : float
        Taken off each jointed edge (P: 0.8).
    planing_mm : float
        Taken off each face before routing (P: 0.8); nothing on sheets without grain.
    most_planed_away_mm : float
        A piece thicker than the part by more than this is not spent on it. Sheets are not planed: they may
        be thicker by the thickness tolerance only.
    thickness_tolerance_mm : float
        A sheet or piece thinner than nominal by up to this still serves.
    measured_mm : float
        How far off outlines and flaws of the rack may be, where a row does not say.
    rough_edge_mm : float
        Strip along an edge that the rack calls rough or live, which parts keep out of (P: 1/2 in).
    about_mm : float
        How far off the place of a flaw may be that the rack gives as "about" (P: 1/2 in).
    leftover_shortest_mm, leftover_narrowest_mm : float
        Least rectangle worth putting back.
    leftover_cut : {"saw", "outline"}
        What is kept of the wood around the parts: rectangles along the grain that straight saw lines cut
        off, or all of it that lies in some rectangle of the least size, by its exact outline.
    leftover_worth : float
        What comes back counts for so much of its value in the choice, 0 to 1 (P: half).
    value_per_board_foot : dict of str to float
        By species; ``""`` is the default for species not named.
    currency : str
        In which money is printed, ``EUR`` or ``$``; ``""``: plain numbers.
    paper : {"a4", "letter", "both"}
        Of sheets and templates.
    both_directions : bool
        Whether drawings are also made with the blank along the other axis, and the least travel of each part
        is told: for a plan that is given to owners of other beds.
    value_classes : tuple of ValueClass
        By thickness and size; the first that stock is large enough for counts.
    own_woods : tuple of OwnWood
        Woods with the maker's own figures, before those of the species table.
    glueup : GlueUpRules
    wood : Season
    machines : MachineLimits
    holding : Holding
    prefer : Preferences
    """

    chord_error_mm: Annotated[float, Range(above=0.0, high=1.0)] = 0.02
    chaining_mm: Annotated[float, Range(low=0.0, high=5.0)] = 0.1
    cutter_diameter_mm: Positive
    between_parts_mm: NotNegative | None = None
    blank_margin_mm: NotNegative = 6.35
    jointing_mm: NotNegative = 0.8
    planing_mm: NotNegative = 0.8
    most_planed_away_mm: NotNegative = 12.0
    thickness_tolerance_mm: NotNegative = 0.15
    measured_mm: NotNegative = 0.0
    rough_edge_mm: NotNegative = 12.7
    about_mm: NotNegative = 12.7
    leftover_shortest_mm: NotNegative = 200.0
    leftover_narrowest_mm: NotNegative = 50.0
    leftover_cut: Literal["saw", "outline"] = "saw"
    leftover_worth: Annotated[float, Range(low=0.0, high=1.0)] = 0.5
    value_per_board_foot: dict[str, float] = field(default_factory=dict)
    currency: str = ""
    paper: Literal["a4", "letter", "both"] = "both"
    both_directions: bool = False
    value_classes: tuple[ValueClass, ...] = ()
    own_woods: tuple[OwnWood, ...] = ()
    effort: Annotated[int, Range(low=0, high=1000)] = 3
    seconds: Positive = 600.0
    seed: Annotated[int, Range(low=0, high=2**63 - 1)] = 1
    workers: Annotated[int, Range(low=1, high=256)] = 2
    glueup: GlueUpRules = GlueUpRules()
    wood: Season = Season()
    machines: MachineLimits = MachineLimits()
    holding: Holding = Holding()
    prefer: Preferences = Preferences()

    def __post_init__(self) -> None:
        check_fields(self)

    @property
    def gap_mm(self) -> float:
        """Least distance between the outlines of two parts, millimeters."""
        return self.cutter_diameter_mm + 3.0 if self.between_parts_mm is None else self.between_parts_mm
