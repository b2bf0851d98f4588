"""Glue-up sheets: could somebody glue it up from the sheet alone?"""

import dataclasses

import pytest

from nestyield.glueup.record import glue_up
from nestyield.model import GlueUpRules
from nestyield.paperwork import fonts, glue_sheet
from nestyield.paperwork.canvas import Text
from nestyield.paperwork.look import STYLES


@pytest.fixture(scope="module", params=["a4", "letter"])
def pages(request, glued):
    return glue_sheet.glue_sheet(glued, glued.layouts[-1], request.param)


def test_everything_is_said(pages):
    """Pieces, faces, edges, what comes off, marks, seams, clamps, order of work and cautions are there."""
    said = [t.text for page in pages for t in page.items if isinstance(t, Text)]
    for words in ("K-1", "K-2", "K-3", "bottom face up", "end for end", "4.5", "11.5", "210.0", "190.0"):
        assert words in said, words
    whole = " ".join(said)
    for words in ("80 seam 1", "145 seam 2", "Joint each edge", "Set the marks", "push blocks"):
        assert words in whole, words
    assert "Moisture differs by 0.5 points between the boards; the shop allows 2 between" in whole
    assert "The manual of your machine" in whole


def covered(pages):
    """Pairs of level texts that cover each other, and texts that leave the paper."""
    out = []
    for page in pages:
        boxes = []
        for t in page.items:
            if isinstance(t, Text) and not t.angle_deg % 360:
                wide = fonts.width(t.text, t.size, STYLES[t.style].bold)
                left = {"start": t.x, "middle": t.x - wide / 2, "end": t.x - wide}[t.anchor]
                if left <= 4 or left + wide >= page.width_mm - 4:
                    out.append(("paper", t.text))
                boxes.append((left, t.y, left + wide, t.y + t.size * 0.7, t.text))
        for i, a in enumerate(boxes):
            for b in boxes[i + 1 :]:
                wide = min(a[2], b[2]) - max(a[0], b[0])
                high = min(a[3], b[3]) - max(a[1], b[1])
                if wide > 0.3 and high > 0.3:
                    out.append((a[4], b[4]))
    return out


def test_no_two_texts_cover_each_other(pages):
    """Level texts of a page keep clear of each other and of the edges of the paper."""
    assert covered(pages) == []


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("units", ["mm", "in"])
@pytest.mark.parametrize("kind", ["spline", "dowel"])
def test_with_splines_and_dowels_too(build, paper, units, kind):
    """With slots and holes drawn no text covers another, in both units and on both papers."""
    plan = build.glued_plan(units)
    settings = dataclasses.replace(plan.shop.settings, glueup=GlueUpRules(reinforce=kind))
    shop = dataclasses.replace(plan.shop, settings=settings)
    layout = dataclasses.replace(plan.layouts[-1], glueup=glue_up(plan.layouts[-1], shop))
    plan = dataclasses.replace(plan, shop=shop, layouts=(layout,))
    assert layout.glueup.keys
    assert covered(glue_sheet.glue_sheet(plan, layout, paper)) == []


def test_only_glue_ups_get_one(plan, rendered, glued):
    """A blank of one piece has no glue-up sheet; a glue-up has it beside its shop sheet."""
    assert glue_sheet.glue_sheet(plan, plan.layouts[0], "a4") == []
    assert not any("glue-up" in name for name in rendered)


def test_inches(build):
    """A shop in inches reads inches and pounds."""
    plan = build.glued_plan("in")
    pages = glue_sheet.glue_sheet(plan, plan.layouts[-1], "letter")
    whole = " ".join(t.text for page in pages for t in page.items if isinstance(t, Text))
    assert "lbf" in whole
    assert " mm" not in whole
    assert "kN" not in whole
