from __future__ import annotations

from dataclasses import replace

import pytest

from nestyield.model import Defect, Leftover, Outline, Shape
from nestyield.paperwork import flaws, hatch
from nestyield.paperwork.curves import move_of


def with_defects(layout, *defects, outer=None):
    blank = replace(layout.blank, defects=tuple(defects))
    if outer is not None:
        blank = replace(blank, shape=Shape(outer=outer))
    return replace(layout, blank=blank)


def defect(kind, box, name="row 1"):
    return Defect(name=name, kind=kind, shape=Shape(outer=Outline.rectangle(*box)), face="top", depth_mm=5.0)


@pytest.fixture
def layout(plan):
    """A blank of 400 x 300 at zero, bare of defects."""
    first = plan.layouts[0]
    return with_defects(first, outer=Outline.rectangle(0, 0, 400, 300))


def test_wane_on_the_datum_edge_is_told(layout):
    """Wane on the lower edge: measured from the upper one; with that gone too, from a struck line."""
    assert flaws.datum_edges(layout, "mm") == []
    lower = defect("wane", (20, 0, 350, 16))
    (told,) = flaws.datum_edges(with_defects(layout, lower), "mm")
    assert "lower datum edge has wane from 20 to 350 mm" in told
    assert "from the upper edge, 300 mm less the figure" in told
    both = with_defects(layout, lower, defect("bark", (0, 290, 390, 300), "row 2"))
    (told,) = flaws.datum_edges(both, "mm")
    assert "straight line on the sound face" in told
    short = with_defects(layout, defect("wane", (20, 0, 60, 16)))
    assert flaws.datum_edges(short, "mm") == []
    away = with_defects(layout, defect("wane", (20, 1, 350, 16)), defect("stain", (0, 0, 400, 16), "row 2"))
    assert flaws.datum_edges(away, "mm") == []


def test_a_missing_corner_is_told(layout):
    """A clipped datum corner, and an edge that only a point touches."""
    clipped = with_defects(layout, outer=Outline.polygon([(40, 0), (400, 0), (400, 300), (0, 300), (0, 40)]))
    assert flaws.datum_edges(clipped, "mm") == [
        "There is no wood at the datum corner: it is where the two datum edges meet when a straightedge is "
        "laid along each."
    ]
    pointed = with_defects(
        layout, outer=Outline.polygon([(0, 100), (200, 0), (400, 100), (400, 300), (0, 300)])
    )
    assert "Little wood touches the lower datum edge" in flaws.datum_edges(pointed, "mm")[0]


def test_rows_leave_out_what_is_filled(plan, layout):
    """Each defect has its place from the datum edges; those named are left out."""
    knot = defect("knot", (300, 200, 320, 230), "k")
    held = with_defects(layout, defect("screw hole", (10, 20, 17, 27)), knot)
    assert flaws.rows(plan, held, ["k"]) == [["SC", "screw hole", "top", "5.0", "10.0", "20.0", "7 × 7"]]


def test_leftovers_name_what_they_hold(layout):
    """Defects in a leftover are counted by kind."""
    left = Leftover(
        name="R-1-a",
        shape=Shape(outer=Outline.rectangle(0, 200, 400, 300)),
        area_mm2=40000.0,
        rectangle_mm=(0.0, 200.0, 400.0, 100.0),
        usable=True,
        value=0.0,
    )
    holes = [defect("screw hole", (x, 250, x + 7, 257), f"row {x}") for x in (20, 90)]
    held = replace(
        with_defects(
            layout, *holes, defect("wane", (0, 0, 9, 100), "w"), defect("knot", (0, 195, 9, 210), "k")
        ),
        leftovers=(left,),
    )
    assert flaws.inside(held, left) == "knot, 2 × screw hole"
    assert flaws.inside(with_defects(held), left) == "none"


def test_knots_under_the_cutter(plan):
    """A knot in a pocket is told with the pocket's name, one in the waste is not."""
    layout = plan.layouts[0]
    assert flaws.under_the_cutter(plan, with_defects(layout)) == []
    placement = layout.placements[0]
    part = plan.shop.part(placement.part)
    zone = next(z for z in part.zones if z.role == "pocket")
    x, y = hatch.centre([move_of(placement).outline(zone.shape.outer)])
    here = with_defects(layout, defect("knot", (x - 3, y - 3, x + 3, y + 3)))
    (told,) = flaws.under_the_cutter(plan, here)
    assert zone.name.split("#")[0] in told
    stain = with_defects(layout, defect("stain", (x - 3, y - 3, x + 3, y + 3)))
    assert flaws.under_the_cutter(plan, stain) == []
