"""Neighbors that do not suit each other, and seams where none may run."""

from __future__ import annotations

import pytest

from nestyield.audit.blanks import check_blank
from nestyield.audit.sheet import CheckedBlank, CheckedSheet
from nestyield.model import (
    Blank,
    GlueUpRules,
    Layout,
    Member,
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
from nestyield.model.facts import InNoSeamZone, SeamRuleBroken

BOARD = Shape(outer=Outline.rectangle(0, 0, 500, 100))


def zone(role: str, x0: float, y0: float, x1: float, y1: float) -> Zone:
    return Zone(name=role.upper(), role=role, shape=Shape(outer=Outline.rectangle(x0, y0, x1, y1)))


def found(
    *,
    zones: tuple[Zone, ...] = (),
    outline: Outline | None = None,
    told: bool = False,
    second: dict | None = None,
    grain_tolerance_deg: float = 5.0,
    glue: bool = True,
    parents: tuple[str, str] = ("", ""),
    **glueup,
) -> list[str]:
    """A plate of 300 x 100 mm over the seam of two boards at y = 99.2, its own y 59.2."""
    part = Part(
        name="plate",
        drawing="",
        outline=outline or Outline.rectangle(0, 0, 300, 100),
        thickness_mm=40.0,
        zones=zones,
        grain_tolerance_deg=grain_tolerance_deg,
        glue=glue,
    )
    base = {"species": "sugar maple", "thickness_mm": 44.0, "shape": BOARD}
    first = Piece(name="A", moisture_pct=7.0, parent=parents[0], **base)
    pieces = (first, Piece(**{"name": "B", "parent": parents[1], **base, **(second or {})}))
    blank = Blank(
        name="glue-up 1",
        members=(Member(piece="A", copy=1), Member(piece="B", copy=1, y_um=98_400)),
        species=" + ".join(dict.fromkeys(p.species for p in pieces)),
        thickness_mm=44.0,
        shape=Shape(outer=Outline.rectangle(0, 0, 500, 198.4)),
        grain_deg=0.0,
        seams=(Seam(name="seam 1", line_mm=((0.0, 99.2), (500.0, 99.2))),),
    )
    at = Placement(part="plate", order="o", copy=1, angle_deg=0.0, mirrored=False, x_um=100_000, y_um=40_000)
    word = SeamRuleBroken(
        seam="seam 1", placement=0, part="plate", rule=InNoSeamZone(zone="NO_SEAM"), inside_um=1000
    )
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
        wood=(word,) if told else (),
    )
    settings = Settings(cutter_diameter_mm=6.0, glueup=GlueUpRules(**glueup))
    shop = Shop(name="", units="mm", settings=settings, beds=(), parts=(part,), pieces=pieces, orders=())
    sheet = CheckedSheet(Plan(shop=shop, seed=1, effort=1, layouts=(layout,), orders=()))
    check_blank(CheckedBlank(sheet, layout))
    return [f.code for f in sheet.findings]


def test_a_sound_pair_has_no_finding():
    assert found() == []


@pytest.mark.parametrize(
    ("second", "glueup", "codes"),
    [
        ({"species": "black cherry"}, {}, ["A116"]),
        ({"species": "black cherry"}, {"mixed_species": True}, []),
        ({"grain_deg": 4.0}, {}, []),
        ({"grain_deg": 4.0}, {"crossed_grain_deg": 3.0}, ["A116"]),
        ({"grain_deg": 4.0}, {"crossed_grain_deg": 3.0, "crossed": "allowed"}, []),
        ({"grain_deg": 6.0}, {}, ["A116"]),  # more than the part's 5 degrees
        ({"grain_deg": 175.0}, {}, []),  # 5 degrees the other way
    ],
)
def test_neighbors(second, glueup, codes):
    """Unlike species and crossed grain are refused unless the shop says so."""
    assert found(second=second, **glueup) == codes


@pytest.mark.parametrize(
    ("parents", "one_board", "codes"),
    [
        (("", ""), False, []),
        (("", ""), True, ["A116"]),
        (("K", "K"), True, []),
        (("K", "L"), True, ["A116"]),
        (("", "A"), True, []),  # the second was cut from the first
        (("K + L", "K + L"), True, ["A116"]),  # of a glue-up: either board
    ],
)
def test_one_board(parents, one_board, codes):
    """Where all pieces of a glue-up are to be of one board, pieces of others are found out."""
    assert found(parents=parents, one_board=one_board) == codes


def test_a_part_that_is_not_to_be_glued_up():
    """A part with ``glue = false`` may not lie on a glue-up."""
    assert found(glue=False) == ["A128"]


@pytest.mark.parametrize(("second", "codes"), [(None, []), (9.0, []), (9.1, ["A116"])])
def test_moisture_of_neighbors(second, codes):
    """The first board has 7 percent; the usual limit is 2 points (common practice, no source)."""
    assert found(second={"moisture_pct": second}) == codes


@pytest.mark.parametrize(
    ("zones", "codes"),
    [
        ((zone("no_seam", 50, 50, 60, 59.0),), []),
        ((zone("no_seam", 50, 50, 60, 59.5),), ["A117"]),
        ((zone("hole", 50, 50, 56, 56.1),), []),  # 3.1 mm of wood
        ((zone("hole", 50, 50, 56, 56.5),), ["A117"]),  # 2.7 mm of wood
        ((zone("screw_row", 50, 55, 90, 62),), ["A117"]),  # along the seam
        ((zone("screw_row", 50, 30, 57, 90),), []),  # across it
    ],
)
def test_where_no_seam_may_run(zones, codes):
    """The seam at y = 59.2 of the part against zones worked by hand."""
    assert found(zones=zones) == codes


def test_a_sliver():
    """A step of the outline 60 mm long and 15 mm above the seam leaves a sliver of 15 mm; at 25 mm it does not."""

    def stepped(y):
        return Outline.polygon([(0, 0), (300, 0), (300, 100), (60, 100), (60, y), (0, y)])

    assert found(outline=stepped(74.2)) == ["A117"]
    assert found(outline=stepped(84.2)) == []
    assert found(outline=stepped(74.2), sliver_mm=10.0) == []


def test_a_broken_rule_is_told_where_it_may_be_broken():
    """With rules = caution a word about that seam is asked for, and no more."""
    zones = (zone("no_seam", 50, 50, 60, 70),)
    assert found(zones=zones, rules="caution") == ["A117"]
    assert found(zones=zones, rules="caution", told=True) == []
    assert found(zones=zones, told=True) == ["A117"]
