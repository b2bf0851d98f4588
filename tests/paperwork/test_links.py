"""Links of the report, sheets that serve several blanks, templates, money and numbers that hold together."""

from __future__ import annotations

import dataclasses
import io
import re
from html.parser import HTMLParser
from urllib.parse import unquote

import pytest
from pypdf import PdfReader
from shapely.geometry import Polygon, box
from shapely.ops import unary_union

from nestyield.paperwork import curves, template
from nestyield.paperwork.alike import first_alike
from nestyield.paperwork.canvas import Area, Lines, Text
from nestyield.paperwork.page import MARGIN_MM
from nestyield.paperwork.write import render_all


class Page(HTMLParser):
    """Links, names and texts of a page."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.links: list[str] = []
        self.ids: list[str] = []
        self.attributes: set[str] = set()
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        found = dict(attrs)
        self.attributes |= set(found)
        if tag == "a":
            self.links.append(found["href"])
        if "id" in found:
            self.ids.append(found["id"])


@pytest.fixture(scope="module")
def twins(plan):
    """A plan whose first blank is there twice, under two names, for two copies of its order."""
    layout = plan.layouts[0]
    again = dataclasses.replace(
        layout,
        blank=dataclasses.replace(layout.blank, name="C08"),
        placements=tuple(dataclasses.replace(p, copy=p.copy + 7) for p in layout.placements),
    )
    return dataclasses.replace(plan, layouts=(layout, again, *plan.layouts[1:]))


def test_no_link_is_dead(twins):
    """Every link of the report leads to a place on it or to a file that is written, and no place is there twice."""
    files = render_all(twins)
    page = Page(files["report.html"].decode())
    assert len(page.ids) == len(set(page.ids))
    for link in page.links:
        if link.startswith("#"):
            assert link[1:] in page.ids, link
        else:
            assert unquote(link) in files, link
    linked = {unquote(x) for x in page.links}
    for name in files:
        if name.endswith((".pdf", ".dxf")):
            assert name in linked, f"{name} is not linked"
    assert {"#order-1", "#rack-1", "#blank-1"} <= linked


def test_attributes_of_the_report_are_those_of_the_standard(plan):
    """Sections are named by the attribute that browsers know (it was misspelt once)."""
    attributes = Page(render_all(plan)["report.html"].decode()).attributes
    assert "aria-labelledby" in attributes
    aria = {a for a in attributes if a.startswith("aria-")}
    assert aria <= {"aria-labelledby", "aria-label", "aria-hidden", "aria-describedby"}


def test_numbers_of_the_report_do_not_break(plan):
    """No plain space stands between a number and its unit, in texts of the report."""
    text = re.sub(
        r"<style.*?</style>|<svg.*?</svg>|<code.*?</code>",
        "",
        render_all(plan)["report.html"].decode(),
        flags=re.S,
    )
    text = re.sub(r"<[^>]+>", "|", text)
    assert re.search(r"\d\u00a0mm", text)
    found = re.findall(r"\d (?:mm|cm²|%|in)\b[^|]{0,20}", text)
    assert found == []


def test_sentences_do_not_run_together(twins):
    """A space stands between sentences of a blank's first lines."""
    page = re.sub(r"<[^>]+>", "", render_all(twins)["report.html"].decode())
    assert re.search(r"On the rack: C07\. +(It is alike|\s*Bed)", page)
    assert not re.search(r"(rack: [^.\n]*|its sheet)\.[A-Z]", page)


def test_blanks_that_are_alike_share_a_sheet(twins):
    """One sheet serves both, says so with the other's order, and the report links it for both."""
    assert first_alike(twins)[:2] == [0, 0]
    files = render_all(twins)
    assert "sheets/C07-a4.pdf" in files
    assert not any(n.startswith("sheets/C08") for n in files)
    assert "drawings/C08.dxf" in files
    said = " ".join(PdfReader(io.BytesIO(files["sheets/C07-a4.pdf"])).pages[0].extract_text().split())
    assert re.search(r"Also for C08 \(.*, copy 8\): it is alike\.", said)
    assert files["report.html"].decode().count('href="sheets/C07-a4.pdf"') == 2


@pytest.mark.parametrize(
    "change",
    [
        lambda one: dataclasses.replace(one, blank=dataclasses.replace(one.blank, thickness_mm=43.0)),
        lambda one: dataclasses.replace(one, chosen=None),
        lambda one: dataclasses.replace(
            one, placements=tuple(dataclasses.replace(p, x_um=p.x_um + 1) for p in one.placements)
        ),
    ],
)
def test_what_differs_gets_a_sheet_of_its_own(twins, change):
    """Another thickness, bed or place is another sheet."""
    first, second, *rest = twins.layouts
    other = dataclasses.replace(twins, layouts=(first, change(second), *rest))
    assert first_alike(other)[:2] == [0, 1]


