"""The report, read back by an HTML parser."""

import itertools
import re
from html.parser import HTMLParser

import pytest

from nestyield.paperwork import report

VOID = {"meta", "br", "link", "img", "input", "hr"}
SVG_VOID = {"path", "rect"}


class Reader(HTMLParser):
    """Collects elements with their attributes, the headings, and text."""

    def __init__(self):
        super().__init__()
        self.elements = []
        self.headings = []
        self.text = []
        self.open = []

    def handle_starttag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)
        if re.fullmatch("h[1-6]", tag):
            self.headings.append([int(tag[1]), ""])

    def handle_startendtag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.text.append(data)
        if self.open and re.fullmatch("h[1-6]", self.open[-1]):
            self.headings[-1][1] += data

    def all(self, tag):
        """Attributes of every element of a kind."""
        return [attrs for name, attrs in self.elements if name == tag]


def read(data):
    """Parse a report; every element must be closed where it was opened."""
    reader = Reader()
    reader.feed(data.decode("utf-8"))
    reader.close()
    assert not reader.open
    return reader


@pytest.fixture(scope="module")
def page(rendered):
    return read(rendered["report.html"])


def test_headings_step_down_one_at_a_time(page):
    """There is one first heading, and no level is skipped."""
    levels = [level for level, _ in page.headings]
    assert levels.count(1) == 1
    assert levels[0] == 1
    assert all(b - a <= 1 for a, b in itertools.pairwise(levels))


def test_first_the_answer(page):
    """The answer comes first, then what is missing, an index, the orders, the blanks, rack, findings, cautions."""
    titles = [text for level, text in page.headings if level == 2]
    assert titles == [
        "Summary",
        "Shopping list",
        "Orders not filled",
        "Index of blanks",
        "Cutting plan",
        "Blanks",
        "The rack before and after this plan",
        "Warnings and notes",
        "Before you cut",
        "How this plan was made",
    ]
    text = " ".join(page.text).replace("\u00a0", " ")
    assert "2 of 3 orders can be filled, from 2 blanks." in text
    assert "no piece of sugar maple with a thickness for 44.5 mm is large enough; closest is M-07" in text
    assert "is at least 9.5 mm too narrow across the grain" in text


def test_figures_of_the_summary(page, plan):
    """Copies, yield and board feet to buy are those of the plan, added up here."""
    text = " ".join(" ".join(page.text).split())
    for order, result in zip(plan.shop.orders, plan.orders):
        if not order.hold:
            assert f"{order.name} {order.part} {result.placed} of {order.count} " in text
    stock = sum(x.stock_area_mm2 for x in plan.layouts)
    part = sum(x.part_area_mm2 for x in plan.layouts)
    kept = part + sum(x.usable_area_mm2 for x in plan.layouts)
    assert re.search(rf"\byield {100 * part / stock:.1f}\s%", text)
    assert re.search(rf"yield counting leftovers kept {100 * kept / stock:.1f}\s%", text)
    for buy in plan.purchases:
        assert f" {buy.board_feet:.2f} " in text


def test_nothing_from_outside(page, rendered):
    """One file: no script, no image, no style sheet, no address of the network."""
    assert not page.all("script") + page.all("img") + page.all("link") + page.all("iframe")
    text = rendered["report.html"].decode()
    assert "http" not in text
    assert "url(" not in text
    for attrs in page.all("a"):
        assert re.match(r"(#|sheets/|drawings/|templates/)", attrs["href"])


def test_links_lead_somewhere(page, rendered):
    """Every link inside the page has its target, every other names a file that is written."""
    from urllib.parse import unquote

    ids = [attrs["id"] for _, attrs in page.elements if "id" in attrs]
    assert len(ids) == len(set(ids))
    for attrs in page.all("a"):
        href = attrs["href"]
        assert (href[1:] in ids) if href.startswith("#") else (unquote(href) in rendered)


def test_pictures_have_names(page):
    """Every picture says in words what it shows, or is hidden because words beside it do."""
    pictures = page.all("svg")
    assert len(pictures) > 10
    for attrs in pictures:
        named = attrs.get("role") == "img" and len(attrs.get("aria-label", "")) > 5
        assert named or attrs.get("aria-hidden") == "true"
    labels = [a["aria-label"] for a in pictures if "aria-label" in a]
    assert any("1 knot" in label and "1 seam" in label for label in labels)


def test_tables_have_headers_with_scope(page):
    """Each header cell says whether it heads a row or a column."""
    headers = page.all("th")
    assert len(headers) > 20
    assert all(attrs.get("scope") in ("row", "col") for attrs in headers)


def test_language_skip_link_and_view(page):
    """The page names its language, can be skipped into, and suits a phone."""
    assert page.all("html")[0]["lang"] == "en"
    assert page.all("a")[0] == {"class": "skip", "href": "#main"}
    assert {"name": "viewport", "content": "width=device-width, initial-scale=1"} in page.all("meta")


def test_both_directions_are_shown(page):
    """A bed's two directions stand side by side, the refused one with its reason."""
    text = " ".join(" ".join(page.text).split())
    assert "along X fits chosen" in text
    assert (
        "To reach all of the cut along Y, the blank would hang 174 mm over the table's closed end Y+." in text
    )


