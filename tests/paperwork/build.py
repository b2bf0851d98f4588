"""Plans made in code, for the paper to be drawn from."""

from __future__ import annotations

import dataclasses
import math

from nestyield.bed.positions import positions_of, table_pins
from nestyield.glueup.record import glue_up
from nestyield.model import (
    Bed,
    Blank,
    Defect,
    Finding,
    HoldDown,
    KeepOut,
    Layout,
    Leftover,
    Member,
    Order,
    OrderResult,
    Outline,
    Part,
    Piece,
    Pin,
    Placement,
    Plan,
    Purchase,
    Seam,
    SeamUnderPart,
    Settings,
    Setup,
    Shape,
    Shop,
    WorkPlan,
    Zone,
)
from nestyield.model.facts import (
    ClosedEndOverhang,
    ClosestRefusal,
    OrderOnHold,
    PartsComeLoose,
    PinInOpening,
    TooNarrow,
)
from nestyield.planning.work.cautions import general_cautions
from nestyield.planning.work.inspect import with_inspection
from nestyield.planning.work.stages import with_stages


def body_outline() -> Outline:
    """A pear-shaped body of lines and arcs, 300 by 220 mm, with arcs of both directions."""
    points = [(0.0, 40.0), (0.0, -40.0), (60.0, -100.0), (180.0, -70.0), (250.0, -90.0), (300.0, -30.0)]
    points += [(300.0, 30.0), (250.0, 90.0), (180.0, 70.0), (60.0, 100.0)]
    bulges = [0.0, math.tan(math.pi / 16), 0.22, -0.3, 0.4, 0.0, 0.4, -0.3, 0.22, math.tan(math.pi / 16)]
    return Outline(points_mm=tuple(points), bulges=tuple(bulges))


def body_part(name: str = "mandolin") -> Part:
    outline = body_outline()
    zones = (
        Zone(
            name="PICKUPS",
            role="pocket",
            shape=Shape(outer=Outline.rectangle(120, -20, 160, 20)),
            depth_mm=19.0,
        ),
        Zone(
            name="CONTROLS",
            role="pocket",
            face="back",
            depth_mm=32.0,
            shape=Shape(
                outer=Outline(
                    points_mm=((40, -60), (80, -60), (80, -30), (40, -30)), bulges=(0.2, 0.3, 0.2, 0.3)
                )
            ),
        ),
        Zone(
            name="BEVEL",
            role="contour",
            depth_mm=12.0,
            shape=Shape(outer=Outline.polygon([(1, 39), (1, 0), (30, 20), (40, 60)])),
        ),
        Zone(
            name="NECK", role="pocket", depth_mm=16.0, shape=Shape(outer=Outline.rectangle(250, -28, 299, 28))
        ),
        Zone(name="STUDS", role="hole", depth_mm=20.0, shape=Shape(outer=Outline.circle(90, 25, 5.5))),
        Zone(name="STUDS#2", role="hole", depth_mm=20.0, shape=Shape(outer=Outline.circle(90, -25, 5.5))),
        Zone(name="SOUND", role="cutout", face="through", shape=Shape(outer=Outline.circle(60, 55, 9))),
        Zone(name="MIDDLE", role="center_line", line_mm=((-20, 0), (320, 0))),
        Zone(name="BRIDGE", role="no_seam", shape=Shape(outer=Outline.rectangle(80, -40, 100, 40))),
    )
    return Part(
        name=name,
        drawing="mandolin.dxf",
        outline=outline,
        zones=zones,
        thickness_mm=44.5,
        species=("sugar maple",),
    )


def board_part(name: str = "fretboard") -> Part:
    return Part(
        name=name,
        drawing="board.dxf",
        outline=Outline.rectangle(0, 0, 320, 60),
        thickness_mm=8.0,
        species=("black cherry",),
        zones=(Zone(name="DOTS", role="pocket", depth_mm=3.0, shape=Shape(outer=Outline.circle(80, 30, 4))),),
    )


def bench() -> Bed:
    return Bed(
        name="bench",
        travel_x_mm=600,
        travel_y_mm=400,
        travel_z_mm=90,
        table_x_mm=(-20, 620),
        table_y_mm=(-20, 420),
        open_ends=("x-", "x+"),
        keep_outs=(KeepOut(name="clamp block", outline=Outline.rectangle(0, 360, 60, 400)),),
        pin_diameter_mm=6,
    )


