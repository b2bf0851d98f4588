"""Two members out of one board: lengths cut off it, or strips ripped from it."""

from __future__ import annotations

import pytest

from nestyield.audit.blanks import check_blank, check_stock
from nestyield.audit.sheet import CheckedBlank, CheckedSheet
from nestyield.model import (
    Blank,
    Layout,
    MachineLimits,
    Member,
    Outline,
    Piece,
    Plan,
    Seam,
    Settings,
    Shape,
    Shop,
)


def rectangle(x0, y0, x1, y1):
    return Shape(outer=Outline.rectangle(x0, y0, x1, y1))


def codes(first: Shape | None, second: Shape | None, copy: int = 1, count: int = 1, **machines) -> list[str]:
    """A board of 1000 x 100 mm sawn in two lengths of 498 mm, glued edge to edge."""
    board = Piece(name="A", species="maple", thickness_mm=44.0, shape=rectangle(0, 0, 1000, 100), count=count)
    blank = Blank(
        name="glue-up 1",
        members=(
            Member(piece="A", copy=1, cut=first),
            Member(piece="A", copy=copy, x_um=-502_000, y_um=98_400, cut=second),
        ),
        species="maple",
        thickness_mm=44.0,
        shape=rectangle(0, 0, 498, 198.4),
        grain_deg=0.0,
        seams=(Seam(name="seam 1", line_mm=((0.0, 99.2), (498.0, 99.2))),),
    )
    layout = Layout(
        blank=blank,
        placements=(),
        setups=(),
        chosen=None,
        part_area_mm2=0,
        stock_area_mm2=0,
        usable_area_mm2=0,
        board_feet=0,
        value=0,
    )
    settings = Settings(cutter_diameter_mm=6.0, machines=MachineLimits(**machines))
    shop = Shop(name="", units="mm", settings=settings, beds=(), parts=(), pieces=(board,), orders=())
    sheet = CheckedSheet(Plan(shop=shop, seed=1, effort=1, layouts=(layout,), orders=()))
    check_stock(sheet)
    check_blank(CheckedBlank(sheet, layout))
    return [f.code for f in sheet.findings]


LEFT, RIGHT = rectangle(0, 0, 498, 100), rectangle(502, 0, 1000, 100)


@pytest.mark.parametrize(
    ("first", "second", "more", "expected"),
    [
        (LEFT, RIGHT, {}, []),  # 4 mm apart, the saw takes 3.2
        (LEFT, RIGHT, {"saw_kerf_mm": 4.5}, ["A120"]),
        (LEFT, rectangle(500, 0, 1000, 100), {}, ["A120"]),
        (LEFT, rectangle(502, 0, 1001, 100), {}, ["A120"]),  # past the board
        (LEFT, None, {}, ["A102"]),  # all of a copy that is cut already
        (None, None, {}, ["A102"]),
        (LEFT, rectangle(502, 0, 990, 100), {}, ["A109", "A113"]),  # too short for the blank
    ],
)
def test_lengths_of_one_board(first, second, more, expected):
    assert codes(first, second, **more) == expected


def test_two_copies_need_no_cut():
    assert codes(None, None, copy=2, count=2) == []
    assert codes(None, None, copy=2, count=1) == ["A102", "A102"]
