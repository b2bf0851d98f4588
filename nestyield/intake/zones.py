"""From the layers of a drawing to the outline and zones of a part."""

from __future__ import annotations

from dataclasses import dataclass, field

from nestyield.intake.drawings import Drawings
from nestyield.intake.layers import Drawing, Layer
from nestyield.intake.lost_layers import holds_loose_lines, nothing_closed
from nestyield.intake.outlines import Closed, nesting, open_lines
from nestyield.model import ROLES, Outline, PartFace, Role, Shape, Verdict, Zone
from nestyield.words import listed

#: A zone may pass the outline by this without a word: drawings are not exact.
OVERHANG_MM = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class LayerRole:
    """What a layer means, from the shop file.

    Parameters
    ----------
    layer : str
    role : str
        ``outline``, ``ignore`` or the role of a zone.
    face : {"front", "back", "through"} or None
    depth_mm : float or None
    over_edge : bool
        Its zones run out over the outline on purpose.
    tolerates : dict
    file, where : str
        The shop file, and key and line in it.
    """

    layer: str
    role: str
    face: PartFace | None = None
    depth_mm: float | None = None
    over_edge: bool = False
    tolerates: dict[str, Verdict] = field(default_factory=dict)
    file: str = ""
    where: str = ""

    @property
    def does(self) -> Role:
        """What zones of the layer do; asked of layers that hold zones."""
        return ROLES[self.role]


def outline_of(
    part: str, drawing: Drawing, layers: list[tuple[Layer, LayerRole]], drawings: Drawings
) -> Closed | None:
    """Return the one outline of a part; None with an error when there is not exactly one."""
    problems = drawings.problems
    found: list[tuple[Layer, Closed]] = []
    failed = False
    used = [(layer, role) for layer, role in layers if role.role == "outline"]
    for layer, _ in used:
        closed = drawings.closed(drawing, layer)
        failed |= closed is None
        found += [(layer, c) for c in closed or []]
    if failed or not used:
        return None
    if len(found) == 1:
        return found[0][1]
    names = ", ".join(layer.name for layer, _ in used)
    if not found:
        message = f"expected exactly one closed outline for part {part!r}, layer {names} has none"
        problems.error("D019", message, drawing.file, f"layer {names}")
        return None
    parents = nesting([c for _, c in found])
    found.sort(key=lambda item: -item[1].polygon.area)
    sizes = listed(_size(drawing, c) for _, c in found[:4]) + (" ..." if len(found) > 4 else "")
    where = f"layer {names}, {'; '.join(_at(drawing, c) for _, c in found[:4])}"
    if sum(parent is None for parent in parents) == 1:
        one, larger = (
            ("the smaller is an opening", "larger")
            if len(found) == 2
            else ("the others are openings", "largest")
        )
        message = (
            f"layer {names} holds {len(found)} outlines, {sizes}; if the {larger} is a frame, delete it; if "
            f"{one}, move {'it' if len(found) == 2 else 'them'} to a layer with the role cutout"
        )
        problems.error("D010", message, drawing.file, where)
    else:
        message = f"layer {names} holds {len(found)} outlines beside each other, {sizes}"
        todo = "keep one, or give each part a layer of its own"
        problems.error("D019", f"{message}; {todo}", drawing.file, where)
    return None


def zones_of(
    drawing: Drawing, layers: list[tuple[Layer, LayerRole]], drawings: Drawings, outline: Closed | None
) -> list[Zone]:
    """Return the zones of a part, in the shop file's order of layers and the drawing's order on each.

    Parameters
    ----------
    drawing : Drawing
    layers : list of (Layer, LayerRole)
    drawings : Drawings
    outline : Closed or None
        Of the part; zones are checked against it.
    """
    zones: list[Zone] = []
    for layer, role in layers:
        if role.role == "outline":
            continue
        if role.does.line:
            zones += _center_lines(drawing, layer, role, drawings, outline)
            continue
        if holds_loose_lines(layer, drawings.chaining_mm):
            message = f"{layer.name} has the role {role.role}, but {drawing.file} has only open lines there"
            todo = 'write "center_line" or "ignore" for its role'
            drawings.problems.error("D007", f"{message}; {todo}", role.file or drawing.file, role.where)
            continue
        closed = drawings.closed(drawing, layer)
        if closed is None:
            continue
        if not closed:
            message = nothing_closed(layer, role.role)
            drawings.problems.error("D007", message, drawing.file, f"layer {layer.name}")
        for number, (shape, c) in enumerate(islands(closed), start=1):
            zones.append(_zone(layer.name, number, role, shape))
            if outline is not None:
                _check_place(drawing, layer, role, c, outline, drawings)
    return zones