def plan(
    *,
    units: str = "mm",
    shop_name: str = "Millrace Shared Workshop",
    blank_name: str = "C07",
    part_name: str = "mandolin",
    order_name: str = "spring batch",
    species: str = "sugar maple",
    note: str = "from the old counter",
) -> Plan:
    """A plan of two blanks, an order that cannot be met and one on hold."""
    mandolin, board = body_part(part_name), board_part()
    counter = Piece(
        name=blank_name,
        shelf="A2",
        species=species,
        thickness_mm=47.0,
        shape=Shape(
            outer=Outline(
                points_mm=((0, 0), (620, 0), (640, 250), (500, 262), (0, 250)),
                bulges=(0.0, 0.0, 0.08, 0.0, 0.0),
            ),
        ),
        note=note,
        defects=(
            Defect(name="defects.csv row 2", kind="knot", shape=Shape(outer=Outline.circle(470, 60, 14))),
            Defect(
                name="defects.csv row 3",
                kind="check",
                shape=Shape(outer=Outline.rectangle(0, 118, 40, 124)),
                face="top",
                depth_mm=20.0,
            ),
            Defect(
                name="defects.csv row 4", kind="screw hole", shape=Shape(outer=Outline.circle(610, 230, 4))
            ),
        ),
        seams=(Seam(name="seam 1", line_mm=((0, 128), (634, 128))),),
        row=2,
    )
    tread = Piece(
        name="T-3",
        shelf="B1",
        species="black cherry",
        thickness_mm=10.0,
        shape=Shape(outer=Outline.rectangle(0, 0, 700, 160), holes=(Outline.circle(600, 40, 12),)),
        row=3,
    )
    other = Piece(
        name="X 1",
        species="black walnut",
        thickness_mm=30.0,
        shape=Shape(outer=Outline.polygon([(0, 0), (300, 0), (260, 120), (0, 90)])),
        count=2,
        row=4,
    )
    held = Piece(
        name="H9",
        species="sugar maple",
        thickness_mm=50.0,
        shape=Shape(outer=Outline.rectangle(0, 0, 500, 240)),
        status="hold",
        row=5,
    )
    settings = Settings(cutter_diameter_mm=6.35)
    orders = (
        Order(name=order_name, part=part_name, count=1, priority=1, due="2026-12-12"),
        Order(name="order 2", part="fretboard", count=2),
        Order(name="order 3", part=part_name, count=2, priority=3),
        Order(name="order 4", part="fretboard", hold=True),
    )
    shop = Shop(
        name=shop_name,
        units=units,  # type: ignore[arg-type]
        settings=settings,
        beds=(bench(),),
        parts=(mandolin, board),
        pieces=(counter, tread, other, held),
        orders=orders,
        files={"shop.toml": "0" * 64, "rack.csv": "1" * 64},
    )
    first = Layout(
        blank=Blank(
            name=blank_name,
            members=(Member(piece=blank_name, copy=1),),
            species=species,
            thickness_mm=47.0,
            shape=counter.shape,
            grain_deg=0.0,
            seams=counter.seams,
            defects=counter.defects,
        ),
        placements=(
            Placement(
                part=part_name,
                order=order_name,
                copy=1,
                angle_deg=183.0,
                mirrored=False,
                x_um=345_250,
                y_um=133_400,
            ),
        ),
        setups=(
            Setup(
                bed="bench",
                along="x",
                fits=True,
                turned_deg=0.0,
                x_mm=-30.0,
                y_mm=40.0,
                spare_x_mm=293.6,
                spare_y_mm=181.2,
                needs_x_mm=306.4,
                needs_y_mm=218.8,
            ),
            Setup(
                bed="bench",
                along="y",
                fits=False,
                turned_deg=90.0,
                x_mm=300.0,
                y_mm=-60.0,
                spare_x_mm=381.2,
                spare_y_mm=93.6,
                needs_x_mm=218.8,
                needs_y_mm=306.4,
                refusals=(ClosedEndOverhang(axis="y", end="y+", over_um=174_000),),
            ),
        ),
        chosen=0,
        work=WorkPlan(
            flip_axis_mm=((-10.0, 125.0), (650.0, 125.0)),
            pins=(
                Pin(name="pin 1", x_mm=18.0, y_mm=125.0, diameter_mm=6.0),
                Pin(name="pin 2", x_mm=400.0, y_mm=125.0, diameter_mm=6.0),
            ),
            hold_downs=(
                HoldDown(name="screw 1", x_mm=20.0, y_mm=20.0, diameter_mm=10.0),
                HoldDown(name="screw 2", x_mm=370.0, y_mm=235.0, diameter_mm=10.0),
            ),
            cautions=(PinInOpening(pin="pin 2"), PartsComeLoose()),
        ),
        seams=(
            SeamUnderPart(
                seam="seam 1",
                placement=0,
                length_mm=297.4,
                zones=(("PICKUPS", 40.1),),
                wood_left_mm=(("PICKUPS", 25.5),),
                visible=("front", "back", "edge"),
            ),
        ),
        leftovers=(
            Leftover(
                name=f"{blank_name}-a",
                shape=Shape(outer=Outline.polygon([(352, 0), (620, 0), (640, 250), (500, 262), (352, 257)])),
                rectangle_mm=(352.0, 80.0, 270.0, 170.0),
                area_mm2=71234.0,
                usable=True,
            ),
            Leftover(
                name=f"{blank_name}-b",
                shape=Shape(outer=Outline.polygon([(0, 0), (60, 0), (30, 30), (0, 60)])),
                rectangle_mm=(0.0, 0.0, 40.0, 30.0),
                area_mm2=2700.0,
                usable=False,
            ),
        ),
        part_area_mm2=48321.0,
        stock_area_mm2=160_800.0,
        usable_area_mm2=71234.0,
        board_feet=3.2,
        value=30.4,
    )
    second = Layout(
        blank=Blank(
            name="T-3",
            members=(Member(piece="T-3", copy=1),),
            species="black cherry",
            thickness_mm=10.0,
            shape=tread.shape,
            grain_deg=0.0,
        ),
        placements=(
            Placement(
                part="fretboard",
                order="order 2",
                copy=1,
                angle_deg=0.0,
                mirrored=False,
                x_um=10_000,
                y_um=10_000,
            ),
            Placement(
                part="fretboard",
                order="order 2",
                copy=2,
                angle_deg=180.0,
                mirrored=True,
                x_um=10_000,
                y_um=145_000,
                front_up=False,
            ),
        ),
        setups=(
            Setup(
                bed="bench",
                along="x",
                fits=True,
                turned_deg=0.0,
                x_mm=-40.0,
                y_mm=20.0,
                spare_x_mm=273.6,
                spare_y_mm=258.6,
                needs_x_mm=326.4,
                needs_y_mm=141.4,
            ),
        ),
        chosen=0,
        leftovers=(
            Leftover(
                name="T-3-a",
                shape=Shape(outer=Outline.rectangle(340, 0, 700, 160), holes=(Outline.circle(600, 40, 12),)),
                rectangle_mm=(340.0, 55.0, 360.0, 105.0),
                area_mm2=57000.0,
                usable=True,
            ),
        ),
        part_area_mm2=38400.0,
        stock_area_mm2=111_548.0,
        usable_area_mm2=57000.0,
        board_feet=0.5,
        value=3.0,
    )
    return Plan(
        shop=shop,
        seed=1,
        effort=3,
        layouts=(worked(first, shop), with_inspection(second, shop)),
        cautions=general_cautions(shop, (first, second)),
        orders=(
            OrderResult(order=order_name, placed=1, count=1),
            OrderResult(order="order 2", placed=2, count=2),
            OrderResult(
                order="order 3",
                placed=0,
                count=1,
                reasons=(
                    ClosestRefusal(
                        species=("sugar maple",),
                        thickness_um=44_500,
                        refusal=TooNarrow(piece="M-07", far_um=9500),
                    ),
                ),
            ),
            OrderResult(order="order 4", placed=0, count=1, reasons=(OrderOnHold(),)),
        ),
        purchases=(
            Purchase(
                order="order 3",
                count=2,
                species=("sugar maple",),
                thickness_mm=46.1,
                length_mm=312.7,
                width_mm=212.7,
                board_feet=2.6,
            ),
        ),
        intake=(
            Finding(
                code="D031",
                severity="note",
                message="layer DIMENSIONS is not named and was left out",
                file="mandolin.dxf",
            ),
            Finding(
                code="R007",
                severity="warning",
                message="moisture is not given; taken as unknown",
                file="rack.csv",
                where="row 4",
            ),
        ),
    )


