from __future__ import annotations

import pytest

from nestyield.audit.depth import check_defects
from nestyield.audit.sheet import CheckedBlank, CheckedSheet
from nestyield.model import (
    Blank,
    Defect,
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

SQUARE = Outline.rectangle(0, 0, 200, 100)


def found(part: Part, defect: Defect, *, front_up: bool = True, thickness_mm: float = 44.0) -> list[str]:
    """Codes for one part of 40 mm laid at (20, 20) in a blank with one defect."""
    blank = Blank(
        name="R1",
        members=(Member(piece="R1", copy=1),),
        species="sugar maple",
        thickness_mm=thickness_mm,
        shape=Shape(outer=Outline.rectangle(0, 0, 240, 140)),
        grain_deg=0.0,
        defects=(defect,),
    )
    # a part with its back up is seen mirrored: x becomes 200 - x again by the shift
    placement = Placement(
        part="p",
        order="order 1",
        copy=1,
        angle_deg=0.0,
        mirrored=not front_up,
        x_um=20_000 if front_up else 220_000,
        y_um=20_000,
        front_up=front_up,
    )
    layout = Layout(
        blank=blank,
        placements=(placement,),
        setups=(),
        chosen=None,
        part_area_mm2=0,
        stock_area_mm2=0,
        usable_area_mm2=0,
        board_feet=0,
        value=0,
    )
    shop = Shop(
        name="",
        units="mm",
        settings=Settings(cutter_diameter_mm=6.0),
        beds=(),
        parts=(part,),
        pieces=(),
        orders=(),
    )
    sheet = CheckedSheet(Plan(shop=shop, seed=1, effort=1, layouts=(layout,), orders=()))
    check_defects(CheckedBlank(sheet, layout))
    return [f.code for f in sheet.findings]


def part_with(*zones: Zone, **more: object) -> Part:
    return Part(name="p", drawing="", outline=SQUARE, zones=zones, thickness_mm=40.0, **more)  # type: ignore[arg-type]


def knot(
    depth: float | None, face: str = "top", x: float = 120.0, r: float = 10.0, kind: str = "knot"
) -> Defect:
    return Defect(
        name="defects.csv row 2",
        kind=kind,
        shape=Shape(outer=Outline.circle(x, 70.0, r)),
        face=face,  # type: ignore[arg-type]
        depth_mm=depth,
    )


POCKET = Zone(
    name="PICKUP",
    role="pocket",
    shape=Shape(outer=Outline.rectangle(80, 20, 120, 80)),
    face="front",
    depth_mm=19.0,
)


@pytest.mark.outside(source="worked by hand in the docstring", mark="D")
class TestKnotInAPocket:
    """A pocket 19 deep from the front, at x 100-140 of the blank; 2 mm are planed off each face.

    A knot from the top to depth d reaches d - 2 into the part. It vanishes when d - 2 <= 19, d <= 21.
    """

    def test_shallow_knot_is_swallowed(self):
        """21 mm from the top: 19 in the part, gone with the pocket."""
        assert found(part_with(POCKET), knot(21.0)) == []

    def test_deeper_knot_stays_in_the_floor(self):
        """21.1 mm from the top leaves 0.1 mm of knot in the pocket's floor."""
        assert found(part_with(POCKET), knot(21.1)) == ["A301"]

    def test_through_knot_stays(self):
        """A knot right through stays below the floor."""
        assert found(part_with(POCKET), knot(None, "through")) == ["A301"]

    def test_wrong_face(self):
        """The same knot from the bottom lies in the back, which no pocket takes."""
        assert found(part_with(POCKET), knot(21.0, "bottom")) == ["A301"]

    def test_back_up_makes_it_right(self):
        """With its back up the part's front is at the bottom, and the pocket takes a knot from there."""
        assert found(part_with(POCKET), knot(21.0, "bottom"), front_up=False) == []
        assert found(part_with(POCKET), knot(21.0, "top"), front_up=False) == ["A301"]

    def test_knot_wider_than_the_pocket(self):
        """A knot of radius 21 at the pocket's middle sticks out by 1 mm on either side."""
        assert found(part_with(POCKET), knot(21.0, r=20.0)) == []
        assert found(part_with(POCKET), knot(21.0, r=21.0)) == ["A301"]


def test_planing_takes_a_shallow_flaw():
    """A flaw of 2 mm goes with the planing of a 44 mm blank to 40; one of 2.1 mm does not."""
    assert found(part_with(), knot(2.0)) == []
    assert found(part_with(), knot(2.1)) == ["A301"]
    assert found(part_with(), knot(2.0), thickness_mm=42.0) == ["A301"]


def test_pockets_from_both_faces_swallow_together():
    """Two pockets that meet take a through knot; with a floor left between them they do not."""
    back = Zone(name="CONTROL", role="pocket", shape=POCKET.shape, face="back", depth_mm=21.0)
    thin = Zone(name="CONTROL", role="pocket", shape=POCKET.shape, face="back", depth_mm=20.9)
    assert found(part_with(POCKET, back), knot(None, "through")) == []
    assert found(part_with(POCKET, thin), knot(None, "through")) == ["A301"]


def test_opening_takes_everything():
    """A cutout takes a through knot; a marking zone takes nothing."""
    cutout = Zone(name="C", role="cutout", shape=POCKET.shape)
    marked = Zone(name="N", role="no_seam", shape=POCKET.shape)
    assert found(part_with(cutout), knot(None, "through")) == []
    assert found(part_with(marked), knot(5.0)) == ["A301"]


def test_contour_takes_wane_at_the_edge():
    """A contour slopes to 12 mm over its 40 mm: 10 mm from the outline it is 9 deep, 30 mm from it 3 deep."""
    bevel = Zone(
        name="BEVEL",
        role="contour",
        shape=Shape(outer=Outline.rectangle(0, 0, 200, 40)),
        face="front",
        depth_mm=12.0,
    )
    part = part_with(bevel)

    def wane(y: float, depth_in_part: float) -> Defect:
        """A bar 1 mm wide at distance y from the outline's lower edge."""
        shape = Shape(outer=Outline.rectangle(100, 20 + y - 0.5, 140, 20 + y + 0.5))
        return Defect(name="w", kind="wane", shape=shape, face="top", depth_mm=2.0 + depth_in_part)

    assert found(part, wane(10.0, 8.5)) == []
    assert found(part, wane(10.0, 9.5)) == ["A301"]
    assert found(part, wane(30.0, 2.7)) == []
    assert found(part, wane(30.0, 3.4)) == ["A301"]
    assert found(part, wane(41.0, 0.5)) == ["A301"]


def test_verdicts_of_part_and_zone():
    """A kind is refused unless the part allows it; a zone that names it decides inside itself."""
    assert found(part_with(tolerates={"stain": "allowed"}), knot(None, kind="stain")) == []
    strict = Zone(name="TOP", role="no_seam", shape=POCKET.shape, tolerates={"stain": "refused"})
    assert found(part_with(strict, tolerates={"stain": "allowed"}), knot(None, kind="stain")) == ["A301"]
    lenient = Zone(name="TOP", role="no_seam", shape=POCKET.shape, tolerates={"knot": "allowed"})
    assert found(part_with(lenient), knot(None)) == []
    assert found(part_with(lenient), knot(None, r=21.0)) == ["A301"]
    assert found(part_with(lenient, strict_knot()), knot(None)) == ["A301"]


def strict_knot() -> Zone:
    return Zone(
        name="STUDS",
        role="screw_row",
        shape=Shape(outer=Outline.circle(100, 50, 3)),
        tolerates={"knot": "refused"},
    )


def test_filler_is_counted():
    """A nail hole of radius 10 through 40 mm holds 12.57 ml: within 13 ml, not within 12."""
    hole = knot(None, "through", kind="nail hole")
    assert found(part_with(tolerates={"nail hole": "filled"}, fill_limit_ml=13.0), hole) == []
    assert found(part_with(tolerates={"nail hole": "filled"}, fill_limit_ml=12.0), hole) == ["A303"]
    half = part_with(POCKET, tolerates={"nail hole": "filled"}, fill_limit_ml=6.6)
    assert found(half, hole) == []  # 21 of 40 mm stay: 6.60 ml


def test_metal_keeps_the_cutters_width_at_any_depth():
    """Metal 6 mm from the outline does; nearer, or under a pocket, it does not, whatever its depth."""
    assert found(part_with(), knot(1.0, x=230.0, r=4.0, kind="metal")) == []
    assert found(part_with(), knot(1.0, x=229.9, r=4.0, kind="metal")) == ["A302"]
    allowed = part_with(POCKET, tolerates={"metal": "allowed"})
    assert found(allowed, knot(1.0, kind="metal", r=2.0)) == ["A302"]
