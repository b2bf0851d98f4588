"""Parts of the shop file, with outline and zones from their drawings."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from nestyield.intake.drawings import Drawings
from nestyield.intake.layers import Drawing, Layer
from nestyield.intake.meeting import tell_meeting
from nestyield.intake.problems import did_you_mean, nearest, shown
from nestyield.intake.reach import FARTHEST_MM, too_far_mm
from nestyield.intake.species import canonical_species
from nestyield.intake.tolerates import read_tolerates
from nestyield.intake.values import Values
from nestyield.intake.weights import WeightError, parse_wish
from nestyield.intake.zones import LayerRole, outline_of, zones_of
from nestyield.model import ROLES, OwnWood, Part, Shape, WeightWish

#: Thicker or thinner parts are told.
PLAUSIBLE_THICKNESS_MM = (0.3, 300.0)
#: Larger or smaller parts are told.
PLAUSIBLE_LENGTH_MM = (40.0, 3000.0)


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
            canonical_species(s, values.problems, "S011", values.file, values.where("species"), own)
            for s in v["species"]
        )
    )
    if v["overrule_drawing"] and v["drawing_units"] is None:
        values.error("S005", "expected drawing_units beside overrule_drawing", "overrule_drawing")
    thickness = v["thickness"]
    if thickness is not None and not PLAUSIBLE_THICKNESS_MM[0] <= thickness <= PLAUSIBLE_THICKNESS_MM[1]:
        values.warning(
            "S012",
            f"a part {values.words.length(thickness, style='setting')} thick; is the unit right?",
            "thickness",
        )
    roles = read_layers(values, thickness)
    weight = read_weight(values, v["weight"])
    drawing = None
    if v["drawing"] is not None:
        where = values.where("drawing")
        key = f"part {name}"
        drawing = drawings.get(
            v["drawing"], v["drawing_units"], v["overrule_drawing"], values.file, where, key, "D001"
        )
    if drawing is None or roles is None or thickness is None:
        return None
    layers = match_layers(values, drawing, roles)
    outline = outline_of(name, drawing, layers, drawings)
    zones = zones_of(drawing, layers, drawings, outline)
    if outline is not None:
        shapes = [Shape(outer=outline.outline), *(z.shape for z in zones if z.shape is not None)]
        _tell_far(values, drawing, [far for s in shapes if (far := too_far_mm(s)) is not None])
    if outline is None or values.problems.errors != before:
        return None
    _tell_size(values, drawing, outline.polygon.bounds)
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
        each=v["each"],
        weight=weight,
    )


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
        values.error("S006", f'expected degrees or "none" for grain, got {shown(raw)}', "grain")
        return 0.0
    number = values.number(raw, "grain")
    if number is not None and abs(number) > 360:
        values.error("S007", f"expected grain from -360 to 360 degrees, got {number:g}", "grain")
    return 0.0 if number is None else number


def read_layers(values: Values, thickness_mm: float | None) -> dict[str, LayerRole] | None:
    """Read ``[part.NAME.layers]``.

    Parameters
    ----------
    values : Values
        The part's table.
    thickness_mm : float or None
        Of the part, against which depths are checked.

    Returns
    -------
    dict of str to LayerRole, or None
        By layer name as the maker wrote it; None when there is no such table.
    """
    section = values.table("layers")
    if section is None:
        return None
    roles: dict[str, LayerRole] = {}
    for layer, raw in section.data.items():
        table = section.inner(raw if isinstance(raw, dict) else {"role": raw}, layer)
        wrong = values.problems.errors
        v = table.read("part.*.layers.*")
        role, face, depth = v["role"], v["face"], v["depth"]
        if role is None:
            continue
        depths = ROLES[role].depth if role in ROLES else "none"
        if depths == "required" and depth is None and "depth" not in table.data:
            table.error("S005", f'expected a depth for a {role}, as {{ role = "{role}", depth = 12 }}')
        if depth is not None and depths == "none":
            table.error("S004", f"a depth has no meaning for {role}; remove it", "depth")
        if depth is not None and thickness_mm is not None and depth >= thickness_mm:
            most, got = (table.words.length(v, style="setting") for v in (thickness_mm, depth))
            message = f"expected a depth below the thickness of {most}, got {got}"
            table.error("S007", f"{message}; a zone right through is a cutout or hole without depth", "depth")
        if face == "through" and (depth is not None or depths == "required"):
            table.error(
                "S006", f"a {role} with a depth is cut from front or back, got face 'through'", "face"
            )
        if values.problems.errors > wrong and role != "outline":
            role = "ignore"  # what is wrong is told: the layer is not read any further
        roles[layer] = LayerRole(
            layer=layer,
            role=role,
            face=face,
            depth_mm=depth,
            over_edge=v["over_edge"],
            tolerates=read_tolerates(table, v["tolerates"]),
            where=table.where(),
        )
    outlines = [r for r in roles.values() if r.role == "outline"]
    if not outlines and not values.problems.errors:
        values.error("S005", 'expected one layer with role "outline"', "layers")
    return roles


def match_layers(
    values: Values, drawing: Drawing, roles: dict[str, LayerRole]
) -> list[tuple[Layer, LayerRole]]:
    """Find the layers of the drawing that the shop file names; case does not matter, as in DXF.

    Parameters
    ----------
    values : Values
        The part's table.
    drawing : Drawing
    roles : dict of str to LayerRole

    Returns
    -------
    list of (Layer, LayerRole)
        In the shop file's order, without ignored ones.
    """
    names = [layer.name for layer in drawing.layers.values()]
    used: dict[str, str] = {}
    out = []
    for role in roles.values():
        folded = role.layer.casefold()
        if folded in used:
            message = f"layer {shown(role.layer)} is named twice: layer names differ by more than case"
            values.problems.error("S009", message, values.file, role.where)
            continue
        used[folded] = role.layer
        layer = drawing.layers.get(folded)
        if layer is None:
            if role.role == "ignore":
                continue
            free = [n for n in names if n.casefold() not in {k.casefold() for k in roles}]
            hint = did_you_mean(role.layer, free if nearest(role.layer, free) else names, "layers")
            message = f"the drawing has nothing on layer {shown(role.layer)}; {hint}"
            values.problems.error("D005", f"{message} (named in {values.file}, {role.where})", drawing.file)
        elif role.role != "ignore":
            if layer.hidden:
                values.problems.note(
                    "D021",
                    f"layer {layer.name} is {layer.hidden} in the drawing; it is read because the shop "
                    "file names it",
                    drawing.file,
                )
            out.append((layer, role))
    unnamed = [layer.name for key, layer in drawing.layers.items() if key not in used and layer.items]
    if unnamed:
        message = f"not named in the shop file and ignored: layer{'s' if len(unnamed) > 1 else ''} "
        values.problems.note(
            "D006", message + ", ".join(unnamed), drawing.file, f"part {str(values.path[-1])!r}"
        )
    return out


def _tell_far(values: Values, drawing: Drawing, far_mm: list[float]) -> None:
    if far_mm:
        most, reach = (drawing.length(v) for v in (FARTHEST_MM, max(far_mm)))
        message = f"expected outline and zones within {most} of the drawing's origin, got {reach}"
        values.problems.error("D023", f"{message}; move them nearer, or check the unit", drawing.file)


def _tell_size(values: Values, drawing: Drawing, bounds: tuple[float, float, float, float]) -> None:
    size = max(bounds[2] - bounds[0], bounds[3] - bounds[1])
    if not PLAUSIBLE_LENGTH_MM[0] <= size <= PLAUSIBLE_LENGTH_MM[1]:
        values.problems.warning(
            "D023",
            f"the outline is {drawing.length(size)} long; is the unit right?",
            drawing.file,
        )
