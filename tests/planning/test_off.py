"""By how much a blank can be off: each error counted, and told as a sum."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import pytest

from nestyield.audit.check import audit
from nestyield.model import (
    GlueUpRules,
    Holding,
    MachineLimits,
    OffTerm,
    Order,
    Outline,
    Plan,
    Shape,
    Zone,
)
from nestyield.paperwork import off_by
from nestyield.planfile import dumps, loads
from nestyield.planning.run import make_plan
from nestyield.words import Words

ONE = [Order(name="o", part="body")]
GLUE = GlueUpRules(seam_tolerance_mm=0.4, joint_cost=1.0, most_layers=2)


def planned(make: Any, pieces: list[Any], part: Any, **more: Any) -> Plan:
    beds = more.pop("beds", [make.bed()])
    settings = {
        "glueup": GLUE,
        "machines": MachineLimits(saw_tolerance_mm=0.7),
        "holding": Holding(flip_tolerance_mm=0.2),
        **more,
    }
    shop = make.shop(pieces, [part], ONE, beds=beds, settings=settings)
    return make_plan(shop, seed=1, effort=1, seconds=600.0, workers=1)


def terms(plan: Plan) -> list[tuple[str, int, int]]:
    (layout,) = plan.layouts
    assert layout.off is not None
    return [(t.source, t.count, t.each_um) for t in (*layout.off.wood, *layout.off.positions)]


def test_a_whole_piece_is_off_as_it_was_measured(make: Any) -> None:
    """A board measured to 1.5 mm, neither sawn nor glued nor turned over: that, and how near the edge a part comes."""
    plan = planned(make, [make.board("a", 420, 200, measured_mm=1.5)], make.part("body", 380, 180))
    assert terms(plan) == [("measured", 1, 1500)]
    (layout,) = plan.layouts
    assert layout.off is not None
    x0, y0, x1, y1 = 0.0, 0.0, 420.0, 200.0
    at = layout.placements[0]
    turned = at.angle_deg % 180 == 0
    assert turned
    xs = sorted([at.x_um / 1000, at.x_um / 1000 + (380 if at.angle_deg == 0 else -380)])
    ys = sorted([at.y_um / 1000, at.y_um / 1000 + (180 if at.angle_deg == 0 else -180)])
    near = min(xs[0] - x0, x1 - xs[1], ys[0] - y0, y1 - ys[1])
    assert layout.off.edge_um == pytest.approx(1000 * near, abs=20)
    assert audit(plan) == ()


def test_seams_and_layers_add_up(make: Any) -> None:
    """Three boards edge to edge have two seams; two face to face one layer, and the saw cut to the outline."""
    strips = [make.board(n, 420, 66, thickness_mm=47.0) for n in ("a", "b", "c")]
    plan = planned(make, strips, make.part("body", 380, 180))
    assert terms(plan) == [("seam", 2, 400)]
    (layout,) = plan.layouts
    (text,) = off_by.lines(layout, Words("mm"))
    assert "up to 0.8 mm" in text
    assert "2 × 0.4 mm by a seam" in text
    thin = [make.board("a", 420, 200, thickness_mm=24.0, count=2)]
    assert terms(planned(make, thin, make.part("body", 380, 180))) == [("saw cut", 1, 700), ("layer", 1, 400)]


def test_turning_over_is_told_for_what_is_cut_later(make: Any) -> None:
    """A part with a pocket from either face is turned over once; one face alone is not."""
    shape = Shape(outer=Outline.rectangle(100, 60, 180, 120))
    front = Zone(name="F", role="pocket", shape=shape, face="front", depth_mm=10.0)
    bed = make.bed(pin_diameter_mm=6.0)
    both = make.part("body", 380, 180, zones=(front, replace(front, name="B", face="back")))
    plan = planned(make, [make.board("a", 520, 300)], both, beds=[bed])
    assert terms(plan) == [("turned over", 1, 200)]
    assert audit(plan) == ()
    one = planned(make, [make.board("a", 520, 300)], make.part("body", 380, 180, zones=(front,)), beds=[bed])
    assert terms(one) == []
    assert off_by.lines(one.layouts[0], Words("mm")) == []


@pytest.mark.parametrize(
    "fault",
    [
        lambda off: off["wood"].clear(),
        lambda off: off["wood"][0].update(count=1),
        lambda off: off["wood"][0].update(each_um=300),
        lambda off: off["positions"].append({"source": "turned over", "count": 1, "each_um": 200}),
        lambda off: off.update(edge_um=20000),
    ],
)
def test_the_audit_adds_up_again(make: Any, fault: Any) -> None:
    """A term left out, counted wrongly or with another figure, and another edge, make the check speak."""
    strips = [make.board(n, 420, 66, thickness_mm=47.0) for n in ("a", "b", "c")]
    plan = planned(make, strips, make.part("body", 380, 180))
    told = json.loads(dumps(plan))
    fault(told["layouts"][0]["off"])
    assert "A412" in {f.code for f in audit(loads(json.dumps(told).encode()))}


def test_sums(make: Any) -> None:
    """A term counts as often as it says."""
    assert OffTerm(source="seam", count=3, each_um=300).total_um == 900
