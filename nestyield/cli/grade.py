"""Grade the boards of the rack by the NHLA summary charts, and tell how much of each is clear.

Cuttings are found by search on each face; the poorer face decides. Sheets, glued-up pieces and pieces
that are taken are left out. A guide for buying and sorting, not an inspector's tally.
"""

from __future__ import annotations

import argparse
import csv
import json
import sys
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

from nestyield.cli.exit_codes import DONE

if TYPE_CHECKING:
    from nestyield.model import Units
    from nestyield.wood.grading import BoardGrade

SUMMARY = "grade the boards of the rack and tell their clear yield"


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    parser.add_argument("shop", metavar="SHOP", type=Path, help="the shop folder")
    parser.add_argument(
        "--piece", metavar="NAME", action="append", default=[], help="only this piece; may be repeated"
    )
    form = parser.add_mutually_exclusive_group()
    form.add_argument("--json", action="store_true", help="everything, with each cutting in mm, as JSON")
    form.add_argument("--csv", action="store_true", help="one row a board, as CSV")


def run(args: argparse.Namespace) -> int:
    """Print the grades on stdout."""
    from nestyield import api

    shop = api.load_shop(args.shop)
    boards = api.grade(shop, args.piece)
    if args.json:
        print(json.dumps([_record(b) for b in boards], indent=1))
    elif args.csv:
        writer = csv.writer(sys.stdout, lineterminator="\n")
        writer.writerow(_CSV_COLUMNS)
        writer.writerows(_csv_row(b) for b in boards)
    else:
        print(_page(boards, shop.units))
    return DONE


def _record(board: BoardGrade) -> dict[str, object]:
    return {"grade": board.grade, **asdict(board)}


_CSV_COLUMNS = (
    "piece",
    "species",
    "count",
    "length_mm",
    "width_mm",
    "surface_measure",
    "board_feet",
    "grade",
    "top",
    "bottom",
    "cuttings",
    "units",
    "units_needed",
    "clear_yield_pct",
    "why_not_better",
)


def _csv_row(b: BoardGrade) -> tuple[object, ...]:
    face = b.poorer
    return (
        b.piece,
        b.species,
        b.count,
        f"{b.length_mm:.1f}",
        f"{b.width_mm:.1f}",
        b.surface_measure,
        f"{b.board_feet:.2f}",
        b.grade,
        b.top.grade,
        b.bottom.grade,
        len(face.cuttings_mm),
        f"{face.units:.2f}",
        face.needed,
        f"{100 * face.clear_yield:.1f}",
        face.why_not_better,
    )


def _page(boards: tuple[BoardGrade, ...], units: Units) -> str:
    from nestyield.wood.grading import NOT_MODELLED

    if not boards:
        return "no boards to grade: solid wood with a grain, in one piece, not taken"
    unit = "in" if units == "in" else "mm"
    head = (
        "piece",
        "species",
        f"size {unit}",
        "SM",
        "bd ft",
        "grade",
        "cuttings",
        "units",
        "clear",
        "largest clear",
    )
    rows = [head, *(_row(b, units) for b in boards)]
    widths = [max(len(row[i]) for row in rows) for i in range(len(head))]
    right = {3, 4, 6, 7, 8}
    lines = [
        "  ".join(
            t.rjust(w) if i in right else t.ljust(w) for i, (t, w) in enumerate(zip(row, widths))
        ).rstrip()
        for row in rows
    ]
    reasons: dict[str, list[str]] = {}
    for b in boards:
        if b.poorer.why_not_better:
            reasons.setdefault(b.poorer.why_not_better, []).append(b.piece)
    if reasons:
        lines += ["", "Why not better"]
        lines += [f"  {', '.join(names)}: not {reason}" for reason, names in reasons.items()]
    mixed = [b for b in boards if b.top.grade != b.bottom.grade]
    if mixed:
        lines += ["", "Unlike faces"]
        lines += [f"  {b.piece}: top {b.top.grade}, bottom {b.bottom.grade}" for b in mixed]
    return "\n".join([*lines, "", NOT_MODELLED])


def _row(b: BoardGrade, units: Units) -> tuple[str, ...]:
    face = b.poorer
    name = f"{b.piece} x {b.count}" if b.count > 1 else b.piece
    largest = "-"
    if face.largest_mm:
        x0, y0, x1, y1 = face.largest_mm
        largest = _size(x1 - x0, y1 - y0, units)
    need = f"/{face.needed}" if face.needed else ""
    return (
        name,
        b.species,
        _size(b.length_mm, b.width_mm, units),
        str(b.surface_measure),
        f"{b.board_feet:.2f}",
        b.grade,
        f"{len(face.cuttings_mm)}/{face.allowed if face.allowed < 99 else 'any'}",
        f"{face.counted}{need}",
        f"{100 * face.clear_yield:.0f} %",
        largest,
    )


def _size(length_mm: float, width_mm: float, units: Units) -> str:
    if units == "in":
        return f"{length_mm / 25.4:.2f} x {width_mm / 25.4:.2f}"
    return f"{length_mm:.0f} x {width_mm:.0f}"
