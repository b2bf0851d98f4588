"""Names of woods."""

from __future__ import annotations

import pytest

from nestyield.intake.problems import Problems
from nestyield.intake.species import canonical_species, tell_species_without_stock
from nestyield.model import Order, Outline, Part, Piece, Shape


@pytest.mark.parametrize(
    ("name", "species", "severity"),
    [
        ("sugar maple", "sugar maple", None),
        (" Sugar-Maple ", "sugar maple", None),
        ("  Hard   Maple ", "sugar maple", "note"),
        ("Maple", "Maple", "warning"),
        ("shugar maple", "shugar maple", "error"),
        ("mahagony", "mahagony", "error"),
        ("white beech", "white beech", "note"),  # Gmelina, another wood than white birch (memory)
        ("river gum", "river gum", "note"),
    ],
)
def test_names(name: str, species: str, severity: str | None) -> None:
    """Known woods under the table's name; slips of the pen are errors, woods of one's own notes."""
    problems = Problems()
    assert canonical_species(name, problems, "R011", "rack.csv", "row 2") == species
    assert [f.severity for f in problems.findings] == ([severity] if severity else [])


def stock_of(wanted: tuple[str, ...], hold: bool | None, there: str = "river gum") -> list[str]:
    """Return what is told of a part of some woods, perhaps with an order, and a rack of one piece."""
    outline = Outline.rectangle(0, 0, 9, 9)
    part = Part(name="p", drawing="p.dxf", outline=outline, thickness_mm=9, species=wanted)
    piece = Piece(name="A", species=there, thickness_mm=9, shape=Shape(outer=outline))
    orders = [] if hold is None else [Order(name="two", part="p", hold=hold)]
    problems = Problems()
    tell_species_without_stock([part], [piece], orders, problems, "shop.toml")
    assert {f.severity for f in problems.findings} <= {"warning"}
    return [f.message for f in problems.findings]


@pytest.mark.parametrize(
    ("wanted", "told"), [("river gumm", True), ("ironbark", False), ("black walnut", False)]
)
def test_woods_without_stock(wanted: str, told: bool) -> None:
    """A wood that the rack spells a little differently is asked about; one that nothing is ordered of is not."""
    assert bool(stock_of((wanted,), None)) == told


def test_an_order_that_no_wood_serves() -> None:
    """Where the rack has none of a part's woods, its order is named, unless it is on hold, and what there is."""
    (message,) = stock_of(("black walnut", "ironbark"), False)
    for word in ("black walnut or ironbark", "'two'", "river gum"):
        assert word in message
    assert stock_of(("black walnut",), True) == []
    assert stock_of(("black walnut", "river gum"), False) == []
    assert stock_of((), False) == []


def test_a_wood_that_may_be_several() -> None:
    """Maple may be several woods: what the rack has of them is to be written, or which one is meant."""
    (message,) = stock_of(("maple",), None, "sugar maple")
    assert 'write "sugar maple"' in message
    (message,) = stock_of(("maple",), False)
    assert "write which: " in message
    assert "red maple" in message
