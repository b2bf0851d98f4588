"""What the plan's own check rejects is left out and named, and the rest of the plan stands."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from nestyield import api
from nestyield.audit.check import audit
from nestyield.bed import work
from nestyield.model import (
    AngleInterval,
    AuditError,
    Certificate,
    Defect,
    GlueUpRules,
    Order,
    Outline,
    Plan,
    ProofBranch,
    Shape,
    Shop,
)
from nestyield.model.facts import (
    ClosestRefusal,
    DetailRejected,
    LayoutRejected,
    ProofRejected,
    Undecided,
)
from nestyield.paperwork.notices import notice_finding
from nestyield.planning import candidates, layouts, results, run
from nestyield.planning.kept import plan_around
from nestyield.words import Words


def plan(shop: Shop, **more: Any) -> Plan:
    return run.make_plan(shop, **{"seed": 1, "effort": 1, "seconds": 300.0, "workers": 1, **more})


def wrapped(monkeypatch: pytest.MonkeyPatch, module: Any, name: str, change: Callable[..., Any]) -> None:
    """Let a function of a module answer wrongly: ``change(answer, *args)``."""
    was = getattr(module, name)
    monkeypatch.setattr(module, name, lambda *args, **more: change(was(*args, **more), *args))


@pytest.fixture
def shop(make: Any) -> Shop:
    """Two parts that go on one board each, and a dearer third board."""
    boards = [make.board(f"R{k}", 420, 130, value=float(k)) for k in (1, 2, 3)]
    parts = [make.part("p", 300, 80, grain_tolerance_deg=0), make.part("q", 290, 90, grain_tolerance_deg=0)]
    orders = [Order(name="first", part="p"), Order(name="second", part="q")]
    return make.shop(boards, parts, orders, settings={"glueup": GlueUpRules(most_pieces=1)})


def told(made: Plan, kind: type) -> list[Any]:
    return [n for n in made.notices if isinstance(n, kind)]


def sound(made: Plan) -> None:
    """The plan holds, is complete, and asks for a person."""
    assert audit(made) == ()
    assert [r.placed for r in made.orders] == [1, 1]
    assert api.needs_person(made)


def test_wrong_play_is_left_out(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    """Play that runs over the margin: that blank tells none, the other one its own, and the notice says why."""

    def too_far(rooms: Any, blank: Any, *rest: Any) -> Any:
        if blank.name != "R1":
            return rooms
        return tuple(replace(r, from_deg=r.from_deg - 9.0, to_deg=r.to_deg + 9.0) for r in rooms)

    wrapped(monkeypatch, layouts, "rooms_of", too_far)
    made = plan(shop)
    sound(made)
    (notice,) = told(made, DetailRejected)
    assert (notice.blank, notice.detail) == ("R1", "play")
    assert {f.code for f in notice.evidence} == {"A408"}
    assert [bool(layout.rooms) for layout in made.layouts] == [False, True]
    line = str(notice_finding(notice, Words("mm")))
    assert line.startswith("warning P030: blank R1: play is left out (")
    assert "A408" in line


def test_a_leftover_that_is_none_is_not_kept(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    """A leftover whose rectangle reaches past it is left out, alone; areas and work are made without it."""

    def longer(left: Any, blank: Any, *rest: Any) -> Any:
        x, y, length, width = left[0].rectangle_mm
        return (replace(left[0], rectangle_mm=(x, y, length + 50.0, width)), *left[1:])

    wrapped(monkeypatch, layouts, "leftovers_of", longer)
    made = plan(shop)
    sound(made)
    assert {n.detail for n in told(made, DetailRejected)} == {"leftovers"}
    assert {name for n in told(made, DetailRejected) for name in n.names} == {"R1-a", "R2-a"}
    assert not any(x.name.endswith("-a") for layout in made.layouts for x in layout.leftovers)


def test_a_screw_off_the_table_is_left_out(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    """One screw past the wood is left out; the others stay, and the work is told for them."""

    def outside(holds: Any, blank: Any, *rest: Any) -> Any:
        return (*holds[:1], replace(holds[1], x_mm=-100.0), *holds[2:])

    wrapped(monkeypatch, work, "hold_downs", outside)
    made = plan(shop)
    sound(made)
    # the play that was told beside that screw goes too
    found = [(n.detail, n.names) for n in told(made, DetailRejected) if n.detail != "play"]
    assert found == [("screws", ("screw 2",))] * 2
    for layout in made.layouts:
        assert layout.work is not None
        names = [hold.name for hold in layout.work.hold_downs]
        assert "screw 1" in names
        assert "screw 2" not in names


def test_tabs_that_lead_nowhere_are_not_listed(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    """Tabs that point into their part are left out with a warning; the blank stays, and its steps name none."""

    def inwards(tabs: Any, *rest: Any) -> Any:
        return tuple(replace(tab, angle_deg=tab.angle_deg + 180.0) for tab in tabs)

    wrapped(monkeypatch, work, "tabs_of", inwards)
    made = plan(shop)
    sound(made)
    assert made.layouts
    assert {n.detail for n in told(made, DetailRejected)} == {"tabs"}
    assert not any(layout.work.tabs for layout in made.layouts if layout.work is not None)


def test_a_rejected_layout_gives_way_to_the_next(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    """A part that lies over the margin of one board is laid on the next one, and the board is named."""

    def over(layout: Any, bench: Any, row: int, made: Any, laid: Any) -> Any:
        if bench.shop.pieces[row].name != "R1":
            return layout
        return replace(layout, laid=tuple((w, replace(p, x_um=p.x_um - 50_000)) for w, p in layout.laid))

    wrapped(monkeypatch, candidates, "candidate_of", over)
    made = plan(shop)
    sound(made)
    assert sorted(layout.blank.name for layout in made.layouts) == ["R2", "R3"]
    assert {n.pieces for n in told(made, LayoutRejected)} == {("R1",)}
    assert all("A204" in {f.code for f in n.evidence} for n in told(made, LayoutRejected))


def test_only_the_blank_that_fails_is_lost(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    """With no other board left, the order is short and its board undecided; the other order is made."""

    def over(layout: Any, bench: Any, row: int, made: Any, laid: Any) -> Any:
        if bench.shop.pieces[row].name != "R1":
            return layout
        return replace(layout, laid=tuple((w, replace(p, x_um=p.x_um - 50_000)) for w, p in layout.laid))

    wrapped(monkeypatch, candidates, "candidate_of", over)
    made = plan(replace(shop, pieces=shop.pieces[:2]))
    assert audit(made) == ()
    assert [r.placed for r in made.orders] == [1, 0]
    reasons = [r.refusal for r in made.orders[1].reasons if isinstance(r, ClosestRefusal)]
    assert Undecided(piece="R1", because="layout") in reasons
    assert api.needs_person(made)


def test_a_false_proof_becomes_undecided(make: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """A proof that says of a board which holds the part that it does not is contradicted and left out."""
    knot = Defect(name="k", kind="knot", shape=Shape(outer=Outline.circle(210.0, 65.0, 30.0)))
    boards = [make.board("R1", 420, 130), make.board("R2", 420, 130, defects=(knot,))]
    orders = [Order(name="first", part="p", count=2)]
    shop = make.shop(boards, [make.part("p", 400, 80, grain_tolerance_deg=0)], orders,
                     settings={"glueup": GlueUpRules(most_pieces=1)})  # fmt: skip
    branch = [
        ProofBranch(
            front_up=up,
            mirrored=not up,
            top_off_mm=1.0,
            intervals=tuple(AngleInterval(from_deg=a, to_deg=a) for a in (0.0, 180.0)),
        )
        for up in (True, False)
    ]

    def forged(answer: Any, *asked: Any) -> Any:
        proof = Certificate(
            part="p", blank="R1", within_mm=0.0, center_um=(0.0, 0.0), branches=tuple(branch), steps=1
        )
        return replace(answer, proof=proof)

    wrapped(monkeypatch, results, "look_at_row", forged)
    made = plan(shop)
    assert audit(made) == ()
    assert made.orders[0].placed == 1
    assert made.orders[0].certificates == ()
    (notice,) = told(made, ProofRejected)
    assert (notice.order, notice.piece, notice.severity) == ("first", "R1", "warning")
    assert {f.code for f in notice.evidence} == {"A606"}
    reasons = [r.refusal for r in made.orders[0].reasons if isinstance(r, ClosestRefusal)]
    assert reasons == [Undecided(piece="R1", because="proof")]


def test_a_plan_that_fails_as_a_whole_is_an_error(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    """What no blank can be left out for refuses the plan, with the evidence."""
    wrapped(monkeypatch, run, "general_cautions", lambda said, *rest: said[1:])
    with pytest.raises(AuditError, match="A519"):
        plan(shop)


def test_a_kept_blank_that_fails_is_let_go(shop: Shop) -> None:
    """A kept layout whose part was moved over the margin is planned anew, and named with what was found."""
    made = plan(shop)
    one = made.layouts[0]
    moved = replace(one.placements[0], x_um=one.placements[0].x_um - 200_000)
    again = plan_around(shop, [replace(one, placements=(moved,))], plan)
    sound(again)
    (notice,) = told(again, LayoutRejected)
    assert notice.pieces == (one.blank.members[0].piece,)
