"""Shop sheets: what a maker must find on them."""

import math
from xml.etree import ElementTree

import pytest

from nestyield.paperwork import curves, fonts, marks, sheet, sheet_figure
from nestyield.paperwork.canvas import Area, Text
from nestyield.paperwork.look import STYLES
from nestyield.paperwork.page import MARGIN_MM, SIZES


@pytest.fixture(scope="module", params=["a4", "letter"])
def pages(request, plan):
    return sheet.sheet(plan, plan.layouts[0], request.param)


def texts(pages):
    """All texts, in order."""
    return [item for page in pages for item in page.items if isinstance(item, Text)]


def test_screws_lie_by_the_pins_on_the_picture_as_on_the_blank(plan, monkeypatch):
    """On each picture of the bed distances from screws to pins are those of the plan, at one scale."""
    drawn = {"pin": [], "hold_down": []}
    for name, spots in drawn.items():
        monkeypatch.setattr(marks, name, lambda canvas, at, radius, spots=spots: spots.append(at))
    layout = plan.layouts[0]
    sheet.sheet(plan, layout, "a4")
    pins, holds = layout.work.pins, layout.work.hold_downs
    want = [math.dist((h.x_mm, h.y_mm), (p.x_mm, p.y_mm)) for h in holds for p in pins]
    assert layout.work.positions
    for k in range(len(layout.work.positions) + 1):  # the first picture is that of the blank
        own_pins = drawn["pin"][k * len(pins) : (k + 1) * len(pins)]
        own_holds = drawn["hold_down"][k * len(holds) : (k + 1) * len(holds)]
        got = [math.dist(h, p) for h in own_holds for p in own_pins]
        scale = sum(got) / sum(want)
        assert got == pytest.approx([d * scale for d in want], rel=1e-6)


def test_everything_is_said(pages):
    """Dimensions from both edges, pins, screws, axis, order of work, keep-outs and cautions are there."""
    said = {t.text for t in texts(pages)}
    for words in (
        "C07",
        "43.7  part",
        "347.3  part",
        "26.2  part",
        "18  H1",
        "125  H1, H2, flip axis",
        "128  seam 1",
        "640",
        "3. Setup B: top face up",
        "Order of work",
        "Turn the blank over about the flip axis, top face up, as in Setup B.",
        "K1 clamp block: keeps cutter and blank out.",
        "50 mm",
    ):
        assert any(words.replace("  ", " ") in s.replace("  ", " ") for s in said), words


def test_no_text_leaves_the_page(pages):
    """Every text lies within the edges of its page."""
    for page in pages:
        for t in page.items:
            if not isinstance(t, Text) or t.angle_deg % 360:
                continue
            wide = fonts.width(t.text, t.size, STYLES[t.style].bold)
            left = {"start": t.x, "middle": t.x - wide / 2, "end": t.x - wide}[t.anchor]
            assert left >= 4.0, t.text
            assert left + wide <= page.width_mm - 4.0, t.text
            assert 4.0 <= t.y <= page.height_mm - 4.0, t.text


def test_no_two_texts_cover_each_other(pages):
    """Level texts of a page keep clear of each other."""
    for page in pages:
        boxes = []
        for t in page.items:
            if isinstance(t, Text) and not t.angle_deg % 360:
                wide = fonts.width(t.text, t.size, STYLES[t.style].bold)
                left = {"start": t.x, "middle": t.x - wide / 2, "end": t.x - wide}[t.anchor]
                boxes.append((left, t.y, left + wide, t.y + t.size * 0.7, t.text))
        for i, a in enumerate(boxes):
            for b in boxes[i + 1 :]:
                wide = min(a[2], b[2]) - max(a[0], b[0])
                high = min(a[3], b[3]) - max(a[1], b[1])
                assert wide <= 0.3 or high <= 0.3, (a[4], b[4])


def test_the_figure_is_to_scale(plan):
    """The outline on the paper is the part's own outline at the scale that is written beside it."""
    pages = sheet.sheet(plan, plan.layouts[0], "a4")
    outline = next(i for p in pages for i in p.items if isinstance(i, Area) and i.style == "outline")
    ratio = outline.outlines[0].signed_area_mm2 / plan.shop.parts[0].outline.signed_area_mm2
    scale = next(t.text for t in texts(pages) if t.text.startswith("Scale 1:"))
    written = 1.0 / float(scale.removeprefix("Scale 1:").split(".")[0])
    assert abs(ratio) ** 0.5 == pytest.approx(written, rel=1e-6)


def test_flip_keeps_the_axis():
    """A mirror about a line leaves the points of that line where they are."""
    move = curves.reflection((10.0, 20.0), (50.0, 35.0))
    assert move.point((10.0, 20.0)) == pytest.approx((10.0, 20.0))
    assert move.point((50.0, 35.0)) == pytest.approx((50.0, 35.0))
    level = curves.reflection((0.0, 5.0), (9.0, 5.0))
    assert level.point((3.0, 1.0)) == pytest.approx((3.0, 9.0))
    assert level.mirrored


def test_scales_are_written_as_drawings_do():
    """A quarter is 1:4."""
    assert sheet_figure.scale_words(0.25) == "1:4"
    assert sheet_figure.scale_words(0.4) == "1:2.5"
    assert sheet_figure.scale_words(1.0) == "1:1"


def test_svg_pages_are_those_of_the_pdf(rendered, plan):
    """There is one SVG a page, of the page's size."""
    names = sorted(n for n in rendered if n.startswith("sheets/C07-a4") and n.endswith(".svg"))
    assert len(names) == len(sheet.sheet(plan, plan.layouts[0], "a4"))
    for name in names:
        root = ElementTree.fromstring(rendered[name].decode())
        assert (root.get("width"), root.get("height")) == ("210mm", "297mm")


def test_names_do_no_harm(build, nasty):
    """A long or odd name neither breaks a sheet nor runs out of it."""
    plan = build.plan(blank_name=nasty, part_name=nasty, order_name=nasty, species=nasty, shop_name=nasty)
    for page in sheet.sheet(plan, plan.layouts[0], "letter"):
        for t in page.items:
            if isinstance(t, Text) and not t.angle_deg % 360:
                wide = fonts.width(t.text, t.size, STYLES[t.style].bold)
                left = {"start": t.x, "middle": t.x - wide / 2, "end": t.x - wide}[t.anchor]
                assert left > 0
                assert left + wide < SIZES["letter"][0] - MARGIN_MM / 3
