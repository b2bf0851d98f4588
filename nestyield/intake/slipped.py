"""Rows whose cells have slipped, after a comma too many or an empty cell too few; what a cell may hold."""

from __future__ import annotations

import itertools
import re
from collections.abc import Sequence
from dataclasses import dataclass

from nestyield.intake.lengths import LengthError, parse_length
from nestyield.intake.problems import shown
from nestyield.intake.table import Line, Table
from nestyield.intake.tape import is_taped
from nestyield.intake.tolerates import defect_kind
from nestyield.intake.wkt import WktError, is_wkt
from nestyield.wood.species import find

#: A row is said to have slipped when so many of its cells hold nothing that their columns say.
LEAST_MISFITS = 2
#: Sizes in the order in which makers write them with an x between.
AND_THEN = {"length": "width", "thickness": "width", "x": "y"}
_ABOUT = re.compile(
    r"(?:ca\b\.?|circa|about|approx\.?(?:imately)?|roughly|around|etwa|~|≈|±)\s*(.+)", re.IGNORECASE
)
_MARKED = re.compile(r"(.*\d)\s*([+?*~])+")
_FEET = re.compile(r"(\d+)\s*(?:['′’-]|ft\.?|feet)\s*(\d+(?:\s+\d+/\d+)?)", re.IGNORECASE)
_BETWEEN = re.compile(r"(\d[\d ./]*?)\s*(?:to|bis|\.\.+)\s*(\d[\d ./]*)", re.IGNORECASE)
#: A flaw whose place has lost its second number behind a comma.
HALF_A_PLACE = re.compile(r"\b(?:at|about)\s+\d[^,;]*$", re.IGNORECASE)
_FRACTION = re.compile(r"\d+/\d+")
#: A cell that was cut apart at its commas, whole again: no comma before a flaw's place, edges only.
_WHOLE = {
    "flaws": re.compile(
        r"(?:[^,;]*\b(?:at|about)\s+[^,;]+,[^,;]+)(?:[;,][^,;]*\b(?:at|about)\s+[^,;]+,[^,;]+)*;?"
    ),
    "edges": re.compile(
        r"(?:\s*(?:live|rough|edges?|near|far|left|right|\d+\s*-\s*\d+)\b[\s,;]*)+", re.IGNORECASE
    ),
}
QUOTE = "put straight quotes around "
#: Longer texts are told by their beginning.
SHOWN = 40
#: An outline has at least three corners.
LEAST_NUMBERS = 6
LENGTHS = frozenset(("thickness", "length", "width", "measured", "x", "y", "diameter", "depth"))
NUMBERS = frozenset(("count", "moisture", "value", "angle"))
#: Columns whose cells often hold a comma.
COORDINATES = frozenset(("outline", "seams", "edges", "flaws"))
REQUIRED = frozenset(("piece", "species", "thickness", "kind"))
WORDS = {
    "status": frozenset(("ready", "hold", "taken", "sold", "reserved")),
    "face": frozenset(("top", "bottom", "through")),
    "drawing_units": frozenset(("mm", "cm", "m", "in", "ft")),
}


def suits(name: str | None, cell: str, comma: bool = False) -> bool:
    """Tell whether a cell may hold what its column says; used to find out what went wrong in a row.

    Parameters
    ----------
    name : str or None
        Column by meaning; None for one of the maker's own.
    cell : str
    comma : bool
        Numbers may have a decimal comma.
    """
    cell = cell.strip()
    if name is None or not cell:
        return name not in REQUIRED
    if name in LENGTHS:
        return _is_length(cell.replace(",", ".") if comma else cell)
    if name in NUMBERS or name == "grain":
        number = re.fullmatch(r"[+-]?\d*[.,]?\d+\s*[%°]?", cell) is not None
        return number or (name == "grain" and cell.casefold() == "none")
    if name in WORDS:
        return cell.casefold() in WORDS[name]
    return _suits_text(name, cell)


