"""Sound plans made in code, with hardly any play, so that the smallest change breaks them."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from nestyield.bed.fit import setups
from nestyield.model import (
    Bed,
    Blank,
    Defect,
    KeepOut,
    Layout,
    Member,
    Order,
    OrderResult,
    Outline,
    Part,
    Piece,
    Placement,
    Plan,
    Seam,
    Settings,
    Shape,
    Shop,
    Zone,
)
from nestyield.model.arcs import box_of
from nestyield.model.facts import PiecesSpent
from nestyield.model.pose import Pose
from nestyield.planning.layouts import make_layout
from nestyield.planning.run import shortfalls
from nestyield.planning.work.cautions import general_cautions
from nestyield.planning.work.inspect import with_inspection

MARGIN, GAP = 6.35, 9.35
BENCH = Bed(
    name="bench",
    travel_x_mm=1600.0,
    travel_y_mm=600.0,
    travel_z_mm=90.0,
    table_x_mm=(-20.0, 1620.0),
    table_y_mm=(-20.0, 620.0),
    keep_outs=(KeepOut(name="post", outline=Outline.rectangle(1580, 580, 1600, 600)),),
)
LITTLE = Bed(
    name="little", travel_x_mm=200.0, travel_y_mm=150.0, table_x_mm=(0.0, 200.0), table_y_mm=(0.0, 150.0)
)


def make_parts(rng: np.random.Generator) -> tuple[Part, ...]:
    """A round, a bar and a body with an arc, with zones."""
    r = float(rng.uniform(25, 55))
    length, width = (float(v) for v in rng.uniform(60, 140, 2))
    round_ = Part(
        name="rosette",
        drawing="r.dxf",
        outline=Outline.circle(3.0, -2.0, r),
        thickness_mm=40.0,
        grain_deg=None,
        mirrored="allowed",
    )
    bar = Part(
        name="bar",
        drawing="b.dxf",
        outline=Outline.rectangle(0, 0, length, width),
        thickness_mm=40.0,
        grain_tolerance_deg=4.0,
        species=("sugar maple",),
        tolerates={"stain": "allowed", "nail hole": "filled"},
        fill_limit_ml=5.0,
    )
    body = Part(
        name="body",
        drawing="y.dxf",
        outline=Outline(
            points_mm=((0, 0), (length, 0), (length, width), (0, width)), bulges=(0.0, 0.35, 0.0, -0.2)
        ),
        zones=(
            Zone(
                name="POCKET",
                role="pocket",
                shape=Shape(outer=Outline.rectangle(length * 0.4, 10, length * 0.7, width - 10)),
                face="front",
                depth_mm=20.0,
            ),
            Zone(
                name="HOLE",
                role="hole",
                shape=Shape(outer=Outline.circle(length * 0.85, width / 2, 3)),
                depth_mm=None,
            ),
        ),
        thickness_mm=40.0,
        grain_tolerance_deg=4.0,
    )
    return round_, bar, body


def lay(
    rng: np.random.Generator, parts: list[Part], order_of: dict[str, str], play_mm: float
) -> tuple[list[Placement], float, float]:
    """Lay parts in one row, boxes apart by the gap and a play below ``play_mm``; return the blank's size."""
    placements: list[Placement] = []
    copies: dict[str, int] = {}
    x, top = MARGIN, 0.0
    for k, part in enumerate(parts):
        angle = 0.0 if part.name != "body" else float(rng.uniform(-3.9, 3.9))
        angle += 180.0 * float(rng.integers(0, 2))
        front_up = bool(rng.integers(0, 2))
        mirrored = not front_up
        box = box_of(part.outline, Pose(angle_deg=angle, mirrored=mirrored))
        slack = rng.uniform(0.0, play_mm, 2)
        x_um = math.ceil((x + slack[0] - box.x0) * 1000)
        y_um = math.ceil((MARGIN + slack[1] - box.y0) * 1000)
        name = order_of[part.name]
        copies[name] = copies.get(name, 0) + 1
        placements.append(
            Placement(
                part=part.name,
                order=name,
                copy=copies[name],
                angle_deg=angle,
                mirrored=mirrored,
                x_um=x_um,
                y_um=y_um,
                front_up=front_up,
            )
        )
        x = x_um / 1000 + box.x1 + (GAP if k + 1 < len(parts) else 0.0)
        top = max(top, y_um / 1000 + box.y1)
    return placements, x + MARGIN + play_mm / 2, top + MARGIN + play_mm / 2


