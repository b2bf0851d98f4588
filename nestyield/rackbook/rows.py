"""The rows of the rack and defect tables that a take changes and adds."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import shapely
from shapely import get_parts

from nestyield.geometry.flatten import flatten_shape
from nestyield.geometry.shape import to_shapely
from nestyield.intake.table import Line, Table
from nestyield.model import (
    Blank,
    Defect,
    Layout,
    Leftover,
    Member,
    Outline,
    Piece,
    Plan,
    Sawing,
    Seam,
    Shape,
)
from nestyield.model.arcs import box_of
from nestyield.model.pose import Pose
from nestyield.placement.stock import leaf_of
from nestyield.rackbook.blanks import sawn_with
from nestyield.rackbook.cells import RowColumns, clip_lines, number, plain
from nestyield.rackbook.errors import RackbookError

#: A defect that reaches less than this far into a leftover is not booked, square millimeters.
LEAST_DEFECT_MM2 = 0.01
#: A defect is written as a circle around it where that is so many times as large at the most.
MOST_LARGER = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class NewPiece:
    """A leftover as it goes back on the rack.

    Parameters
    ----------
    name : str
    shape : Shape
    species : str
    grain_deg : float or None
    thickness_mm : float
    moisture_pct : float or None
    parents : tuple of str
        Rows that it comes from.
    as_on_rack : bool
        Whether it comes from one row, whose own words for species and defects go on.
    seams : tuple of Seam
        Of the blank; those that run through it are told.
    defects : tuple of (Defect, bool)
        What remains of each defect, and whether it is whole.
    holes : tuple of Defect
        That pins and screws leave in it.
    value : float or None
        What its row says that it is worth: a share of what the rows that it comes from say; None when they
        say nothing.
    measured_mm : float
        How far off its outline and flaws may be.
    leaf : bool
        Whether it is of less than the thickness of its row, so that flaws begin and end elsewhere in it.
    density_kg_m3 : float or None
        Of its wood, where all of the rows that it comes from were weighed.
    """

    name: str
    shape: Shape
    species: str
    grain_deg: float | None
    thickness_mm: float
    moisture_pct: float | None
    parents: tuple[str, ...]
    as_on_rack: bool
    seams: tuple[Seam, ...]
    defects: tuple[tuple[Defect, bool], ...]
    holes: tuple[Defect, ...] = ()
    value: float | None = None
    measured_mm: float = 0.0
    leaf: bool = False
    density_kg_m3: float | None = None


def row_of(table: Table, piece: str, columns: RowColumns) -> Line:
    """Return the row of a piece; RackbookError when there is not exactly one."""
    name = columns.name("piece")
    rows = [row for row in table.rows if name is not None and table.record(row)[name] == piece]
    if len(rows) != 1:
        raise RackbookError(f"expected one row for piece {piece!r} in the rack table, got {len(rows)}")
    return rows[0]


def with_columns(table: Table, meanings: Iterable[str], columns: RowColumns) -> tuple[Table, RowColumns]:
    """Return the table with a column for each meaning, new ones at the right."""
    for meaning in meanings:
        if columns.name(meaning) is None:
            table = table.with_column(meaning)
    return table, RowColumns(table, columns.units, columns.comma)


def book_out(table: Table, used: Mapping[str, int], now: Mapping[str, Piece], columns: RowColumns) -> Table:
    """Return the rack table with copies taken from its rows.

    A row with copies left keeps them in its count; of a row that is used up the status becomes
    ``taken``, and the row stays.

    Parameters
    ----------
    table : Table
    used : dict of str to int
        Copies by piece.
    now : dict of str to Piece
        The rack as it is.
    columns : RowColumns
    """
    if any(copies >= now[piece].count for piece, copies in used.items()):
        table, columns = with_columns(table, ["status"], columns)
    for piece, copies in sorted(used.items()):
        row = row_of(table, piece, columns)
        left = now[piece].count - copies
        values = {"count": str(left)} if left > 0 else {"status": "taken"}
        table = table.with_cells(row, columns.cells(values))
    return table


def new_pieces(plan: Plan, layouts: Sequence[Layout], names: Iterable[str]) -> tuple[NewPiece, ...]:
    """Return all that is worth keeping of some layouts, each under a name that is free.

    That is the leftovers of each blank, what was ripped off its pieces before they were glued, and what was
    left over when its piece was sawn.

    Parameters
    ----------
    plan : Plan
    layouts : sequence of Layout
    names : iterable of str
        Names that are in use.
    """
    taken = set(names)
    found = []
    for layout in layouts:
        for leftover in layout.leftovers:
            if not leftover.usable:
                continue
            name = _free(leftover.name, taken)
            taken.add(name)
            thickness = plan.leftover_thickness_mm(layout)
            blank = layout.blank
            planed = 0.0 if blank.grain_deg is None else plan.shop.settings.planing_mm
            piece = NewPiece(
                name=name,
                shape=leftover.shape,
                species=blank.species,
                grain_deg=blank.grain_deg,
                thickness_mm=thickness,
                moisture_pct=_moisture(plan, layout),
                parents=tuple(dict.fromkeys(m.piece for m in blank.members)),
                as_on_rack=len(blank.members) == 1,
                seams=blank.seams,
                defects=_remaining(blank.defects, leftover.shape, thickness, planed),
                holes=_holes(layout, leftover),
                value=leftover.value if leftover.value > 0 and _own_value(plan, blank) else None,
                measured_mm=blank.measured_mm,
                density_kg_m3=_density(plan, blank),
            )
            found.append(_at_corner(piece))
        found += _strips(plan, layout, taken)
    for sawing in sawn_with(plan, layouts):
        found += _rests(plan, sawing, taken)
    return tuple(found)


def _rests(plan: Plan, sawing: Sawing, taken: set[str]) -> list[NewPiece]:
    """Return what a piece sawn before the bed leaves over, rough; sawn faces of a leaf are planed flat."""
    piece = plan.shop.piece(sawing.piece)
    layers = [None] * len(sawing.rests) if sawing.resaw is None else sawing.resaw.rests
    return [
        _rough(
            piece if layer is None else leaf_of(piece, layer),
            rest.shape,
            rest.name,
            rest.value,
            taken,
            leaf=layer is not None,
        )
        for rest, layer in zip(sawing.rests, layers, strict=True)
        if rest.usable
    ]


def _rough(
    piece: Piece, shape: Shape, name: str, value: float, taken: set[str], leaf: bool = False
) -> NewPiece:
    """Return rough wood off a piece under a free name; with its own value where the piece's row has one."""
    name = _free(name, taken)
    taken.add(name)
    return _at_corner(
        NewPiece(
            name=name,
            shape=shape,
            species=piece.species,
            grain_deg=piece.grain_deg,
            thickness_mm=piece.thickness_mm,
            moisture_pct=piece.moisture_pct,
            parents=(piece.name,),
            as_on_rack=True,
            seams=(),
            defects=_remaining(piece.defects, shape, piece.thickness_mm, 0.0),
            value=None if piece.value is None else value,
            measured_mm=piece.measured_mm,
            leaf=leaf,
            density_kg_m3=_weighed_density(piece),
        )
    )


