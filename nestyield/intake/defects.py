"""The defect table: one row a flaw."""

from __future__ import annotations

import math
from dataclasses import dataclass

import shapely
import shapely.affinity

from nestyield.intake.columns import Codes, Columns
from nestyield.intake.lengths import UNIT_MM
from nestyield.intake.problems import Problems, did_you_mean, shown
from nestyield.intake.rack import Rack, region_of
from nestyield.intake.reach import FARTHEST_MM, too_far_mm
from nestyield.intake.table import Line, Table, parse_table
from nestyield.intake.tables import DEFECTS
from nestyield.intake.tolerates import defect_kind
from nestyield.intake.wkt import WktError, parse_polygon
from nestyield.model import DEFECT_KINDS, Defect, ModelError, Outline, Piece, PieceFace, Shape
from nestyield.model.units import Units

#: Column -> whether it is a length (or well-known text with a unit).
DEFECT_COLUMNS: dict[str, bool] = {c.name: c.length for c in DEFECTS}
FACES: tuple[PieceFace, ...] = ("top", "bottom", "through")
CODES = Codes(missing="F002", misspelt="F003", long_row="F004", cell="F005")


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
        defect = _defect(row, c)
        name = c.text(row, "piece")
        if rack.names is not None and name not in rack.names:
            hint = did_you_mean(name, sorted(rack.names), "pieces")
            c.error(row, f"the rack has no piece {shown(name)}; {hint}", "piece", "F006")
            continue
        if defect is None:
            continue
        if name in pieces:
            if name not in regions:
                regions[name] = region_of(pieces[name].shape)
            _check_place(row, c, defect, pieces[name], regions[name])
        rows.append(DefectRow(piece=name, defect=defect))
    return rows


def _defect(row: Line, c: Columns) -> Defect | None:
    before = c.problems.errors
    if not c.check_width(row):
        return None
    raw = c.text(row, "kind")
    kind = defect_kind(raw)
    if kind is None:
        hint = did_you_mean(raw, DEFECT_KINDS, "kinds")
        c.error(row, f"unknown kind of defect {shown(raw)}; {hint}", "kind")
    shape = _shape(row, c)
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


def _shape(row: Line, c: Columns) -> Shape | None:
    outline = c.text(row, "outline")
    measures = [k for k in ("x", "y", "diameter", "length", "width", "angle") if c.text(row, k)]
    if outline:
        if measures:
            c.error(row, f"expected either an outline or {', '.join(measures)}; got both", "outline", "F007")
            return None
        try:
            return parse_polygon(outline, float(UNIT_MM[c.unit("outline")]))
        except (WktError, ModelError) as error:
            c.error(row, str(error), "outline", "F008")
            return None
    round_ = bool(c.text(row, "diameter"))
    oblong = bool(c.text(row, "length") or c.text(row, "width"))
    if round_ == oblong:
        got = "both" if round_ else "neither"
        message = "expected either diameter, or length and width, or an outline"
        c.error(row, f"{message}; got {got}", code="F007")
        return None
    x, y = c.length(row, "x", required=True), c.length(row, "y", required=True)
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


def _place(c: Columns, x_mm: float, y_mm: float) -> str:
    x, y = (c.words.number(v, style="setting") for v in (x_mm, y_mm))
    return f"({x}, {y}) {c.units}"


def _check_place(row: Line, c: Columns, defect: Defect, piece: Piece, region: shapely.Polygon) -> None:
    shape = region_of(defect.shape)
    if not shape.intersects(region):
        x, y = shape.centroid.x, shape.centroid.y
        x0, y0, x1, y1 = region.bounds
        other = shapely.affinity.affine_transform(shape, [0, 1, 1, 0, 0, 0])
        hint = "; are x and y exchanged?" if other.intersects(region) else ""
        c.error(
            row,
            f"expected a defect inside piece {shown(piece.name)}, which reaches from {_place(c, x0, y0)} to "
            f"{_place(c, x1, y1)}; got one at {_place(c, x, y)}{hint}",
            code="F009",
        )
    if defect.depth_mm is not None and defect.depth_mm > piece.thickness_mm:
        c.problems.warning(
            "F009",
            f"the defect is deeper ({c.words.length(defect.depth_mm, style='setting')}) than the piece is "
            f"thick ({c.words.length(piece.thickness_mm, style='setting')}); read as right through",
            c.file,
            c.where(row, "depth"),
        )
