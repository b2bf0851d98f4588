"""Bounds by rectangles inside the parts, against true layouts and against counts worked out by hand."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import shapely
from shapely import affinity

from nestyield.model import Blank, Outline, Part, Settings, Shape
from nestyield.planning.core_boxes import CoreBoxes, boxes_inside

SETTINGS = Settings(cutter_diameter_mm=6.0, blank_margin_mm=5.0)


def part(outline: Outline, tolerance: float, grain: float = 0.0) -> Part:
    return Part(
        name="p",
        drawing="p.dxf",
        outline=outline,
        thickness_mm=20.0,
        grain_deg=grain,
        grain_tolerance_deg=tolerance,
    )


def blank(length: float, width: float, grain: float | None = 0.0) -> Blank:
    return Blank(
        name="b",
        members=(),
        species="ash",
        thickness_mm=20.0,
        grain_deg=grain,
        shape=Shape(outer=Outline.rectangle(0, 0, length, width)),
    )


def polygon(rng: np.random.Generator) -> shapely.Polygon:
    """A star-shaped outline with bays."""
    n = int(rng.integers(5, 14))
    angles = np.sort(rng.uniform(0, 2 * np.pi, n))
    radii = rng.uniform(60, 200, n)
    return shapely.Polygon(np.column_stack([radii * np.cos(angles) * 1.6, radii * np.sin(angles)])).buffer(0)


@pytest.mark.parametrize("seed", range(6))
def test_boxes_stay_inside_at_every_angle(seed: int) -> None:
    """Shapely turns the outline through the tolerance and lays each box in it, wherever it goes."""
    rng = np.random.default_rng(seed)
    shape = polygon(rng)
    if shape.geom_type != "Polygon":
        shape = max(shape.geoms, key=lambda g: g.area)
    tolerance = float(rng.uniform(0.5, 20))
    one = part(Outline.polygon(list(shape.exterior.coords)[:-1]), tolerance)
    boxes = boxes_inside(one, 0.05)
    for a, b in boxes.tolist():
        for turn in np.linspace(-tolerance, tolerance, 5):
            turned = affinity.rotate(shape, turn, origin=(0, 0))
            assert _goes_in(turned, a, b)


def _goes_in(shape: shapely.Polygon, a: float, b: float) -> bool:
    """Tell whether a box goes into a polygon: its middle lies in what is left when its corners are swept away."""
    a, b = a * 0.998, b * 0.998
    outside = shape.envelope.buffer(5).difference(shape)
    x0, y0, x1, y1 = shape.bounds
    for x in np.arange(x0, x1 - a, max(1.0, a * 0.01)):
        strip = outside.intersection(shapely.box(x, y0, x + a, y1))
        taken = sorted((g.bounds[1], g.bounds[3]) for g in getattr(strip, "geoms", [strip]) if not g.is_empty)
        low = y0
        for start, end in taken:
            if start - low >= b:
                return True
            low = max(low, end)
        if y1 - low >= b:
            return True
    return False


@pytest.mark.parametrize(
    ("length", "width", "count", "told"),
    [
        # 300 x 200 straight along the grain, margin 5, gap 6; sides that touch are 6 / sqrt(2) apart at least
        (700, 300, 2, False),
        (700, 300, 3, True),  # 3 x 300 is over 690, and 2 x 200 over 290
        (930, 300, 3, False),  # 3 x 300 + 2 x 6 = 912
        (900, 300, 3, True),  # 3 x 300 is over 890
        (700, 420, 4, False),
        (700, 420, 5, True),
        (310.5, 210.5, 1, False),
        (310.5, 400, 2, True),
    ],
)
def test_rectangles_that_have_no_room(length: float, width: float, count: int, told: bool) -> None:
    """Counts of equal rectangles: what goes along times what goes across."""
    boxes = boxes_inside(part(Outline.rectangle(0, 0, 300, 200), 0.0), 0.05)
    assert CoreBoxes(blank(length, width), SETTINGS, [boxes]).rule_out({0: count}) is told


def test_a_mixture_that_area_does_not_tell() -> None:
    """A neck of 300 x 80 and a plate of 150 x 60 on 369 x 122: neither end to end nor one above the other."""
    boxes = [boxes_inside(part(Outline.rectangle(0, 0, a, b), 3.0), 0.05) for a, b in ((300, 80), (150, 60))]
    cores = CoreBoxes(blank(369, 122), SETTINGS, boxes)
    assert cores.rule_out({0: 1, 1: 1})
    assert not cores.rule_out({0: 0, 1: 2})
    assert not CoreBoxes(blank(369, 122, grain=None), SETTINGS, boxes).rule_out({0: 1, 1: 1})


def test_nothing_is_told_of_parts_that_lie_at_any_angle() -> None:
    free = part(Outline.rectangle(0, 0, 300, 80), 90.0)
    assert len(boxes_inside(free, 0.05)) == 0
    assert not CoreBoxes(blank(300, 80), SETTINGS, [boxes_inside(free, 0.05)]).rule_out({0: 9})


@pytest.mark.parametrize("seed", range(16))
def test_no_layout_that_exists_is_ruled_out(seed: int) -> None:
    """Odd parts are thrown onto a board by shapely, turned within their tolerances; what lies there has room."""
    rng = np.random.default_rng(100 + seed)
    length, width = float(rng.uniform(500, 1200)), float(rng.uniform(250, 700))
    shapes: list[Any] = []
    for _ in range(3):
        shape = polygon(rng)
        if shape.geom_type == "Polygon":
            shapes.append(affinity.scale(shape, rng.uniform(0.3, 1.0), rng.uniform(0.3, 1.0), origin=(0, 0)))
    tolerances = [float(rng.uniform(0, 15)) for _ in shapes]
    room = shapely.box(0, 0, length, width).buffer(-SETTINGS.blank_margin_mm, join_style="mitre")
    counts = dict.fromkeys(range(len(shapes)), 0)
    laid: list[Any] = []
    for _ in range(400):
        k = int(rng.integers(len(shapes)))
        turn = rng.uniform(-tolerances[k], tolerances[k]) + 180 * rng.integers(2)
        there = affinity.translate(
            affinity.rotate(shapes[k], turn, origin=(0, 0)), rng.uniform(0, length), rng.uniform(0, width)
        )
        if room.contains(there) and all(there.distance(other) >= SETTINGS.gap_mm for other in laid):
            laid.append(there)
            counts[k] += 1
    boxes = [
        boxes_inside(part(Outline.polygon(list(s.exterior.coords)[:-1]), t), 0.05)
        for s, t in zip(shapes, tolerances)
    ]
    assert not CoreBoxes(blank(length, width), SETTINGS, boxes).rule_out(counts)
