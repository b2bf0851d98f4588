from __future__ import annotations

from dataclasses import replace

import pytest

from nestyield.audit.fills import check_fills
from nestyield.audit.sheet import CheckedBlank, CheckedSheet
from nestyield.model import (
    Blank,
    Defect,
    Fill,
    Layout,
    Member,
    Outline,
    Part,
    Placement,
    Plan,
    Settings,
    Shape,
    Shop,
    Slack,
    Zone,
)

POCKET = Zone(name="POCKET", role="pocket", shape=Shape(outer=Outline.rectangle(0, 0, 50, 40)), depth_mm=5.0)
BLOCK = Part(
    name="block",
    drawing="",
    outline=Outline.rectangle(0, 0, 100, 40),
    zones=(POCKET,),
    thickness_mm=20,
    tolerates={"dent": "filled", "nail hole": "filled"},
)
#: 10 x 10 mm, 8 mm deep, half of it over the pocket of 5 mm: 50 x 8 + 50 x 3 = 550 cubic mm stay to be filled.
DENT = Defect(
    name="dent", kind="dent", shape=Shape(outer=Outline.rectangle(50, 20, 60, 30)), face="top", depth_mm=8.0
)


def bench(*fills: Fill, rooms: bool = True) -> CheckedBlank:
    """The block lies 5 mm from the corner of a blank without planing."""
    blank = Blank(
        name="R1",
        members=(Member(piece="R1", copy=1),),
        species="m",
        thickness_mm=20,
        shape=Shape(outer=Outline.rectangle(0, 0, 120, 60)),
        grain_deg=0.0,
        defects=(DENT, replace(DENT, name="far", shape=Shape(outer=Outline.rectangle(110, 50, 118, 58)))),
    )
    at = Placement(part="block", order="o", copy=1, angle_deg=0.0, mirrored=False, x_um=5000, y_um=5000)
    layout = Layout(
        blank=blank,
        placements=(at,),
        setups=(),
        chosen=None,
        part_area_mm2=0,
        stock_area_mm2=0,
        usable_area_mm2=0,
        board_feet=0,
        value=0,
        rooms=(Slack(placement=0, along_mm=0, across_mm=0, slide=None, from_deg=0, to_deg=0),)
        if rooms
        else (),
        fills=fills,
    )
    settings = Settings(cutter_diameter_mm=5.0, blank_margin_mm=5.0, planing_mm=0.0)
    shop = Shop(name="", units="mm", settings=settings, beds=(), parts=(BLOCK,), pieces=(), orders=())
    return CheckedBlank(CheckedSheet(Plan(shop=shop, seed=1, effort=1, layouts=(layout,), orders=())), layout)


@pytest.mark.parametrize(
    ("fills", "sound"),
    [
        ((Fill(placement=0, defect="dent", volume_ml=0.55),), True),
        ((), False),
        ((Fill(placement=0, defect="dent", volume_ml=0.8),), False),
        ((Fill(placement=0, defect="far", volume_ml=0.55),), False),
        (
            (
                Fill(placement=0, defect="dent", volume_ml=0.55),
                Fill(placement=0, defect="far", volume_ml=0.1),
            ),
            False,
        ),
    ],
)
def test_fillings_told_are_those_needed(fills, sound):
    """A missing, wrong or needless filling is found: 0.55 ml stay of 0.8 ml, since a pocket takes the rest."""
    found = bench(*fills)
    check_fills(found)
    assert [f.code for f in found.sheet.findings] == ([] if sound else found_codes(fills))


def found_codes(fills):
    """One finding for each defect that is told wrong."""
    right = {("dent", 0.55)}
    said = {(f.defect, f.volume_ml) for f in fills}
    return ["A410"] * len({d for d, _ in right ^ said})


def test_plans_from_before_pass():
    """A plan that tells neither rooms nor fillings is not blamed for it."""
    old = bench(rooms=False)
    check_fills(old)
    assert old.sheet.findings == []
