"""Parts of the shop file, with outline and zones from their drawings."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from nestyield.intake import remedies
from nestyield.intake.drawing_size import is_too_far, tell_size
from nestyield.intake.drawings import Drawings
from nestyield.intake.meeting import tell_meeting
from nestyield.intake.part_layers import match_layers, read_layers, refuse_no_outline
from nestyield.intake.problems import shown
from nestyield.intake.species import canonical_species
from nestyield.intake.tolerates import read_tolerates
from nestyield.intake.values import Values
from nestyield.intake.weights import WeightError, parse_wish
from nestyield.intake.zones import outline_of, zones_of
from nestyield.model import OwnWood, Part, WeightWish

#: Thicker or thinner parts are told.
PLAUSIBLE_THICKNESS_MM = (0.3, 300.0)


def read_parts(shop: Values, drawings: Drawings, own: Sequence[OwnWood] = ()) -> tuple[list[Part], list[str]]:
    """Read every ``[part.NAME]``.

    Parameters
    ----------
    shop : Values
        The whole shop file.
    drawings : Drawings
    own : sequence of OwnWood
        Woods with the maker's own figures.

    Returns
    -------
    (list of Part, list of str)
        Parts that could be read, and the names of all that are there.
    """
    section = shop.table("part")
    if section is None:
        return [], []
    parts = []
    if section.refuse_without_name("part"):
        return [], []
    section.refuse_alike()
    for name in section.data:
        values = section.table(name)
        if values is not None:
            part = _part(name, values, drawings, own)
            if part is not None:
                parts.append(part)
    return parts, list(section.data)


def _part(name: str, values: Values, drawings: Drawings, own: Sequence[OwnWood]) -> Part | None:
    before = values.problems.errors
    v = values.read("part.*")
    tolerates = read_tolerates(values, v["tolerates"])
    grain = read_grain(values, v["grain"])
    species = tuple(
        dict.fromkeys(
            canonical_species(
                s, values.problems, "S011", values.file, values.where("species"), own, "species"
            )
            for s in v["species"]
        )
    )
    cap = read_cap(values, v["cap"], v["cap_thickness"], v["thickness"], own)
    if v["overrule_drawing"] and v["drawing_units"] is None:
        values.error("S005", "expected drawing_units beside overrule_drawing", "overrule_drawing")
    thickness = v["thickness"]
    doubtful = thickness is not None and _tell_thickness(values, thickness)
    roles = read_layers(values, None if doubtful else thickness)
    if doubtful and any(r.depth_mm is not None and r.depth_mm >= thickness for r in (roles or {}).values()):
        values.problems.harden(values.file, values.where("thickness"))
    weight = read_weight(values, v["weight"])
    drawing = None
    if v["drawing"] is not None:
        where = values.where("drawing")
        key = f"part {name}"
        drawing = drawings.get(
            v["drawing"],
            v["drawing_units"],
            v["overrule_drawing"],
            values.file,
            where,
            key,
            "D001",
            values.where("drawing_units"),
        )
    if roles is not None and values.problems.errors == before and refuse_no_outline(values, drawing, roles):
        return None
    if drawing is None or roles is None or thickness is None:
        return None
    layers = match_layers(values, drawing, roles)
    outline = outline_of(name, drawing, layers, drawings)
    zones = zones_of(drawing, layers, drawings, outline)
    if (
        outline is None
        or is_too_far(drawing, outline, zones, values.problems)
        or values.problems.errors != before
    ):
        return None
    tell_size(drawing, outline, values.problems)
    tell_meeting(zones, thickness, values.words, values.problems, drawing.file)
    return Part(
        name=name,
        drawing=drawing.file,
        outline=outline.outline,
        zones=tuple(zones),
        thickness_mm=thickness,
        species=species,
        grain_deg=grain,
        grain_tolerance_deg=v["grain_tolerance"],
        mirrored=v["mirrored"],
        show_face=v["show_face"],
        tolerates=tolerates,
        fill_limit_ml=v["fill_limit"],
        glue=v["glue"],
        book_match=v["book_match"],
        cap=cap,
        cap_mm=(v["cap_thickness"] or 0.0) if cap else 0.0,
        strips=v["strips"],
        each=v["each"],
        weight=weight,
    )


def _tell_thickness(values: Values, thickness: float) -> bool:
    """Ask about a thickness out of all proportion; return whether there is a doubt about it."""
    if values.problems.told(values.file, values.where("thickness")):
        return True
    if PLAUSIBLE_THICKNESS_MM[0] <= thickness <= PLAUSIBLE_THICKNESS_MM[1]:
        return False
    size = values.words.length(thickness, style="setting")
    only = "only " if thickness < PLAUSIBLE_THICKNESS_MM[0] else ""
    other = remedies.in_other_unit(values.data["thickness"], "thickness", values.units)
    values.warning("S012", f"the part is {only}{size} thick; {other}", "thickness")
    return True


def read_cap(
    values: Values,
    woods: Sequence[str],
    cap_mm: float | None,
    thickness_mm: float | None,
    own: Sequence[OwnWood],
) -> tuple[str, ...]:
    """Read ``cap`` and ``cap_thickness``, which go together."""
    if not woods:
        if cap_mm is not None:
            values.error("S005", "expected cap, the wood of the cap, beside cap_thickness", "cap_thickness")
        return ()
    if cap_mm is None and "cap_thickness" not in values.data:
        values.error("S005", "expected cap_thickness beside cap", "cap")
    if cap_mm is not None and thickness_mm is not None and cap_mm >= thickness_mm:
        most, got = (values.words.length(v, style="setting") for v in (thickness_mm, cap_mm))
        values.error("S007", f"expected a cap thinner than the part's {most}, got {got}", "cap_thickness")
    where = values.where("cap")
    found = (canonical_species(s, values.problems, "S011", values.file, where, own) for s in woods)
    return tuple(dict.fromkeys(found))


def read_weight(values: Values, raw: Any) -> WeightWish | None:
    """Read ``weight``: ``lightest``, a range, or one end of it."""
    if raw is None:
        return None
    if isinstance(raw, bool) or not isinstance(raw, (str, int, float)):
        values.error("S006", f"expected a weight for weight, got {shown(raw)}", "weight")
        return None
    try:
        return parse_wish(raw, values.units)
    except WeightError as error:
        values.error("S006", str(error), "weight")
        return None


def read_grain(values: Values, raw: Any) -> float | None:
    """Read ``grain``: degrees, or ``none``."""
    if isinstance(raw, str):
        if raw.strip().casefold() == "none":
            return None
        values.error("S006", f"grain is in degrees from the drawing's X; {remedies.grain(raw)}", "grain")
        return 0.0
    number = values.number(raw, "grain")
    if number is not None and abs(number) > 360:
        values.error("S007", f"expected grain from -360 to 360 degrees, got {number:g}", "grain")
    return 0.0 if number is None else number