def islands(closed: list[Closed]) -> list[tuple[Shape, Closed]]:
    """Turn outlines, perhaps nested, into shapes: an outline within one is a hole, within that a new "
    "shape."""
    parents = nesting(closed)
    depth: list[int] = []
    for parent in parents:
        d = 0
        while parent is not None:
            d, parent = d + 1, parents[parent]
        depth.append(d)
    out = []
    for i, c in enumerate(closed):
        if depth[i] % 2 == 0:
            holes: list[Outline] = [h.outline for j, h in enumerate(closed) if parents[j] == i]
            out.append((Shape(outer=c.outline, holes=tuple(holes)), c))
    return out


def _zone(layer: str, number: int, role: LayerRole, shape: Shape) -> Zone:
    face = role.face
    if role.does.always_through or (face is None and role.depth_mm is None):
        face = "through"
    return Zone(
        name=_name(layer, number),
        role=role.does.name,
        shape=shape,
        face=face or "front",
        depth_mm=role.depth_mm,
        tolerates=role.tolerates,
    )


def _center_lines(
    drawing: Drawing, layer: Layer, role: LayerRole, drawings: Drawings, outline: Closed | None
) -> list[Zone]:
    lines = open_lines(drawing, layer, drawings.chaining_mm, drawings.problems)
    if lines is not None and not lines:
        drawings.problems.error("D007", "expected a line on the layer", drawing.file, f"layer {layer.name}")
    return [
        Zone(
            name=_name(layer.name, number),
            role=role.does.name,
            line_mm=points,
            face=role.face or "front",
            tolerates=role.tolerates,
        )
        for number, (points, _) in enumerate(lines or [], start=1)
    ]


def _name(layer: str, number: int) -> str:
    return layer if number == 1 else f"{layer}#{number}"


def _check_place(
    drawing: Drawing, layer: Layer, role: LayerRole, c: Closed, outline: Closed, drawings: Drawings
) -> None:
    """Tell zones that lie outside the part's outline, wholly or partly."""
    where = f"layer {layer.name}, {_at(drawing, c)}"
    inside = c.polygon.intersection(outline.polygon).area
    if inside <= 1e-9 * c.polygon.area:
        drawings.problems.error(
            "D020",
            f"the {role.role} lies wholly outside the outline; move it, or set its layer to ignore",
            drawing.file,
            where,
        )
        return
    if role.does.slopes and c.polygon.distance(outline.polygon.exterior) > OVERHANG_MM:
        drawings.problems.warning(
            "D020",
            "the contour does not reach the outline, so how deep it is where is not known, and no wood is "
            "counted as gone there; draw it up to the outline, or make it a pocket",
            drawing.file,
            where,
        )
    outside = c.polygon.area - inside
    if role.does.slopes or outside <= OVERHANG_MM * c.polygon.length:
        return
    percent = f"{100 * outside / c.polygon.area:.2g} % of the {role.role} lies outside the outline"
    if role.does.may_go_through and not role.over_edge:
        meant = f'"{layer.name}" = {{ role = "{role.role}", over_edge = true }}'
        remedy = f"draw it into the outline or, where it is meant so, write {meant}"
        drawings.problems.warning("D020", f"{percent}; {remedy}", drawing.file, where)
    else:
        drawings.problems.note("D020", f"{percent}; taken as running out over the edge", drawing.file, where)


def _size(drawing: Drawing, c: Closed) -> str:
    x0, y0, x1, y1 = c.polygon.bounds
    return f"{(x1 - x0) / drawing.unit_mm:.4g} x {drawing.length(y1 - y0)}"


def _at(drawing: Drawing, c: Closed) -> str:
    return f"{c.label} {drawing.place(*c.outline.points_mm[0])}"
