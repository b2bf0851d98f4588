"""A small plan made by hand."""

from __future__ import annotations

import pytest

from nestyield.model import (
    Bed,
    Blank,
    Defect,
    Finding,
    Layout,
    Leftover,
    Member,
    Order,
    OrderResult,
    Outline,
    Part,
    Piece,
    Placement,
    Plan,
    Seam,
    SeamUnderPart,
    Settings,
    Setup,
    Shape,
    Shop,
    Zone,
)
from nestyield.model.facts import OrderShort


@pytest.fixture
def plan() -> Plan:
    board = Shape(outer=Outline.rectangle(0, 0, 500, 200), holes=(Outline.circle(20, 20, 5),))
    knot = Defect(name="defects.csv row 2", kind="knot", shape=Shape(outer=Outline.circle(400, 100, 12.7)))
    seam = Seam(name="seam 1", line_mm=((0.0, 100.0), (500.0, 100.0)))
    part = Part(
        name="lap steel – neck",
        drawing="neck.dxf",
        outline=Outline(points_mm=((0, 0), (300, 0), (300, 80), (0, 80)), bulges=(0, 0.1, 0, 0)),
        zones=(
            Zone(name="P", role="pocket", shape=Shape(outer=Outline.rectangle(9, 9, 50, 40)), depth_mm=12.0),
            Zone(name="C", role="center_line", line_mm=((0.0, 40.0), (300.0, 40.0))),
        ),
        thickness_mm=44.5,
        tolerates={"stain": "allowed"},
    )
    piece = Piece(
        name="R1", species="sugar maple", thickness_mm=47, shape=board, defects=(knot,), seams=(seam,), row=2
    )
    shop = Shop(
        name="Test",
        units="mm",
        settings=Settings(cutter_diameter_mm=6.35, value_per_board_foot={"": 6, "sugar maple": 9.5}),
        beds=(Bed(name="b", travel_x_mm=600, travel_y_mm=400, table_x_mm=(0, 600), table_y_mm=(0, 400)),),
        parts=(part,),
        pieces=(piece,),
        orders=(Order(name="order 1", part=part.name),),
        files={"shop.toml": "00" * 32},
    )
    blank = Blank(
        name="R1",
        members=(Member(piece="R1", copy=1),),
        species="sugar maple",
        thickness_mm=47,
        shape=board,
        grain_deg=0.0,
        seams=(seam,),
        defects=(knot,),
    )
    layout = Layout(
        blank=blank,
        placements=(
            Placement(
                part=part.name,
                order="order 1",
                copy=1,
                angle_deg=1.25,
                mirrored=True,
                x_um=310_000,
                y_um=20_001,
                front_up=False,
            ),
        ),
        setups=(
            Setup(
                bed="b",
                along="x",
                fits=True,
                turned_deg=0,
                x_mm=0,
                y_mm=0,
                spare_x_mm=1 / 3,
                spare_y_mm=2e-7,
                needs_x_mm=306.35,
                needs_y_mm=86.35,
            ),
        ),
        chosen=0,
        seams=(
            SeamUnderPart(
                seam="seam 1", placement=0, length_mm=300.0, zones=(("P", 41.0),), visible=("edge",)
            ),
        ),
        leftovers=(
            Leftover(name="R1-a", shape=board, rectangle_mm=(0, 0, 100, 50), area_mm2=5000, usable=False),
        ),
        part_area_mm2=24_000,
        stock_area_mm2=100_000,
        usable_area_mm2=0,
        board_feet=2.0,
        value=19.0,
    )
    return Plan(
        shop=shop,
        seed=1,
        effort=3,
        layouts=(layout,),
        orders=(OrderResult(order="order 1", placed=1, count=1),),
        intake=(Finding(code="D031", severity="note", message="tested"),),
        notices=(OrderShort(order="order 2", part="part", missing=1, count=2),),
    )