def _suits_text(name: str, cell: str) -> bool:
    if name == "outline":
        return ".dxf" in cell.casefold() or is_taped(cell) or _is_wkt(cell)
    if name == "seams":
        return "linestring" in cell.casefold()
    if name == "edges":
        return re.search(r"\b(live|rough)\b", cell.casefold()) is not None
    if name == "flaws":
        return re.search(r"\b(at|about)\b", cell.casefold()) is not None
    if name == "kind":
        return defect_kind(cell) is not None
    if name == "species":
        return not cell[0].isdecimal() and not suits("status", cell)
    return True


def _is_length(cell: str) -> bool:
    try:
        return parse_length(cell, "mm") >= 0.0
    except LengthError:
        return False


def _is_wkt(cell: str) -> bool:
    try:
        return is_wkt(cell) and len(re.findall(r"\d+", cell)) >= LEAST_NUMBERS
    except WktError:
        return False


def misfits(names: Sequence[str | None], cells: Sequence[str], comma: bool = False) -> int:
    """Return how many columns have a cell that does not suit them; cells that lack count as empty."""
    padded = [*cells, *[""] * (len(names) - len(cells))]
    return sum(not suits(name, cell, comma) for name, cell in zip(names, padded))


def too_many(names: Sequence[str | None], cells: Sequence[str], delimiter: str, comma: bool) -> str:
    """Return what to do about a row with more cells than the header, from what would make its cells fit.

    Parameters
    ----------
    names : sequence of str or None
        Columns by meaning, in order.
    cells : sequence of str
    delimiter : str
    comma : bool
        Numbers may have a decimal comma.
    """
    extra = len(cells) - len(names)
    ways: list[tuple[int, int, str]] = []
    for k in range(len(names)):
        if (one := _joined(names, cells, k, extra, delimiter, comma)) and _fits(names, one, comma):
            ways.append((one.rank, 1, one.lead + one.todo))
    for first, k in itertools.product(range(1, extra), range(len(names))):
        one = _joined(names, cells, k, first, delimiter, comma)
        for j in range(k + 1, len(names)) if one else ():
            two = one and _joined(names, one.cells, j, extra - first, delimiter, comma)
            if one and two and one.rank >= -1 and _fits(names, two, comma):
                both = f"{one.todo}, and {two.todo.replace(QUOTE, 'around ')}"
                ways.append((max(one.rank, two.rank), 2, one.lead + both))
    mark = {",": "a comma", ";": "a semicolon", "\t": "a tab"}[delimiter]
    for k in range(1, len(cells)) if extra == 1 else ():
        fewer = [*cells[:k], *cells[k + 1 :]]
        if not cells[k].strip() and not misfits(names, fewer, comma) and _is_sized(names, fewer):
            before = f" after {cells[k - 1].strip()}" if cells[k - 1].strip() else ""
            ways.append((0, 1, f"there is an empty cell too many: take out {mark}{before}"))
            break
    return (
        min(ways, key=lambda way: way[:2])[2]
        if ways
        else f"put straight quotes around a cell that holds {mark}"
    )


@dataclass(frozen=True, slots=True)
class _Joined:
    """A row with some cells joined: how likely that is, lowest first, and what to do about it."""

    cells: list[str]
    rank: int
    lead: str
    todo: str
    number: bool = False


def _joined(
    names: Sequence[str | None], cells: Sequence[str], k: int, extra: int, delimiter: str, comma: bool
) -> _Joined | None:
    """Return a row with one cell joined with the next ones; None where they are no cell of that column."""
    name, run = names[k], [c.strip() for c in cells[k : k + extra + 1]]
    if len(run) <= extra or not any(run[1:]):
        return None

    def row(text: str) -> list[str]:
        return [*cells[:k], text, *cells[k + extra + 1 :]]

    if len(run) == 2 and name in LENGTHS and run[0].isdecimal() and _FRACTION.fullmatch(run[1]):
        text = " ".join(run)
        return _Joined(row(text), 0, "", f"take out the comma: write {text}")
    numeric = name in LENGTHS or name in NUMBERS - {"count"}
    if numeric and delimiter == "," and len(run) == 2 and all(c.isdecimal() for c in run):
        if comma:
            return _Joined(row(".".join(run)), 0, "", f'{QUOTE}the number: "{",".join(run)}"', True)
        text, quotes = ".".join(run), "a cell with a comma in it needs straight quotes; "
        return _Joined(row(text), 0, quotes, f"if {','.join(run)} is one number, write {text}", True)
    text = delimiter.join(cells[k : k + extra + 1]).strip()
    if name in _WHOLE and not _WHOLE[name].fullmatch(text):
        return None
    if name not in COORDINATES and any(c.isdecimal() for c in run[1:]):
        return None  # a count or a size inside a text
    prose = all(c.startswith(" ") for c in cells[k + 1 : k + extra + 1])
    rank = 1 if name in COORDINATES else 2 if prose else 3
    if name == "flaws" and HALF_A_PLACE.search(run[0]):
        rank = -1
    begin = text if len(text) <= SHOWN else text[:SHOWN].rsplit(" ", 1)[0] + " ..."
    return _Joined(row(text), rank, "", f'{QUOTE}"{begin}"')