def worked(layout: Layout, shop: Shop) -> Layout:
    """Return a layout whose positions, table pins and stages follow its pins and placements."""
    assert layout.work is not None
    assert layout.chosen is not None
    setup, work = layout.setups[layout.chosen], layout.work
    positions = positions_of(setup, ("bottom", "top"), work.flip_axis_mm)
    table = table_pins(shop.bed(setup.bed), positions, work.pins)
    work = dataclasses.replace(work, positions=positions, table_pins=table)
    return with_stages(with_inspection(dataclasses.replace(layout, work=work), shop), shop)


def glued_plan(units: str = "mm") -> Plan:
    """A plan with one blank glued up from three pieces: odd, turned, one bottom up."""
    base = plan(units=units)
    pieces = (
        Piece(
            name="K-1",
            shelf="A1",
            species="sugar maple",
            thickness_mm=47.0,
            moisture_pct=7.5,
            shape=Shape(outer=Outline.polygon([(0, 0), (420, 0), (420, 92), (0, 84)])),
        ),
        Piece(
            name="K-2",
            shelf="A3",
            species="sugar maple",
            thickness_mm=46.0,
            moisture_pct=8.0,
            shape=Shape(outer=Outline.polygon([(0, 0), (380, 0), (380, 70), (0, 70)])),
            defects=(
                Defect(name="defects.csv row 9", kind="knot", shape=Shape(outer=Outline.circle(20, 60, 6))),
            ),
        ),
        Piece(
            name="K-3",
            species="sugar maple",
            thickness_mm=48.0,
            shape=Shape(outer=Outline.polygon([(0, 0), (450, 0), (440, 100), (10, 96)])),
        ),
    )
    # Seams at y = 80 and 145; K-2 lies end for end, K-3 bottom up.
    members = (
        Member(piece="K-1", copy=1),
        Member(piece="K-2", copy=1, angle_deg=180.0, x_um=400_000, y_um=148_000),
        Member(piece="K-3", copy=1, mirrored=True, x_um=430_000, y_um=142_500),
    )
    outer = Outline.polygon(
        [
            (0, 0),
            (420, 0),
            (420, 80),
            (400, 80),
            (400, 145),
            (429.75, 145),
            (420, 242.5),
            (-10, 238.5),
            (-20, 145),
            (20, 145),
            (20, 80),
            (0, 80),
        ]
    )
    blank = Blank(
        name="glue-up 1",
        members=members,
        species="sugar maple",
        thickness_mm=46.0,
        shape=Shape(outer=outer),
        grain_deg=0.0,
        seams=(
            Seam(name="seam 1", line_mm=((20, 80), (400, 80))),
            Seam(name="seam 2", line_mm=((20, 145), (400, 145))),
        ),
    )
    layout = dataclasses.replace(
        base.layouts[0],
        blank=blank,
        placements=(
            Placement(
                part="mandolin",
                order="order 3",
                copy=1,
                angle_deg=0.0,
                mirrored=False,
                x_um=50_000,
                y_um=113_000,
            ),
        ),
        seams=(
            SeamUnderPart(seam="seam 1", placement=0, length_mm=290.0, visible=("front", "back")),
            SeamUnderPart(seam="seam 2", placement=0, length_mm=292.0, visible=("front", "back")),
        ),
        leftovers=(),
        work=None,
    )
    shop = dataclasses.replace(base.shop, pieces=base.shop.pieces + pieces)
    layout = with_inspection(dataclasses.replace(layout, glueup=glue_up(layout, shop)), shop)
    return dataclasses.replace(base, shop=shop, layouts=(*base.layouts, layout))
