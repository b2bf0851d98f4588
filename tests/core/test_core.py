"""The library for scripts: answers judged by shapely alone, and clear errors."""

from __future__ import annotations

import math
import os
from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely.affinity import rotate, translate
from shapely.geometry import MultiPolygon, Point, Polygon, box

from nestyield import core
from nestyield.model.facts import LongerPiece

SETTINGS = core.Settings(cutter_diameter_mm=6.0, blank_margin_mm=5.0)
BLOB = Polygon([(0, 30), (80, 0), (210, 20), (240, 90), (150, 140), (60, 120), (10, 90)])

with np.errstate(invalid="ignore"):
    NOT_A_NUMBER = Polygon([(0, 0), (math.nan, 10), (10, 0)])

needs_jit = pytest.mark.skipif(
    os.environ.get("NUMBA_DISABLE_JIT", "0") not in ("", "0"), reason="needs compiled kernels"
)


def test_a_part_planted_at_an_odd_angle_is_placed() -> None:
    """A piece that is the part turned by 3.7 degrees with margin and 0.2 mm round it carries it there only."""
    turned = rotate(BLOB, 3.7, origin=(0, 0))
    wood = core.piece("odd", turned.buffer(5.2, join_style="mitre"), thickness_mm=25)
    part = core.part("p", BLOB, thickness_mm=22, grain_tolerance_deg=5, show_face="top")
    got = core.place(part, wood, SETTINGS)
    assert got.verdict == "placed"
    assert got.laid is not None
    (outline,) = got.laid.outlines
    assert outline.hausdorff_distance(turned) < 0.6
    assert wood_of(wood).buffer(-4.98).covers(outline)
    narrow = core.part("p", BLOB, thickness_mm=22, grain_tolerance_deg=3, show_face="top")
    assert core.place(narrow, wood, SETTINGS).verdict == "infeasible"


def wood_of(piece: object) -> Polygon:
    return Polygon(piece.shape.outer.points_mm)  # type: ignore[attr-defined]


def test_too_short_by_a_millimeter_is_proven_and_measured() -> None:
    """A bar of 200 mm in 209 mm with 5 mm margins: no place, and 1 mm more length or 0.5 mm less margin would do."""
    part = core.part("bar", box(0, 0, 200, 40), thickness_mm=22, grain_tolerance_deg=0)
    short = core.place(part, core.piece("s", box(0, 0, 209, 60), thickness_mm=25), SETTINGS)
    assert short.verdict == "infeasible"
    assert short.certificate is not None
    longer = [r for r in short.relaxations if isinstance(r, LongerPiece)]
    assert [r.missing_um / 1000 for r in longer] == [pytest.approx(1.0, abs=0.1)]
    assert core.place(part, core.piece("s", box(0, 0, 210, 60), thickness_mm=25), SETTINGS).laid is not None


def test_thin_wood_is_refused_by_a_fact() -> None:
    """Wood thinner than the part is unsuitable, and the fact says by how much it is short."""
    part = core.part("bar", box(0, 0, 200, 40), thickness_mm=30)
    got = core.place(part, core.piece("s", box(0, 0, 400, 60), thickness_mm=25), SETTINGS)
    assert (got.verdict, got.laid) == ("unsuitable", None)
    assert got.refusal.far_um > 0


def test_a_knot_may_lie_in_a_pocket_and_nowhere_else() -> None:
    """The only board has a knot where the part must lie; a pocket that cuts it away from the front lets it in."""
    knot = core.defect("knot", Point(105, 35).buffer(8), face="top", depth_mm=10)
    board = core.piece("b", box(0, 0, 212, 72), thickness_mm=24, defects=[knot])
    plain = core.part("p", box(0, 0, 200, 60), thickness_mm=22, show_face="top")
    assert core.place(plain, board, SETTINGS).laid is None
    hollow = core.zone("pocket", box(80, 10, 120, 50), depth_mm=15)
    part = core.part("p", box(0, 0, 200, 60), thickness_mm=22, zones=[hollow], show_face="top")
    got = core.place(part, board, SETTINGS)
    assert got.laid is not None
    (((_, pocket),),) = got.laid.zones
    ((_, flaw),) = got.laid.defects
    assert pocket.covers(flaw)


