"""Full-size templates over several pages."""

import pytest

from nestyield.paperwork import curves, template
from nestyield.paperwork.canvas import Area, Text
from nestyield.paperwork.page import MARGIN_MM


def test_each_page_shows_the_outline_at_full_size(plan):
    """The outline on a page is the part's own, at 1:1, arcs included."""
    pages = template.template(plan, plan.layouts[0], "a4")
    assert len(pages) == 3
    want = plan.shop.parts[0].outline
    for page in pages[1:]:
        (outline,) = [i.outlines[0] for i in page.items if isinstance(i, Area) and i.style == "outline"]
        assert abs(outline.signed_area_mm2) == pytest.approx(abs(want.signed_area_mm2), rel=1e-9)


def test_crosses_of_neighbors_lie_on_each_other(plan):
    """Where two pages overlap, both carry the same crosses at the same places of the blank."""
    pages = template.template(plan, plan.layouts[0], "a4")[1:]
    places = []
    for page in pages:
        x, y = next(
            i.outlines[0].points_mm[0] for i in page.items if isinstance(i, Area) and i.style == "outline"
        )
        crosses = [
            curves.circle_of(i.outlines[0]) for i in page.items if isinstance(i, Area) and i.style == "frame"
        ]
        places.append({(round(cx - x, 6), round(cy - y, 6)) for cx, cy, _ in crosses})
    assert len(places[0] & places[1]) == 2


def test_pages_cover_every_part(plan):
    """No part of an outline lies outside the frames of the pages."""
    for layout in plan.layouts:
        for paper in ("a4", "letter"):
            pages = template.template(plan, layout, paper)[1:]
            first = pages[0]
            outlines = [i.outlines[0] for i in first.items if isinstance(i, Area) and i.style == "outline"]
            x0, y0, _, _ = curves.bounds(outlines)
            assert x0 > MARGIN_MM
            assert y0 > MARGIN_MM
            last = pages[-1]
            outlines = [i.outlines[0] for i in last.items if isinstance(i, Area) and i.style == "outline"]
            _, _, x1, y1 = curves.bounds(outlines)
            assert x1 < last.width_mm - MARGIN_MM
            assert y1 < last.height_mm - MARGIN_MM


def test_too_many_pages_make_no_template(plan, monkeypatch):
    """A template that nobody would tape together is not written."""
    monkeypatch.setattr(template, "MOST_PAGES", 1)
    assert template.template(plan, plan.layouts[0], "a4") == []


@pytest.mark.outside(source="ISO 3098-1: letters of 2.5 mm, the least of its series for drawings", mark="M")
def test_letters_of_a_template_are_large_enough(plan):
    """Capitals are 2.5 mm high at least on every page; 0.729 of the type's size, as the font has them."""
    for page in template.template(plan, plan.layouts[0], "a4"):
        for item in page.items:
            if isinstance(item, Text):
                assert item.size * 0.729 >= 2.5, item.text
