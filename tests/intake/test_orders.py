"""Orders of the shop file."""

from __future__ import annotations

from nestyield.intake.orders import read_orders
from nestyield.intake.problems import Problems
from nestyield.intake.toml import parse_toml
from nestyield.intake.values import Values
from nestyield.model import Order


def read(text: str) -> tuple[list[Order], list[str]]:
    data, lines, why = parse_toml(text)
    assert data is not None, why
    values = Values(data=data, path=(), lines=lines, file="shop.toml", units="mm", problems=Problems())
    orders = read_orders(values, ["lute", "harp"], ["long", "little"])
    return orders, [str(f) for f in values.problems.findings]


def test_defaults_and_everything() -> None:
    """An order needs a part only; the rest has defaults, and every key arrives."""
    orders, told = read(
        '[[order]]\npart = "lute"\n[[order]]\npart = "harp"\ncount = 3\npriority = 1\ndue = 2027-01-02\n'
        'bed = ["long", "little"]\nname = "spring"\nhold = true\n'
    )
    assert told == []
    assert orders[0] == Order(name="order 1", part="lute")
    assert orders[1] == Order(
        name="spring",
        part="harp",
        count=3,
        priority=1,
        due="2027-01-02",
        beds=("long", "little"),
        hold=True,
    )


def test_an_order_that_is_done_is_not_planned() -> None:
    """What take writes of an order that is all cut puts it on hold, too, whatever hold says; undone it is neither."""
    orders, told = read(
        '[[order]]\ndone = true  # all cut\npart = "lute"\n[[order]]\npart = "lute"\nhold = false\ndone = true\n'
        '[[order]]\npart = "harp"\ndone = false\n'
    )
    assert told == []
    assert [(o.done, o.hold) for o in orders] == [(True, True), (True, True), (False, False)]


def test_numbered_names_may_not_collide() -> None:
    """A name given by hand is not the number of another order."""
    _, told = read('[[order]]\npart = "lute"\n[[order]]\nname = "order 1"\npart = "lute"')
    assert len(told) == 1
    assert "order[2].name" in told[0]


def test_unknown_names_are_told_with_the_nearest() -> None:
    """Parts and beds that are not there."""
    orders, told = read('[[order]]\npart = "luet"\n[[order]]\npart = "harp"\nbed = ["lnog", "x"]')
    assert [o.part for o in orders] == ["harp"]
    assert "did you mean 'lute'?" in told[0]
    assert "did you mean 'long'?" in told[1]
    assert "known beds are long, little" in told[2]


PAIR = '[[order]]\nname = "a"\npart = "lute"\nset = "duo"\n{first}\n[[order]]\nname = "b"\npart = "harp"\nset = "duo"\n{second}\n'


def test_orders_of_a_set_share_priority_and_date() -> None:
    """What one order of the set says holds for all of them."""
    orders, told = read(
        PAIR.format(first="priority = 2", second='due = "2027-01-02"\nper_set = 2\ncount = 2')
    )
    assert told == []
    assert [(o.priority, o.due) for o in orders] == [(2, "2027-01-02")] * 2
    assert [(o.set, o.per_set, o.match) for o in orders] == [("duo", 1, ""), ("duo", 2, "")]


def test_a_set_is_served_together_and_matches_in_one_way() -> None:
    """Two priorities, two dates, or two kinds of match are refused, with both values."""
    for key, one, other in (("priority", "1", "2"), ("match", '"row"', '"board"')):
        _, told = read(PAIR.format(first=f"{key} = {one}", second=f"{key} = {other}"))
        assert all("S017" in line for line in told)
        assert f"{one} and {other}".replace('"', "") in told[0]


def test_slips_around_sets_are_told() -> None:
    """A match without a set, a set of one order, and counts that do not go together."""
    orders, told = read('[[order]]\npart = "lute"\nmatch = "row"')
    assert orders == []
    assert "expected set beside per_set and match" in told[0]
    _, told = read('[[order]]\npart = "lute"\nset = "duo"\n[[order]]\npart = "harp"\nset = "dou"')
    assert sum("is it spelt alike" in line for line in told) == 2
    _, told = read(PAIR.format(first="count = 3", second="count = 2"))
    assert "3 lute, 2 harp" in told[0]
    assert "cut before" in told[0]