def _holes(layout: Layout, leftover: Leftover) -> tuple[Defect, ...]:
    """Return the holes that reach a leftover: of a screw beside it only the head may lie over it."""
    wood = to_shapely(leftover.shape)
    made = layout.work.holes_in(leftover.name) if layout.work is not None else ()
    return tuple(h for h in made if to_shapely(h.shape).intersection(wood).area > LEAST_DEFECT_MM2)


def _weighed_density(piece: Piece) -> float | None:
    """Return the density of a piece that was weighed, kg/m3."""
    if piece.weight_kg is None:
        return None
    return piece.weight_kg / (piece.shape.area_mm2 * piece.thickness_mm / 1e9)


def _density(plan: Plan, blank: Blank) -> float | None:
    """Return the density of a blank whose members are all of one row that was weighed."""
    names = {m.piece for m in blank.members}
    return _weighed_density(plan.shop.piece(names.pop())) if len(names) == 1 else None


def _own_value(plan: Plan, blank: Blank) -> bool:
    """Tell whether the row of any piece of a blank says what the piece is worth."""
    return any(plan.shop.piece(m.piece).value is not None for m in blank.members)


def _strips(plan: Plan, layout: Layout, taken: set[str]) -> list[NewPiece]:
    """Return what is worth keeping of the pieces of a glue-up, sawn off before gluing, rough as it is."""
    if layout.laminate is not None:
        return [
            _rough(plan.shop.piece(member.piece), rest.shape, rest.name, rest.value, taken)
            for member, layer in zip(layout.blank.members, layout.laminate.layers, strict=True)
            for rest in layer.rests
        ]
    if layout.glueup is None:
        return []
    found = []
    for member, told in zip(layout.blank.members, layout.glueup.members):
        piece = plan.shop.piece(member.piece)
        if member.layer is not None:
            piece = leaf_of(piece, member.layer)
        for strip in told.strips:
            if not strip.usable:
                continue
            shape = on_piece(strip.shape, member)
            value = 0.0 if piece.value is None else piece.value * shape.area_mm2 / piece.shape.area_mm2
            value = value if strip.value is None else strip.value
            leaf = member.layer is not None
            found.append(_rough(piece, shape, f"{piece.name}-a", value, taken, leaf=leaf))
    return found


