"""What is ripped off the boards of a glue-up goes back on the rack, and counts in the choice."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from nestyield.audit.check import audit
from nestyield.model import Order, Outline, Plan, Shape
from nestyield.planning.run import make_plan
from nestyield.rackbook.rows import new_pieces

#: A board of 520 x 100 mm with a lobe of 300 x 90 on either side: 106,000 mm2. At a seam one lobe is ripped off
#: 0.8 mm of jointing inside the board; the saw takes 3.2 mm: 300 x 86.8 mm go back.
LOBED = Shape(
    outer=Outline.polygon(
        [
            *((0, 90), (110, 90), (110, 0), (410, 0), (410, 90), (520, 90)),
            *((520, 190), (410, 190), (410, 280), (110, 280), (110, 190), (0, 190)),
        ]
    )
)
STRIP_MM2, LOBED_MM2 = 300 * 86.8, 520 * 100 + 2 * 300 * 90


def planned(make: Any, straight: float, lobed: float | None = 60.0) -> Plan:
    """Plan a body of 450 x 200 from a board of 520 x 125 (worth 10) and either a straight or a lobed one."""
    pieces = [
        make.board("S", 520, 125, value=10.0),
        make.board("Y", 520, 0, shape=LOBED, value=lobed),
        make.board("Z", 520, 125, value=straight),
    ]
    orders = [Order(name="o", part="body")]
    shop = make.shop(pieces, [make.part("body", 450, 200)], orders, settings={"leftover_worth": 1.0})
    return make_plan(shop, seed=1, effort=1, seconds=100_000, workers=1)


def aim(plan: Plan, goal: str) -> float:
    return next(o.value for o in plan.objectives if o.goal == goal)


def rows(plan: Plan) -> list[str]:
    return sorted(m.piece for layout in plan.layouts for m in layout.blank.members)


def test_what_is_ripped_off_counts_in_the_choice(make: Any) -> None:
    """The lobed board for 60 gives a strip back; without it a straight one for 40 would be cheaper by 5.7."""
    plan = planned(make, 40.0)
    (layout,) = plan.layouts
    back = sum(x.value for x in layout.leftovers)
    strip = 60.0 * STRIP_MM2 / LOBED_MM2
    assert rows(plan) == ["S", "Y"]
    assert 10 + 60 - back + 10 > 10 + 40 + 10 > 10 + 60 - back + 10 - strip
    assert aim(plan, "value") == pytest.approx(10 + 60 - back + 10 - strip, abs=1e-3)
    kept = sum(x.area_mm2 for x in layout.leftovers if x.usable) * 44.5
    wood = (520 * 125 + LOBED_MM2 - STRIP_MM2) * 47.0 - kept
    assert aim(plan, "wood") == pytest.approx(wood / (144 * 25.4**3), abs=2e-4)
    assert rows(planned(make, 30.0)) == ["S", "Z"]
    assert audit(plan) == ()


def test_the_rack_gets_it_at_what_it_was_counted(make: Any) -> None:
    """The row that take writes of the strip is worth its share of the board."""
    plan = planned(make, 40.0)
    found = [p for p in new_pieces(plan, plan.layouts, ()) if p.thickness_mm == 47.0]
    assert [p.value for p in found] == [pytest.approx(60.0 * STRIP_MM2 / LOBED_MM2, abs=1e-3)]


@pytest.mark.parametrize(
    ("change", "codes"),
    [
        ({"value": 20.0}, {"A407", "A611"}),
        ({"value": None}, {"A611"}),
        ({"area_mm2": 26_300.0}, {"A119", "A406"}),
        ({"usable": False, "value": 0.0}, {"A406", "A611"}),
    ],
)
def test_the_audit_counts_it_too(make: Any, change: dict[str, Any], codes: set[str]) -> None:
    """A strip told dearer, larger, or as waste is noticed, and the aims no longer add up."""
    plan = planned(make, 40.0)
    (layout,) = plan.layouts
    assert layout.glueup is not None
    members = tuple(
        replace(m, strips=tuple(replace(s, **change) for s in m.strips)) for m in layout.glueup.members
    )
    wrong = replace(plan, layouts=(replace(layout, glueup=replace(layout.glueup, members=members)),))
    assert {f.code for f in audit(wrong)} >= codes
