"""Tabs, holes and tear-out on paper: figure, steps, table, setups and drawings."""

from __future__ import annotations

import dataclasses
import io
import math
import re

import ezdxf
import pytest
from pypdf import PdfReader

from nestyield.bed.work import work_plan
from nestyield.model import TearOutRisk
from nestyield.model.facts import RisingGrain
from nestyield.paperwork import fonts, look, marks, sheet
from nestyield.paperwork.canvas import Area, Lines, Text
from nestyield.paperwork.curves import bounds, move_of
from nestyield.paperwork.page import MARGIN_MM, SIZES
from nestyield.paperwork.write import render_all
from nestyield.planning.work.stages import with_stages


@pytest.fixture(scope="module")
def tabbed(plan):
    """The plan with the work of its first blank planned by the bed room: holes, screws and tabs."""
    first = plan.layouts[0]
    layout = with_stages(dataclasses.replace(first, work=work_plan(first, plan.shop)), plan.shop)
    assert layout.work.tabs
    assert layout.work.pins
    return dataclasses.replace(plan, layouts=(layout, *plan.layouts[1:]))


@pytest.fixture(scope="module")
def files(tabbed):
    return render_all(tabbed)


def said(files, name="sheets/C07-a4.pdf"):
    return " ".join(" ".join(p.extract_text().split()) for p in PdfReader(io.BytesIO(files[name])).pages)


def test_tabs_are_listed_with_number_and_place(tabbed, files):
    """Each tab stands in a table with its place from the datum edges, and in the step that cuts the outline."""
    text = said(files)
    layout = tabbed.layouts[0]
    x0, y0, _, _ = bounds([layout.blank.shape.outer])
    for k, tab in enumerate(layout.work.tabs, start=1):
        assert re.search(rf"\bT{k} {tab.x_mm - x0:.1f} {tab.y_mm - y0:.1f}\b", text), k
    n = len(layout.work.tabs)
    assert f"Outline, through cut, last; leave tabs T1 to T{n}" in text
    assert "Tabs left in the cut, 8 mm wide" in text


def test_tabs_are_drawn_across_the_groove(tabbed, files):
    """The DXF has a closed outline a tab on a layer of its own, as long as the cutter is wide, on the outline."""
    layout = tabbed.layouts[0]
    doc = ezdxf.read(io.StringIO(files["drawings/C07.dxf"].decode()))
    found = [e for e in doc.modelspace() if e.dxf.layer == "TAB"]
    assert len(found) == len(layout.work.tabs)
    cutter = tabbed.shop.settings.cutter_diameter_mm
    for entity, tab in zip(found, layout.work.tabs):
        points = [(x, y) for x, y, *_ in entity.get_points()]
        sides = sorted(math.dist(a, b) for a, b in zip(points, [*points[1:], points[0]]))
        assert sides == pytest.approx(sorted([cutter, cutter, tab.width_mm, tab.width_mm]), abs=1e-3)
        nearest = min(
            math.dist(((a[0] + b[0]) / 2, (a[1] + b[1]) / 2), (tab.x_mm, tab.y_mm))
            for a, b in zip(points, [*points[1:], points[0]])
        )
        assert nearest < 0.01
    texts = {e.dxf.text for e in doc.modelspace().query("TEXT")}
    assert {f"T{k}" for k in range(1, len(found) + 1)} <= texts


def test_holes_and_pins_have_names_of_their_own(files):
    """On the sheet a hole of the blank is H, a pin of the table P, and holes go on pins by those names."""
    text = said(files)
    assert re.search(r"Put hole H\d on pin P\d", text)
    assert re.search(r"Drill holes H1, H2.*Write their names on the wood", text)
    assert not re.search(r"hole P\d", text)
    assert "Pin P1 stands in the table where hole H1 lies in Setup A" in text


def test_setups_show_where_the_edge_may_tear(plan, tabbed):
    """A stretch likely to tear is marked in the figure and in the setup in which the outline is cut, not in the other."""
    layout = tabbed.layouts[0]
    outline = move_of(layout.placements[0]).outline(plan.shop.part(layout.placements[0].part).outline)
    line = (outline.points_mm[0], outline.points_mm[1])
    risk = TearOutRisk(
        placement=0,
        line_mm=line,
        length_mm=math.dist(*line),
        angle_deg=30.0,
        rule=RisingGrain(from_deg=15.0, to_deg=75.0),
    )
    marked = dataclasses.replace(layout, watch=(risk,))
    count = sum(
        isinstance(i, Lines) and i.style == "tear" and len(i.lines) >= 1
        for page in sheet.sheet(dataclasses.replace(tabbed, layouts=(marked,)), marked, "a4")
        for i in page.items
    )
    # the figure, one setup of two, and the key's sample
    assert count == 3


