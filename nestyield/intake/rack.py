"""The rack table: one row a piece."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import shapely

from nestyield.intake.columns import Codes, Columns
from nestyield.intake.drawings import Drawings
from nestyield.intake.lengths import UNIT_MM
from nestyield.intake.piece_drawings import LayerMeaning, piece_from_drawing
from nestyield.intake.problems import shown
from nestyield.intake.rack_flaws import flaws_of_row
from nestyield.intake.reach import FARTHEST_MM, too_far_mm
from nestyield.intake.sampling import sampled
from nestyield.intake.species import canonical_species
from nestyield.intake.table import Line, Table, parse_table, read_table
from nestyield.intake.tables import RACK
from nestyield.intake.tape import TAPE_MM, Taped, TapeError, is_taped, parse_taped
from nestyield.intake.weights import WeightError, parse_weight
from nestyield.intake.wkt import WktError, is_wkt, parse_lines, parse_polygon
from nestyield.model import Defect, ModelError, Outline, OwnWood, Piece, Seam, Settings, Shape, Status
from nestyield.model.units import Units
from nestyield.wood.species import find

#: Column -> whether it is a length (or well-known text with a unit).
RACK_COLUMNS: dict[str, bool] = {c.name: c.length for c in RACK}
STATUSES: tuple[Status, ...] = ("ready", "hold", "taken")
#: What makers write for a status -> the one that says it.
STATUSES_MEANT = {
    **dict.fromkeys(("sold", "used", "used up", "gone", "cut", "out", "none"), "taken"),
    **dict.fromkeys(("reserved", "keep", "kept", "promised", "on hold", "wait", "drying"), "hold"),
    **dict.fromkeys(("ok", "free", "available", "in stock", "in", "yes", "new"), "ready"),
}
#: Cells of a row that adds up the others.
TOTALS = frozenset(("total", "totals", "sum", "subtotal", "grand total", "summe", "gesamt", "together"))
CODES = Codes(missing="R002", misspelt="R003", long_row="R004", cell="R005")
#: Larger pieces, and thicker ones, are told.
LONGEST_PIECE_MM, THICKEST_PIECE_MM, SMALLEST_PIECE_MM = 6000.0, 300.0, 5.0
#: Wood lighter or heavier than this is told, kg/m3.
PLAUSIBLE_KG_M3 = (100.0, 1400.0)
#: A piece that is shorter than this is told, too: numbers in inches read as millimeters are.
SHORTEST_PIECE_MM = 60.0
#: A seam may pass the edge by this: tables are not exact.
SEAM_SLACK_MM = 1.0

#: Allowances where nobody says otherwise.
USUAL = Settings(cutter_diameter_mm=1.0)

__all__ = ["RACK_COLUMNS", "Rack", "read_rack", "read_table"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rack:
    """The rack as read.

    Parameters
    ----------
    pieces : tuple of Piece
        In table order; those that could be read.
    names : frozenset of str, or None
        Names of all pieces, also of those with errors; None when the table could not be read.
    """

    pieces: tuple[Piece, ...] = ()
    names: frozenset[str] | None = None


def read_rack(
    data: bytes | Table,
    file: str,
    units: Units,
    drawings: Drawings,
    meanings: dict[str, LayerMeaning] | None,
    settings: Settings = USUAL,
    comma: bool = False,
    own: Sequence[OwnWood] = (),
) -> Rack:
    """Read the rack table.

    Parameters
    ----------
    data : bytes or Table
        A file's, or what was read from a database.
    file : str
        Its name for findings.
    units : {"mm", "in"}
        Of the shop.
    drawings : Drawings
        Reads outlines kept in drawings.
    meanings : dict of str to LayerMeaning, or None
        ``[rack_layers]`` of the shop file by layer name.
    settings : Settings
        Allowances for edges and flaws.
    comma : bool
        Whether cells may have a decimal comma.
    own : sequence of OwnWood
        Woods with the maker's own figures.

    Returns
    -------
    Rack
    """
    problems = drawings.problems
    table, why = (data, "") if isinstance(data, Table) else parse_table(data)
    if table is None:
        problems.error("R001", f"the rack table {why}", file)
        return Rack()
    columns = Columns(table=table, file=file, units=units, codes=CODES, problems=problems, comma=comma)
    if not columns.find(RACK_COLUMNS, ("piece", "species", "thickness"), ("length", "width")):
        return Rack()
    if not columns.has("outline") and not (columns.has("length") and columns.has("width")):
        problems.error("R002", "expected columns 'length' and 'width', or 'outline'; they are missing", file)
        return Rack()
    pieces: list[Piece] = []
    first_row: dict[str, str] = {}
    by_case: dict[str, str] = {}
    for row in table.rows:
        piece = _piece(row, columns, drawings, meanings, settings, own)
        name = columns.text(row, "piece")
        if name and name in first_row:
            message = f"expected a unique piece name, {shown(name)} is also in {first_row[name]}"
            columns.error(row, f"{message}; use count for pieces alike", "piece", "R006")
            continue
        alike = by_case.setdefault(name.casefold(), name)
        if name and alike != name:
            message = f"expected names that differ by more than case, {shown(alike)} is in"
            columns.error(row, f"{message} {first_row[alike]}; rename one of them", "piece", "R006")
            continue
        first_row[name] = row.place
        if piece is not None:
            pieces.append(piece)
    for piece in pieces:
        stem, _, copy = piece.name.rpartition("/")
        if (
            copy.isascii()
            and copy.isdecimal()
            and any(p.name == stem and 2 <= int(copy) <= p.count for p in pieces)
        ):
            message = (
                f"expected a name unlike those of copies, {shown(piece.name)} is also copy {copy} of {stem!r}"
            )
            problems.error("R006", message, file, f"{first_row[piece.name]}, column piece")
    return Rack(pieces=tuple(pieces), names=frozenset(first_row) - {""})


def _piece(
    row: Line,
    c: Columns,
    drawings: Drawings,
    meanings: dict[str, LayerMeaning] | None,
    settings: Settings,
    own: Sequence[OwnWood],
) -> Piece | None:
    before = c.problems.errors
    if not c.check_width(row):
        return None
    name = c.text(row, "piece")
    if any(cell.strip().casefold().rstrip(":") in TOTALS for cell in row.cells):
        c.error(row, "this row looks like a total; take it out, or write # before it")
        return None
    if not name:
        c.error(row, "expected a name for the piece, the cell is empty", "piece")
    elif any(not ch.isprintable() for ch in name):
        c.error(row, f"expected a name of one line, got {shown(name)}", "piece")
    species = c.text(row, "species")
    if not species:
        c.error(row, "expected a species, the cell is empty", "species")
    else:
        species = canonical_species(species, c.problems, "R011", c.file, c.where(row, "species"), own)
    thickness = c.positive(row, "thickness", required=True)
    shape, defects = _shape(row, c, drawings, meanings, name)
    if shape is not None:
        defects = (*defects, *flaws_of_row(row, c, shape, settings))
    grain = _grain(row, c, species)
    moisture = c.number(row, "moisture", 0, 100)
    count = c.integer(row, "count", 1, 100_000, 1)
    value = c.number(row, "value", 0)
    status = c.choice(row, "status", STATUSES, "ready", STATUSES_MEANT)
    seams = _seams(row, c, shape)
    measured = c.length(row, "measured") if c.text(row, "measured") else settings.measured_mm
    if measured is not None and measured < 0:
        c.error(row, f"expected a length of at least 0, got {c.text(row, 'measured')}", "measured")
    weight, weight_off = _weight(row, c, shape, thickness)
    far = None if shape is None else too_far_mm(shape)
    if far is not None:
        most, reach = (c.words.length(v, style="setting") for v in (FARTHEST_MM, far))
        message = f"expected a piece within {most} of the origin of its outline, got one that reaches {reach}"
        column = "outline" if c.text(row, "outline") else "length"
        c.error(row, f"{message}; is the unit right?", column, "R008")
    if c.problems.errors != before or thickness is None or shape is None:
        return None
    _plausible(row, c, shape, thickness)
    return Piece(
        name=name,
        shelf=c.text(row, "shelf"),
        species=species,
        thickness_mm=thickness,
        shape=shape,
        grain_deg=grain,
        moisture_pct=moisture,
        count=count,
        value=value,
        status=status,  # type: ignore[arg-type]
        parent=c.text(row, "parent"),
        note=c.text(row, "note"),
        defects=defects,
        seams=seams,
        row=row.number,
        measured_mm=measured or 0.0,
        weight_kg=weight,
        weight_off_kg=weight_off,
    )


def _shape(
    row: Line, c: Columns, drawings: Drawings, meanings: dict[str, LayerMeaning] | None, name: str
) -> tuple[Shape | None, tuple[Defect, ...]]:
    outline = c.text(row, "outline")
    length, width = c.positive(row, "length"), c.positive(row, "width")
    if not outline:
        for key, value in (("length", length), ("width", width)):
            if value is None and not c.text(row, key):
                c.error(row, f"expected length and width, or an outline; {key} is empty", key, "R007")
        if length is None or width is None:
            return None, ()
        return Shape(outer=Outline.rectangle(0.0, 0.0, length, width)), ()
    if c.text(row, "length") or c.text(row, "width"):
        c.error(row, "expected either length and width, or an outline, got both; keep one", "outline", "R007")
        return None, ()
    if is_taped(outline):
        try:
            taped = parse_taped(outline, c.unit("outline"))
        except (TapeError, ModelError) as error:
            c.error(row, str(error), "outline", "R008")
            return None, ()
        _tell_taped(row, c, taped)
        return taped.shape, ()
    if is_wkt(outline):
        try:
            return parse_polygon(outline, float(UNIT_MM[c.unit("outline")])), ()
        except (WktError, ModelError) as error:
            c.error(row, str(error), "outline", "R008")
            return None, ()
    stated = c.choice(row, "drawing_units", ("mm", "cm", "m", "in", "ft"), "") or None
    return piece_from_drawing(
        outline,
        stated=stated,
        drawings=drawings,
        meanings=meanings,
        file=c.file,
        where=c.where(row, "outline"),
        key=f"{row.place} (piece {name})",
    )


def _weight(
    row: Line, c: Columns, shape: Shape | None, thickness: float | None
) -> tuple[float | None, float]:
    """Return what a piece weighs, kg, and how far off that is; a density that no wood has is told."""
    text = c.decimal(row, "weight")
    if not text:
        return None, 0.0
    try:
        kg, off = parse_weight(text, c.units)
    except WeightError as error:
        c.error(row, str(error), "weight")
        return None, 0.0
    if shape is not None and thickness:
        density = kg / (shape.area_mm2 * thickness / 1e9)
        if not PLAUSIBLE_KG_M3[0] <= density <= PLAUSIBLE_KG_M3[1]:
            heavy = c.words.density(density)
            message = f"the wood would weigh {heavy}; is the unit right, and is it of one piece?"
            c.problems.warning("R010", message, c.file, c.where(row, "weight"))
    return kg, off


def _tell_taped(row: Line, c: Columns, taped: Taped) -> None:
    """Tell how well the distances of an outline by sides and diagonals go together."""
    if taped.off_mm is None or taped.off_at is None:
        return
    off = c.words.length(taped.off_mm, style="setting")
    a, b = taped.off_at
    message = f"the distances go together within {off}, least at {a}-{b}"
    if taped.off_mm > TAPE_MM:
        c.problems.warning("R012", f"{message}; measure {a}-{b} again", c.file, c.where(row, "outline"))
    else:
        c.problems.note("R012", message, c.file, c.where(row, "outline"))


def _grain(row: Line, c: Columns, species: str) -> float | None:
    """Return the direction of the grain; sheet material has none where the cell is empty."""
    sheet = find(species)
    if sheet is not None and sheet.sheet and not c.text(row, "grain"):
        message = f"{species} is a sheet: grain left empty is read as none, and it is not planed"
        c.problems.note("R005", message, c.file, c.where(row, "grain"))
        return None
    if c.text(row, "grain").casefold() == "none":
        return None
    return c.number(row, "grain", -360, 360, ", in degrees from the length (0: along it), or none") or 0.0


def _seams(row: Line, c: Columns, shape: Shape | None) -> tuple[Seam, ...]:
    text = c.text(row, "seams")
    if not text:
        return ()
    try:
        lines = parse_lines(text, float(UNIT_MM[c.unit("seams")]))
    except WktError as error:
        c.error(row, str(error), "seams", "R009")
        return ()
    seams = tuple(Seam(name=f"seam {i}", line_mm=line) for i, line in enumerate(lines, start=1))
    if shape is not None:
        region = region_of(shape).buffer(SEAM_SLACK_MM)
        for seam in seams:
            line = shapely.LineString(seam.line_mm)
            outside = line.length - line.intersection(region).length
            if outside > SEAM_SLACK_MM:
                much = c.words.length(outside, style="fine", rounding="up")
                message = f"expected seams inside the piece, {much} of {seam.name} is outside"
                c.error(row, message, "seams", "R009")
    return seams


def region_of(shape: Shape) -> shapely.Polygon:
    """Return a shape as a shapely polygon with fine chords, for checks only."""
    outer = sampled(shape.outer)
    return outer.difference(shapely.union_all([sampled(h) for h in shape.holes])) if shape.holes else outer


def _plausible(row: Line, c: Columns, shape: Shape, thickness: float) -> None:
    x0, y0, x1, y1 = sampled(shape.outer).bounds
    long, short = max(x1 - x0, y1 - y0), min(x1 - x0, y1 - y0)
    shown_long, shown_short, shown_thick = (
        c.words.length(v, style="setting") for v in (long, short, thickness)
    )
    told = ""
    if long > LONGEST_PIECE_MM:
        told = f"the piece is {shown_long} long"
    elif long < SHORTEST_PIECE_MM:
        told = f"the piece is only {shown_long} long"
    elif short < SMALLEST_PIECE_MM:
        told = f"the piece is {shown_short} wide"
    elif thickness > THICKEST_PIECE_MM:
        told = f"the piece is {shown_thick} thick"
    elif thickness > short:
        told = f"the piece is thicker ({shown_thick}) than wide ({shown_short}): are columns exchanged"
    if told:
        ask = ", or the unit wrong?" if told.endswith("exchanged") else "; is the unit right?"
        c.problems.warning("R010", f"{told}{ask}", c.file, c.where(row))


def with_defects(piece: Piece, defects: list[Defect]) -> Piece:
    """Return the piece with further defects."""
    return replace(piece, defects=(*piece.defects, *defects)) if defects else piece
