"""Every key of the shop file: section, kind, default and range, in one table.

To add a setting, add a line here and name it in README; a test keeps the two in step. Keys of
``[glueup]``, ``[wood]``, ``[machines]``, ``[holding]`` and ``[prefer]`` are the fields of a type in
``model/settings.py``, which gives kind, choices and default: lengths are ``KEY_mm``, forces ``KEY_n``,
angles ``KEY_deg``, others ``KEY``.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import Any, Literal

from nestyield.model.bed import Bed
from nestyield.model.ranges import allowed
from nestyield.model.roles import ROLES
from nestyield.model.settings import GlueUpRules, Holding, MachineLimits, Preferences, Season, Settings

Kind = Literal[
    "length",
    "force",
    "density",
    "angle",
    "number",
    "integer",
    "text",
    "flag",
    "choice",
    "choices",
    "names",
    "date",
    "special",
]


class Required:
    """Marks a key without default."""

    def __repr__(self) -> str:
        return "required"


REQUIRED = Required()


@dataclass(frozen=True, slots=True, kw_only=True)
class Key:
    """One key of the shop file.

    Parameters
    ----------
    section : str
        Section, with ``*`` for a name that the maker gives.
    name : str
    kind : str
        ``length`` (number in shop units or text), ``force`` (newtons, pounds-force in an inch shop, or text),
        ``density`` (kg/m3, lb/ft3 in an inch shop, or text), ``angle`` (degrees), ``number``, ``integer``,
        ``text``, ``flag``, ``choice``, ``choices`` (list), ``names`` (text or list), ``date``, or
        ``special``: read by its own code.
    default : object
        Lengths in mm; ``REQUIRED`` when the key must be there.
    above, low, high : float or None
        Range: more than ``above``, from ``low`` to ``high``; lengths in mm.
    choices : tuple of str
    doc : str
        What it means, one line.
    """

    section: str
    name: str
    kind: Kind
    default: Any = None
    above: float | None = None
    low: float | None = None
    high: float | None = None
    choices: tuple[str, ...] = ()
    doc: str = ""

    @property
    def stored_as(self) -> str:
        """Name under which a section's dict holds the value."""
        return self.name + {"length": "_mm", "force": "_n", "angle": "_deg"}.get(self.kind, "")


def _keys(section: str, *rows: tuple[str, Kind, Any, dict[str, Any], str]) -> list[Key]:
    return [
        Key(section=section, name=name, kind=kind, default=default, doc=doc, **rest)
        for name, kind, default, rest, doc in rows
    ]


_POSITIVE = {"above": 0.0}
_NOT_NEGATIVE = {"low": 0.0}
_SHRINKAGE = {"low": 0.5, "high": 25.0}
_DRAWING_UNITS = {"choices": ("mm", "cm", "m", "in", "ft")}

#: Sections that arrive in ``Settings`` as a type of their own, under the section's name.
TYPED_SECTIONS: dict[str, type] = {
    "glueup": GlueUpRules,
    "wood": Season,
    "machines": MachineLimits,
    "holding": Holding,
    "prefer": Preferences,
}


def _kind(name: str, kind: Any) -> tuple[Kind, tuple[str, ...]]:
    """Return kind and choices of a field of a settings type."""
    if name.endswith("_mm"):
        return "length", ()
    if name.endswith("_n"):
        return "force", ()
    if name.endswith("_deg"):
        return "angle", ()
    if isinstance(kind, tuple):
        return "choice", kind
    plain: dict[Any, Kind] = {bool: "flag", int: "integer", float: "number"}
    return plain[kind], ()


def _of_type(section: str, of: type, prefix: str, docs: dict[str, str]) -> list[Key]:
    """Return a key for each field named: default, choices and range as the type has them."""
    fields, usual = allowed(of), {f.name: f.default for f in dataclasses.fields(of)}
    out = []
    for name, doc in docs.items():
        may = fields[prefix + name]
        kind, choices = _kind(name, may.kind)
        default = usual[prefix + name]
        key = Key(
            section=section,
            name=name.removesuffix("_mm").removesuffix("_n").removesuffix("_deg"),
            kind=kind,
            default=REQUIRED if default is dataclasses.MISSING else default,
            above=may.range.above,
            low=may.range.low,
            high=may.range.high,
            choices=choices,
            doc=doc,
        )
        out.append(key)
    return out