def _at_corner(piece: NewPiece) -> NewPiece:
    """Return a piece in coordinates of its own: the corner of the box around it at 0, 0."""
    box = box_of(piece.shape.outer)
    move = Pose(x_mm=-box.x0, y_mm=-box.y0)
    return replace(
        piece,
        shape=move.shape(piece.shape),
        seams=tuple(replace(s, line_mm=move.points(s.line_mm)) for s in piece.seams),
        defects=tuple((replace(d, shape=move.shape(d.shape)), whole) for d, whole in piece.defects),
        holes=tuple(replace(d, shape=move.shape(d.shape)) for d in piece.holes),
    )


def on_piece(shape: Shape, member: Member) -> Shape:
    """Return a shape of the blank in the coordinates of the rack piece that lies there as a member."""
    return Pose.of(member).inverse().shape(shape)


def book_in(
    table: Table,
    pieces: Sequence[NewPiece],
    columns: RowColumns,
    chord_error_mm: float,
    usual_measured_mm: float = 0.0,
    *,
    holes_here: bool = False,
) -> Table:
    """Return the rack table with a row added for each leftover; those measured as usual do not say how.

    With ``holes_here`` defects, and the holes that pins and screws leave, stand in the rows as flaws: the
    shop has no defect table for them.
    """
    if not pieces:
        return table
    seams = {p.name: clip_lines([s.line_mm for s in p.seams], p.shape) for p in pieces}
    sizes = {p.name: _size(p.shape) for p in pieces}
    given = all(columns.name(k) is not None for k in ("length", "width"))
    wanted = ["parent"]
    if not given or not all(sizes.values()):
        wanted.insert(0, "outline")
    if any(p.grain_deg != 0 for p in pieces):
        wanted.append("grain")
    if any(seams.values()):
        wanted.append("seams")
    if any(p.measured_mm != usual_measured_mm for p in pieces):
        wanted.append("measured")
    flaws = {p.name: [*(f for d, _ in p.defects if (f := as_flaw(d))), *p.holes] for p in pieces}
    if holes_here and any(flaws.values()):
        wanted.append("flaws")
    table, columns = with_columns(table, wanted, columns)
    words = {p.name: _species_cell(table, p, columns) for p in pieces}
    for piece in pieces:
        size = sizes[piece.name] if given else None
        values = {
            "piece": piece.name,
            "species": words[piece.name],
            "thickness": columns.length("thickness", piece.thickness_mm),
            "outline": "" if size else columns.polygon("outline", piece.shape, chord_error_mm),
            "length": columns.size("length", size[0]) if size else "",
            "width": columns.size("width", size[1]) if size else "",
            "grain": "none" if piece.grain_deg is None else columns.decimal(plain(piece.grain_deg)),
            "moisture": "" if piece.moisture_pct is None else columns.decimal(plain(piece.moisture_pct)),
            "count": "1",
            "status": "ready",
            "parent": " + ".join(piece.parents),
            "seams": columns.lines("seams", seams[piece.name]),
            "measured": ""
            if piece.measured_mm == usual_measured_mm
            else columns.length("measured", piece.measured_mm),
            "weight": columns.decimal(_weight_cell(piece)),
            "value": "" if piece.value is None else columns.decimal(f"{piece.value:.2f}"),
        }
        if holes_here and flaws[piece.name]:
            values["flaws"] = "; ".join(_flaw(flaw, columns) for flaw in flaws[piece.name])
        table = table.with_row(columns.cells(values))
    return table


