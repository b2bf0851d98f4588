"""Names of woods."""

from __future__ import annotations

import pytest

from nestyield.intake.problems import Problems
from nestyield.intake.species import canonical_species, tell_species_without_stock
from nestyield.model import Outline, Part, Piece, Shape


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


@pytest.mark.parametrize(
    ("wanted", "told"), [("river gumm", True), ("ironbark", False), ("black walnut", False)]
)
def test_woods_without_stock(wanted: str, told: bool) -> None:
    """A wood that the rack spells a little differently is asked about; one that is just not there is not."""
    outline = Outline.rectangle(0, 0, 9, 9)
    part = Part(name="p", drawing="p.dxf", outline=outline, thickness_mm=9, species=(wanted,))
    piece = Piece(name="A", species="river gum", thickness_mm=9, shape=Shape(outer=outline))
    problems = Problems()
    tell_species_without_stock([part], [piece], problems, "shop.toml")
    assert bool(problems.findings) == told
