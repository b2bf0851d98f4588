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