def _weight_cell(piece: NewPiece) -> str:
    """Return what a leftover of a weighed row weighs by its density, with its unit; ``""`` for others."""
    if piece.density_kg_m3 is None:
        return ""
    kg = piece.density_kg_m3 * piece.shape.area_mm2 * piece.thickness_mm / 1e9
    return f"{kg:.3f} kg" if kg >= 1.0 else f"{1000 * kg:.0f} g"


def as_flaw(defect: Defect) -> Defect | None:
    """Return a defect as a circle around it, for the column for flaws; None where that would be far larger.

    Of a depth that is less than the piece's nothing can be written there: it counts as all through.
    """
    if _circle(defect.shape) is not None:
        return defect
    wood = to_shapely(defect.shape)
    around = shapely.minimum_bounding_circle(wood)
    if around.area > MOST_LARGER * wood.area:
        return None
    middle, radius = around.centroid, shapely.minimum_bounding_radius(wood)
    return replace(defect, shape=Shape(outer=Outline.circle(middle.x, middle.y, radius)))


def _flaw(hole: Defect, columns: RowColumns) -> str:
    """Return something round as the column for flaws has it: ``6 drilled hole at 35, 130``."""
    circle = _circle(hole.shape)
    assert circle is not None
    unit = columns.unit("flaws")  # a comma parts x and y there: numbers have a point
    x, y, size = (number(v, unit) for v in (circle[0], circle[1], 2.0 * circle[2]))
    face = f" {hole.face}" if hole.face != "through" and hole.depth_mm is None else ""
    return f"{size} {hole.kind} at {x}, {y}{face}"


def _size(shape: Shape) -> tuple[float, float] | None:
    """Return length and width of a rectangle with its corner at 0, 0; None for any other shape."""
    box = box_of(shape.outer)
    plain_box = Outline.rectangle(0.0, 0.0, box.x1, box.y1)
    square = not shape.holes and len(shape.outer.points_mm) == 4 and not any(shape.outer.bulges)
    near = {(round(x, 4), round(y, 4)) for x, y in shape.outer.points_mm}
    if square and near == {(round(x, 4), round(y, 4)) for x, y in plain_box.points_mm}:
        return box.x1, box.y1
    return None


def _species_cell(table: Table, piece: NewPiece, columns: RowColumns) -> str:
    """Return the species as the maker wrote it in the row that a piece comes from."""
    name = columns.name("species")
    if not piece.as_on_rack or name is None:
        return piece.species
    return table.record(row_of(table, piece.parents[0], columns))[name].strip() or piece.species


def book_defects(
    table: Table, pieces: Sequence[NewPiece], columns: RowColumns, file: str, chord_error_mm: float
) -> Table:
    """Return the defect table with a row for all that remains of each defect in each leftover.

    A defect of a single piece keeps the maker's words, with the new name and place; what is no circle is
    written as an outline.
    """
    rows = {f"{file} {row.place}": row for row in table.rows}
    booked = {p.name: [*(defect for defect, _ in p.defects), *p.holes] for p in pieces}
    drawn = [defect.shape for found in booked.values() for defect in found]
    if any(not _as_circle(shape, columns) for shape in drawn):
        table, columns = with_columns(table, ["outline"], columns)
    for piece in pieces:
        for defect in booked[piece.name]:
            source = rows.get(defect.name) if piece.as_on_rack else None
            values = dict(table.record(source)) if source is not None else {}
            cells = {"piece": piece.name}
            cells |= dict.fromkeys(("x", "y", "diameter", "length", "width", "angle", "outline"), "")
            cells |= _where(defect.shape, columns, chord_error_mm)
            if source is None:
                cells |= {"kind": defect.kind}
            if source is None or piece.leaf:
                cells |= {"face": defect.face}
            depth = "" if defect.depth_mm is None else columns.length("depth", defect.depth_mm)
            if source is None or piece.leaf or defect.depth_mm is None:
                cells["depth"] = depth
            values |= columns.cells(cells)
            table = table.with_row(values)
    return table


