"""Boards too long for the bed, crosscut to be members of a glue-up: worked by hand, through the commands."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import pytest
from second.check import findings
from study_all_ways import BED, KERF, MARGIN, Case
from study_shops import run

from nestyield.audit.check import audit
from nestyield.model import Plan
from nestyield.model.facts import CrosscutFirst
from nestyield.model.totals import totals_of
from nestyield.planfile import loads

#: The part with its margin; the cutter takes 6 mm, and a frame of 6 mm beside it is no more than the margin.
LONG, WIDE = 320 + 2 * MARGIN, 180 + 2 * MARGIN
#: Two strips of this width hold it: 2 x (110 - 0.8) = 218.4 mm, and 204 mm are needed. One does not.
STRIP = 110


def planned(
    folder: Path,
    boards: Sequence[tuple[int, int, int, float]],
    flaws: str = "",
    settings: tuple[str, str] = ("", ""),
) -> Plan:
    """Plan one part on a bed of 700 x 700 mm; boards by length, width, copies, value, a joint worth 3."""
    shop = folder / "shop"
    Case(((320, 180),), (1,), (1,), tuple(boards), glue=True).write(shop)
    toml = shop / "shop.toml"
    toml.write_text(toml.read_text().replace(*settings, 1))
    if flaws:
        (shop / "flaws.csv").write_text("piece,kind,x,y,length,width\n" + flaws)
        toml.write_text(toml.read_text().replace('"rack.csv"', '"rack.csv"\ndefects = "flaws.csv"', 1))
    code, said = run("plan", shop, "--out", folder / "plan", "--workers", 1)
    assert code in (0, 1), said
    return loads((folder / "plan" / "plan.json").read_bytes())


def members(plan: Plan) -> list[tuple[str, int]]:
    return [(m.piece, m.copy) for layout in plan.layouts for m in layout.blank.members]


def length(plan: Plan) -> float:
    (layout,) = plan.layouts
    xs = [x for x, _ in layout.blank.shape.outer.points_mm]
    return max(xs) - min(xs)


STICKS = (400, STRIP, 1, 2.0), (1200, STRIP, 1, 64.0), (400, 260, 1, 120.0)


@pytest.mark.outside(source="worked out by hand in the test", mark="D")
def test_the_long_board_is_crosscut_to_be_the_one_member(tmp_path: Path) -> None:
    """Not the board worth 120: 2 for the strip, 64 for the long board, 3 for the joint make 69."""
    plan = planned(tmp_path, STICKS)
    assert members(plan) == [("R0", 1), ("R1", 1)]
    assert next(o.value for o in plan.objectives if o.goal == "value") == pytest.approx(69.0)
    (sawing,) = plan.sawings
    assert (sawing.piece, sawing.copy, sawing.blanks) == ("R1", 1, ("glue-up 1",))
    (cut,) = sawing.cuts
    assert cut.across == "x"
    assert LONG <= cut.at_mm <= LONG + 1.0
    (rest,) = sawing.rests
    assert rest.usable
    assert rest.rectangle_mm == pytest.approx((cut.at_mm + KERF, 0, 1200 - KERF - cut.at_mm, STRIP), abs=0.02)
    assert rest.value == pytest.approx(64.0 * (1200 - KERF - cut.at_mm) / 1200, rel=1e-4)
    assert length(plan) == pytest.approx(400.0, abs=0.01)
    # both pieces count once and whole
    totals = totals_of(plan)
    assert totals.value == pytest.approx(66.0)
    assert totals.stock_area_mm2 == pytest.approx((400 + 1200) * STRIP)
    assert totals.leftovers == 1
    assert findings(tmp_path / "plan", tmp_path / "shop").found == []


@pytest.mark.parametrize(("value", "chosen"), [(114.99, ["R0", "R1"]), (115.01, ["R2"])])
@pytest.mark.outside(source="worked out by hand in the test", mark="D")
def test_the_switch_comes_at_the_cost_of_strip_board_and_joint(
    tmp_path: Path, value: float, chosen: list[str]
) -> None:
    """Of 120: 2 for the strip and 3 for the joint leave 115 for the long board."""
    plan = planned(tmp_path, [STICKS[0], (1200, STRIP, 1, value), STICKS[2]])
    assert sorted(name for name, _ in members(plan)) == chosen


@pytest.mark.parametrize(("value", "chosen"), [(110.99, ["R0", "R1"]), (111.01, ["R2"])])
@pytest.mark.outside(source="worked out by hand in the test", mark="D")
def test_the_saw_cut_costs(tmp_path: Path, value: float, chosen: list[str]) -> None:
    """With 4 for a saw cut 111 of 120 are left for the long board."""
    boards = [STICKS[0], (1200, STRIP, 1, value), STICKS[2]]
    plan = planned(tmp_path, boards, settings=("saw_cut_cost = 0", "saw_cut_cost = 4"))
    assert sorted(name for name, _ in members(plan)) == chosen


@pytest.mark.outside(source="worked out by hand in the test", mark="D")
def test_what_is_sawn_off_comes_back(tmp_path: Path) -> None:
    """Where leftovers count whole, 348 of 1200 mm are spent: 345 and the cut; 62 mm beyond the part are too short to keep."""
    plan = planned(tmp_path, STICKS[:2], settings=("worth = 0", "worth = 1"))
    cut = plan.sawings[0].cuts[0].at_mm + KERF
    value = next(o.value for o in plan.objectives if o.goal == "value")
    assert value == pytest.approx(2.0 + 3.0 + 64.0 * cut / 1200, abs=1e-3)


def test_a_board_that_the_bed_takes_stays_whole(tmp_path: Path) -> None:
    """Where the blank lies on the bed with all of a board, nothing is sawn off it first."""
    plan = planned(tmp_path, [STICKS[0], (BED - 10, STRIP, 1, 5.0)])
    assert members(plan) == [("R0", 1), ("R1", 1)]
    assert plan.sawings == ()
    assert length(plan) == pytest.approx(BED - 10, abs=0.01)


@pytest.mark.outside(source="worked out by hand in the test", mark="D")
def test_two_lengths_of_one_board_are_kept_short_of_the_bed(tmp_path: Path) -> None:
    """A board of 1400 mm gives two lengths of 344 mm and a cut of 3 mm; what is beyond goes back on the rack."""
    plan = planned(tmp_path, [(1400, STRIP, 1, 5.0)])
    assert members(plan) == [("R0", 1), ("R0", 1)]
    (sawing,), (layout,) = plan.sawings, plan.layouts
    (cut,) = sawing.cuts
    assert 2 * LONG + KERF <= cut.at_mm <= 2 * LONG + KERF + 1.0
    assert layout.glueup is not None
    (apart,) = layout.glueup.cuts
    assert apart.line_mm[0][0] == pytest.approx(LONG + KERF / 2, abs=0.1)
    assert layout.glueup.steps[0] == CrosscutFirst(piece="R0", boards=("A", "B"))
    sheet = (tmp_path / "plan" / "sheets" / "R0.saw-a4.svg").read_text(encoding="utf-8")
    assert sheet.count("board: sawn apart as its glue-up sheet says") == 2
    assert findings(tmp_path / "plan", tmp_path / "shop").found == []


def test_copies_of_one_row_are_sawn_each_by_itself(tmp_path: Path) -> None:
    """Of two boards alike both are crosscut, where the bed takes neither whole."""
    plan = planned(tmp_path, [(1000, STRIP, 2, 5.0)])
    assert [(s.piece, s.copy) for s in plan.sawings] == [("R0", 1), ("R0", 2)]
    assert [r.name for s in plan.sawings for r in s.rests] == ["R0-a", "R0/2-a"]
    assert findings(tmp_path / "plan", tmp_path / "shop").found == []


def test_wood_before_a_flaw_is_sawn_off_too(tmp_path: Path) -> None:
    """A check across the board at 60 to 90 mm: the member begins beyond it, between two cuts."""
    plan = planned(tmp_path, [STICKS[0], (1200, STRIP, 1, 5.0)], "R1,check,60,0,30,110\n")
    (sawing,) = plan.sawings
    first, second = sawing.cuts
    assert first.at_mm + KERF > 60.0
    assert second.at_mm - first.at_mm - KERF >= LONG
    assert second.start_mm == pytest.approx(first.at_mm + KERF, abs=0.01)
    (layout,) = plan.layouts
    (member,) = (m for m in layout.blank.members if m.piece == "R1")
    assert member.cut is not None
    assert min(x for x, _ in member.cut.outer.points_mm) == pytest.approx(first.at_mm + KERF, abs=0.01)
    assert findings(tmp_path / "plan", tmp_path / "shop").found == []


def test_the_rest_is_booked_and_undone(tmp_path: Path) -> None:
    """`take` puts what is crosscut off on the rack, as long as the saw leaves it; `undo` gives the rack back."""
    plan = planned(tmp_path, STICKS)
    rack = tmp_path / "shop" / "rack.csv"
    before = rack.read_bytes()
    assert run("take", tmp_path / "plan", "--shop", tmp_path / "shop")[0] == 0
    rows = {r["piece"]: r for r in csv.DictReader(rack.read_text(encoding="utf-8").splitlines())}
    assert {n: r["status"] for n, r in rows.items() if r["status"]} == {
        "R0": "taken",
        "R1": "taken",
        "R1-a": "ready",
    }
    at = plan.sawings[0].cuts[0].at_mm
    assert float(rows["R1-a"]["length"]) == 1200 - KERF - at
    assert (rows["R1-a"]["width"], rows["R1-a"]["parent"]) == ("110", "R1")
    assert run("undo", tmp_path / "shop")[0] == 0
    assert rack.read_bytes() == before


def test_the_papers_tell_it(tmp_path: Path) -> None:
    """Terminal, cut list, saw sheet and order of work say that the board is crosscut, and which board comes of it."""
    planned(tmp_path, STICKS)
    _, said = run("plan", tmp_path / "shop", "--out", tmp_path / "again", "--workers", 1)
    assert "Crosscut R1 before gluing, no bed takes all of its length: glue-up 1; R1-a left over." in said
    out = tmp_path / "plan"
    (row,) = csv.DictReader((out / "sawing.csv").read_text(encoding="utf-8-sig").splitlines())
    assert (row["piece"], row["how"], row["gives"]) == ("R1", "crosscut", "B of glue-up 1")
    assert (out / "sheets" / "R1.saw-a4.pdf").exists()
    sheet = "".join(
        p.read_text(encoding="utf-8") for p in sorted((out / "sheets").glob("glue-up-1.glue-up-*.svg"))
    )
    assert "Crosscut R1 first, as its saw sheet shows" in sheet
    assert "No bed takes a glue-up with all of its length: crosscut it before gluing." in (
        out / "report.html"
    ).read_text(encoding="utf-8")


def test_the_audit_saws_again(tmp_path: Path) -> None:
    """A cut that runs into the board, a sawing or a step that is not told, a rest too large: each has its code."""
    plan = planned(tmp_path, STICKS)
    (sawing,), (layout,) = plan.sawings, plan.layouts
    assert {f.code for f in audit(plan) if f.severity == "error"} == set()

    def codes(other: Plan) -> set[str]:
        return {f.code for f in audit(other)}

    (cut,) = sawing.cuts
    near = replace(sawing, cuts=(replace(cut, at_mm=cut.at_mm - 5.0),))
    assert "A127" in codes(replace(plan, sawings=(near,)))
    assert "A127" in codes(replace(plan, sawings=()))
    assert "A127" in codes(replace(plan, sawings=(replace(sawing, piece="R0"),)))
    assert layout.glueup is not None
    untold = replace(layout, glueup=replace(layout.glueup, steps=layout.glueup.steps[1:]))
    assert "A123" in codes(replace(plan, layouts=(untold,)))


@pytest.mark.outside(source="worked out by hand in the test", mark="D")
def test_two_boards_glued_together_do_not_hide_two_lengths_of_each(tmp_path: Path) -> None:
    """Two boards of 838 mm, each crosscut, make one part together; each in two lengths of 327 mm makes one by itself."""
    shop = tmp_path / "shop"
    Case(((303, 230),), (2,), (1,), ((838, 163, 2, 2.0),), glue=True).write(shop)
    assert run("plan", shop, "--out", tmp_path / "plan", "--workers", 1)[0] == 0
    plan = loads((tmp_path / "plan" / "plan.json").read_bytes())
    made = [sorted((m.piece, m.copy) for m in layout.blank.members) for layout in plan.layouts]
    assert made == [[("R0", 1)] * 2, [("R0", 2)] * 2]
    assert findings(tmp_path / "plan", shop).found == []
