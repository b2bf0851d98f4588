"""Cautions of slivers beside the cutter's path, of ends beyond the screws, and the search for metal."""

from __future__ import annotations

import json
from typing import Any

import pytest

from nestyield.audit.check import audit
from nestyield.model import Defect, Order, Outline, Preferences, Shape
from nestyield.model.facts import FarFromScrews, FrameCutOpen, SearchMetal
from nestyield.paperwork.phrases import phrase
from nestyield.planfile import dumps, loads
from nestyield.planning.run import make_plan
from nestyield.words import Words


def planned(make: Any, width: float, **more: Any) -> Any:
    shop = make.shop(
        [make.board("B", 400, width, **more)],
        [make.part("p", 370, 100, grain_tolerance_deg=0.0)],
        [Order(name="o", part="p")],
    )
    return make_plan(shop, seed=1, effort=1, seconds=600.0, workers=1)


@pytest.mark.parametrize(("width", "told"), [(130.0, False), (112.0, True)])
def test_a_sliver_beside_the_cutter_is_told(make: Any, width: float, told: bool) -> None:
    """A part of 370 x 100 mm with a cutter of 6 mm and margins of 5 mm: 12 mm more leave no frame on a board."""
    plan = planned(make, width)
    (layout,) = plan.layouts
    (at,) = layout.placements
    low = at.y_um / 1000 - (100.0 if at.angle_deg % 360 == 180 else 0.0)
    left = at.x_um / 1000 - (370.0 if at.angle_deg % 360 == 180 else 0.0)
    beside = min(low, width - low - 100, left, 400 - left - 370) - 6.0
    assert (beside < 3.0) == any(isinstance(c, FrameCutOpen) for c in layout.cautions)
    if told:
        assert beside < 3.0
        room = {"lower": low, "upper": width - low - 100, "left": left, "right": 400 - left - 370}
        (caution,) = (c for c in layout.cautions if isinstance(c, FrameCutOpen))
        assert caution.ends == (tuple(sorted(end for end, by in room.items() if by - 6.0 < 3.0)),)


def test_slivers_are_told_where_they_are(make: Any) -> None:
    """The audit notices an end too many, one too few, and an end of another name."""
    data = json.loads(dumps(planned(make, 112.0)))
    (told,) = (c for c in data["layouts"][0]["cautions"] if c["code"] == "frame cut open")
    (ends,) = told["ends"]
    others = [e for e in ("lower", "upper", "left", "right", "hole") if e not in ends]
    for wrong in ([*ends, others[0]], ends[:-1], [*ends[:-1], others[-1]]):
        told["ends"] = [wrong]
        found = audit(loads(json.dumps(data).encode()))
        assert any(f.code == "A519" and "slivers" in f.message for f in found), wrong


@pytest.mark.parametrize(
    ("ends", "words"),
    [
        ((("left", "lower"),), "at the left and lower edges of the blank: slivers"),
        (
            (("upper",), ("hole", "left")),
            "(part 1 at the upper edge of the blank; part 2 at the left edge and a hole",
        ),
        ((), "at an edge of the blank: slivers"),
    ],
)
def test_the_sheet_names_the_edge(ends: Any, words: str) -> None:
    """The caution says which edges are thin, beside which part where they differ."""
    fact = FrameCutOpen(placements=tuple(range(max(1, len(ends)))), under_um=3000, ends=ends)
    assert words in phrase(fact, Words("mm"))


def test_the_audit_misses_a_caution_left_out(make: Any) -> None:
    """A plan without the caution, or with one that is not so, does not pass."""
    data = json.loads(dumps(planned(make, 112.0)))
    assert audit(loads(json.dumps(data).encode())) == ()
    kept = data["layouts"][0]["cautions"]
    data["layouts"][0]["cautions"] = [c for c in kept if c["code"] != "frame cut open"]
    assert "A519" in {f.code for f in audit(loads(json.dumps(data).encode()))}
    data["layouts"][0]["cautions"] = [
        *kept,
        {"code": "far from screws", "positions": ["A"], "beyond_um": 200000},
    ]
    assert "A519" in {f.code for f in audit(loads(json.dumps(data).encode()))}


def test_an_end_beyond_the_screws_is_told(make: Any) -> None:
    """Waste at one end alone has room for screws: a part 600 mm long reaches more than 200 mm beyond them."""
    shop = make.shop(
        [make.board("B", 700, 112)],
        [make.part("p", 600, 100, grain_tolerance_deg=0.0)],
        [Order(name="o", part="p")],
        settings={"prefer": Preferences(largest_leftover=0.0)},  # else the part stands in the middle
    )
    (layout,) = make_plan(shop, seed=1, effort=1, seconds=600.0, workers=1).layouts
    assert layout.work is not None
    assert layout.work.hold_downs
    (at,) = layout.placements
    left = at.x_um / 1000 - (600.0 if at.angle_deg % 360 == 180 else 0.0)
    screws = [h.x_mm for h in layout.work.hold_downs]
    beyond = max(min(screws) - left, left + 600.0 - max(screws))
    told = [c for c in layout.cautions if isinstance(c, FarFromScrews)]
    assert bool(told) == (beyond > 200.0)
    assert told, "the case is made so that it is told"


def test_wood_with_screw_holes_is_searched_first(make: Any) -> None:
    """The first step of a board with screw holes is the search for metal, before it is planed; the audit asks it."""
    hole = Defect(name="defects.csv row 2", kind="screw hole", shape=Shape(outer=Outline.circle(390, 120, 2)))
    plan = planned(make, 130.0, defects=(hole,))
    (layout,) = plan.layouts
    first = layout.work.stages[0].steps[0]
    assert first == SearchMetal(kinds=("screw hole",), defects=("defects.csv row 2",))
    data = json.loads(dumps(plan))
    data["layouts"][0]["work"]["stages"][0]["steps"].pop(0)
    assert "A529" in {f.code for f in audit(loads(json.dumps(data).encode()))}
