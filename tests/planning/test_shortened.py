"""All parts of a layout pushed to one end, so that the rest of the piece is one."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from shapely import affinity
from shapely.geometry import MultiPolygon, Polygon, box

from nestyield.model import Defect, KeepOut, Order, Outline, Placement, Shape
from nestyield.placement.stock import blank_of
from nestyield.planning.candidates import candidate_of
from nestyield.planning.demand import demands_of
from nestyield.planning.lay_parts import LayoutContext
from nestyield.planning.more_left import rather
from nestyield.planning.run import make_plan
from nestyield.planning.workers import Job

GAP, MARGIN = 6.0, 5.0


def laid(shapes: dict[str, Polygon], layout: Any) -> list[Polygon]:
    """Lay the parts with shapely alone, as the plan says."""
    out = []
    for at in layout.placements:
        turn = math.radians(at.angle_deg)
        c, s, m = math.cos(turn), math.sin(turn), -1.0 if at.mirrored else 1.0
        out.append(
            affinity.affine_transform(shapes[at.part], (c * m, -s, s * m, c, at.x_um / 1000, at.y_um / 1000))
        )
    return out


@pytest.mark.study
def test_parts_cut_from_a_rectangle_go_back_into_little_more(make: Any) -> None:
    """Six quadrilaterals sawn out of 495 x 200 mm by slanted lines take no more than that of a board."""
    rng = np.random.default_rng(4)
    xs, ys = np.linspace(0, 495, 4), np.linspace(0, 200, 3)
    corner = {
        (i, j): (
            x + (rng.uniform(-40, 40) if 0 < i < 3 else 0.0),
            y + (rng.uniform(-30, 30) if 0 < j < 2 else 0.0),
        )
        for i, x in enumerate(xs)
        for j, y in enumerate(ys)
    }
    shapes = {}
    for i in range(3):
        for j in range(2):
            cell = Polygon([corner[i, j], corner[i + 1, j], corner[i + 1, j + 1], corner[i, j + 1]])
            shapes[f"p{i}{j}"] = cell.buffer(-GAP / 2, join_style="mitre")
    parts = [
        make.part(name, 1, 1, outline=Outline.polygon(list(s.exterior.coords)[:-1]), grain_tolerance_deg=0)
        for name, s in shapes.items()
    ]
    orders = [Order(name=name, part=name) for name in shapes]
    # half a gap is left free around the rectangle already; the board is 20 mm wider
    shop = make.shop([make.board("long", 2000, 220 - GAP + 2 * MARGIN)], parts, orders)
    made = make_plan(shop, seed=1, effort=1, seconds=100_000, workers=1)
    (layout,) = made.layouts
    assert sorted(p.part for p in layout.placements) == sorted(shapes)
    there = laid(shapes, layout)
    room = box(0, 0, 2000, 224).buffer(-MARGIN + 2e-3, join_style="mitre")
    for k, one in enumerate(there):
        assert room.contains(one)
        assert all(one.distance(other) > GAP - 2e-3 for other in there[:k])
    used = max(g.bounds[2] for g in there) - MARGIN
    assert used <= 495


@pytest.mark.parametrize("nailed", [False, True])
def test_four_templates_leave_one_sheet_and_not_four_strips(make: Any, nailed: bool) -> None:
    """Of 900 x 480 mm a block of two by two, 609 x 429 mm with gaps of 9, leaves one piece of the full width.

    A bed with 460 mm of travel takes the block, and not four templates spread over the width. A screw hole in the
    corner lies in what is left.
    """
    hole = Defect(name="defects.csv row 2", kind="screw hole", shape=Shape(outer=Outline.circle(20, 20, 2.5)))
    sheet = make.board("sheet", 900, 480, defects=(hole,) if nailed else ())
    size = Polygon([(0, 0), (300, 0), (300, 210), (0, 210)])
    made = make_plan(
        make.shop(
            [sheet],
            [make.part("template", 300, 210, grain_tolerance_deg=0)],
            [Order(name="templates", part="template", count=4)],
            beds=[make.bed(x=940, y=460, table_x_mm=(-30, 970), table_y_mm=(-30, 490))],
            settings={"blank_margin_mm": MARGIN},
        ),
        seed=1,
        effort=1,
        seconds=100_000,
        workers=1,
    )
    (layout,) = made.layouts
    there = laid({"template": size}, layout)
    assert len(there) == 4
    assert not any(at.mirrored for at in layout.placements)  # a rectangle needs no back up
    x0, y0, x1, y1 = MultiPolygon(there).bounds
    assert x1 - x0 <= 2 * 300 + 9 + 0.05
    assert y1 - y0 <= (460 - 6 if nailed else 2 * 210 + 9 + 0.05)
    (left,) = [o for o in layout.leftovers if o.usable]
    assert min(left.rectangle_mm[2:]) >= 900 - (x1 - x0) - 30
    assert max(left.rectangle_mm[2:]) == pytest.approx(480, abs=0.1)
    if nailed:
        assert x0 > 20 + 2.5 + 250


@pytest.mark.parametrize("way", ["plain", "nailed", "bed"])
def test_a_pushed_layout_is_not_taken_at_the_cost_of_a_bed_or_of_a_clear_hole(make: Any, way: str) -> None:
    """Two blocks of 100 x 90 at one end of a 1000 x 100 board leave one piece, in its middle three.

    The pushed layout is taken, but not over a screw hole that the other keeps clear of, nor where the first bed, of
    which both ends are kept out, takes the other alone.
    """
    hole = Defect(
        name="defects.csv row 2", kind="screw hole", shape=Shape(outer=Outline.circle(108, 50, 2.5))
    )
    beds = [make.bed("first", x=1100, y=200), make.bed("second", x=1100, y=200)]
    if way == "bed":
        ends = tuple(
            KeepOut(name=f"clamp {x}", outline=Outline.rectangle(x, 0, x + 230, 200), blocks="cutter")
            for x in (0, 870)
        )
        beds[0] = make.bed("first", x=1100, y=200, keep_outs=ends)
    shop = make.shop(
        [make.board("board", 1000, 100, defects=(hole,) if way == "nailed" else ())],
        [make.part("block", 100, 90, grain_tolerance_deg=0)],
        [Order(name="blocks", part="block", count=2)],
        beds=beds,
    )
    demands = demands_of(shop)
    bench = LayoutContext(shop=shop, demands=demands, blank=blank_of(shop.pieces[0]))

    def at(*xs: float) -> Any:
        placed = (
            Placement(part="block", order="", copy=1, angle_deg=0.0, mirrored=False, x_um=round(x * 1000),
                      y_um=5000, front_up=True)
            for x in xs
        )  # fmt: skip
        return candidate_of(bench, 0, (2,), tuple((0, p) for p in placed))

    pushed, apart = at(5, 114), at(400, 640)
    assert rather(Job(shop=shop, demands=demands, effort=1, seed=1), pushed, apart) == (way == "plain")
