"""Every key of the shop file: section, kind, default and range, in one table.

To add a setting, add a line here and name it in README; a test keeps the two in step. Keys of
``[glueup]``, ``[wood]``, ``[machines]`` and ``[prefer]`` are the fields of a type in ``model/settings.py``,
which gives kind, choices and default: lengths are ``KEY_mm``, angles ``KEY_deg``, others ``KEY``.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal, get_args, get_origin, get_type_hints

from nestyield.model.settings import GlueUpRules, MachineLimits, Preferences, Season

Kind = Literal[
    "length", "angle", "number", "integer", "text", "flag", "choice", "choices", "names", "date", "special"
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
        ``length`` (number in shop units or text), ``angle`` (degrees), ``number``, ``integer``, ``text``,
        ``flag``, ``choice``, ``choices`` (list), ``names`` (text or list), ``date``, or ``special``: read by
        its own code.
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
        return self.name + {"length": "_mm", "angle": "_deg"}.get(self.kind, "")


def _keys(section: str, *rows: tuple[str, Kind, Any, dict[str, Any], str]) -> list[Key]:
    return [
        Key(section=section, name=name, kind=kind, default=default, doc=doc, **rest)
        for name, kind, default, rest, doc in rows
    ]


_POSITIVE = {"above": 0.0}
_NOT_NEGATIVE = {"low": 0.0}
_DRAWING_UNITS = {"choices": ("mm", "cm", "m", "in", "ft")}

#: Sections that arrive in ``Settings`` as a type of their own, under the section's name.
TYPED_SECTIONS: dict[str, type] = {
    "glueup": GlueUpRules,
    "wood": Season,
    "machines": MachineLimits,
    "prefer": Preferences,
}


def _kind(name: str, hint: Any) -> tuple[Kind, tuple[str, ...]]:
    """Return kind and choices of a field of a typed section."""
    if name.endswith("_mm"):
        return "length", ()
    if name.endswith("_deg"):
        return "angle", ()
    if get_origin(hint) is Literal:
        return "choice", get_args(hint)
    plain: dict[Any, Kind] = {bool: "flag", int: "integer", float: "number"}
    return plain[hint], ()


def _typed(section: str, **rows: tuple[dict[str, Any], str]) -> list[Key]:
    """Return the keys of a typed section: for each field its range and what it means."""
    kind_of = TYPED_SECTIONS[section]
    hints, usual = get_type_hints(kind_of), kind_of()
    if unlike := set(rows) ^ set(hints):
        raise RuntimeError(f"[{section}]: keys and fields of {kind_of.__name__} differ: {sorted(unlike)}")
    out = []
    for name, (rest, doc) in rows.items():
        kind, choices = _kind(name, hints[name])
        key = Key(
            section=section,
            name=name.removesuffix("_mm").removesuffix("_deg"),
            kind=kind,
            default=getattr(usual, name),
            choices=choices,
            doc=doc,
            **rest,
        )
        out.append(key)
    return out


KEYS: tuple[Key, ...] = tuple(
    _keys(
        "shop",
        ("name", "text", "", {}, "name of the shop, for the report"),
        ("units", "choice", REQUIRED, {"choices": ("mm", "in")}, "what a bare number means"),
        ("rack", "text", REQUIRED, {}, "the rack table"),
        ("defects", "text", None, {}, "the defect table"),
        ("drawing_units", "choice", None, _DRAWING_UNITS, "for drawings that do not say their unit"),
        ("chord_error", "length", 0.02, {"above": 0.0, "high": 1.0}, "farthest an arc's chords lie from it"),
        ("chaining", "length", 0.1, {"low": 0.0, "high": 5.0}, "widest gap closed between ends"),
    )
    + _keys("cutter", ("diameter", "length", REQUIRED, _POSITIVE, "cutting diameter"))
    + _keys(
        "allowance",
        ("between_parts", "length", None, _NOT_NEGATIVE, "gap between parts"),
        ("blank_margin", "length", 6.35, _NOT_NEGATIVE, "wood between outline and edge"),
        ("jointing", "length", 0.8, _NOT_NEGATIVE, "off each jointed edge"),
        ("planing", "length", 0.8, _NOT_NEGATIVE, "off each face before routing"),
        ("most_planed_away", "length", 12.0, _NOT_NEGATIVE, "a thicker piece is not spent on a thin part"),
        ("thickness_tolerance", "length", 0.15, _NOT_NEGATIVE, "how far under nominal still serves"),
    )
    + _keys(
        "leftover",
        ("shortest", "length", 200.0, _NOT_NEGATIVE, "least length worth putting back"),
        ("narrowest", "length", 50.0, _NOT_NEGATIVE, "least width worth putting back"),
        (
            "worth",
            "number",
            0.5,
            {"low": 0.0, "high": 1.0},
            "so much of its value counts for what comes back",
        ),
    )
    + _keys(
        "value.class",
        ("least_length", "length", 0.0, _NOT_NEGATIVE, "at least so long along the grain"),
        ("least_width", "length", 0.0, _NOT_NEGATIVE, "at least so wide: area over length"),
        ("least_thickness", "length", 0.0, _NOT_NEGATIVE, "at least so thick"),
        ("species", "names", (), {}, "only these"),
        ("times", "number", None, _NOT_NEGATIVE, "so many times the value of the species"),
        ("per_board_foot", "number", None, _NOT_NEGATIVE, "money a board foot, instead of times"),
    )
    + _typed(
        "glueup",
        most_pieces=({"low": 1, "high": 24}, "pieces in one blank"),
        least_piece_width_mm=(_NOT_NEGATIVE, "narrowest piece in a glue-up"),
        crossed_grain_deg=({"low": 0.0, "high": 90.0}, "most between neighbours' grain"),
        crossed=({}, "grain crossed by more"),
        mixed_species=({}, "unlike species in one glue-up"),
        taper_deg=({"low": 0.0, "high": 45.0}, "most between a jointed edge and its grain"),
        sliver_mm=(_NOT_NEGATIVE, "no seam nearer to an outline along it"),
        hole_clearance_mm=(_NOT_NEGATIVE, "wood between a seam and a hole"),
        rules=({}, "seams where none may run"),
        moisture_difference=({"low": 0.0, "high": 100.0}, "most between neighbours, points"),
        reinforce=({}, "what is hidden in the seams"),
        reinforce_clearance_mm=(_NOT_NEGATIVE, "wood around splines and dowels"),
        spline_thickness_mm=(_POSITIVE, "width of the slot"),
        spline_depth_mm=(_POSITIVE, "depth of the slot in either edge"),
        dowel_diameter_mm=(_POSITIVE, "diameter of dowels"),
        dowel_depth_mm=(_POSITIVE, "depth of their holes in either edge"),
        dowel_spacing_mm=(_POSITIVE, "most from dowel to dowel"),
    )
    + _typed(
        "wood",
        humidity_low=({"low": 0.0, "high": 98.0}, "driest month, percent"),
        humidity_high=({"low": 0.0, "high": 98.0}, "dampest month, percent"),
        temperature=({"low": -1.0, "high": 60.0}, "degrees C"),
    )
    + _typed(
        "machines",
        jointer_shortest_mm=(_POSITIVE, "least length over the jointer"),
        jointer_narrowest_mm=(_POSITIVE, "least width over the jointer"),
        jointer_thinnest_mm=(_POSITIVE, "least thickness over the jointer"),
        push_block_length_mm=(_NOT_NEGATIVE, "shorter: push block on the jointer"),
        push_block_width_mm=(_NOT_NEGATIVE, "narrower: push block on the jointer"),
        push_block_thickness_mm=(_NOT_NEGATIVE, "thinner: push block on the jointer"),
        planer_shortest_mm=(_POSITIVE, "least length through the planer"),
        planer_rollers_mm=(_POSITIVE, "from infeed to outfeed roller"),
        planer_thinnest_mm=(_POSITIVE, "least thickness through the planer"),
        planer_widest_mm=(_POSITIVE, "most width through the planer"),
        saw_kerf_mm=({"low": 0.0, "high": 20.0}, "what the saw takes"),
        saw_push_stick_mm=(_NOT_NEGATIVE, "shorter cuts: push stick for all of it"),
    )
    + _typed(
        "prefer",
        largest_leftover=(_NOT_NEGATIVE, "weight: keep the largest strip beside the part"),
        centre_figure=(_NOT_NEGATIVE, "weight: part's middle on the blank's middle"),
        short_grain=(_NOT_NEGATIVE, "weight: turn so that less edge runs out slantwise"),
        narrow_point_mm=(_NOT_NEGATIVE, "narrower points are watched for tear-out"),
        feed=({}, "how the cutter goes round, for the tear-out watch"),
    )
    + _keys(
        "search",
        ("effort", "integer", 3, {"low": 0, "high": 1000}, "steps of search"),
        ("seconds", "number", 600.0, _POSITIVE, "ceiling"),
        ("seed", "integer", 1, {"low": 0, "high": 2**63 - 1}, "seed of the search"),
        ("workers", "integer", 2, {"low": 1, "high": 256}, "processes"),
    )
    + _keys(
        "bed.*",
        ("travel_x", "length", REQUIRED, _POSITIVE, "how far the cutter's centre moves along X"),
        ("travel_y", "length", REQUIRED, _POSITIVE, "how far the cutter's centre moves along Y"),
        ("travel_z", "length", None, _POSITIVE, "how far it moves up and down"),
        ("table_x", "special", None, {}, "where the table begins and ends on X"),
        ("table_y", "special", None, {}, "where the table begins and ends on Y"),
        ("open_ends", "choices", (), {"choices": ("x-", "x+", "y-", "y+")}, "where a blank may hang out"),
        ("pin_diameter", "length", 0.0, _NOT_NEGATIVE, "of locating pins"),
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
        ("drawing", "text", REQUIRED, {}, "a DXF file of the shop folder"),
        ("drawing_units", "choice", None, _DRAWING_UNITS, "where the drawing does not say"),
        ("overrule_drawing", "flag", False, {}, "drawing_units counts although the drawing says otherwise"),
        ("thickness", "length", REQUIRED, _POSITIVE, "finished thickness"),
        ("species", "names", (), {}, "any of these serve"),
        ("grain", "special", 0.0, {}, "degrees from the drawing's X, or none"),
        ("grain_tolerance", "angle", 5.0, {"low": 0.0, "high": 90.0}, "most between part's and wood's grain"),
        ("mirrored", "choice", "no", {"choices": ("no", "allowed", "only")}, "cut as mirror image"),
        (
            "show_face",
            "choice",
            "either",
            {"choices": ("either", "top")},
            "front face on the piece's top",
        ),
        ("fill_limit", "number", None, _NOT_NEGATIVE, "most filler for the part, ml"),
        ("tolerates", "special", None, {}, "kind of defect -> refused, filled, allowed"),
        ("layers", "special", REQUIRED, {}, "layer -> role"),
    )
    + _keys(
        "part.*.layers.*",
        (
            "role",
            "choice",
            REQUIRED,
            {
                "choices": (
                    "outline",
                    "cutout",
                    "pocket",
                    "contour",
                    "hole",
                    "no_seam",
                    "screw_row",
                    "centre_line",
                    "ignore",
                )
            },
            "what the layer holds",
        ),
        ("face", "choice", None, {"choices": ("front", "back", "through")}, "face it is cut from"),
        ("depth", "length", None, _POSITIVE, "depth from that face"),
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
        ("depth", "length", None, _POSITIVE, "depth from that face"),
    )
    + _keys(
        "order",
        ("part", "text", REQUIRED, {}, "a part of the shop file"),
        ("count", "integer", 1, {"low": 1, "high": 100_000}, "how many"),
        ("priority", "integer", 5, {"low": 1, "high": 1_000_000}, "1 is first"),
        ("due", "date", None, {}, "date"),
        ("bed", "names", (), {}, "beds that may cut it"),
        ("name", "text", None, {}, "name of the order"),
        ("hold", "flag", False, {}, "on hold: reported, not planned"),
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
