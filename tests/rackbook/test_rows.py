"""Rows of the rack and defect tables."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

import nestyield
from nestyield.geometry.shape import to_shapely
from nestyield.intake.table import read_table
from nestyield.intake.weights import parse_weight
from nestyield.model import Member, Outline, RipOffcut, Shape
from nestyield.model.pose import Pose
from nestyield.planfile import loads
from nestyield.rackbook.cells import RowColumns
from nestyield.rackbook.rows import book_defects, book_in, new_pieces, on_piece


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
    booked = book_defects(table, pieces, RowColumns(table, "mm"), "defects.csv", 0.02)
    assert booked.record(booked.rows[-1])["outline"].startswith("POLYGON ((")


@given(st.floats(-360, 360), st.booleans(), st.integers(-500_000, 500_000), st.integers(-500_000, 500_000))
def test_on_piece_undoes_a_member(angle: float, mirrored: bool, x: int, y: int) -> None:
    """What is brought back from a blank lies where it came from on the piece."""
    shape = Shape(outer=Outline.polygon([(0, 0), (300, 10), (290, 80)]))
    member = Member(piece="A", copy=1, angle_deg=angle, mirrored=mirrored, x_um=x, y_um=y)
    there = Pose(angle_deg=angle, mirrored=mirrored, x_mm=x / 1000, y_mm=y / 1000).shape(shape)
    back = to_shapely(on_piece(there, member))
    assert back.symmetric_difference(to_shapely(shape)).area < 1e-5


def test_strips_of_a_glue_up_go_back(maker: Any) -> None:
    """What is ripped off a piece before gluing is booked as it was: rough, with that piece's grain and flaws."""
    text = maker.toml.replace("count = 2\npriority = 1", "priority = 1")
    rack = (
        "piece,species,thickness,length,width,moisture,status\n"
        "A,limba,44,400,160,8,ready\nB,limba,43,420,160,7,ready\n"
    )
    defects = "piece,kind,x,y,diameter,face,depth\nA,nail hole,20,140,4,through,\nB,worm,20,20,4,top,9\n"
    plan = nestyield.plan(maker.shop(rack=rack, defects=defects, shop=text), seed=1, workers=1)
    (layout,) = plan.layouts
    assert layout.glueup is not None
    cut = Shape(outer=Outline.rectangle(0, 100, 380, 155))  # of piece A, as if it had been ripped off
    k = [m.piece for m in layout.blank.members].index("A")
    move = layout.blank.members[k]
    there = Pose.of(move).shape(cut)
    strip = RipOffcut(
        seam="seam 1", shape=there, area_mm2=20900.0, length_mm=380.0, width_mm=55.0, usable=True
    )
    told = [replace(m, strips=(strip,) if n == k else ()) for n, m in enumerate(layout.glueup.members)]
    glueup = replace(layout.glueup, members=tuple(told))
    *_, booked = new_pieces(plan, [replace(layout, glueup=glueup)], ["A", "B", "A-a"])
    assert (booked.name, booked.thickness_mm, booked.grain_deg) == ("A-b", 44.0, 0.0)
    assert (booked.moisture_pct, booked.parents) == (8.0, ("A",))
    assert [(d.kind, whole) for d, whole in booked.defects] == [("nail hole", True)]
    # in coordinates of its own: the corner of the strip is at 0, 0
    alone = Shape(outer=Outline.rectangle(0, 0, 380, 55))
    assert to_shapely(booked.shape).symmetric_difference(to_shapely(alone)).area < 1e-5
    hole = to_shapely(booked.defects[0][0].shape).centroid
    assert (hole.x, hole.y) == pytest.approx((20, 40), abs=0.01)


def test_a_leftover_of_a_weighed_row_weighs_its_share(maker: Any) -> None:
    """Board B of 800 kg/m3: what is left of it keeps that, at the thickness that it is planed to."""
    rack = f"piece,species,thickness,length,width,weight\nB,limba,43,1000,300,{0.8 * 12.9:.4f} kg\n"
    shop = maker.shop(rack=rack, defects="piece,kind,x,y,diameter\n")
    plan = nestyield.plan(shop, seed=1, workers=1)
    found = new_pieces(plan, plan.layouts, ())
    assert found
    table = read_table(shop / "rack.csv")
    booked = book_in(table, found, RowColumns(table, "mm"), 0.02)
    for piece in found:
        (row,) = [r for r in booked.rows if booked.record(r)["piece"] == piece.name]
        kg, _ = parse_weight(booked.record(row)["weight"], "mm")
        assert kg == pytest.approx(0.8 * piece.shape.area_mm2 * piece.thickness_mm / 1e6, rel=2e-3)
