"""Tables of the wood's defects."""

from __future__ import annotations

import re
from dataclasses import replace

from nestyield.model import Defect, Inspection, Leftover, LeftoverDefects, Outline, Shape
from nestyield.paperwork import flaws


def with_defects(layout, *defects):
    blank = replace(layout.blank, defects=defects, shape=Shape(outer=Outline.rectangle(0, 0, 400, 300)))
    return replace(layout, blank=blank)


def defect(kind, box, name="row 1"):
    return Defect(name=name, kind=kind, shape=Shape(outer=Outline.rectangle(*box)), face="top", depth_mm=5.0)


def test_rows_leave_out_what_is_filled(plan):
    """Each defect has its place from the datum edges; those named are left out."""
    knot = defect("knot", (300, 200, 320, 230), "k")
    held = with_defects(plan.layouts[0], defect("screw hole", (10, 20, 17, 27)), knot)
    assert flaws.rows(plan, held, ["k"]) == [["SC", "screw hole", "top", "5", "10.0", "20.0", "7 × 7"]]


def test_leftovers_name_what_they_hold(plan):
    """Defects that the plan reports of a leftover are counted by kind, each name once."""
    shape = Shape(outer=Outline.rectangle(0, 200, 400, 300))
    left = Leftover(
        name="R-1-a", shape=shape, area_mm2=40000.0, rectangle_mm=(0.0, 200.0, 400.0, 100.0), usable=True
    )
    boxes = {"a": (20, 250, 27, 257), "b": (90, 250, 97, 257), "k": (0, 195, 9, 210), "w": (0, 0, 9, 100)}
    kinds = {"a": "screw hole", "b": "screw hole", "k": "knot", "w": "wane"}
    layout = with_defects(plan.layouts[0], *(defect(kinds[n], box, n) for n, box in boxes.items()))
    told = LeftoverDefects(leftover="R-1-a", defects=("a", "b", "k"))
    layout = replace(layout, inspection=Inspection(leftovers=(told,)))
    assert flaws.inside(layout, left) == "knot, 2 × screw hole"
    assert flaws.inside(layout, replace(left, name="R-1-b")) == "none"


def test_the_report_tells_the_clear_place_of_a_leftover(rendered):
    """T-3-a holds no defect, so all of its 360 by 105 mm is clear; no cell holds anything but words."""
    page = rendered["report.html"].decode()
    row = re.search(r'<tr><th scope="row"><bdi>T-3-a</bdi></th>(<td.*?)</tr>', page)
    assert row is not None
    cells = dict(re.findall(r'<td data-label="([^"]*)"[^>]*>([^<]*)</td>', row.group(1)))
    cells = {k: v.replace("\u00a0", " ") for k, v in cells.items()}
    assert cells["Length × width"] == "360.0 × 105.0"
    assert cells["Defects in it"] == "none"
    assert cells["Clear of them"] == "360 × 105 mm"
    assert "built-in" not in page
    assert " at 0x" not in page