def _typed(section: str, **docs: str) -> list[Key]:
    """Return the keys of a section that is a type of its own: all its fields, and what each means."""
    of = TYPED_SECTIONS[section]
    if unlike := set(docs) ^ set(allowed(of)):
        raise RuntimeError(f"[{section}]: keys and fields of {of.__name__} differ: {sorted(unlike)}")
    return _of_type(section, of, "", docs)


def _settings(section: str, prefix: str = "", /, **docs: str) -> list[Key]:
    """Return the keys of a section whose values are fields of ``Settings``."""
    return _of_type(section, Settings, prefix, docs)


#: Fields of ``Bed`` whose keys are read as they stand.
BED_FIELDS = {
    "travel_x_mm": "how far the cutter's center moves along X",
    "travel_y_mm": "how far the cutter's center moves along Y",
    "travel_z_mm": "how far the cutter moves up and down",
    "pin_diameter_mm": "of locating pins; 0: none",
}

KEYS: tuple[Key, ...] = tuple(
    _keys(
        "shop",
        ("name", "text", "", {}, "name of the shop, for the report"),
        ("units", "choice", REQUIRED, {"choices": ("mm", "in")}, "what a bare number means"),
        ("rack", "text", REQUIRED, {}, "the rack table; or a database, see rack.csv"),
        ("defects", "text", None, {}, "the defect table; or the same database"),
        ("drawing_units", "choice", None, _DRAWING_UNITS, "for drawings that do not say their unit"),
        ("currency", "text", "", {}, "in which money is printed"),
        (
            "paper",
            "choice",
            None,
            {"choices": ("a4", "letter", "both")},
            "of sheets and templates; left out, a4 in mm shops, letter in inch shops",
        ),
        (
            "decimal",
            "choice",
            "point",
            {"choices": ("point", "comma")},
            "decimal mark in the tables; a point is read in any case",
        ),
        (
            "both_directions",
            "flag",
            False,
            {},
            "drawings along either axis, and the least travel of each part",
        ),
    )
    + _settings(
        "shop",
        chord_error_mm="farthest an arc's chords may lie from it",
        chaining_mm="widest gap closed between the ends of lines and arcs",
    )
    + _settings("cutter", "cutter_", diameter_mm="cutting diameter")
    + _settings(
        "allowance",
        between_parts_mm="gap between parts; left out, the cutter's diameter and 3 mm (1/8 in) more (P)",
        blank_margin_mm="least wood between outline and edge of the blank (P)",
        jointing_mm="off each jointed edge (P)",
        planing_mm="off each face before routing (P); nothing off sheets, whose grain is none",
        most_planed_away_mm="a piece thicker than the part by more is not spent on it; sheets are never planed",
        thickness_tolerance_mm="how far under nominal still serves; a sheet may be as much over",
        measured_mm="how far off outlines and flaws of the rack may be, where the row does not say; 0: exact",
        rough_edge_mm="parts keep so far from edges that the rack calls rough or live (P: 1/2 in)",
        about_mm='how far off the place of a flaw may be that the rack gives as "about" (P: 1/2 in)',
    )
    + _settings(
        "leftover",
        "leftover_",
        shortest_mm="least length worth putting back (P)",
        narrowest_mm="least width worth putting back (P)",
        cut="saw: rectangles that straight saw lines cut off; outline: all that the cutter leaves",
        worth="so much of its value counts for what comes back (P); 0: nothing",
    )
    + _keys(
        "value.class",
        ("least_length", "length", 0.0, _NOT_NEGATIVE, "at least so long along the grain"),
        ("least_width", "length", 0.0, _NOT_NEGATIVE, "at least so wide: area over length"),
        ("least_thickness", "length", 0.0, _NOT_NEGATIVE, "at least so thick"),
        ("species", "names", (), {}, "only these woods, one or a list; left out: any"),
        ("times", "number", None, _NOT_NEGATIVE, "so many times the value of the species"),
        ("per_board_foot", "number", None, _NOT_NEGATIVE, "money a board foot, instead of times"),
    )
    + _keys(
        "species.*",
        (
            "radial",
            "number",
            None,
            _SHRINKAGE,
            "shrinkage across the rings, green to ovendry, percent; with tangential, for movement over the year",
        ),
        ("tangential", "number", None, _SHRINKAGE, "shrinkage along the rings, green to ovendry, percent"),
        (
            "density",
            "density",
            None,
            {"low": 50.0, "high": 1500.0},
            "at 12 % moisture; below 500 kg/m3 clamped as a soft wood, above 650 as a dense one (P)",
        ),
        ("synonyms", "names", (), {}, "other names that are read as it"),
    )
    + _typed(
        "glueup",
        most_pieces="pieces in one blank, at most 4 are searched; 1: no glue-ups",
        joint_cost="what a joint costs in the choice (P: half an hour's work), in the money of the rack, in board feet where there is none",
        one_board="all pieces of a glue-up from one board: cut from one piece, or leftovers of one row",
        least_piece_width_mm="narrowest piece in a glue-up",
        crossed_grain_deg="most between the grain of neighbors",
        crossed="grain crossed by more than that, and than the part's grain_tolerance; allowed: with a caution",
        mixed_species="unlike species in one glue-up",
        taper_deg="most between a jointed edge and the piece's grain (P)",
        sliver_mm="no seam nearer to a stretch of outline that runs along it (P)",
        hole_clearance_mm="wood between a seam and a hole for a stud or screw (P)",
        rules="caution: where no glue-up keeps seams out of no_seam, screw_row, hole and slivers, the one that breaks that least",
        moisture_difference="most between neighbors, points of moisture",
        reinforce="what is hidden in seams; needed: splines where grain crosses or end grain is glued",
        reinforce_clearance_mm="from a spline or dowel to outline, pockets, contours, openings, holes (P)",
        spline_thickness_mm="width of the slot (P); at least as much wood stays towards either face",
        spline_depth_mm="depth of the slot in either edge (P)",
        dowel_diameter_mm="diameter of dowels (P)",
        dowel_depth_mm="depth of their holes in either edge (P)",
        dowel_spacing_mm="most from dowel to dowel (P)",
        clamp_force_n="what one clamp gives (P: a bar or pipe clamp tightened by hand)",
        clamps="how many clamps the shop has; left out: enough",
        clamp_spacing_mm="no two clamps stand closer (P): bars above and below in turn",
        seam_tolerance_mm="how far off a seam, or a layer in the clamps, may lie (P): the plan adds it up, see the sheets",
        most_layers="layers of a laminated blank, glued face to face; 1: only parts with a cap are laminated",
        layer_cost="what gluing one layer on another costs in the choice (P: an hour's work), in the money of the rack",
    )
    + _typed(
        "wood",
        humidity_low="relative humidity of the driest month, percent (P)",
        humidity_high="relative humidity of the dampest month, percent (P)",
        temperature="degrees C",
    )
    + _typed(
        "machines",
        jointer_shortest_mm="least length over the jointer (P)",
        jointer_narrowest_mm="least width over the jointer (P)",
        jointer_thinnest_mm="least thickness over the jointer (P)",
        push_block_length_mm="shorter: push blocks on the jointer (P)",
        push_block_width_mm="narrower: push blocks on the jointer (P)",
        push_block_thickness_mm="thinner: push blocks on the jointer (P)",
        planer_shortest_mm="least length through the planer; left out, roller spacing and 2 in, or 12 in where that is unknown (P)",
        planer_rollers_mm="from infeed to outfeed roller",
        planer_thinnest_mm="least thickness through the planer (P)",
        planer_widest_mm="most width through the planer",
        saw_kerf_mm="what the saw takes (P)",
        saw_tolerance_mm="how far off a saw cut to a line may be (P): the plan adds it up, see the sheets",
        saw_cut_cost="what a saw cut before the bed costs in the choice (P: a few minutes' work), in the money of the rack",
        saw_push_stick_mm="push stick for the last so much of a cut (HSE guidance)",
        resaw_height_mm="the highest board on edge that the resaw takes; left out: nothing is resawn into leaves",
        resaw_kerf_mm="what the resaw takes (P)",
        resaw_planing_mm="off each face that the resaw made, before the planing of every blank (P)",
        resaw_cost="what a resaw cut and the planing of its faces cost in the choice (P: a quarter of an hour's work), in the money of the rack",
        resaw_shortest_mm="least length of a board that is resawn (P)",
        resaw_narrowest_mm="least width of a board that is resawn (P)",
        resaw_thinnest_mm="least thickness of a leaf, planed flat (P)",
    )
    + _typed(
        "holding",
        defect_clearance_mm="wood between a pin or screw and a defect",
        edge_clearance_mm="wood between a pin or screw and the blank's edge",
        tabs="tabs listed for each outline cut through, 0 for none",
        tab_width_mm="of a tab, along the outline",
        flip_tolerance_mm="how far off a blank may lie each time it is turned over or moved on (P): the plan adds it up",
    )
    + _typed(
        "prefer",
        largest_leftover="weight: keep the largest strip beside or beyond the part",
        center_figure="weight: the part's middle on the blank's, across the grain",
        short_grain="weight: turn within the tolerance so that less edge runs out slantwise",
        narrow_point_mm="narrower points off the grain are watched for tear-out (P)",
        feed="how the cutter goes round the outside, for the tear-out watch",
        hole_clearance_mm="between what is cut and metal, holes of nails and screws, mortises (P); kept where there is room, else a caution",
    )
    + _settings(
        "search",
        effort="steps of search, so that results repeat",
        seconds="a ceiling for the search",
        seed="seed of the search",
        workers="processes; they change nothing but the time",
    )
    + _of_type("bed.*", Bed, "", BED_FIELDS)
    + _keys(
        "bed.*",
        ("table_x", "special", None, {}, "where the table begins and ends on X; left out: 0 to travel_x"),
        ("table_y", "special", None, {}, "where the table begins and ends on Y; left out: 0 to travel_y"),
        (
            "open_ends",
            "choices",
            (),
            {"choices": ("x-", "x+", "y-", "y+")},
            "ends over which a blank may hang out",
        ),
        ("keep_out", "special", None, {}, "places that something may not enter"),
    )
    + _keys(
        "bed.*.keep_out",
        ("name", "text", "", {}, "what is there"),
        ("rectangle", "special", None, {}, "x0, y0, x1, y1"),
        ("polygon", "special", None, {}, "list of [x, y]"),
        ("blocks", "choice", "both", {"choices": ("cutter", "blank", "both")}, "what may not enter"),
    )
    + _keys(
        "part.*",
        ("drawing", "text", REQUIRED, {}, "a DXF file of the shop folder, or a folder inside it"),
        ("drawing_units", "choice", None, _DRAWING_UNITS, "where the drawing does not say"),
        ("overrule_drawing", "flag", False, {}, "drawing_units counts although the drawing says otherwise"),
        ("thickness", "length", REQUIRED, _POSITIVE, "finished thickness"),
        (
            "species",
            "names",
            (),
            {},
            "one wood or a list; left out: any wood, and sheets where grain is none",
        ),
        ("grain", "special", 0.0, {}, "degrees from the drawing's X, or none"),
        ("grain_tolerance", "angle", 5.0, {"low": 0.0, "high": 90.0}, "most between part's and wood's grain"),
        (
            "mirrored",
            "choice",
            "no",
            {"choices": ("no", "allowed", "only")},
            "whether it is cut as a mirror image",
        ),
        (
            "show_face",
            "choice",
            "either",
            {"choices": ("either", "top")},
            "top: its front face on the piece's top, for stock with one good face",
        ),
        ("fill_limit", "number", None, _NOT_NEGATIVE, "most filler for the part, ml; left out: no limit"),
        ("glue", "flag", True, {}, "false: never from a blank that is glued up for it"),
        (
            "book_match",
            "flag",
            False,
            {},
            "true: only from two neighboring leaves of one board, resawn, opened like a book and glued on its center line",
        ),
        (
            "cap",
            "names",
            (),
            {},
            "wood or woods of its top layer: it is laminated, species are those of the layers under it",
        ),
        ("cap_thickness", "length", None, _POSITIVE, "finished thickness of the cap"),
        (
            "strips",
            "choice",
            "no",
            {"choices": ("no", "allowed", "only")},
            "whether its blank may be glued from strips on edge: ripped off boards as wide as the blank is thick, turned by "
            "a quarter, glued face to face; for necks",
        ),
        ("each", "number", None, _NOT_NEGATIVE, "what one brings, in your money, for `nestyield make`"),
        (
            "weight",
            "special",
            None,
            {},
            "what it is to weigh, in wood alone: lightest is an aim of the choice before the value of the stock; "
            "of a range, wood that gives less or more is not used",
        ),
        ("tolerates", "special", None, {}, "kind of defect -> refused, filled, allowed"),
        ("layers", "special", REQUIRED, {}, "layer -> role"),
    )
    + _keys(
        "part.*.layers.*",
        (
            "role",
            "choice",
            REQUIRED,
            {"choices": ("outline", *ROLES, "ignore")},
            "what the layer holds",
        ),
        ("face", "choice", None, {"choices": ("front", "back", "through")}, "face it is cut from"),
        ("depth", "length", None, _POSITIVE, "depth from that face; pockets and contours need one"),
        ("over_edge", "flag", False, {}, "it runs out over the part's outline on purpose: no warning (D020)"),
        ("tolerates", "special", None, {}, "kind of defect -> refused, filled, allowed"),
    )
    + _keys(
        "rack_layers.*",
        ("role", "choice", REQUIRED, {"choices": ("outline", "hole", "defect", "ignore")}, "what it holds"),
        ("kind", "special", None, {}, "kind of defect"),
        (
            "face",
            "choice",
            "through",
            {"choices": ("top", "bottom", "through")},
            "face the depth counts from",
        ),
        ("depth", "length", None, _POSITIVE, "depth from that face; pockets and contours need one"),
    )
    + _keys(
        "order",
        ("part", "text", REQUIRED, {}, "a part of the shop file"),
        ("count", "integer", 1, {"low": 1, "high": 100_000}, "how many"),
        ("priority", "integer", 5, {"low": 1, "high": 1_000_000}, "1 is first"),
        ("due", "date", None, {}, "date, as 2026-12-12"),
        ("bed", "names", (), {}, "beds that may cut it, one or a list; left out: any"),
        ("name", "text", None, {}, "name of the order; left out: order 1, order 2 ..."),
        ("hold", "flag", False, {}, "on hold: reported, not planned; the rest of its set is"),
        ("done", "flag", False, {}, "all of it is cut: not planned; `take` writes it"),
        (
            "set",
            "text",
            "",
            {},
            "name of the set that it is of, one instrument or more: orders of one set are filled whole or not at all",
        ),
        ("per_set", "integer", 1, {"low": 1, "high": 1000}, "how many of it one of the set has"),
        (
            "match",
            "choice",
            "",
            {"choices": ("species", "row", "board")},
            "orders of a set that have it get wood alike for each one of the set: of one species, of one row of the "
            "rack, of one board (one piece, or pieces with one parent)",
        ),
        (
            "cut_from",
            "special",
            (),
            {},
            "wood of the copies that were cut before, a name for each: of the species, row or board, as match says; the "
            "rest of the set is made to match. take writes it",
        ),
    )
)

#: Sections whose keys are names that the maker gives: ``[value]`` has species (and tables of its own under
#: ``class``), ``[rack_layers]`` layers.
FREE_SECTIONS = ("value", "rack_layers")


def keys_of(section: str) -> tuple[Key, ...]:
    """Return the keys of a section, in table order.

    Parameters
    ----------
    section : str
        As in the table, ``*`` for names.
    """
    return tuple(k for k in KEYS if k.section == section)


def sections() -> tuple[str, ...]:
    """Return the top-level sections of the shop file, in table order."""
    tops = [k.section.split(".")[0] for k in KEYS]
    return tuple(dict.fromkeys([*tops, *FREE_SECTIONS]))
