from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from nestyield.audit.beds import check_beds
from nestyield.audit.sheet import CheckedBlank, CheckedSheet
from nestyield.bed.fit import setups
from nestyield.model import (
    Bed,
    Blank,
    KeepOut,
    Layout,
    Member,
    Outline,
    Part,
    Placement,
    Plan,
    Settings,
    Shape,
    Shop,
    Zone,
)


def random_bench(seed: int) -> CheckedBlank:
    """A blank with two curved parts, a bed with keep-outs and perhaps open ends."""
    rng = np.random.default_rng(seed)
    parts, placements = [], []
    x = 15.0
    for k in range(2):
        w, h = (float(v) for v in rng.uniform(60, 150, 2))
        bulges = tuple(float(b) for b in rng.uniform(-0.2, 0.2, 4))
        outline = Outline(points_mm=((0, 0), (w, 0), (w, h), (0, h)), bulges=bulges)
        window = Zone(name="W", role="cutout", shape=Shape(outer=Outline.circle(w / 2, h / 2, 15.0)))
        parts.append(Part(name=f"part {k}", drawing="", outline=outline, zones=(window,), thickness_mm=20.0))
        placements.append(
            Placement(
                part=f"part {k}",
                order="order 1",
                copy=k + 1,
                angle_deg=float(rng.uniform(-5, 5)),
                mirrored=False,
                x_um=round((x + 25.0) * 1000),
                y_um=40_000,
            )
        )
        x += w + 60.0
    height = float(rng.uniform(230, 270))
    cut_off = float(rng.uniform(0, 60))
    board = Outline.polygon([(0, 0), (x, 0), (x, height), (cut_off, height), (0, height - cut_off)])
    keep_outs = tuple(
        KeepOut(
            name=f"block {k}",
            outline=Outline.circle(*(float(v) for v in rng.uniform((0, 0, 5), (600, 400, 40)))),
            blocks=("cutter", "blank", "both")[int(rng.integers(3))],  # type: ignore[arg-type]
        )
        for k in range(int(rng.integers(0, 3)))
    )
    bed = Bed(
        name="bench",
        travel_x_mm=float(rng.uniform(450, 700)),
        travel_y_mm=float(rng.uniform(250, 600)),
        table_x_mm=(-20.0, 640.0),
        table_y_mm=(-20.0, 560.0),
        keep_outs=keep_outs,
        open_ends=("x+", "y-") if rng.random() < 0.4 else (),
    )
    blank = Blank(
        name="R1",
        members=(Member(piece="R1", copy=1),),
        species="m",
        thickness_mm=20.0,
        shape=Shape(outer=board),
        grain_deg=0.0,
    )
    shop = Shop(
        name="",
        units="mm",
        settings=Settings(cutter_diameter_mm=6.0),
        beds=(bed,),
        parts=tuple(parts),
        pieces=(),
        orders=(),
    )
    pairs = list(zip(parts, placements))
    tried = setups(blank, pairs, (bed,), shop.settings)
    fitting = [i for i, s in enumerate(tried) if s.fits]
    layout = Layout(
        blank=blank,
        placements=tuple(placements),
        setups=tried,
        chosen=fitting[0] if fitting else None,
        part_area_mm2=0,
        stock_area_mm2=0,
        usable_area_mm2=0,
        board_feet=0,
        value=0,
    )
    return CheckedBlank(CheckedSheet(Plan(shop=shop, seed=1, effort=1, layouts=(layout,), orders=())), layout)


def codes(bench: CheckedBlank) -> set[str]:
    fresh = CheckedBlank(CheckedSheet(bench.sheet.plan), bench.layout)
    check_beds(fresh)
    return {f.code for f in fresh.sheet.findings} - {"A503"}


@pytest.mark.parametrize("seed", range(10))
def test_what_the_bed_answers_holds(seed):
    """Every answer of the bed passes; moved by more than its clearance in some direction it breaks a rule."""
    bench = random_bench(seed)
    assert codes(bench) == set()
    for k, setup in enumerate(bench.layout.setups):
        if not setup.fits:
            continue
        inside, beyond = [], []
        for t in np.linspace(0.0, 2.0 * math.pi, 12, endpoint=False):
            for by, told in ((setup.clearance_mm - 0.01, inside), (setup.clearance_mm + 0.05, beyond)):
                moved = replace(setup, x_mm=setup.x_mm + by * math.cos(t), y_mm=setup.y_mm + by * math.sin(t))
                layout = replace(
                    bench.layout,
                    setups=(*bench.layout.setups[:k], moved, *bench.layout.setups[k + 1 :]),
                )
                told.append(bool(codes(CheckedBlank(bench.sheet, layout))))
        assert not any(inside)
        if not bench.sheet.plan.shop.beds[0].keep_outs:
            assert any(beyond)  # with keep-outs the nearest limit may lie between two of the directions
