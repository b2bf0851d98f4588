"""Glue-ups in the pool."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import ezdxf
import pytest

from nestyield.audit.check import audit
from nestyield.cli import main
from nestyield.model import Defect, GlueUpRules, Order, Outline, Plan, Shape
from nestyield.model.facts import MetalAtEdge
from nestyield.planfile import loads
from nestyield.planning.run import make_plan


def test_a_piece_that_serves_alone_is_not_glued_up(make: Any) -> None:
    """With copies still missing, a board that holds the part stays whole; strips that do not are glued up."""
    pieces = [make.board("wide", 700, 225), make.board("S1", 520, 125), make.board("S2", 520, 125)]
    shop = make.shop(pieces, [make.part("body", 450, 200)], [Order(name="o", part="body", count=3)])
    plan = make_plan(shop, seed=1, effort=2, seconds=100_000, workers=1)
    members = sorted(sorted({m.piece for m in layout.blank.members}) for layout in plan.layouts)
    assert members == [["S1", "S2"], ["wide"]]
    assert plan.tried is not None
    assert plan.tried.glue_ups >= 1


def planned(make: Any, pieces: list[Any], glueup: dict[str, Any] | None = None, **part: Any) -> Plan:
    """Plan one body of 450 x 200 mm: it needs 460 x 210 mm of wood, 2 x 0.8 mm more at a joint."""
    shop = make.shop(
        pieces,
        [make.part("body", 450, 200, **part)],
        [Order(name="o", part="body")],
        settings={"leftover_worth": 0.0, "glueup": GlueUpRules(**(glueup or {}))},
    )
    return make_plan(shop, seed=1, effort=1, seconds=100_000, workers=1)


def members(plan: Plan) -> list[list[str]]:
    return [sorted(m.piece for m in layout.blank.members) for layout in plan.layouts]


SHOP = """\
[shop]
units = "mm"
rack = "rack.csv"
[cutter]
diameter = 6
[leftover]
worth = 0
[glueup]
joint_cost = {joint}
[bed.bench]
travel_x = 900
travel_y = 500
[part.body]
drawing = "body.dxf"
thickness = 40
[part.body.layers]
EDGE = "outline"
[[order]]
part = "body"
"""


@pytest.mark.parametrize(
    ("board", "joint", "chosen"),
    [
        (300, 5, ["S1", "S2"]),
        (9.01, 5, ["S1", "S2"]),
        (8.99, 5, ["wide"]),
        (300, 295.99, ["S1", "S2"]),
        (300, 296.01, ["wide"]),
    ],
)
def test_the_joint_decides_to_the_cent(tmp_path: Path, board: float, joint: float, chosen: list[str]) -> None:
    """A board, or two offcuts worth 2 each and a joint: 4 + 5 = 9, and 300 - 4 = 296."""
    shop = tmp_path / "shop"
    shop.mkdir()
    (shop / "shop.toml").write_text(SHOP.format(joint=joint))
    (shop / "rack.csv").write_text(
        "piece,species,thickness,length,width,value\n"
        f"wide,sugar maple,44,520,240,{board}\nS1,sugar maple,44,520,125,2\nS2,sugar maple,44,520,125,2\n"
    )
    drawing = ezdxf.new()
    drawing.header["$INSUNITS"] = 4
    corners = [(0, 0), (450, 0), (450, 200), (0, 200)]
    drawing.modelspace().add_lwpolyline(corners, close=True, dxfattribs={"layer": "EDGE"})
    drawing.saveas(shop / "body.dxf")
    out = tmp_path / "plan"
    assert main(["plan", str(shop), "--out", str(out), "--effort", "1", "--workers", "1", "--quiet"]) == 0
    plan = loads((out / "plan.json").read_bytes())
    assert members(plan) == [chosen]
    (value,) = (o.value for o in plan.objectives if o.goal == "value")
    assert value == pytest.approx(min(board, 4 + joint))


def test_two_sticks_rather_than_a_board_sawn_apart(make: Any) -> None:
    """A long narrow board could be cut in two and glued to itself; dearer sticks are taken all the same."""
    long = make.board("long", 1100, 125, value=60.0)
    sticks = [make.board("S1", 520, 125, value=50.0), make.board("S2", 520, 125, value=50.0)]
    assert members(planned(make, [long, *sticks])) == [["S1", "S2"]]
    assert members(planned(make, [long])) == [["long", "long"]]


def test_pieces_that_hold_the_part_alone_are_no_better_together(make: Any) -> None:
    """Of three boards that hold the part the cheapest is taken whole, however cheap a joint is."""
    boards = [make.board(f"B{k}", 520, 240, value=10.0 + k) for k in range(3)]
    assert members(planned(make, boards, {"joint_cost": 0.0})) == [["B0"]]


@pytest.mark.parametrize(
    ("parents", "chosen"), [(("K", "K"), [["S1", "S2"]]), (("K", "L"), []), (("", ""), [])]
)
def test_pieces_of_one_board_only(make: Any, parents: tuple[str, str], chosen: list[list[str]]) -> None:
    """Where all pieces are to be of one board, leftovers of one row are, others are not."""
    sticks = [make.board(f"S{k + 1}", 520, 125, parent=parent) for k, parent in enumerate(parents)]
    assert members(planned(make, sticks, {"one_board": True})) == chosen


def test_alike_copies_are_not_one_board_but_one_copy_is(make: Any) -> None:
    """Two copies of a row may be of two boards; what is sawn from one copy is of one."""
    assert members(planned(make, [make.board("S", 520, 125, count=2)], {"one_board": True})) == []
    plan = planned(make, [make.board("long", 1100, 125, count=2)], {"one_board": True})
    assert [layout.blank.copies for layout in plan.layouts] == [(("long", 1),)]


def test_no_glue_up_for_a_part(make: Any) -> None:
    """A part with ``glue = false`` stays unmade where only a glue-up would make it."""
    sticks = [make.board("S1", 520, 125), make.board("S2", 520, 125)]
    assert members(planned(make, sticks)) == [["S1", "S2"]]
    assert members(planned(make, sticks, glue=False)) == []


def test_a_piece_is_freed_by_a_glue_up_of_another_part(make: Any) -> None:
    """The board that both parts go on goes to the long one; the short one, served first, is glued up."""
    pieces = [make.board("wide", 700, 240), make.board("S1", 520, 125), make.board("S2", 520, 125)]
    parts = [make.part("short", 450, 200), make.part("long", 650, 200)]
    orders = [Order(name="s", part="short", priority=1), Order(name="l", part="long", priority=2)]
    plan = make_plan(make.shop(pieces, parts, orders), seed=1, effort=1, seconds=100_000, workers=1)
    assert {x.placements[0].part: len(x.blank.members) for x in plan.layouts} == {"long": 1, "short": 2}


def nailed(make: Any, at: float, kind: str = "nail hole", wide: float = 160.0) -> Plan:
    """A body of 450 x 200 from two boards, the lower of which has a hole of 3 mm in its middle, so far up."""
    hole = Defect(
        name="row 9",
        kind=kind,
        shape=Shape(outer=Outline.circle(240.0, at, 1.5)),
        face="top",
        depth_mm=20.0,
    )
    lower = replace(make.board("A", 500, wide), defects=(hole,))
    return planned(make, [lower, make.board("B", 500, 130)])


def lines(plan: Plan) -> dict[str, tuple[float, bool]]:
    """Where each board is jointed, across it as measured on the rack, and whether wood comes off above that line."""
    (layout,) = plan.layouts
    assert layout.glueup is not None
    out = {}
    for member, of in zip(layout.glueup.members, layout.blank.members):
        (edge,) = member.edges
        line, rip = edge.on_piece_mm[0][1], edge.rip_on_piece_mm[0][1]
        out[of.piece] = (line, rip > line)
    return out


@pytest.mark.outside(
    source="old nails are pulled or kept out of the saw's way before ripping reclaimed wood", mark="P"
)
@pytest.mark.parametrize("kind", ["nail hole", "screw hole", "metal"])
@pytest.mark.parametrize("from_edge", [2.0, 4.0, 12.0])
def test_the_rip_keeps_clear_of_a_nail_hole(make: Any, kind: str, from_edge: float) -> None:
    """Line, 0.8 mm of jointing and 3.2 mm of kerf stay 3 mm off the hole, on whichever edge of A it lies."""
    for at in (from_edge, 160.0 - from_edge):
        plan = nailed(make, at, kind)
        line, above = lines(plan)["A"]
        low, high = (line, line + 4.0) if above else (line - 4.0, line)
        assert low >= at + 1.5 + 3.0 - 0.01 or high <= at - 1.5 - 3.0 + 0.01, (at, low, high)
        assert not [c for c in glue_cautions(plan) if isinstance(c, MetalAtEdge)]


def test_a_nail_hole_that_cannot_be_kept_clear_is_told(make: Any) -> None:
    """A is all needed: the hole lies at the jointed edge, the caution names board, seam and row; the audit asks for it."""
    boards = [replace(make.board("A", 500, 106), defects=()), make.board("B", 500, 106)]
    holes = tuple(
        Defect(
            name=f"row {k}",
            kind="nail hole",
            shape=Shape(outer=Outline.circle(240.0, at, 0.3)),
            face="top",
            depth_mm=20.0,
        )
        for k, at in ((9, 0.4), (10, 105.6))
    )
    plan = planned(make, [replace(b, defects=holes) for b in boards])
    found = [c for c in glue_cautions(plan) if isinstance(c, MetalAtEdge)]
    assert [(c.board, c.seam, c.kinds) for c in found] == [
        ("A", "seam 1", ("nail hole",)),
        ("B", "seam 1", ("nail hole",)),
    ]
    assert all(c.defects in (("row 9",), ("row 10",)) for c in found)
    (layout,) = plan.layouts
    assert layout.glueup is not None
    quiet = tuple(c for c in layout.glueup.cautions if c not in found)
    silent = replace(plan, layouts=(replace(layout, glueup=replace(layout.glueup, cautions=quiet)),))
    assert "A124" in {f.code for f in audit(silent)}


def glue_cautions(plan: Plan) -> tuple[object, ...]:
    (layout,) = plan.layouts
    assert layout.glueup is not None
    return layout.glueup.cautions


def test_two_lengths_of_one_board_are_crosscut_to_the_bed(make: Any) -> None:
    """Two lengths of a board 1,125 mm long leave 1125 - 325 - 3.2 = 796.8 mm on the second, more than the bed: it is cut off.

    A length needs 301 + 2 x 12 mm; 113 mm of width less the margin and the jointing, twice, are enough for 180.
    """
    shop = make.shop(
        [make.board("B", 1125, 113)],
        [make.part("body", 301, 180, grain_tolerance_deg=0.0)],
        [Order(name="o", part="body")],
        beds=[make.bed(x=700, y=700)],
        settings={"blank_margin_mm": 12.0},
    )
    plan = make_plan(shop, seed=1, effort=1, seconds=100_000, workers=1)
    assert members(plan) == [["B", "B"]]
    ((cut,),) = (sawing.cuts for sawing in plan.sawings)
    assert 2 * 325 + 3.2 <= cut.at_mm < 700


def test_other_sets_are_asked_for_where_no_bed_takes_the_first(make: Any) -> None:
    """Two cheap wide boards, each sound along its edges alone, are 800 mm wide together, more than the bed.

    With a strip of 70 mm at the end one of them lies between and is ripped on both sides: 400 + 113 + 70 mm at the most. One
    of them and one strip hold no more than 113 + 70 less jointing and margin of the 180 mm of the part.
    """
    knot = Defect(name="f", kind="check", shape=Shape(outer=Outline.rectangle(0, 113, 400, 287)))
    shop = make.shop(
        [
            make.board("W", 400, 400, count=2, value=1.0, defects=(knot,)),
            make.board("S", 400, 70, count=3, value=5.0),
        ],
        [make.part("body", 301, 180, grain_tolerance_deg=0.0)],
        [Order(name="o", part="body")],
        beds=[make.bed(x=700, y=700)],
        settings={"blank_margin_mm": 12.0},
    )
    plan = make_plan(shop, seed=1, effort=1, seconds=100_000, workers=1)
    assert members(plan) == [["S", "W", "W"]]
    wide = make_plan(
        replace(shop, beds=(make.bed(x=900, y=900),)), seed=1, effort=1, seconds=100_000, workers=1
    )
    assert members(wide) == [["W", "W"]]
