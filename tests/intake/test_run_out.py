"""Zones that are drawn out over the edge of their part end in the groove around it."""

from __future__ import annotations

import pytest
from shapely.geometry import Polygon

from nestyield.intake.run_out import run_out
from nestyield.model import Outline, Part, Shape, Zone


def part(zone: Shape, role: str = "pocket") -> Part:
    depth = None if role == "no_seam" else 8.0
    return Part(
        name="bar",
        drawing="bar.dxf",
        thickness_mm=20.0,
        outline=Outline.rectangle(0, 0, 200, 100),
        zones=(Zone(name="Z", role=role, shape=zone, face="front", depth_mm=depth),),
    )


def ground(shape: Shape) -> Polygon:
    return Polygon(shape.outer.points_mm)


@pytest.mark.outside(
    source="worked by hand: 6 mm beyond the edge of a 100 mm bar is all the cutter takes", mark="D"
)
def test_ends_in_the_groove() -> None:
    """A pocket drawn 50 mm over both long edges is cut 6 mm over them with a cutter of 6 mm."""
    (cut,) = run_out([part(Shape(outer=Outline.rectangle(80, -50, 120, 150)))], 6.0)
    assert ground(cut.zones[0].shape).bounds == pytest.approx((80, -6, 120, 106), abs=0.01)
    assert ground(cut.zones[0].shape).area == pytest.approx(40 * 112, rel=1e-4)


def test_what_keeps_within_is_left_as_it_is() -> None:
    """A pocket that runs out less than the groove, and a region that is not cut, stay the same objects."""
    little = part(Shape(outer=Outline.rectangle(80, -5.5, 120, 40)))
    seam = part(Shape(outer=Outline.rectangle(80, -50, 120, 150)), "no_seam")
    assert run_out([little, seam], 6.0) == [little, seam]
    assert run_out([little], 6.0)[0] is little
