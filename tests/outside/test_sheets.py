"""Sheets against their standard: a new sheet may be thinner than its name, and must still serve."""

from __future__ import annotations

import pytest

from nestyield.model import Outline, Part, Piece, Settings, Shape
from nestyield.placement.stock import unsuitable
from nestyield.wood.species import find

STANDARD = pytest.mark.outside(source="ANSI A208.2-2009, MDF: thickness +-0.125 mm", mark="S")


def serves(thickness_mm: float) -> bool:
    sheet = Piece(
        name="S",
        species="MDF",
        thickness_mm=thickness_mm,
        shape=Shape(outer=Outline.rectangle(0, 0, 2440, 1220)),
        grain_deg=None,
    )
    template = Part(
        name="t",
        drawing="",
        outline=Outline.rectangle(0, 0, 300, 200),
        thickness_mm=18.0,
        species=("MDF",),
        grain_deg=None,
    )
    return unsuitable(template, sheet, Settings(cutter_diameter_mm=6.35)) is None


@STANDARD
def test_thinnest_new_sheet_serves():
    """An 18 mm sheet at the standard's thinnest serves by the defaults; a far thinner one does not."""
    tolerance = find("mdf").thickness_tolerance_mm
    assert tolerance == 0.125
    assert serves(18.0 + tolerance)
    assert serves(18.0 - tolerance)
    assert not serves(18.0 - 2 * tolerance)
