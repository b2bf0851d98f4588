"""What can hurt, read back from PDF, CSV and HTML against figures worked out here, in both units."""

import csv
import dataclasses
import html
import io
import re

import pytest
from pypdf import PdfReader

from nestyield.model import Defect, MachineLimits, Outline, Shape
from nestyield.paperwork.write import render_all
from nestyield.planning.work.cautions import general_cautions
from nestyield.planning.work.inspect import with_inspection


def circle(kind, x, y, r, name, **more):
    return Defect(name=name, kind=kind, shape=Shape(outer=Outline.circle(x, y, r)), **more)


def harmed(plan):
    """The plan with a bad first board, and wane on the left edge of the second, 700 by 160 mm.

    Its only part, turned by 183 degrees, has the pocket PICKUPS (19 deep, from the top) in the middle at
    345.25 - 140 cos 3 = 205.44, 133.4 - 140 sin 3 = 126.07. The board is 47 thick and loses 1.25 off each
    face. Wane takes the lower edge from 10 to 610 of its 640 mm. A knot at the pocket reaches 20 mm up from
    the bottom face, another 30: only that one comes near the 20.25 that the pocket goes down. One screw hole
    is beside the part's tail, 3 mm out; one is in the waste.
    """
    first, second = plan.layouts
    # the end of the part at drawing (300, 0) lies at 345.25 - 299.59 = 45.66, 133.4 - 15.7 = 117.7
    defects = (
        Defect(name="row 2", kind="wane", shape=Shape(outer=Outline.rectangle(10, 0, 610, 9))),
        circle("knot", 205.4, 126.1, 5.0, "row 3", face="bottom", depth_mm=20.0),
        circle("knot", 205.4, 126.1, 5.0, "row 4", face="bottom", depth_mm=30.0),
        circle("screw hole", 42.7, 117.7, 1.5, "row 5"),
        circle("screw hole", 560.0, 200.0, 2.0, "row 6"),
    )
    left = Defect(name="row 7", kind="wane", shape=Shape(outer=Outline.rectangle(0, 20, 3, 150)))
    second = dataclasses.replace(second, blank=dataclasses.replace(second.blank, defects=(left,)))
    first = dataclasses.replace(first, blank=dataclasses.replace(first.blank, defects=defects), fills=())
    machines = MachineLimits(push_block_length_mm=600.0, push_block_width_mm=150.0, jointer_shortest_mm=660.0)
    shop = dataclasses.replace(plan.shop, settings=dataclasses.replace(plan.shop.settings, machines=machines))
    layouts = tuple(with_inspection(layout, shop) for layout in (first, second))
    return dataclasses.replace(plan, shop=shop, layouts=layouts, cautions=general_cautions(shop, layouts))


@pytest.fixture(scope="module")
def mm(plan):
    return render_all(harmed(plan))


@pytest.fixture(scope="module")
def inch(inch_plan):
    return render_all(harmed(inch_plan))


def pdf(files, stem, paper="a4"):
    pages = PdfReader(io.BytesIO(files[f"sheets/{stem}-{paper}.pdf"])).pages
    return " ".join(" ".join(p.extract_text() for p in pages).split())


def report(files):
    text = html.unescape(re.sub(r"<[^>]+>", " ", files["report.html"].decode()))
    return " ".join(text.split())


def rows(files, blank):
    table = csv.DictReader(io.StringIO(files["cautions.csv"].decode("utf-8-sig")))
    return [row["caution"] for row in table if row["blank"] == blank]


#: What must be read of the first board, metric; what stands for it in an inch shop.
FIRST = {
    "The lower datum edge has wane from 10 to 610 mm.": "The lower datum edge has wane from 25/64 to 24 1/64 in.",
    # its upper edge is askew: nothing to measure from either
    "Draw the datum edge as a straight line": "Draw the datum edge as a straight line",
    "Screw hole in the cutter's path (part 1: outline).": "Screw hole in the cutter's path (part 1: outline).",
    "Marked in this wood, clear of the cutter: screw hole.": "Marked in this wood, clear of the cutter: screw hole.",
    "Knot in the cutter's path (part 1: PICKUPS).": "Knot in the cutter's path (part 1: PICKUPS).",
    "Shorter than 660 mm": "Shorter than 26 in",
}


@pytest.mark.parametrize("units", ["mm", "in"])
def test_every_paper_warns_of_the_first_board(units, request):
    """Sheet, report and table have the same cautions: edge, metal, the one knot that is met, short stock."""
    files = request.getfixturevalue("mm" if units == "mm" else "inch")
    stem = "C07"
    papers = {
        "a4": pdf(files, stem),
        "letter": pdf(files, stem, "letter"),
        "report": report(files),
        "csv": " ".join(rows(files, "C07")),
    }
    for metric, imperial in FIRST.items():
        for paper, text in papers.items():
            assert (metric if units == "mm" else imperial) in text, paper
    assert "Do not measure from the lower datum edge: see Cautions." in papers["a4"]
    assert "2 knots" not in " ".join(papers.values())


def test_the_second_board_has_its_own(mm):
    """Both fretboards, 60 mm wide, are small for a shop whose push blocks begin at 150; the first part is not."""
    assert any(c.startswith("Parts 1 and 2 are narrower than 150 mm") for c in rows(mm, "T-3"))
    assert not any("narrower" in c for c in rows(mm, "C07"))
    assert not any("cutter's path" in c for c in rows(mm, "T-3"))


@pytest.mark.parametrize(
    ("units", "said"),
    [
        (
            "mm",
            "The left datum edge has wane from 20 to 150 mm. Do not measure from it. Measure from the right edge, "
            "700 mm less the figure",
        ),
        (
            "in",
            "The left datum edge has wane from 25/32 to 5 29/32 in. Do not measure from it. Measure from the right "
            "edge, 27 9/16 in less the figure",
        ),
    ],
)
def test_measure_from_the_opposite_edge(units, said, request):
    """The right edge of the second board is sound: sheet and table send the maker there, and say how far it is."""
    files = request.getfixturevalue("mm" if units == "mm" else "inch")
    assert said in pdf(files, "T-3")
    assert any(c.startswith(said) for c in rows(files, "T-3"))


def test_limits_of_the_shop_reach_every_paper(mm, inch):
    """Push blocks as the shop sets them, the one limit that it does not set as usual: 76.2 mm, 3 in."""
    said = "for anything under 600 mm long, 150 mm wide or 77 mm thick. Leave pieces under 660 mm part"
    assert any(said in c for c in rows(mm, ""))
    assert said in report(mm)
    # 600, 150 and 660 mm are 23.6, 5.9 and 25.98 in
    said = "for anything under 24 in long, 6 in wide or 3 in thick. Leave pieces under 26 in part"
    assert any(said in c for c in rows(inch, ""))
    assert said in report(inch)


def test_leftovers_name_their_defects(mm):
    """Leftover C07-a, right of x = 352, holds the wane that reaches to 610 and the screw hole at 560."""
    assert "screw hole, wane" in pdf(mm, "C07")


def test_an_inch_shop_never_reads_metric(inch):
    """No caution of an inch shop has a length in millimeters; limits of dust are published in mg/m³."""
    table = inch["cautions.csv"].decode("utf-8-sig")
    assert not re.search(r"\bmm\b", table)
