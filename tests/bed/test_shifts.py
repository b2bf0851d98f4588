"""Shifts of a part at which a bed takes its blank, against the same question asked place by place, and by hand."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from nestyield.bed.fit import takes
from nestyield.bed.shifts import shifts_taken
from nestyield.model import (
    Axis,
    Bed,
    KeepOut,
    Order,
    Outline,
    Part,
    Piece,
    Placement,
    Settings,
    Shape,
    Shop,
)
from nestyield.placement.stock import blank_of
from nestyield.planning.demand import demands_of
from nestyield.planning.lay_parts import LayoutContext

SETTINGS = Settings(cutter_diameter_mm=6.0, blank_margin_mm=5.0)
ELL = Outline.polygon([(0, 0), (70, 0), (70, 25), (30, 25), (30, 50), (0, 50)])


def board(length: float, width: float) -> Piece:
    return Piece(
        name="board",
        species="maple",
        thickness_mm=24,
        shape=Shape(outer=Outline.rectangle(0, 0, length, width)),
    )


def part_of(outline: Outline) -> Part:
    return Part(name="p", drawing="", outline=outline, thickness_mm=20)


def bed_of(travel: tuple[float, float], table: tuple[float, float], *keep_outs: KeepOut) -> Bed:
    return Bed(
        name="b",
        travel_x_mm=travel[0],
        travel_y_mm=travel[1],
        table_x_mm=(0.0, table[0]),
        table_y_mm=(0.0, table[1]),
        keep_outs=keep_outs,
    )


def at(x: float, y: float, angle: float = 0.0) -> Placement:
    return Placement(
        part="p",
        order="",
        copy=1,
        angle_deg=angle,
        mirrored=False,
        x_um=round(1000 * x),
        y_um=round(1000 * y),
    )


def test_by_hand() -> None:
    """Without keep-outs: 100 x 50 and a cutter of 6 on 300 x 200, a table of 320 x 230, travel 180 x 120.

    Along X the blank lies from 0 to 20 and the part, 3 mm of cutter's radius beside it, from 3 to 77: it may be shifted on
    the blank from 3 - 20 to 77; across from 3 - 30 to 67. End for end it is the same from the blank's far corner, 100 and
    50 less for the part's own corner.
    """
    got = shifts_taken(
        blank_of(board(300, 200)), [], part_of(Outline.rectangle(0, 0, 100, 50)), at(0, 0),
        bed_of((180, 120), (320, 230)), "x", SETTINGS,
    )  # fmt: skip
    one, other = shapely.box(-17, -27, 77, 67), shapely.box(300 - 100 - 77, 200 - 50 - 67, 217, 177)
    assert shapely.hausdorff_distance(got, one.union(other)) < 0.01
    assert got.symmetric_difference(one.union(other)).area < 5.0


@pytest.mark.parametrize(("travel", "table"), [(106.0, 299.9985), (105.998, 300.0), (105.9985, 299.9985)])
def test_short_within_the_tolerance(travel: float, table: float) -> None:
    """A part of 100 and a cutter of 6, a blank of 300: a bed up to 2 micrometers short takes them in the middle."""
    blank, part = blank_of(board(300, 200)), part_of(Outline.rectangle(0, 0, 100, 50))
    bed = bed_of((travel, 200), (table, 230))
    here = at(3, 3)
    assert takes(blank, [(part, here)], bed, "x", SETTINGS)[0]
    assert shifts_taken(blank, [], part, here, bed, "x", SETTINGS).covers(shapely.Point(3, 3))


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("along", ["x", "y"])
def test_place_by_place(seed: int, along: Axis) -> None:
    """A shift lies in the region just when the bed takes the blank with the part there, keep-outs and all."""
    rng = np.random.default_rng([seed, 119])
    blank = blank_of(board(*rng.uniform([180, 120], [260, 180])))
    part, other = part_of(ELL), (part_of(Outline.rectangle(0, 0, 40, 30)), at(*rng.uniform(10, 60, 2), 90.0))
    laid = [other] if seed % 2 else []
    keep_outs = []
    for k, blocks in enumerate(("cutter", "blank", "both")[: 1 + seed]):
        x, y = rng.uniform(0, 1, 2) * (220, 160)
        w, h = rng.uniform(10, 45, 2)
        keep_outs.append(KeepOut(name=f"k{k}", outline=Outline.rectangle(x, y, x + w, y + h), blocks=blocks))
    size = (300.0, 230.0) if along == "x" else (230.0, 300.0)
    bed = bed_of((size[0] - 60, size[1] - 40), size, *keep_outs)
    angle = float(rng.choice([0.0, 17.3]))
    region = shifts_taken(blank, laid, part, at(0, 0, angle), bed, along, SETTINGS)
    shapely.prepare(region)
    seen = {True: 0, False: 0}
    for x, y in rng.uniform(-40, 260, (150, 2)).round(3):
        spot = shapely.Point(x, y)
        if shapely.distance(region.boundary, spot) < 0.02:
            continue
        want = takes(blank, [*laid, (part, at(x, y, angle))], bed, along, SETTINGS)[0]
        assert shapely.covers(region, spot) == want, (x, y)
        seen[want] += 1
    assert seen[False] > 10
    assert seen[True] > 0 or not region.area > 500.0


def test_the_one_spot_that_the_bed_leaves_is_found() -> None:
    """All of a bed but a pocket of 40 x 40 mm is kept out for the cutter: the part is laid where it comes to lie there.

    By hand: the cutter's body reaches 6 mm out, so a disc of 20 mm (its box) starts between 356 and 364, 256 and 264 of the
    bed; the blank, 390 x 290 on 400 x 300, from 0 to 10: on the blank the disc's box starts between 346 and 364, 246 and 264.
    """
    rectangles = [(0, 0, 350, 300), (350, 0, 400, 250), (390, 250, 400, 300), (350, 290, 390, 300)]
    keep_outs = [
        KeepOut(name=f"k{k}", outline=Outline.rectangle(*r), blocks="cutter")
        for k, r in enumerate(rectangles)
    ]
    bed = bed_of((400, 300), (400, 300), *keep_outs)
    part = part_of(Outline.circle(10, 10, 10))
    shop = Shop(
        name="", units="mm", settings=SETTINGS, beds=(bed,), parts=(part,), pieces=(board(390, 290),),
        orders=(Order(name="o", part="p"),),
    )  # fmt: skip
    bench = LayoutContext(shop=shop, demands=demands_of(shop), blank=blank_of(shop.pieces[0]))
    laid, refusal = bench.add((), 0)
    assert laid is not None, refusal
    box = np.array([laid[0][1].x_um / 1000, laid[0][1].y_um / 1000])
    turned = laid[0][1].angle_deg
    assert turned in (0.0, 180.0)
    x, y = box if turned == 0.0 else box - 20.0
    along_x = (346 <= x <= 364 and 246 <= y <= 264) or (6 <= x <= 24 and 6 <= y <= 24)  # or end for end
    assert along_x