def _fits(names: Sequence[str | None], row: _Joined, comma: bool) -> bool:
    """Tell whether all cells of a row suit their columns."""
    return not misfits(names, row.cells, comma) and (not row.number or _is_sized(names, row.cells))


def _is_sized(names: Sequence[str | None], cells: Sequence[str]) -> bool:
    """Tell whether a row of a table with lengths and widths has both, or an outline."""
    told = {name for name, cell in zip(names, cells) if cell.strip()}
    return "outline" in told or {"length", "width"} - set(names) != set() or {"length", "width"} <= told


def too_few(names: Sequence[str | None], cells: Sequence[str], comma: bool) -> list[int]:
    """Return before which columns a row lacks its empty cells: the places that make every cell fit.

    Parameters
    ----------
    names : sequence of str or None
        Columns by meaning, in order.
    cells : sequence of str
    comma : bool
        Numbers may have a decimal comma.

    Returns
    -------
    list of int
        Indices of columns; empty for a row that is only short, its last cells left out.
    """
    missing = len(names) - len(cells)
    if missing <= 0 or misfits(names, cells, comma) < LEAST_MISFITS:
        return []
    return [
        k
        for k in range(len(cells) + 1)
        if not misfits(names, [*cells[:k], *[""] * missing, *cells[k:]], comma)
    ]


def guessed_names(rows: Sequence[Sequence[str]], is_wood: Sequence[bool], unit: str) -> list[str]:
    """Return names for the columns of a rack whose first line is a row of data, one for each of its cells.

    Parameters
    ----------
    rows : sequence of sequences of str
        All rows, that one first.
    is_wood : sequence of bool
        Which of its cells name a wood.
    unit : str
        Of the shop.

    Returns
    -------
    list of str
        Names that are not known are left empty; ``[]`` when the row does not tell enough.
    """
    cells = [cell.strip() for cell in rows[0]]
    names = [""] * len(cells)
    wood = next((k for k, yes in enumerate(is_wood) if yes and k), None)
    if wood is None:
        return []
    names[0], names[wood] = "piece", "species"
    if wood > 1:
        names[1] = "shelf"
    sizes = [k for k in range(wood + 1, len(cells)) if cells[k] and _is_length(cells[k])][:3]
    if len(sizes) < 3:
        return []
    values = {k: parse_length(cells[k], "mm") for k in sizes}
    for k, name in zip(sorted(sizes, key=lambda k: values[k]), ("thickness", "width", "length")):
        names[k] = f"{name}_{unit}"
    for k in range(wood + 1, len(cells)):
        filled = [row[k] for row in rows if k < len(row) and row[k].strip()]
        for name, heading in (
            ("status", "status"),
            ("outline", f"outline_{unit}"),
            ("seams", f"seams_{unit}"),
        ):
            if not names[k] and heading not in names and filled and all(suits(name, c) for c in filled):
                names[k] = heading
    return names


def no_names(table: Table, wanted: Sequence[str], unit: str) -> str:
    """Return what to do about a table whose first line names no column.

    Parameters
    ----------
    table : Table
    wanted : sequence of str
        Columns that it should have.
    unit : str
        Of the shop.
    """
    first = table.header
    rows = [first, *(row.cells for row in table.rows)]
    names = guessed_names(rows, [find(cell) is not None for cell in first], unit)
    if names:
        line = table.delimiter.join(names)
        return f"this is a row of data; put a line of names above it, one for each cell: {line}"
    found = ", ".join(shown(h) for h in first[:8]) + (" ..." if len(first) > 8 else "")
    return f"the first line names the columns, such as {', '.join(wanted)}; got {found}"