@needs_jit
def test_many_parts_keep_margin_gap_and_defects() -> None:
    """By shapely: inside the margin, a gap apart, clear of knots; counted with what is left."""
    knots = [core.defect("knot", Point(x, y).buffer(15)) for x, y in ((150, 90), (420, 210))]
    board = core.piece("b", box(0, 0, 800, 300), thickness_mm=25, defects=knots, count=2)
    part = core.part("p", BLOB, thickness_mm=22, grain_tolerance_deg=10)
    got = core.nest([(part, 9)], [board], SETTINGS, effort=1)
    assert sum(len(laid.placed) for laid in got.laid) + got.left["p"] == 9
    assert len(got.laid[0].placed) >= 3
    for laid in got.laid:
        outlines = laid.outlines
        assert all(laid.wood.buffer(-4.98).covers(o) for o in outlines)
        assert all(
            o.distance(flaw) > -1 and not o.buffer(-0.01).intersects(flaw)
            for o in outlines
            for _, flaw in laid.defects
        )
        assert all(a.distance(b) >= 8.98 for i, a in enumerate(outlines) for b in outlines[:i])
    with pytest.raises(core.ModelError, match="one thickness"):
        core.nest([(part, 1), (core.part("q", BLOB, thickness_mm=10), 1)], [board], SETTINGS)


@needs_jit
@pytest.mark.parametrize(("limit", "count"), [(5.0, 1), (3.0, 0)])
def test_parts_that_need_too_much_filler_are_left_out(limit: float, count: int) -> None:
    """By hand: a 20 x 10 mm hole through 20 mm of part takes 4 ml; it lies under the only place there is."""
    hole = core.defect("nail hole", box(96, 30, 116, 40))
    board = core.piece("b", box(0, 0, 212, 72), thickness_mm=22, defects=[hole])
    part = core.part(
        "p", box(0, 0, 200, 60), thickness_mm=20, show_face="top", tolerates={"nail hole": "filled"}
    )
    got = core.nest([(replace(part, fill_limit_ml=limit), 1)], [board], SETTINGS, effort=1)
    assert sum(len(laid.placed) for laid in got.laid) == count


def test_two_boards_make_a_blank() -> None:
    """Boards of 155 and 157 mm make 300 mm with margins of 5 and two jointed edges of 1; at 156.9 they do not."""
    settings = core.Settings(cutter_diameter_mm=6.0, blank_margin_mm=5.0, jointing_mm=1.0)
    part = core.part("p", box(0, 0, 400, 300), thickness_mm=40)

    def boards(second: float) -> list[object]:
        return [core.piece(n, box(0, 0, 420, w), thickness_mm=44) for n, w in (("a", 155), ("b", second))]

    found = core.glue(part, boards(157.0), settings)  # type: ignore[arg-type]
    assert found
    laid = found[0]
    assert laid.wood.buffer(-4.97).covers(laid.outlines[0])
    assert laid.outlines[0].intersection(laid.seams[0]).length == pytest.approx(400, abs=0.1)
    assert core.glue(part, boards(156.9), settings) == []  # type: ignore[arg-type]


def test_a_short_bed_refuses_with_what_is_missing() -> None:
    """A part of 200 x 60 with a 6 mm cutter needs 206 x 66 of travel; 205 is 1 mm short along X."""
    part = core.part("p", box(0, 0, 200, 60), thickness_mm=22)
    laid = core.place(part, core.piece("b", box(0, 0, 240, 100), thickness_mm=25), SETTINGS).laid
    assert laid is not None
    for travel, fits in ((206.2, True), (205.0, False)):
        bed = core.Bed(
            name="b", travel_x_mm=travel, travel_y_mm=100, table_x_mm=(-100, 400), table_y_mm=(-100, 400)
        )
        along_x = next(s for s in core.fit_bed(laid, [bed]) if s.along == "x")
        assert along_x.fits is fits
        assert along_x.needs_x_mm == pytest.approx(206.0, abs=0.05)


@pytest.mark.parametrize(
    ("polygon", "words"),
    [
        (Polygon([(0, 0), (10, 10), (10, 0), (0, 10)]), "not simple"),
        (NOT_A_NUMBER, "finite"),
        (Polygon(), "empty"),
        (MultiPolygon([box(0, 0, 1, 1), box(2, 2, 3, 3)]), "one part or piece of each"),
        ("square", "shapely Polygon"),
    ],
)
def test_polygons_that_are_none_are_refused_by_name(polygon: object, words: str) -> None:
    """The error names the part and says what is wrong."""
    with pytest.raises(core.ModelError, match=words) as told:
        core.part("harp", polygon, thickness_mm=20)
    assert "harp" in str(told.value)