def test_line_kinds_are_told_apart():
    """No two kinds of line in one figure are drawn alike: dash pattern and width differ, or the color besides."""
    names = ("room", "watch", "cutter", "center", "datum", "axis", "seam", "pocket-under", "rectangle")
    patterns = [look.STYLES[n].dash for n in names]
    assert len(set(patterns)) == len(patterns)
    # what looked alike on paper: dots against dots
    room, watch = look.STYLES["room"].dash, look.STYLES["watch"].dash
    assert max(watch) < 1.0
    assert min(room) > 2.0


def test_no_text_of_the_key_is_cut_off(tabbed):
    """Every line of the key stands whole and within the page."""
    layout = tabbed.layouts[0]
    pages = sheet.sheet(tabbed, layout, "a4")
    texts = {t.text: t for p in pages for t in p.items if isinstance(t, Text)}
    listed = [
        e.text for e in marks.entries({"part", "datum", "rectangle", "travel", "rising grain", "pin", "tab"})
    ]
    for text in listed:
        if text in texts:
            t = texts[text]
            assert t.x + fonts.width(text, t.size) < SIZES["a4"][0] - MARGIN_MM
    assert {"datum edge", "travel", "H: hole for a pin", "tab left in the cut"} <= set(texts)


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_no_page_is_less_than_half_full(tabbed, paper):
    """Each page of a sheet of several pages is filled to half at least."""
    for layout in tabbed.layouts:
        pages = sheet.sheet(tabbed, layout, paper)
        for page in pages if len(pages) > 1 else ():
            ys = [t.y for t in page.items if isinstance(t, Text) and t.y > MARGIN_MM + 10.0]
            used = (page.height_mm - MARGIN_MM - min(ys)) / (page.height_mm - 2 * MARGIN_MM - 10.0)
            assert used > 0.49, (layout.blank.name, page.title, used)


def test_the_key_never_stands_alone(tabbed):
    """No page has the key and nothing else."""
    for layout in tabbed.layouts:
        for page in sheet.sheet(tabbed, layout, "a4"):
            titles = [t.text for t in page.items if isinstance(t, Text) and t.style == "plain-bold"]
            if "Key" in titles:
                assert len(titles) > 2, titles


def test_screws_of_sections_are_told_with_their_section(plan):
    """Where a screw is driven in one section only, table and drawing say in which."""
    layout = plan.layouts[0]
    first, *rest = layout.work.hold_downs
    work = dataclasses.replace(layout.work, hold_downs=(dataclasses.replace(first, sections=(2,)), *rest))
    other = dataclasses.replace(plan, layouts=(dataclasses.replace(layout, work=work), *plan.layouts[1:]))
    files = render_all(other)
    # driven in no position of this blank, which has no section: dashes for places on the bed
    assert re.search(r"S1 screw \(section 2\) [\d. ]+ head [\d.]+ (waste|leftover \w) – –", said(files))
    doc = ezdxf.read(io.StringIO(files["drawings/C07.dxf"].decode()))
    assert "S1 (section 2)" in {e.dxf.text for e in doc.modelspace().query("TEXT")}


def test_drawn_tabs_lie_on_the_figure(tabbed):
    """The figure of the sheet shows as many tabs as there are, and the setup of the last face shows them again."""
    layout = tabbed.layouts[0]
    page_items = [i for p in sheet.sheet(tabbed, layout, "a4") for i in p.items]
    drawn = sum(isinstance(i, Area) and i.style == "tab" for i in page_items)
    assert drawn == 2 * len(layout.work.tabs) + 1  # and the key's sample


def test_tabs_are_lettered_where_they_are_cut(tabbed, files):
    """The figure letters each tab once, and so does the picture of the setup that cuts the outline; no other."""
    layout = tabbed.layouts[0]
    names = [f"T{k}" for k in range(1, len(layout.work.tabs) + 1)]
    pages = sheet.sheet(tabbed, layout, "a4")
    lettered = [t.text for page in pages for t in page.items if isinstance(t, Text) and t.style == "text-tab"]
    assert sorted(lettered) == sorted(names * 2)


@pytest.mark.parametrize(
    ("asked", "made"), [("a4", {"a4"}), ("letter", {"letter"}), ("both", {"a4", "letter"})]
)
def test_sheets_and_templates_are_on_the_paper_asked_for(plan, asked, made):
    """Sheets and templates come on the shop's paper and no other, and the report links what is there."""
    settings = dataclasses.replace(plan.shop.settings, paper=asked)
    shop = dataclasses.replace(plan.shop, settings=settings)
    files = render_all(dataclasses.replace(plan, shop=shop))
    found = {re.sub(r".*-(a4|letter).*", r"\1", n) for n in files if n.startswith(("sheets/", "templates/"))}
    assert found == made
    linked = set(re.findall(r'href="((?:sheets|templates)/[^"]+\.pdf)"', files["report.html"].decode()))
    assert linked == {n for n in files if n.startswith(("sheets/", "templates/")) and n.endswith(".pdf")}
