"""Rows of the rack and defect tables."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from nestyield.intake.table import read_table
from nestyield.model import Member
from nestyield.planfile import loads
from nestyield.rackbook.cells import Columns
from nestyield.rackbook.rows import book_defects, new_pieces


def test_a_whole_defect_of_a_glued_blank_is_drawn(maker: Any) -> None:
    """A defect whose row belongs to one member of a glued blank is written as an outline, whole or not."""
    text = "piece,kind,x,y,diameter,length,width,angle,face,depth\nB,check,500,200,,40,10,,top,9\n"
    shop = maker.shop(defects=text)
    plan = loads((maker.plan(shop, ("B", 1, "first")) / "plan.json").read_bytes())
    (layout,) = plan.layouts
    glued = replace(
        layout.blank, members=(*layout.blank.members, Member(piece="A", copy=1)), name="glue-up 1"
    )
    pieces = new_pieces(plan, [replace(layout, blank=glued)], ())
    assert [whole for piece in pieces for _, whole in piece.defects] == [True]
    table = read_table(shop / "defects.csv")
    booked = book_defects(table, pieces, Columns(table, "mm"), "defects.csv", 0.02)
    assert booked.record(booked.rows[-1])["outline"].startswith("POLYGON ((")
