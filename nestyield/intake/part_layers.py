"""The layers of a part: what the shop file says of each, and which of its drawing they are."""

from __future__ import annotations

from typing import Any

from nestyield.intake import remedies
from nestyield.intake.layers import Drawing, Layer
from nestyield.intake.lost_layers import are_lost
from nestyield.intake.problems import did_you_mean, nearest, shown
from nestyield.intake.tolerates import read_tolerates
from nestyield.intake.values import Values
from nestyield.intake.zones import LayerRole
from nestyield.model import ROLES

#: What a layer may be.
MEANINGS = ("outline", *ROLES, "ignore")
#: Names of layers as they stand without quotes.
_BARE = frozenset("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_-")


def read_layers(values: Values, thickness_mm: float | None) -> dict[str, LayerRole] | None:
    """Read ``[part.NAME.layers]``.

    Parameters
    ----------
    values : Values
        The part's table.
    thickness_mm : float or None
        Of the part, against which depths are checked; None when it is not known or doubtful.

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
        if isinstance(raw, str) and raw.strip().casefold().replace("centre_", "center_") not in MEANINGS:
            section.error("S006", remedies.choice(quoted(layer), raw, MEANINGS), layer)
            continue
        table = section.inner(dict(raw) if isinstance(raw, dict) else {"role": raw}, layer)
        wrong = values.problems.errors
        _refuse_face(table)
        v = table.read("part.*.layers.*")
        role, depth = v["role"], v["depth"]
        if role is None:
            continue
        _refuse_depth(table, layer, raw, v, thickness_mm)
        if values.problems.errors > wrong and role != "outline":
            role = "ignore"  # what is wrong is told: the layer is not read any further
        roles[layer] = LayerRole(
            layer=layer,
            role=role,
            face=v["face"],
            depth_mm=depth,
            over_edge=v["over_edge"],
            tolerates=read_tolerates(table, v["tolerates"]),
            file=table.file,
            where=table.where(),
        )
    return roles


def quoted(name: str) -> str:
    """Return a name as a key of the shop file: in quotes where it needs them."""
    return name if name and set(name) <= _BARE else f'"{name}"'


def _refuse_face(table: Values) -> None:
    """Tell of the face of a layer with depth that is neither front nor back, and read on without it."""
    role, face = (table.data.get(key) for key in ("role", "face"))
    known = ROLES.get(role) if isinstance(role, str) else None
    if face is None or known is None or known.depth != "required":
        return
    if not isinstance(face, str) or face.strip().casefold() not in ("front", "back"):
        message = remedies.choice("face", face, ("front", "back"))
        if face == "through":
            message = f'a {role} is cut from front or back, not through; write face = "front"'
        table.error("S006", message, "face")
        del table.data["face"]


def _refuse_depth(table: Values, layer: str, raw: Any, v: dict[str, Any], thickness_mm: float | None) -> None:
    """Tell of a depth that is missing, has no meaning, or is too much for the part."""
    role, depth = v["role"], v["depth"]
    depths = ROLES[role].depth if role in ROLES else "none"
    such = remedies.EXAMPLES[("part.*.layers.*", "depth")][-1 if table.units == "in" else 0]
    if depths == "required" and depth is None and "depth" not in table.data:
        add = f"add depth = {such} inside its braces"
        if not isinstance(raw, dict):
            add = f'write {quoted(layer)} = {{ role = "{role}", depth = {such} }}'
        table.error("S005", f"{role} {layer} has no depth; {add}, with its own depth")
        return
    if depth is not None and depths == "none":
        through = "goes right through" if role in ("cutout", "hole") else "has no depth"
        table.error("S004", f"a {role} {through}; remove depth", "depth")
        return
    if v["face"] == "through" and depth is not None:
        table.error("S006", f'a {role} with a depth is not through; write face = "front"', "face")
    if depth is not None and thickness_mm is not None and depth >= thickness_mm:
        most, got = (table.words.length(v, style="setting") for v in (thickness_mm, depth))
        message = f"{layer} is {got} deep, but the part only {most} thick; write a depth below {most}"
        if depth == thickness_mm:
            through = f'to cut right through, write {quoted(layer)} = "cutout"'
            message = f"{layer} is {got} deep, as deep as the part is thick; {through}"
        table.error("S007", message, "depth")


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
    used: dict[str, str] = {}
    out: list[tuple[Layer, LayerRole]] = []
    if are_lost(drawing, [r.layer for r in roles.values() if r.role != "ignore"], values.problems):
        return out
    for role in roles.values():
        folded = role.layer.casefold()
        if folded in used:
            message = f"layers {used[folded]} and {role.layer} differ only in capitals; DXF has one, keep one"
            values.problems.error("S009", message, values.file, role.where)
            continue
        used[folded] = role.layer
        layer = drawing.layers.get(folded)
        if layer is None:
            if role.role != "ignore":
                _refuse_absent(values, drawing, roles, role)
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


def _refuse_absent(values: Values, drawing: Drawing, roles: dict[str, LayerRole], role: LayerRole) -> None:
    """Tell of a layer that the drawing does not have, at its line of the shop file."""
    names = [layer.name for layer in drawing.layers.values()]
    free = [n for n in names if n.casefold() not in {k.casefold() for k in roles}]
    near = nearest(role.layer, free) or nearest(role.layer, names)
    hint = f"write {quoted(near)}" if near else did_you_mean(role.layer, names, "layers")
    message = f"{drawing.file} has nothing on layer {shown(role.layer)}; {hint}"
    values.problems.error("D005", message, values.file, role.where)


def refuse_no_outline(values: Values, drawing: Drawing | None, roles: dict[str, LayerRole]) -> bool:
    """Add an error when no layer is the outline, naming the one that probably is.

    Returns
    -------
    bool
        Whether that is so.
    """
    if any(r.role == "outline" for r in roles.values()):
        return False
    layers = [] if drawing is None else [x for x in drawing.layers.values() if x.items]
    named = {k.casefold() for k in roles}
    free = [x for x in layers if x.name.casefold() not in named]
    largest = max(free or layers, key=_size, default=None)
    name = "OUTLINE" if largest is None else largest.name
    verb = "add" if free or not layers else "write"
    values.error("S005", f'no layer has the role outline; {verb} {quoted(name)} = "outline"', "layers")
    return True


def _size(layer: Layer) -> float:
    """Return how far a layer reaches along both axes together."""
    points = [p for item in layer.items for p in item.curve.points_mm]
    return sum(max(p[k] for p in points) - min(p[k] for p in points) for k in (0, 1))