def slipped_rows(
    names: Sequence[str | None], header: Sequence[str], rows: Sequence[Line], comma: bool
) -> dict[int, str]:
    """Return the rows that lack cells amid the others, with one message for all that lack the same.

    Parameters
    ----------
    names : sequence of str or None
        Columns by meaning, in order.
    header : sequence of str
        As the maker wrote them.
    rows : sequence of Line
    comma : bool
        Numbers may have a decimal comma.

    Returns
    -------
    dict of int to str
        Number of a row -> message at the first of some rows, ``""`` at the others.
    """
    groups: list[tuple[int, set[int], list[Line]]] = []
    for row in rows:
        places = set(too_few(names, row.cells, comma))
        missing = len(names) - len(row.cells)
        same = next((g for g in groups if g[0] == missing and g[1] & places), None)
        if same is not None:
            same[1].intersection_update(places)
            same[2].append(row)
        elif places:
            groups.append((missing, places, [row]))
    out: dict[int, str] = {}
    for missing, places, some in groups:
        out |= dict.fromkeys((row.number for row in some), "")
        down = f" (so have {len(some) - 1} more, down to row {some[-1].number})" if some[1:] else ""
        lacks = f"the row has {len(names) - missing} cells, the header {len(names)}{down}"
        empty = "an empty cell" if missing == 1 else f"{missing} empty cells"
        out[some[0].number] = f"{lacks}; put {empty} under {header[min(places)]}"
    return out


def several_lengths(cell: str) -> list[str]:
    """Return the lengths of a cell that holds several with an x between, as ``640 x 180``; else none."""
    parts = [p.strip() for p in re.split(r"(?<=[\d\s\"a-z])[x×*](?=\s*\d)", cell, flags=re.IGNORECASE)]
    return parts if len(parts) > 1 and all(p[:1].isdecimal() for p in parts) else []


def no_length(cell: str, other: str | None, how_well: str) -> str:
    """Return what to do about a cell with several lengths, feet, or a word or mark for about; else ``""``.

    Parameters
    ----------
    cell : str
    other : str or None
        Heading of the column in which a second length belongs.
    how_well : str
        What the column measured may hold; ``""`` when the table has no such column.
    """
    if several := several_lengths(cell):
        if len(several) == 2 and other:
            return f"the cell holds two lengths; write {several[0]} here and {several[1]} under {other}"
        return f"the cell holds {len(several)} lengths; give each its own cell"
    measured = (
        f"; how well it is measured goes into a column measured, such as {how_well}" if how_well else ""
    )
    if rough := _ABOUT.fullmatch(cell):
        return f"write {rough[1]} alone{measured}"
    if marked := _MARKED.fullmatch(cell):
        return f"write {marked[1]} without the {marked[2]}{measured}"
    if feet := _FEET.fullmatch(cell):
        return f"if feet and inches are meant, write {feet[1]} ft {feet[2]} in; else one length alone"
    if between := _BETWEEN.fullmatch(cell):
        return (
            f"the cell holds two lengths; write the smaller one, {between[1]}, or for a piece that tapers an "
            "outline: taper, then length and both widths"
        )
    return ""


def run_together(cell: str) -> str:
    """Return what a fraction such as ``61/2`` may have been, ``6 1/2``; ``""`` for ``5/4``, ``12/4``."""
    match = re.fullmatch(r"(\d+)(\d{1,2})\s*/\s*(2|4|8|16|32|64)", cell.strip())
    if match is None:
        return ""
    for digits in (1, 2):
        numerator = f"{match[1]}{match[2]}"
        whole, top = numerator[:-digits], numerator[-digits:]
        if whole and int(top) % 2 and top[0] != "0" and int(top) < int(match[3]) < int(numerator):
            return f"{whole} {top}/{match[3]}"
    return ""


def is_bare(cell: str) -> bool:
    """Tell whether a length does not say its unit."""
    return re.search("[a-z\"'″′”’]", cell, re.IGNORECASE) is None
