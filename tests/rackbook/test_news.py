"""What is new since the plan before."""

from dataclasses import replace

import pytest

from nestyield.model import Finding, Member, OrderResult, Plan, Purchase
from nestyield.model.facts import ClosestRefusal, EmptyRack, PiecesOnHold, Reason, TooNarrow
from nestyield.planfile import loads
from nestyield.rackbook.news import news_of

CLOSEST = ClosestRefusal(thickness_um=20_000, refusal=TooNarrow(piece="A", far_um=3000))


@pytest.fixture
def plan(maker) -> Plan:
    shop = maker.shop()
    made = loads((maker.plan(shop, ("A", 1, "first")) / "plan.json").read_bytes())
    return replace(
        made,
        shop=replace(made.shop, orders=made.shop.orders[:2]),
        orders=(
            OrderResult(order="first", placed=2, count=2),
            OrderResult(order="second", placed=0, count=1, reasons=(CLOSEST, EmptyRack())),
        ),
    )


def result(plan: Plan, order: str, placed: int, *reasons: Reason) -> Plan:
    orders = tuple(replace(r, placed=placed, reasons=reasons) if r.order == order else r for r in plan.orders)
    return replace(plan, orders=orders)


def what(before: Plan | None, now: Plan) -> dict[str, str]:
    return {o.order: o.what for o in news_of(before, now).orders}


def test_the_same_plan_is_no_news(plan):
    """Nothing is new when nothing changed, and the text still says what is short."""
    news = news_of(plan, plan)
    assert not news.anything
    assert what(plan, plan) == {"first": "same", "second": "short"}
    assert news.to_text().splitlines() == [
        "Test: 1 of 2 orders can be met",
        "Nothing new since the last run.",
        "Still short:",
        "  second, 0 of 1 body: no piece with a thickness for 20 mm is large enough; closest is A: is at least "
        "3 mm too narrow across the grain",
    ]


def test_possible_and_impossible(plan):
    """Orders that became possible or impossible are told with the reason."""
    now = result(result(plan, "second", 1), "first", 1, PiecesOnHold(pieces=("A",)))
    news = news_of(plan, now)
    assert what(plan, now) == {"first": "impossible", "second": "possible"}
    assert "  now possible: second, 1 of 1 body\n" in news.to_text()
    assert "  no longer possible: first, 1 of 2 body: A is usable, but on hold\n" in news.to_text()
    assert "Still short" not in news.to_text()


def test_more_fewer_new_gone_changed_held(plan):
    """Every other way in which an order may differ has its word."""
    half = result(plan, "first", 1, EmptyRack())
    none = result(plan, "first", 0, EmptyRack())
    assert what(none, half)["first"] == "more"
    assert what(half, none)["first"] == "fewer"
    first, second = plan.shop.orders
    only = replace(plan, shop=replace(plan.shop, orders=(first,)), orders=plan.orders[:1])
    assert what(only, plan) == {"first": "same", "second": "new"}
    assert what(plan, only) == {"first": "same", "second": "gone"}
    three = replace(plan, shop=replace(plan.shop, orders=(replace(first, count=1), second)))
    assert what(plan, three)["first"] == "changed"
    assert "  changed order: first, 2 of 1 body (2 wanted before)\n" in news_of(plan, three).to_text()
    held = replace(plan, shop=replace(plan.shop, orders=(first, replace(second, hold=True))))
    assert what(plan, held)["second"] == "held"
    assert what(held, held)["second"] == "same"
    assert news_of(plan, held).to_text().startswith("Test: 1 of 1 orders")
    done = replace(plan, shop=replace(plan.shop, orders=(first, replace(second, hold=True, done=True))))
    assert (what(plan, done)["second"], what(held, done)["second"]) == ("done", "done")
    assert (what(done, done)["second"], what(done, held)["second"]) == ("same", "held")
    told = news_of(plan, done).to_text()
    assert "  done: second (body)\n" in told
    assert "hold" not in told


def test_the_rack(plan):
    """New, gone and changed pieces are named; a new shelf or note is no news, a taken piece is gone."""
    pieces = {p.name: p for p in plan.shop.pieces}
    changed = (
        replace(pieces["A"], status="taken"),
        replace(pieces["B"], shelf="elsewhere", note="x", row=9),
        replace(pieces["C"], thickness_mm=30.0),
        replace(pieces["S"], name="N"),
    )
    now = replace(plan, shop=replace(plan.shop, pieces=changed))
    news = news_of(plan, now)
    assert (news.pieces_new, news.pieces_gone, news.pieces_changed) == (("N",), ("A", "S"), ("C",))
    assert "  rack: new: N; gone: A, S; changed: C\n" in news.to_text()


def test_blanks_warnings_and_what_to_buy(plan):
    """What is made from another blank now, new warnings, and the purchase list are told."""
    warning = Finding(code="R010", severity="warning", message="the piece is 9 m long", file="rack.csv")
    buy = Purchase(
        order="second",
        count=1,
        species=("limba",),
        thickness_mm=42,
        length_mm=313,
        width_mm=213,
        board_feet=1.2,
    )
    now = replace(plan, layouts=(), intake=(warning,), purchases=(buy,))
    news = news_of(plan, now)
    assert news.blanks_gone == ("A -> 1 body for first",)
    assert news_of(now, plan).blanks_new == ("A -> 1 body for first",)
    assert news.warnings_new == (str(warning),)
    assert news_of(now, now).warnings_new == ()
    assert news.to_text().endswith(
        "Shopping list:\n  for second: 1 x limba, at least 313 mm x 213 mm x 42 mm (1.20 board feet)\n"
    )


def test_the_first_run(plan):
    """The first run tells what is short, and calls nothing new that was never looked at before."""
    news = news_of(None, plan)
    assert news.anything
    assert news.first
    assert news.pieces_new == news.blanks_new == ()
    assert news.to_text().splitlines()[1:] == [
        "Short:",
        "  second, 0 of 1 body: no piece with a thickness for 20 mm is large enough; closest is A: is at least "
        "3 mm too narrow across the grain",
    ]
    assert news.to_data()["schema"] == "nestyield news 1"


def test_a_glue_up_is_known_by_its_pieces(maker):
    """Glue-ups are numbered anew in every plan: the same pieces for the same part are no news."""
    plan = loads((maker.plan(maker.shop(), ("B", 1, "first")) / "plan.json").read_bytes())
    (layout,) = plan.layouts
    two = (Member(piece="B", copy=1), Member(piece="B", copy=2))
    first, again = (
        replace(plan, layouts=(replace(layout, blank=replace(layout.blank, name=name, members=two)),))
        for name in ("glue-up 1", "glue-up 3")
    )
    assert not news_of(first, again).blanks_new
    told = news_of(replace(plan, layouts=()), again)
    assert told.blanks_new == ("B + B/2 glued up -> 1 body for first",)
