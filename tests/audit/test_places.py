from __future__ import annotations

from dataclasses import replace

import pytest
import shapely

from nestyield.audit.places import check_places, clearance_inside, distance_apart
from nestyield.audit.sheet import CheckedBlank, CheckedSheet
from nestyield.model import (
    Blank,
    Finding,
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

WINDOW = Zone(name="W", role="cutout", shape=Shape(outer=Outline.rectangle(40, 40, 160, 120)))
FRAME = Part(
    name="frame", drawing="", outline=Outline.rectangle(0, 0, 200, 160), zones=(WINDOW,), thickness_mm=20
)
TILE = Part(name="tile", drawing="", outline=Outline.rectangle(0, 0, 50, 50), thickness_mm=20)


def check(*laid: tuple[str, float, float], holes: tuple[Outline, ...] = ()) -> list[Finding]:
    """Parts at given places in a 300 x 250 blank; margin 5, gap 8."""
    blank = Blank(
        name="R1",
        members=(Member(piece="R1", copy=1),),
        species="m",
        thickness_mm=20,
        shape=Shape(outer=Outline.rectangle(0, 0, 300, 250), holes=holes),
        grain_deg=None,
    )
    placements = tuple(
        Placement(
            part=name,
            order="order 1",
            copy=k + 1,
            angle_deg=0.0,
            mirrored=False,
            x_um=round(x * 1000),
            y_um=round(y * 1000),
        )
        for k, (name, x, y) in enumerate(laid)
    )
    return found_on(blank, placements, (FRAME, TILE))


def found_on(blank: Blank, placements: tuple[Placement, ...], parts: tuple[Part, ...]) -> list[Finding]:
    """Findings of `check_places` about placements on a blank; margin 5."""
    layout = Layout(
        blank=blank,
        placements=placements,
        setups=(),
        chosen=None,
        part_area_mm2=0,
        stock_area_mm2=0,
        usable_area_mm2=0,
        board_feet=0,
        value=0,
    )
    settings = Settings(cutter_diameter_mm=5.0, blank_margin_mm=5.0)
    shop = Shop(name="", units="mm", settings=settings, beds=(), parts=parts, pieces=(), orders=())
    bench = CheckedBlank(
        CheckedSheet(Plan(shop=shop, seed=1, effort=1, layouts=(layout,), orders=())), layout
    )
    check_places(bench)
    return bench.sheet.findings


def test_the_face_that_a_part_shows_is_on_the_top_of_its_pieces():
    """Back up is told, and so is a member of the glue-up that lies bottom up; front up on tops is right."""
    shown = replace(TILE, name="shown", show_face="top", mirrored="allowed")

    def codes(front_up: bool, turned: bool) -> list[tuple[str, str]]:
        at = Placement(
            part="shown",
            order="order 1",
            copy=1,
            angle_deg=0.0,
            mirrored=not front_up,
            x_um=100_000,
            y_um=10_000,
            front_up=front_up,
        )
        members = (Member(piece="R1", copy=1), Member(piece="R2", copy=1, mirrored=turned))
        blank = Blank(
            name="R1+R2",
            members=members,
            species="m",
            thickness_mm=20,
            shape=Shape(outer=Outline.rectangle(0, 0, 300, 250)),
            grain_deg=None,
        )
        return [(f.code, f.message) for f in found_on(blank, (at,), (shown,))]

    assert codes(True, False) == []
    ((code, words),) = codes(False, False)
    assert (code, "back up" in words) == ("A207", True)
    ((code, words),) = codes(True, True)
    assert (code, "R2" in words) == ("A207", True)


def test_hole_of_the_blank_keeps_the_margin():
    """A hole 5 mm from the part does; at 4.99 it does not; in the window with 5 mm round it does again."""
    assert check(("tile", 10, 10), holes=(Outline.circle(75, 35, 10),)) == []
    assert [f.code for f in check(("tile", 10, 10), holes=(Outline.circle(74.99, 35, 10),))] == ["A205"]
    assert check(("frame", 10, 10), holes=(Outline.circle(110, 90, 35),)) == []
    assert [f.code for f in check(("frame", 10, 10), holes=(Outline.circle(110, 90, 35.1),))] == ["A205"]


def test_findings_name_part_measure_and_limit():
    """A clash says which parts, how far, and what is allowed."""
    (finding,) = check(("tile", 10, 10), ("tile", 67.5, 10))
    assert finding.code == "A206"
    assert "7.500 mm" in finding.message
    assert "at least 8 mm" in finding.message
    assert "copy 2" in finding.message
    assert finding.where == "blank R1"
    (over,) = check(("tile", 10, 10), ("tile", 50, 10))
    assert "overlaps by 10.0" in over.message
    (outside,) = check(("tile", -3, 10))
    assert "3.000 mm past" in outside.message


def test_a_part_may_lie_in_the_window_of_another():
    """Inside an opening with the gap all round a part is clear; nearer to its edge it is not."""
    assert check(("frame", 10, 10), ("tile", 60, 60)) == []
    assert [f.code for f in check(("frame", 10, 10), ("tile", 57.9, 60))] == ["A206"]


def test_many_parts_are_checked_in_pairs_near_each_other():
    """Twenty tiles in rows 8 mm apart have no finding; one 0.1 mm nearer has exactly one."""
    rows = [("tile", 6 + 58 * i, 6 + 58 * j) for i in range(5) for j in range(4)]
    assert check(*rows) == []
    rows[7] = ("tile", rows[7][1] - 0.1, rows[7][2])
    assert [f.code for f in check(*rows)] == ["A206"]


@pytest.mark.parametrize("depth", [0.1, 1.0, 5.0])
def test_measures_are_signed(depth):
    """Slack inside and apart turn negative by how far a region is outside or inside another."""
    box = shapely.box(0, 0, 100, 100)
    assert clearance_inside(shapely.box(depth, 20, 50, 80), box) == pytest.approx(depth)
    assert clearance_inside(shapely.box(-depth, 20, 50, 80), box) == pytest.approx(-depth, rel=0.05)
    assert distance_apart(shapely.box(100 + depth, 0, 120, 50), box) == pytest.approx(depth)
    assert distance_apart(shapely.box(100 - depth, 0, 120, 50), box) == pytest.approx(-depth, rel=0.05)


@pytest.mark.parametrize(("reach", "codes"), [(4, []), (5.9, []), (14, ["A208"])])
def test_a_zone_that_runs_out_reaches_into_no_other_part(reach, codes):
    """A pocket drawn 14 mm over the edge reaches 6 mm into the tile 8 mm beside it; within the groove of 5 mm it may."""
    pocket = Zone(
        name="P", role="pocket", depth_mm=5.0, shape=Shape(outer=Outline.rectangle(30, 10, 50 + reach, 40))
    )
    loud = replace(TILE, name="loud", zones=(pocket,))
    blank = Blank(
        name="R1",
        members=(Member(piece="R1", copy=1),),
        species="m",
        thickness_mm=20,
        shape=Shape(outer=Outline.rectangle(0, 0, 300, 250)),
        grain_deg=None,
    )
    places = tuple(
        Placement(part=n, order="order 1", copy=k + 1, angle_deg=0.0, mirrored=False, x_um=x, y_um=10_000)
        for k, (n, x) in enumerate((("loud", 10_000), ("tile", 68_000)))
    )
    assert [f.code for f in found_on(blank, places, (loud, TILE))] == codes
