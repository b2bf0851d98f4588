"""Which pieces may serve, and what they are worth."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from nestyield.audit.check import audit
from nestyield.model import Order, Settings
from nestyield.model.facts import WrongSpecies
from nestyield.placement.stock import blank_of, unsuitable
from nestyield.planning.reasons import cause_of
from nestyield.planning.run import make_plan
from nestyield.planning.worth import board_feet, value_of

SETTINGS = Settings(cutter_diameter_mm=6)


@pytest.mark.outside(
    source="NHLA: a board foot is 144 cubic inches; 5/4 board 6 x 72 in = 3.75 bd ft", mark="D"
)
def test_board_feet() -> None:
    """A five-quarter board of 6 by 72 inches is 3.75 board feet."""
    assert board_feet(6 * 72 * 25.4**2, 1.25 * 25.4) == pytest.approx(3.75, abs=1e-12)


@pytest.mark.parametrize(
    ("thickness", "grain", "cause"),
    [
        (46.1, 0.0, ""),  # 44.5 + 2 x 0.8
        (45.96, 0.0, ""),  # within the tolerance of 0.15
        (45.94, 0.0, "too thin"),
        (44.36, None, ""),  # a sheet is not planed
        (44.34, None, "too thin"),
        (44.64, None, ""),
        (44.66, None, "too thick"),
        (56.5, 0.0, ""),
        (56.6, 0.0, "too thick"),
    ],
)
def test_thickness(make: Any, thickness: float, grain: float | None, cause: str) -> None:
    """Planing both faces, the tolerance, and the most that may be planed away decide on thickness."""
    piece = make.board("R", 500, 200, thickness_mm=thickness, grain_deg=grain)
    refusal = unsuitable(make.part("p", 100, 50), piece, SETTINGS)
    assert (cause_of(refusal) if refusal else "") == cause


def test_species(make: Any) -> None:
    """An empty list of species means any."""
    piece = make.board("R", 500, 200)
    assert unsuitable(make.part("p", 9, 9, species=()), piece, SETTINGS) is None
    assert unsuitable(make.part("p", 9, 9, species=("x", "sugar maple")), piece, SETTINGS) is None
    refusal = unsuitable(make.part("p", 9, 9, species=("black walnut",)), piece, SETTINGS)
    assert refusal == WrongSpecies(piece="R", species="sugar maple")


@pytest.mark.parametrize(
    ("species", "part_grain", "usable"),
    [((), 0.0, False), ((), None, True), (("MDF",), 0.0, True), (("MDF", "sugar maple"), 0.0, True)],
)
def test_a_wooden_part_is_not_cut_of_a_sheet_by_default(
    make: Any, species: tuple[str, ...], part_grain: float | None, usable: bool
) -> None:
    """A part with a grain that names no wood: maple does, MDF only where it is named; a part without grain takes both."""
    sheet = make.board("M", 500, 200, species="MDF", grain_deg=None, thickness_mm=44.5)
    part = make.part("p", 100, 50, species=species, grain_deg=part_grain)
    refusal = unsuitable(part, sheet, SETTINGS)
    assert (refusal is None) == usable
    assert usable or refusal == WrongSpecies(piece="M", species="MDF", sheet=True)
    maple = make.board("R", 500, 200, thickness_mm=46.5)
    assert unsuitable(replace(part, species=()), maple, SETTINGS) is None


def test_the_audit_knows_sheets_for_wooden_parts(make: Any) -> None:
    """A plan for a part without grain on MDF is right; the same plan for a part with a grain is rejected."""
    sheet = make.board("M", 500, 200, species="MDF", grain_deg=None, thickness_mm=44.5)
    part = make.part("p", 100, 50, grain_deg=None)
    shop = make.shop([sheet], [part], [Order(name="o", part="p")])
    plan = make_plan(shop, seed=1, effort=1, seconds=100_000, workers=1)
    assert [r.placed for r in plan.orders] == [1]
    assert "A106" not in {f.code for f in audit(plan)}
    grained = replace(shop, parts=(replace(part, grain_deg=0.0),))
    assert "A106" in {f.code for f in audit(replace(plan, shop=grained))}
    short = make_plan(grained, seed=1, effort=1, seconds=100_000, workers=1)
    assert [r.placed for r in short.orders] == [0]
    assert not audit(short)


def test_value(make: Any) -> None:
    """The table's own value wins; then the species' rate; then the rate of the rest; then board feet."""
    piece = make.board("R", 304.8, 304.8, thickness_mm=25.4)
    assert value_of(piece, SETTINGS) == pytest.approx(1.0)
    assert value_of(make.board("R", 1, 1, value=7.0), SETTINGS) == 7.0
    priced = Settings(cutter_diameter_mm=6, value_per_board_foot={"sugar maple": 9.5, "": 6.0})
    assert value_of(piece, priced) == pytest.approx(9.5)
    assert value_of(make.board("R", 304.8, 304.8, thickness_mm=25.4, species="oak"), priced) == pytest.approx(
        6
    )


def test_copies_have_names(make: Any) -> None:
    """The first copy of a row keeps the piece's name, later ones are numbered."""
    piece = make.board("R", 10, 10, count=3)
    assert [blank_of(piece, k).name for k in (1, 2, 3)] == ["R", "R/2", "R/3"]
    assert blank_of(piece, 3).members[0].copy == 3
