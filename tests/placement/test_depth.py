from __future__ import annotations

from dataclasses import replace

import pytest
from things import block, knot, plank, pocket, rect

from nestyield.geometry.grid import area_um2
from nestyield.model import Zone
from nestyield.placement.depth import ThicknessSplit, defect_span, removed, staying, thickness_splits, where
from nestyield.placement.parts import part_shape

SPOT = rect(90, 30, 110, 50)


def area_mm2(region):
    return area_um2(region) / 1e6


@pytest.mark.parametrize(
    ("face", "depth", "front_up", "top_off", "want"),
    [
        # 44 mm wood, 40 mm part; depths from the part's front face
        ("top", 10.0, True, 2.0, (0.0, 8.0)),
        ("top", 10.0, True, 3.2, (0.0, 6.8)),
        ("top", 10.0, False, 2.0, (32.0, 40.0)),
        ("top", 2.0, True, 2.0, None),
        ("top", 43.0, True, 2.0, (0.0, 40.0)),
        ("bottom", 10.0, True, 2.0, (32.0, 40.0)),
        ("bottom", 10.0, True, 3.2, (30.8, 40.0)),
        ("bottom", 10.0, False, 2.0, (0.0, 8.0)),
        ("bottom", 2.0, True, 2.0, None),
        ("bottom", 2.5, True, 2.0, (39.5, 40.0)),
        ("through", None, True, 2.0, (0.0, 40.0)),
        ("through", 5.0, False, 2.0, (0.0, 40.0)),
        ("top", 44.0, True, 3.2, (0.0, 40.0)),
        ("top", 60.0, True, 3.2, (0.0, 40.0)),
    ],
)
def test_spans_by_hand(face, depth, front_up, top_off, want):
    """What planing leaves of a defect, counted from the part's front face."""
    got = defect_span(
        knot(SPOT, face, depth), 44.0, block(), ThicknessSplit(front_up=front_up, top_off_mm=top_off)
    )
    assert got == (None if want is None else pytest.approx(want))


def test_wood_thinner_than_the_part_is_not_planed():
    """Within the thickness tolerance nothing comes off, and a defect keeps its depth."""
    got = defect_span(knot(SPOT, "top", 10.0), 39.9, block(), ThicknessSplit(front_up=True, top_off_mm=0.0))
    assert got == pytest.approx((0.0, 10.0))


def shape_with(*zones):
    return part_shape(block(zones=zones), 0.02)


def test_a_pocket_removes_what_it_reaches_to_the_end_of():
    """A front pocket of 12 removes 0 to 12, not 0 to 12.01; a back pocket counts from the back."""
    front = shape_with(pocket(rect(80, 20, 120, 60), 12.0))
    assert area_mm2(removed(front, (0.0, 12.0))) == pytest.approx(1600)
    assert removed(front, (0.0, 12.01)) == []
    assert area_mm2(removed(front, (3.0, 11.0))) == pytest.approx(1600)
    back = shape_with(pocket(rect(80, 20, 120, 60), 12.0, "back"))
    assert removed(back, (0.0, 12.0)) == []
    assert area_mm2(removed(back, (28.0, 40.0))) == pytest.approx(1600)
    assert removed(back, (27.9, 40.0)) == []


def test_pockets_from_both_faces_that_meet_are_an_opening_where_they_overlap():
    """15 from the front and 25 from the back make 40: a through defect fits where both lie, 20 x 40 mm."""
    both = (pocket(rect(80, 20, 120, 60), 15.0), pocket(rect(100, 20, 140, 60), 25.0, "back", name="Q"))
    assert area_mm2(removed(shape_with(*both), (0.0, 40.0))) == pytest.approx(800)
    short = (both[0], pocket(rect(100, 20, 140, 60), 24.9, "back", name="Q"))
    assert removed(shape_with(*short), (0.0, 40.0)) == []


def test_the_strictest_zone_decides_where_zones_overlap():
    """A part that refuses knots, a zone that allows them, and one in it that refuses: 100 x 80 less 20 x 20."""
    allows = Zone(name="A", role="no_seam", shape=rect(0, 0, 100, 80), tolerates={"knot": "allowed"})
    refuses = Zone(name="B", role="no_seam", shape=rect(10, 10, 30, 30), tolerates={"knot": "refused"})
    part = block(zones=(allows, refuses))
    shape = part_shape(part, 0.02)
    assert area_mm2(where(shape, part, "knot", "allowed")) == pytest.approx(8000 - 400)
    assert area_mm2(where(shape, part, "knot", "refused")) == pytest.approx(8000 + 400)
    assert where(shape, part, "knot", "filled") == []
    assert area_mm2(where(shape, part, "check", "refused")) == pytest.approx(16000)


def test_metal_is_refused_whatever_the_part_says():
    """No word of the shop file lets a cutter into metal."""
    part = block(tolerates={"metal": "allowed"})
    shape = part_shape(part, 0.02)
    assert area_mm2(where(shape, part, "metal", "refused")) == pytest.approx(16000)
    assert where(shape, part, "metal", "allowed") == []


def test_wood_that_stays_is_what_is_minded_less_what_is_removed():
    """16,000 less a pocket of 1,600 that takes the span away."""
    part = block(zones=(pocket(rect(80, 20, 120, 60), 12.0),))
    shape = part_shape(part, 0.02)
    assert area_mm2(staying(shape, part, "knot", (0.0, 12.0), "refused")) == pytest.approx(14400)
    assert area_mm2(staying(shape, part, "knot", (0.0, 13.0), "refused")) == pytest.approx(16000)


def offs(part, blank, front_up=True, planing=0.8):
    return [f.top_off_mm for f in thickness_splits(part, blank, planing, front_up)]


def test_choices_of_planing_are_where_something_changes():
    """Even first, the least, and what just takes a top defect away or brings it into a pocket's depth."""
    assert offs(block(), plank()) == pytest.approx([2.0, 0.8])
    shallow = plank(defects=(knot(SPOT, "top", 3.0),))
    assert offs(block(), shallow) == pytest.approx([2.0, 0.8, 3.0])
    too_deep = plank(defects=(knot(SPOT, "top", 3.3),))
    assert offs(block(), too_deep) == pytest.approx([2.0, 0.8])
    deep = plank(defects=(knot(SPOT, "top", 10.0),))
    assert offs(block(zones=(pocket(rect(80, 20, 120, 60), 7.5),)), deep) == pytest.approx([2.0, 0.8, 2.5])


def test_sheets_may_lose_nothing_on_one_face():
    """Without grain no planing allowance is kept, so the least is 0."""
    sheet = replace(plank(), grain_deg=None)
    assert min(offs(block(), sheet)) == 0.0