@pytest.mark.parametrize("units", ["mm", "in"])
def test_units_are_never_mixed(build, units):
    """A shop in inches reads no millimeters, and the other way about."""
    from nestyield.paperwork.write import render_all

    plan = build.plan(units=units)
    other = r"\d mm\b|[_ ]mm\b" if units == "in" else r"\d in\b|_in\b|\d sq in"
    # What the plan itself brings in words is not ours to turn.
    told = []
    for name, data in render_all(plan).items():
        if not name.endswith((".html", ".csv")):
            continue
        text = data.decode("utf-8-sig")
        if name.endswith(".html"):
            text = " ".join(read(data).text) + " ".join(
                a.get("aria-label", "") for _, a in read(data).elements
            )
            text = text[text.index("All lengths") :]
        for words in told:
            text = text.replace(words, "").replace(words[:1].upper() + words[1:], "")
        assert re.findall(rf".{{20}}(?:{other})", text) == []


def test_names_do_no_harm(build, nasty):
    """Names are text: no element, no attribute and no template comes out of one."""
    calm = read(report.html(build.plan(), ["a", "b"]).encode())
    plan = build.plan(blank_name=nasty, part_name=nasty, order_name=nasty, species=nasty, shop_name=nasty)
    page = read(report.html(plan, ["a", "b"]).encode("utf-8"))
    kinds = {tag for tag, _ in calm.elements}
    assert {tag for tag, _ in page.elements} <= kinds
    # Our own sign for a text that runs right to left comes on top.
    names = {key for _, attrs in calm.elements for key in attrs} | {"unicode-bidi"}
    assert {key for _, attrs in page.elements for key in attrs} <= names
    assert "49" not in {t.strip() for t in page.text}


def test_contrast_of_every_text_color():
    """Texts reach 4.5 to 1 against every ground they stand on, by day and by night (WCAG 2.1, 1.4.3)."""
    from importlib.resources import files

    def light(color):
        parts = [int(color[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        r, g, b = (c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
        return 0.2126 * r + 0.7152 * g + 0.0722 * b

    css = (files("nestyield.paperwork") / "templates" / "report.css").read_text(encoding="utf-8")
    modes = re.findall(r":root \{(.*?)\}", css, re.S)
    assert len(modes) == 2
    for mode in modes:
        colors = dict(re.findall(r"--([a-z]+): (#[0-9a-f]{6})", mode))
        for ink in ("ink", "soft", "link", "yes", "no", "part", "hold"):
            for ground in ("ground", "card", "band"):
                a, b = sorted((light(colors[ink]), light(colors[ground])))
                assert (b + 0.05) / (a + 0.05) >= 4.5, (ink, ground)


test_contrast_of_every_text_color = pytest.mark.outside(
    source="WCAG 2.1, success criterion 1.4.3 and the definition of relative luminance", mark="S"
)(test_contrast_of_every_text_color)


class Folds(HTMLParser):
    """Collects what stands inside of folds, apart from their own lines, and what does not."""

    def __init__(self, data):
        super().__init__()
        self.open, self.inside, self.outside, self.lines = [], [], [], []
        self.feed(data.decode("utf-8"))

    def handle_starttag(self, tag, attrs):
        if tag not in VOID:
            self.open.append((tag, dict(attrs).get("class") or ""))

    def handle_endtag(self, tag):
        self.open.pop()

    def handle_data(self, data):
        if ("details", "fold") not in self.open:
            self.outside.append(data)
        elif any(tag == "summary" for tag, _ in self.open):
            self.lines.append(data)
        else:
            self.inside.append(data)


def test_a_phone_gets_folds_and_loses_nothing(plan, rendered):
    """Parts, beds, leftovers, rack and settings are in folds, headings, pictures' names and cautions are not."""
    found = Folds(rendered["report.html"])
    inside, outside = (" ".join(" ".join(x).split()) for x in (found.inside, found.outside))
    for text in ("From the left and lower edge of the blank", "Rectangles along the grain", "Settings used"):
        assert text in inside
        assert text not in outside
    for text in ("Parts on it", "Leftovers to keep", "Cautions", "Before you cut", "Order of work"):
        assert text in outside
    assert "A part is loose once its outline is cut through" in outside
    assert "A part is loose" not in inside
    for layout in plan.layouts:
        for left in layout.leftovers:
            if left.usable:
                assert left.name in " ".join(found.lines)
    assert all(line.strip() or line.isspace() for line in found.lines)


def test_folds_stand_open_but_on_a_phone(rendered):
    """Only a browser that can show what is folded without its line hides that line, on screens and on paper."""
    page = rendered["report.html"].decode()
    start = page.index("@supports selector(::details-content) {")
    end = page.index("\n}\n", start)
    rule = page[start:end]
    assert "@media screen and (min-width: 40.01rem), print {" in rule
    assert ".fold::details-content { content-visibility: visible; block-size: auto; }" in rule
    assert [m.start() for m in re.finditer(r"\.fold > summary", page)] == [
        page.index(".fold > summary", start)
    ]
    assert start < page.index(".fold > summary") < end
