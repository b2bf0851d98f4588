"""All parts of a layout pushed to one end, so that the rest of the piece is one."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from shapely import affinity
from shapely.geometry import Polygon, box

from nestyield.model import Order, Outline
from nestyield.planning.run import make_plan

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
