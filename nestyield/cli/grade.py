"""Grade the boards of the rack by the NHLA summary charts, and show how much of each is clear.

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
from nestyield.cli.output import output_options
from nestyield.cli.tell import say

if TYPE_CHECKING:
    from nestyield.model import Units
    from nestyield.wood.grading import BoardGrade
    from nestyield.words import Rounding, Words

SUMMARY = "grade the boards of the rack and show their clear yield"


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    parser.add_argument("shop", metavar="SHOP", type=Path, help="the shop folder")
    parser.add_argument(
        "--piece", metavar="NAME", action="append", default=[], help="only this piece; may be repeated"
    )
    output_options(parser, csv="print one row a board, as CSV, instead")


def run(args: argparse.Namespace) -> int:
    """Print the grades on stdout."""
    from nestyield import api

    shop = api.load_shop(args.shop)
    boards = api.grade(shop, args.piece)
    if args.json:
        say(json.dumps([_record(b) for b in boards], indent=1))
    elif args.csv:
        writer = csv.writer(sys.stdout, lineterminator="\n")
        writer.writerow(_csv_columns(shop.units))
        writer.writerows(_csv_row(b, shop.units) for b in boards)
    elif not args.quiet:
        say(_page(boards, shop.units))
    return DONE


def _record(board: BoardGrade) -> dict[str, object]:
    return {"grade": board.grade, **asdict(board)}


def _csv_columns(units: Units) -> tuple[str, ...]:
    return (
        "piece",
        "species",
        "count",
        f"length_{units}",
        f"width_{units}",
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


def _csv_row(b: BoardGrade, units: Units) -> tuple[object, ...]:
    from nestyield.paperwork.phrases import phrase
    from nestyield.words import Words

    words = Words(units)
    face = b.poorer
    return (
        b.piece,
        b.species,
        b.count,
        words.decimal(b.length_mm),
        words.decimal(b.width_mm),
        b.surface_measure,
        f"{b.board_feet:.2f}",
        b.grade,
        b.top.grade,
        b.bottom.grade,
        len(face.cuttings_mm),
        f"{face.units:.2f}",
        face.needed,
        f"{100 * face.clear_yield:.1f}",
        phrase(face.why_not_better, words) if face.why_not_better else "",
    )


def _page(boards: tuple[BoardGrade, ...], units: Units) -> str:
    from nestyield.paperwork.phrases import phrase
    from nestyield.paperwork.phrases.grades import NOT_MODELED
    from nestyield.words import Words

    if not boards:
        return "no boards to grade: solid wood with a grain, in one piece, not taken"
    words = Words(units)
    head = (
        "piece",
        "species",
        f"size {units}",
        "SM",
        "bd ft",
        "grade",
        "cuttings",
        "units",
        "clear",
        "largest clear",
    )
    rows = [head, *(_row(b, words) for b in boards)]
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
            reasons.setdefault(phrase(b.poorer.why_not_better, words), []).append(b.piece)
    if reasons:
        lines += ["", "Why not better"]
        lines += [f"  {', '.join(names)}: {reason}" for reason, names in reasons.items()]
    mixed = [b for b in boards if b.top.grade != b.bottom.grade]
    if mixed:
        lines += ["", "Unlike faces"]
        lines += [f"  {b.piece}: top {b.top.grade}, bottom {b.bottom.grade}" for b in mixed]
    return "\n".join([*lines, "", NOT_MODELED])


def _row(b: BoardGrade, words: Words) -> tuple[str, ...]:
    face = b.poorer
    name = f"{b.piece} x {b.count}" if b.count > 1 else b.piece
    largest = "-"
    if face.largest_mm:
        x0, y0, x1, y1 = face.largest_mm
        largest = _size(x1 - x0, y1 - y0, words, "down")
    need = f"/{face.needed}" if face.needed else ""
    return (
        name,
        b.species,
        _size(b.length_mm, b.width_mm, words, "nearest"),
        str(b.surface_measure),
        f"{b.board_feet:.2f}",
        b.grade,
        f"{len(face.cuttings_mm)}/{face.allowed if face.allowed < 99 else 'any'}",
        f"{face.counted}{need}",
        f"{100 * face.clear_yield:.0f} %",
        largest,
    )


def _size(length_mm: float, width_mm: float, words: Words, rounding: Rounding) -> str:
    return " × ".join(words.number(v, rounding=rounding) for v in (length_mm, width_mm))