def test_money_has_the_shop_s_currency(plan):
    """With a currency the report and the table name it, without one they print plain numbers; without prices none."""

    def papers(**changed):
        settings = dataclasses.replace(plan.shop.settings, **changed)
        return render_all(dataclasses.replace(plan, shop=dataclasses.replace(plan.shop, settings=settings)))

    prices = {plan.layouts[0].blank.species: 4.0}
    named = papers(value_per_board_foot=prices, currency="EUR")
    plain = papers(value_per_board_foot=prices)
    assert "value of stock used" not in papers()["report.html"].decode()
    total = f"{sum(x.value for x in plan.layouts):.2f}".removesuffix(".00")
    assert f"{total}\u00a0EUR</dd>" in named["report.html"].decode()
    assert f"<dd>{total}</dd>" in plain["report.html"].decode()
    assert b",value_of_blank_EUR" in named["cuts.csv"]
    assert re.search(rb",value_of_blank,", plain["cuts.csv"])


# ---- templates


def _frames(page):
    return [a.outlines[0] for a in page.items if isinstance(a, Area) and a.style == "outline"]


def test_pages_without_a_part_are_left_out(make_wide):
    """Two parts far apart: the pages between them are not printed, and every point of the outlines is."""
    plan, layout, bodies = make_wide
    pages = template.template(plan, layout, "a4")
    names = [
        re.search(r"page (\w+) \((\d+) of (\d+)\)", t.text)
        for p in pages[1:]
        for t in p.items
        if isinstance(t, Text) and t.style == "plain-bold" and "page" in t.text
    ]
    assert [int(m[2]) for m in names] == list(range(1, len(names) + 1))
    assert {int(m[3]) for m in names} == {len(names)}
    # pages are named by column, and the columns between the parts are missing
    columns = {int(m[1][1:]) for m in names}
    assert max(columns) > len(columns)
    dx, dy, _, _ = curves.bounds([layout.blank.shape.outer])
    shown = []
    for page in pages[1:]:
        (told,) = [
            re.match(r"Lower left cross: ([\d.-]+) from the left datum edge, ([\d.-]+) from", t.text)
            for t in page.items
            if isinstance(t, Text) and t.text.startswith("Lower left cross")
        ]
        # the cross stands 6 mm within the frame, which is 186 x 273 on A4
        x, y = dx + float(told[1]) - 6.0, dy + float(told[2]) - 6.0
        shown.append(box(x, y, x + 210 - 2 * MARGIN_MM, y + 297 - 2 * MARGIN_MM).buffer(0.06))
    assert unary_union(shown).covers(unary_union(bodies))
    cover = {t.text for t in pages[0].items if isinstance(t, Text)}
    assert {m[1] for m in names} <= cover


def test_tiles_tell_where_they_lie(plan):
    """The lower left cross of each page is as far from the datum edges as the page says, and an edge is drawn."""
    layout = plan.layouts[0]
    pages = template.template(plan, layout, "a4")
    x0, y0, _, _ = curves.bounds([layout.blank.shape.outer])
    first = layout.placements[0]
    px, py = curves.move_of(first).outline(plan.shop.part(first.part).outline).points_mm[0]
    edges = 0
    for page in pages[1:]:
        (told,) = [
            re.match(
                r"Lower left cross: ([\d.-]+) from the left datum edge, ([\d.-]+) from the lower", t.text
            )
            for t in page.items
            if isinstance(t, Text) and t.text.startswith("Lower left cross")
        ]
        qx, qy = _frames(page)[0].points_mm[0]
        circles = [
            curves.circle_of(a.outlines[0]) for a in page.items if isinstance(a, Area) and a.style == "frame"
        ]
        cx, cy, _ = min(circles, key=lambda c: c[0] + c[1])
        assert px + (cx - qx) - x0 == pytest.approx(float(told[1]), abs=0.06)
        assert py + (cy - qy) - y0 == pytest.approx(float(told[2]), abs=0.06)
        edges += sum(isinstance(i, Lines) and i.style == "datum" for i in page.items)
    assert edges


@pytest.fixture
def make_wide(plan):
    """The first part twice, 700 mm apart, on one long blank."""
    layout = plan.layouts[0]
    first = layout.placements[0]
    second = dataclasses.replace(first, copy=2, x_um=first.x_um + 700_000)
    wide = dataclasses.replace(
        layout, placements=(first, second), work=None, leftovers=(), watch=(), rooms=()
    )
    bodies = [
        Polygon(curves.move_of(p).outline(plan.shop.part(p.part).outline).points_mm) for p in (first, second)
    ]
    return dataclasses.replace(plan, layouts=(wide,)), wide, bodies
