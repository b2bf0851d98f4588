"""The rack table: one row a piece."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from nestyield.intake.columns import MANY_ROWS, Codes, Columns
from nestyield.intake.drawings import Drawings
from nestyield.intake.piece_drawings import LayerMeaning
from nestyield.intake.problems import shown
from nestyield.intake.rack_flaws import flaws_of_row
from nestyield.intake.rack_shapes import other_unit, region_of, seams_of_row, shape_of_row
from nestyield.intake.reach import FARTHEST_MM, too_far_mm
from nestyield.intake.species import canonical_species
from nestyield.intake.table import Line, Table, parse_table, read_table
from nestyield.intake.tables import RACK
from nestyield.intake.weights import WeightError, parse_weight
from nestyield.model import Defect, Finding, OwnWood, Piece, Settings, Shape, Status
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
CODES = Codes(missing="R002", misspelt="R003", long_row="R004", cell="R005", size="R010")
#: Larger pieces, and thicker ones, are told.
LONGEST_PIECE_MM, THICKEST_PIECE_MM, SMALLEST_PIECE_MM = 6000.0, 300.0, 5.0
#: Wood lighter or heavier than this is told, kg/m3.
PLAUSIBLE_KG_M3 = (100.0, 1400.0)
#: A piece that is shorter than this is told, too: numbers in inches read as millimeters are.
SHORTEST_PIECE_MM = 60.0
_OTHER_UNIT = re.compile(r" (long|wide|thick)\b[^;]*; if (mm|inches) are meant, write")
#: How the grain of a piece is written, for a cell that is no number.
GRAIN = "grain is in degrees from the length; for along it write 0, for a sheet none"

#: Allowances where nobody says otherwise.
USUAL = Settings(cutter_diameter_mm=1.0)

__all__ = ["RACK_COLUMNS", "Rack", "read_rack", "read_table", "region_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rack:
    """The rack as read.

    Parameters
    ----------
    pieces : tuple of Piece
        In table order; those that could be read.
    names : frozenset of str, or None
        Names of all pieces, also of those with errors; None when the table could not be read.
    unsure : bool
        Some row has no name, or that of another row: a name that is not in the table may be meant there.
    doubts : dict of str to Finding
        Warnings about a size that looks wrong, by piece.
    grain_said : dict of str to bool
        Pieces that are written as length and width, and whether a grain is entered.
    """

    pieces: tuple[Piece, ...] = ()
    names: frozenset[str] | None = None
    unsure: bool = False
    doubts: dict[str, Finding] = field(default_factory=dict)
    grain_said: dict[str, bool] = field(default_factory=dict)


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
    unsure = False
    doubts: dict[str, Finding] = {}
    grain_said: dict[str, bool] = {}
    told = len(problems.findings)
    for row in table.rows:
        piece = _piece(row, columns, drawings, meanings, settings, own)
        name = columns.text(row, "piece")
        unsure |= not name
        if name and name in first_row:
            unsure = True
            other = next((p for p in pieces if p.name == name), None)
            alike = piece is not None and other is not None and _same_wood(piece, other)
            todo = (
                "delete one, and write how many there are under count" if alike else "give one another name"
            )
            message = f"the name {shown(name)} is there twice (also in {first_row[name]}); {todo}"
            columns.error(row, message, "piece", "R006")
            continue
        first = by_case.setdefault(name.casefold(), name)
        if name and first != name:
            unsure = True
            message = f"{shown(name)} and {shown(first)} ({first_row[first]}) differ only in capitals"
            columns.error(row, f"{message}; rename one", "piece", "R006")
            continue
        first_row[name] = row.place
        if piece is not None:
            pieces.append(piece)
            if not columns.text(row, "outline"):
                grain_said[name] = bool(columns.text(row, "grain"))
            doubt = columns.doubts.get(row.place)
            if doubt is None:
                doubt = _plausible(row, columns, piece.shape, piece.thickness_mm)
            if doubt is not None:
                doubts[name] = doubt
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
    _tell_column_in_other_unit(columns, told, doubts)
    names = frozenset(first_row) - {""}
    return Rack(pieces=tuple(pieces), names=names, unsure=unsure, doubts=doubts, grain_said=grain_said)


def _same_wood(one: Piece, other: Piece) -> bool:
    """Tell whether two rows are of pieces alike, so that count says it."""
    return (one.species, one.thickness_mm, one.shape) == (other.species, other.thickness_mm, other.shape)


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
        c.error(row, "this row has no name; write the name of the piece, such as B-1", "piece")
    elif any(not ch.isprintable() for ch in name):
        c.error(row, f"expected a name of one line, got {shown(name)}", "piece")
    species = c.text(row, "species")
    if not species:
        c.error(row, "this row has no species; write the wood, such as sugar maple", "species")
    else:
        species = canonical_species(species, c.problems, "R011", c.file, c.where(row, "species"), own)
    thickness = c.positive(row, "thickness", required=True)
    shape, defects = shape_of_row(row, c, drawings, meanings, name)
    if shape is not None:
        defects = (*defects, *flaws_of_row(row, c, shape, settings))
    grain = _grain(row, c, species)
    moisture = c.number(row, "moisture", 0, 100)
    count = c.integer(row, "count", 1, 100_000, 1)
    value = c.number(row, "value", 0)
    status = c.choice(row, "status", STATUSES, "ready", STATUSES_MEANT)
    seams = seams_of_row(row, c, shape)
    measured = c.length(row, "measured") if c.text(row, "measured") else settings.measured_mm
    if measured is not None and measured < 0:
        c.error(row, f"expected a length of at least 0, got {c.text(row, 'measured')}", "measured")
    weight, weight_off = _weight(row, c, shape, thickness)
    far = None if shape is None else too_far_mm(shape)
    if far is not None:
        reach = c.words.length(far, style="setting")
        column = "outline" if c.text(row, "outline") else "length"
        is_ = f"the piece is {reach} long" if column == "length" else f"the outline reaches {reach} from 0,0"
        is_ += f", and at most {FARTHEST_MM / 1000:g} m can be planned"
        c.error(row, f"{is_}; {other_unit(row, c, column, large=True)}", column, "R008")
    if c.problems.errors != before or thickness is None or shape is None:
        return None
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


def _grain(row: Line, c: Columns, species: str) -> float | None:
    """Return the direction of the grain; sheet material has none where the cell is empty."""
    sheet = find(species)
    if sheet is not None and sheet.sheet and not c.text(row, "grain"):
        message = f"{species} is a sheet: grain left empty is read as none, and it is not planed"
        c.problems.note("R005", message, c.file, c.where(row, "grain"))
        return None
    if c.text(row, "grain").casefold() == "none":
        return None
    return c.number(row, "grain", -360, 360, GRAIN) or 0.0


def _tell_column_in_other_unit(c: Columns, told: int, doubts: dict[str, Finding]) -> None:
    """Tell sizes of many rows that seem to be in the other unit once: then the column is.

    Parameters
    ----------
    c : Columns
    told : int
        How many findings there were before the rack.
    doubts : dict of str to Finding
        By piece; set to what is told in place of them.
    """
    alike: dict[tuple[str, str], list[Finding]] = {}
    for finding in c.problems.findings[told:]:
        match = _OTHER_UNIT.search(finding.message)
        if match is not None and finding.code in ("R008", "R010"):
            alike.setdefault((match[1], match[2]), []).append(finding)
    for (size, word), several in alike.items():
        name = {"long": "length", "wide": "width", "thick": "thickness"}[size]
        if len(several) < MANY_ROWS or not c.has(name):
            continue
        is_ = several[0].message.partition(";")[0].partition(", and")[0]
        column = (
            f"if column {c.heading(name)} is in {word}, rename it {name}_{'in' if word == 'inches' else word}"
        )
        one = c.problems.in_place_of(several, f"{is_}, and {len(several) - 1} more are alike; {column}")
        doubts.update((piece, one) for piece, doubt in doubts.items() if doubt in several)


def _plausible(row: Line, c: Columns, shape: Shape, thickness: float) -> Finding | None:
    """Ask about a size out of all proportion; return the warning."""
    x0, y0, x1, y1 = region_of(shape).bounds
    long, short = max(x1 - x0, y1 - y0), min(x1 - x0, y1 - y0)
    shown_long, shown_short, shown_thick = (
        c.words.length(v, style="setting") for v in (long, short, thickness)
    )
    size, across = ("outline", "outline") if c.text(row, "outline") else ("length", "width")
    if long > LONGEST_PIECE_MM:
        told = f"the piece is {shown_long} long; {other_unit(row, c, size, large=True)}"
    elif long < SHORTEST_PIECE_MM:
        told = f"the piece is only {shown_long} long; {other_unit(row, c, size, large=False)}"
    elif short < SMALLEST_PIECE_MM:
        told = f"the piece is only {shown_short} wide; {other_unit(row, c, across, large=False)}"
    elif thickness > THICKEST_PIECE_MM:
        told = f"the piece is {shown_thick} thick; {other_unit(row, c, 'thickness', large=True)}"
    elif thickness > short:
        told = f"the piece is {shown_thick} thick but only {shown_short} wide; "
        told += "if the columns are exchanged, let thickness and width change places"
    else:
        return None
    return c.problems.warning("R010", told, c.file, c.where(row))


def with_defects(piece: Piece, defects: list[Defect]) -> Piece:
    """Return the piece with further defects."""
    return replace(piece, defects=(*piece.defects, *defects)) if defects else piece
