"""Units of drawings."""

from __future__ import annotations

import math
from typing import Any

import ezdxf.units
import pytest

from nestyield.intake.dxf_units import INSUNITS, UnitRule, unit_of_drawing
from nestyield.intake.problems import Problems


@pytest.mark.outside(source="ezdxf.units.conversion_factor (general DXF library)", mark="S")
@pytest.mark.parametrize("code", [c for c in sorted(INSUNITS) if c not in (8, 9, 21, 22, 23, 24)])
def test_size_of_each_code(code: int) -> None:
    """Codes that an independent table has, too, have the same size there; the others are checked below."""
    reference = ezdxf.units.conversion_factor(ezdxf.units.InsertUnits(code), ezdxf.units.InsertUnits(4))
    rough = {3: 1e-8, 18: 2e-4, 19: 2e-4, 20: 2e-3}.get(code, 1e-9)  # the library rounds these
    assert float(INSUNITS[code][1]) == pytest.approx(reference, rel=rough)


@pytest.mark.outside(source="definitions: inch 25.4 mm; US survey foot 1200/3937 m; au IAU 2012 B2", mark="M")
def test_sizes_by_definition() -> None:
    """Sizes that are defined exactly."""
    size = {name: float(mm) for name, mm in INSUNITS.values()}
    assert size["feet"] == 304.8
    assert size["miles"] == 1609344
    assert size["yards"] == 914.4
    assert size["mils"] == 0.0254
    assert size["microinches"] == 0.0000254
    assert size["US survey feet"] == pytest.approx(304.8006096012192)
    assert size["astronomical units"] == 149597870700000
    assert size["light years"] == pytest.approx(9460730472580800000)
    assert size["parsecs"] == pytest.approx(3.0856775814913673e19)
    assert sorted(INSUNITS) == list(range(1, 25))


@pytest.mark.parametrize("code", sorted(INSUNITS))
def test_a_circle_in_each_unit(code: int, new: Any, read: Any) -> None:
    """A circle of 100 mm drawn in each unit is read as one of 100 mm."""
    size = float(INSUNITS[code][1])
    doc, space = new(units=code)
    space.add_circle((50 / size, 0), 50 / size, dxfattribs={"layer": "BODY"})
    result = read(doc)
    assert result.areas() == pytest.approx([2500 * math.pi], rel=1e-9)
    assert result.codes == []


@pytest.mark.parametrize(
    ("code", "rule", "size", "severity"),
    [
        (4, UnitRule(), 1.0, None),
        (1, UnitRule(), 25.4, None),
        (0, UnitRule(), None, "error"),
        (None, UnitRule(), None, "error"),
        (None, UnitRule(stated="in"), 25.4, None),
        (0, UnitRule(fallback="cm"), 10.0, None),
        (1, UnitRule(fallback="cm"), 25.4, None),
        (1, UnitRule(stated="in"), 25.4, None),
        (1, UnitRule(stated="mm"), None, "error"),
        (1, UnitRule(stated="mm", overrule=True), 1.0, "note"),
        (99, UnitRule(), None, "error"),
        (99, UnitRule(stated="mm"), None, "error"),
        (99, UnitRule(stated="mm", overrule=True), 1.0, None),
        (-3, UnitRule(fallback="mm"), None, "error"),
    ],
)
def test_rule(code: int | None, rule: UnitRule, size: float | None, severity: str | None) -> None:
    """The drawing's own unit, then the part's, then the shop's; contradictions are errors."""
    problems = Problems()
    found = unit_of_drawing(code, rule, problems, "a.dxf", "part x")
    assert (None if found is None else found[1]) == size
    assert [f.severity for f in problems.findings] == ([severity] if severity else [])


def test_missing_unit_says_what_to_write() -> None:
    """The error for a drawing without unit names the key to set and where."""
    problems = Problems()
    unit_of_drawing(0, UnitRule(), problems, "a.dxf", "part mandolin")
    (finding,) = problems.findings
    assert "drawing_units" in finding.message
    assert "part mandolin" in finding.message
