"""The defect table: one row a flaw."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

import shapely
import shapely.affinity

from nestyield.intake.columns import Codes, Columns
from nestyield.intake.lengths import UNIT_MM, LengthError, parse_length
from nestyield.intake.problems import Problems, did_you_mean, shown
from nestyield.intake.rack import Rack, region_of
from nestyield.intake.reach import FARTHEST_MM, too_far_mm
from nestyield.intake.table import Line, Table, parse_table
from nestyield.intake.tables import DEFECTS
from nestyield.intake.tolerates import defect_kind, unknown_kind
from nestyield.intake.wkt import WktError, parse_polygon
from nestyield.model import Defect, ModelError, Outline, Piece, PieceFace, Shape
from nestyield.model.units import Units
from nestyield.words import listed

#: Column -> whether it is a length (or well-known text with a unit).
DEFECT_COLUMNS: dict[str, bool] = {c.name: c.length for c in DEFECTS}
FACES: tuple[PieceFace, ...] = ("top", "bottom", "through")
#: A place with where it is measured from.
_FROM = re.compile(r"([\d.,/\s]+?[a-z\"]*)\s*(from\s+(?:the\s+)?([a-z]+).*)", re.IGNORECASE)
_OTHER_END = {
    "x": frozenset(("right", "end", "other", "far")),
    "y": frozenset(("far", "other", "top", "back")),
}
CODES = Codes(missing="F002", misspelt="F003", long_row="F004", cell="F005", size="F005")


@dataclass(frozen=True, slots=True, kw_only=True)
class DefectRow:
    """A defect and the piece that it belongs to.

    Parameters
    ----------
    piece : str
    defect : Defect
    """

    piece: str
    defect: Defect


def read_defects(
    data: bytes | Table, file: str, units: Units, rack: Rack, problems: Problems, comma: bool = False
) -> list[DefectRow]:
    """Read the defect table.

    Parameters
    ----------
    data : bytes or Table
        A file's, or what was read from a database.
    file : str
        Its name for findings.
    units : {"mm", "in"}
        Of the shop.
    rack : Rack
        Pieces that defects may belong to.
    problems : Problems
    comma : bool
        Whether cells may have a decimal comma.

    Returns
    -------
    list of DefectRow
        In table order; those that could be read.
    """
    table, why = (data, "") if isinstance(data, Table) else parse_table(data)
    if table is None:
        problems.error("F001", f"the defect table {why}", file)
        return []
    c = Columns(table=table, file=file, units=units, codes=CODES, problems=problems, comma=comma)
    if not c.find(DEFECT_COLUMNS, ("piece", "kind")):
        return []
    pieces = {p.name: p for p in rack.pieces}
    regions: dict[str, shapely.Polygon] = {}
    rows = []
    for row in table.rows:
        name = c.text(row, "piece")
        defect = _defect(row, c, pieces.get(name)) if c.check_width(row) else None
        if rack.names is not None and name not in rack.names:
            if not rack.unsure:  # else it may be the piece whose name is to be mended
                _tell_no_piece(row, c, name, rack.names)
            continue
        if defect is None:
            continue
        if name in pieces:
            if name not in regions:
                regions[name] = region_of(pieces[name].shape)
            _check_place(row, c, defect, pieces[name], regions[name], rack)
        rows.append(DefectRow(piece=name, defect=defect))
    return rows


def _tell_no_piece(row: Line, c: Columns, name: str, names: frozenset[str]) -> None:
    if not name:
        c.error(row, "this row has no piece; write the name of the piece that it is in", "piece", "F006")
        return
    hint = did_you_mean(name, sorted(names), "pieces")
    c.error(row, f"the rack has no piece {shown(name)}; {hint}", "piece", "F006")


def _defect(row: Line, c: Columns, piece: Piece | None) -> Defect | None:
    before = c.problems.errors
    raw = c.text(row, "kind")
    kind = defect_kind(raw)
    if kind is None and not raw:
        c.error(row, "this row has no kind; write the kind of defect, such as knot", "kind")
    elif kind is None:
        c.error(row, unknown_kind(raw), "kind")
    shape = None if _told_from_other_end(row, c, piece) else _shape(row, c, kind or "defect")
    face = c.choice(row, "face", FACES, "through")
    depth = c.positive(row, "depth")
    if depth is not None and c.text(row, "face").casefold() in ("", "through"):
        c.error(
            row, "a depth counts from one face; set face to top or bottom, or leave the depth out", "face"
        )
    far = None if shape is None else too_far_mm(shape)
    if far is not None:
        most, reach = (c.words.length(v, style="setting") for v in (FARTHEST_MM, far))
        c.error(
            row,
            f"expected a defect within {most} of the piece's origin, got one that reaches {reach}",
            code="F008",
        )
    if c.problems.errors != before or kind is None or shape is None:
        return None
    return Defect(
        name=f"{c.file} {row.place}",
        kind=kind,
        shape=shape,
        face=face,  # type: ignore[arg-type]
        depth_mm=depth,
    )


def _told_from_other_end(row: Line, c: Columns, piece: Piece | None) -> bool:
    """Add an error for a place that is measured from the other end or edge, and write it from 0,0."""
    told = False
    for name, start, side in (("x", "left end", 0), ("y", "near edge", 1)):
        cell = c.text(row, name)
        match = _FROM.fullmatch(cell)
        if match is None:
            continue
        told = True
        todo = f"measure from there, and write it without {match[2]!r}"
        if piece is not None and match[3].casefold() in _OTHER_END[name]:
            size = region_of(piece.shape).bounds[2 + side]
            try:
                place = parse_length(match[1], c.unit(name))
                whole, from_0 = (f"{v / float(UNIT_MM[c.unit(name)]):.6g}" for v in (size, size - place))
                todo = f"write {from_0} ({whole} less {match[1]})"
            except LengthError:
                pass
        c.error(row, f"{name} counts from the {start}; {todo}", name)
    return told


def _shape(row: Line, c: Columns, kind: str) -> Shape | None:
    outline = c.text(row, "outline")
    measures = [k for k in ("x", "y", "diameter", "length", "width", "angle") if c.text(row, k)]
    if outline:
        if measures:
            c.error(
                row,
                f"the row has an outline and {listed(measures)}; keep one or the other",
                "outline",
                "F007",
            )
            return None
        try:
            return parse_polygon(outline, float(UNIT_MM[c.unit("outline")]), c.unit("outline"))
        except (WktError, ModelError) as error:
            c.error(row, str(error), "outline", "F008")
            return None
    round_ = bool(c.text(row, "diameter"))
    oblong = bool(c.text(row, "length") or c.text(row, "width"))
    if round_ and oblong:
        c.error(row, f"the {kind} has a diameter and a length or width; keep one", code="F007")
        return None
    if not round_ and not oblong:
        ways = "its diameter, or length and width, or an outline"
        c.error(row, f"the {kind} has no size; write {ways}", code="F007")
        return None
    lacks = [name for name in ("x", "y") if not c.text(row, name)]
    if lacks:
        means = {"x": "x (along the length)", "y": "y (across)"}
        what = "place" if len(lacks) == 2 else lacks[0]
        todo = f"write {listed(means[k] for k in lacks)} of its middle, from corner 0,0"
        c.error(row, f"the {kind} has no {what}; {todo}", lacks[0])
    x, y = c.length(row, "x"), c.length(row, "y")
    angle = c.number(row, "angle", -360, 360) or 0.0
    if round_:
        diameter = c.positive(row, "diameter", required=True)
        if x is None or y is None or diameter is None:
            return None
        return Shape(outer=Outline.circle(x, y, diameter / 2))
    length, width = c.positive(row, "length", required=True), c.positive(row, "width", required=True)
    if x is None or y is None or length is None or width is None:
        return None
    return Shape(outer=_turned_rectangle(x, y, length, width, angle))


def _turned_rectangle(x: float, y: float, length: float, width: float, angle_deg: float) -> Outline:
    a = math.radians(angle_deg)
    cos, sin = (round(v, 15) for v in (math.cos(a), math.sin(a)))
    corners = [
        (-length / 2, -width / 2),
        (length / 2, -width / 2),
        (length / 2, width / 2),
        (-length / 2, width / 2),
    ]
    return Outline.polygon([(x + u * cos - v * sin, y + u * sin + v * cos) for u, v in corners])


def _check_place(
    row: Line, c: Columns, defect: Defect, piece: Piece, region: shapely.Polygon, rack: Rack
) -> None:
    shape = region_of(defect.shape)
    if not shape.intersects(region):
        doubt = rack.doubts.get(piece.name)
        if doubt is not None:
            outside = f"the {defect.kind} of {c.file}, {c.where(row)}, lies outside it"
            c.problems.to_error(doubt, f"{doubt.message} ({outside})")
        else:
            _tell_outside(row, c, defect, piece, region, shape, rack)
    if piece.name in rack.doubts:
        return
    if defect.depth_mm is not None and defect.depth_mm > piece.thickness_mm:
        deep, thick = (c.words.length(v, style="setting") for v in (defect.depth_mm, piece.thickness_mm))
        c.problems.warning(
            "F009",
            f"the {defect.kind} is {deep} deep, the piece {thick} thick; correct the depth, or clear it if "
            "the defect goes right through, as it is read now",
            c.file,
            c.where(row, "depth"),
        )


def _tell_outside(
    row: Line,
    c: Columns,
    defect: Defect,
    piece: Piece,
    region: shapely.Polygon,
    shape: shapely.Polygon,
    rack: Rack,
) -> None:
    x, y = (c.words.number(v, style="setting") for v in (shape.centroid.x, shape.centroid.y))
    x0, y0, x1, y1 = region.bounds
    size = c.words.size(x1 - x0, y1 - y0, style="setting")
    other = shapely.affinity.affine_transform(shape, [0, 1, 1, 0, 0, 0])
    sizes = f", or length and width of {piece.name}" if piece.name in rack.grain_said else ""
    turned = other.intersects(region)
    exchanged = f"are x and y exchanged{sizes}?" if turned else "correct x and y, or the piece"
    c.error(
        row,
        f"the {defect.kind} lies outside {piece.name} ({size}): x {x}, y {y}; {exchanged}",
        code="F009",
    )