def test_other_mistakes_are_named() -> None:
    """Roles, faces, kinds, depths and thicknesses that cannot be."""
    square = box(0, 0, 10, 10)
    for make, words in (
        (lambda: core.zone("banana", square), "banana"),  # type: ignore[arg-type]
        (lambda: core.zone("pocket", square), "needs depth_mm"),
        (lambda: core.zone("pocket", square, depth_mm=math.nan), "depth_mm"),
        (lambda: core.zone("pocket", square, depth_mm=5, face="side"), "face"),  # type: ignore[arg-type]
        (lambda: core.defect("freckle", square), "freckle"),
        (lambda: core.defect("knot", square, depth_mm=-1), "depth_mm"),
        (lambda: core.piece("p", square, thickness_mm=0), "thickness_mm"),
        (lambda: core.piece("p", square, thickness_mm=9, count=0), "count"),
        (
            lambda: core.part("p", square, thickness_mm=9, zones=[core.zone("pocket", square, depth_mm=12)]),
            "12",
        ),
    ):
        with pytest.raises(core.ModelError, match=words):
            make()


def test_holes_of_an_outline_become_cutouts() -> None:
    """A frame's opening may hold a knot that its wood may not."""
    frame = box(0, 0, 200, 100).difference(box(50, 30, 150, 70))
    knot = core.defect("knot", Point(106, 56).buffer(12))
    board = core.piece("b", box(0, 0, 212, 112), thickness_mm=25, defects=[knot])
    laid = core.place(core.part("f", frame, thickness_mm=22), board, SETTINGS).laid
    assert laid is not None
    ((_, opening),) = laid.zones[0]
    assert opening.covers(laid.defects[0][1])


def test_leftovers_are_clear_of_the_cutter() -> None:
    """What goes back lies on the board, a cutter's diameter from the part."""
    laid = core.place(
        core.part("p", box(0, 0, 200, 60), thickness_mm=22),
        core.piece("b", box(0, 0, 600, 100), thickness_mm=25),
        SETTINGS,
    ).laid
    assert laid is not None
    assert laid.leftovers
    for left in laid.leftovers:
        assert laid.wood.buffer(0.01).covers(left)
        assert left.distance(laid.outlines[0]) >= 5.98


def test_parts_beside_others_keep_the_gap() -> None:
    """A second part placed beside the first lies a gap away from it."""
    board = core.piece("b", box(0, 0, 420, 80), thickness_mm=25)
    part = core.part("p", translate(box(0, 0, 190, 60), 7, 3), thickness_mm=22, grain_tolerance_deg=0)
    one = core.place(part, board, SETTINGS)
    two = core.place(part, board, SETTINGS, beside=one.laid)
    assert two.laid is not None
    a, b = two.laid.outlines
    assert a.distance(b) >= 8.99
    assert core.place(part, board, SETTINGS, beside=two.laid).laid is None
    assert np.all(shapely.area([a, b]) > 0)


@needs_jit
def test_parts_turned_by_quarters_may_lie_a_gap_apart_and_no_more() -> None:
    """By hand: three rows of 60 mm, two gaps of 9 and two margins of 5 take all 208 mm; so do six lengths of 70."""
    part = core.part("p", Polygon([(0, 0), (70, 0), (70, 60), (30, 60), (30, 40), (0, 40)]), thickness_mm=20)
    board = core.piece("b", box(0, 0, 6 * 70 + 5 * 9 + 10, 208), thickness_mm=22)
    got = core.nest([(replace(part, grain_tolerance_deg=0.0), 18)], [board], SETTINGS, effort=20)
    outlines = [o for laid in got.laid for o in laid.outlines]
    assert len(outlines) == 18
    assert all(wood_of(board).buffer(-5.0, join_style="mitre").buffer(1e-6).covers(o) for o in outlines)
    assert all(a.distance(b) > 9.0 - 1e-6 for i, a in enumerate(outlines) for b in outlines[:i])