def sound_plan(seed: int, play_mm: float = 0.09, blanks: int = 2, row: int = 4, papers: bool = True) -> Plan:
    """A plan without a fault: some blanks with a row of parts each, defects and a seam beside them."""
    rng = np.random.default_rng(seed)
    parts = make_parts(rng)
    orders = {p.name: f"order {i + 1}" for i, p in enumerate(parts)}
    settings = Settings(
        cutter_diameter_mm=6.35, blank_margin_mm=MARGIN, value_per_board_foot={"": 6.0, "sugar maple": 9.5}
    )
    pieces, laid = [], []
    counts: dict[str, int] = dict.fromkeys(orders, 0)
    for b in range(blanks):
        chosen = [parts[int(i)] for i in rng.integers(0, 3, row)]
        placements, width, height = lay(rng, chosen, orders, play_mm)
        copies = []
        for p in placements:
            counts[p.part] += 1
            copies.append(replace(p, copy=counts[p.part]))
        tail = 300.0
        hole = Outline.circle(width + tail * 0.7, height / 2, 4.0)
        knot = Shape(outer=Outline.circle(width + 40, height / 2, 12))
        nail = Shape(outer=Outline.circle(width + 120, height / 2, 3))
        row_name = f"defects.csv row {2 * b + 2}"
        defects = (
            Defect(name=row_name, kind="knot", shape=knot, face="top", depth_mm=15.0),
            Defect(name=row_name + "0", kind="metal", shape=nail),
        )
        seam = Seam(name="seam 1", line_mm=((-5.0, height * 0.45), (width + tail + 5.0, height * 0.47)))
        piece = Piece(
            name=f"R{b + 1}",
            species="sugar maple",
            thickness_mm=42.0,
            shape=Shape(outer=Outline.rectangle(0, 0, width + tail, height), holes=(hole,)),
            defects=defects,
            seams=(seam,) if papers else (),
            row=b + 2,
        )
        pieces.append(piece)
        laid.append((piece, copies))
    shop = Shop(
        name="Test",
        units="mm",
        settings=settings,
        beds=(BENCH, LITTLE),
        parts=parts,
        pieces=tuple(pieces),
        orders=(
            *(Order(name=orders[p.name], part=p.name, count=max(1, counts[p.name])) for p in parts),
            Order(name="too much", part="bar", count=2),
        ),
    )
    layouts = []
    for piece, placements in laid:
        blank = Blank(
            name=piece.name,
            members=(Member(piece=piece.name, copy=1),),
            species=piece.species,
            thickness_mm=piece.thickness_mm,
            shape=piece.shape,
            grain_deg=piece.grain_deg,
            seams=piece.seams,
            defects=piece.defects,
        )
        feet = piece.shape.area_mm2 * piece.thickness_mm / (144 * 25.4**3)
        if papers:
            layouts.append(make_layout(shop, blank, placements, shop.beds, 9.5 * feet))
        else:
            layouts.append(_bare_layout(shop, blank, placements, 9.5 * feet))
    results = [
        OrderResult(
            order=o.name,
            placed=counts[o.part],
            count=o.count,
            reasons=() if counts[o.part] else (PiecesSpent(pieces=("R1",)),),
        )
        for o in shop.orders
        if o.name != "too much"
    ]
    results.append(OrderResult(order="too much", placed=0, count=2, reasons=(PiecesSpent(pieces=("R1",)),)))
    return Plan(
        shop=shop,
        seed=seed,
        effort=1,
        layouts=tuple(layouts),
        orders=tuple(results),
        notices=shortfalls(shop, results),
        cautions=general_cautions(shop, layouts),
    )


def _bare_layout(shop: Shop, blank: Blank, placements: list[Placement], value: float) -> Layout:
    """A layout without seams and leftovers, which take most of the time."""
    pairs = [(shop.part(p.part), p) for p in placements]
    layout = Layout(
        blank=replace(blank, seams=()),
        placements=tuple(placements),
        setups=setups(blank, pairs, shop.beds, shop.settings),
        chosen=0,
        part_area_mm2=sum(part.outline.signed_area_mm2 for part, _ in pairs),
        stock_area_mm2=blank.shape.area_mm2,
        usable_area_mm2=0.0,
        board_feet=blank.shape.area_mm2 * blank.thickness_mm / (144 * 25.4**3),
        value=value,
    )
    return with_inspection(layout, shop)


@pytest.fixture
def make_sound() -> Callable[..., Plan]:
    return sound_plan


@pytest.fixture(scope="session")
def sound_plans() -> list[Plan]:
    return [sound_plan(seed) for seed in (0, 1)]