def _where(shape: Shape, columns: RowColumns, chord_error_mm: float) -> dict[str, str]:
    circle = _as_circle(shape, columns)
    if circle:
        return circle
    region = flatten_shape(shape, chord_error_mm, "outside")
    polygon = to_shapely(region)
    rings = [polygon.exterior] if polygon.geom_type == "Polygon" else [polygon.convex_hull.exterior]
    unit = columns.unit("outline")
    points = ", ".join(f"{number(x, unit)} {number(y, unit)}" for x, y in rings[0].coords)
    return {"outline": f"POLYGON (({points}))"}


def _as_circle(shape: Shape, columns: RowColumns) -> dict[str, str]:
    circle = _circle(shape)
    if circle is None or not all(columns.name(k) for k in ("x", "y", "diameter")):
        return {}
    x, y, radius = circle
    return {
        "x": columns.length("x", x),
        "y": columns.length("y", y),
        "diameter": columns.length("diameter", 2 * radius),
    }


def _circle(shape: Shape) -> tuple[float, float, float] | None:
    """Return middle and radius when a shape is a circle as ``Outline.circle`` makes it."""
    outer = shape.outer
    if shape.holes or len(outer.points_mm) != 2 or {abs(b) for b in outer.bulges} != {1.0}:
        return None
    (x0, y0), (x1, y1) = outer.points_mm
    return (x0 + x1) / 2, (y0 + y1) / 2, ((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5 / 2


def _remaining(
    defects: Sequence[Defect], shape: Shape, thickness_mm: float, planed_mm: float
) -> tuple[tuple[Defect, bool], ...]:
    """Return what is left of defects inside a leftover, after planing."""
    inside = to_shapely(shape)
    found = []
    for defect in defects:
        if defect.depth_mm is not None and defect.face != "through" and defect.depth_mm <= planed_mm:
            continue
        whole = to_shapely(defect.shape)
        common = whole.intersection(inside)
        parts = [p for p in get_parts(common) if p.area > LEAST_DEFECT_MM2]
        deep = defect.depth_mm is None or defect.depth_mm >= thickness_mm
        depth = None if deep else defect.depth_mm
        if parts and common.area >= whole.area * (1 - 1e-9):
            found.append((_as(defect, defect.shape, depth), True))
            continue
        for part in parts:
            if part.geom_type == "Polygon":
                outline = Outline.polygon([(x, y) for x, y in part.exterior.coords[:-1]])
                found.append((_as(defect, Shape(outer=outline), depth), False))
    return tuple(found)


def _as(defect: Defect, shape: Shape, depth_mm: float | None) -> Defect:
    return Defect(name=defect.name, kind=defect.kind, shape=shape, face=defect.face, depth_mm=depth_mm)


def _moisture(plan: Plan, layout: Layout) -> float | None:
    """Return the moisture of a blank: its piece's, or the mean of its pieces' when all are known."""
    known = [plan.shop.piece(m.piece).moisture_pct for m in layout.blank.members]
    values = [m for m in known if m is not None]
    return round(sum(values) / len(values), 1) if values and len(values) == len(known) else None


def _free(name: str, taken: set[str]) -> str:
    """Return the name, or the same with the first letters that are free."""
    if name not in taken:
        return name
    stem = re.sub(r"-[a-z]+$", "", name)
    index = 0
    while True:
        letters, rest = "", index + 1
        while rest:
            rest, digit = divmod(rest - 1, 26)
            letters = chr(ord("a") + digit) + letters
        if f"{stem}-{letters}" not in taken:
            return f"{stem}-{letters}"
        index += 1
