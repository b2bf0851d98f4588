"""Sheets as workshop drawings: title block, height of letters, tools, cautions on the first page, the scale bar."""

import dataclasses
import hashlib
import importlib.util
import io
import re
import sys
from functools import lru_cache
from pathlib import Path

import pytest
from pypdf import PdfReader

import nestyield
from nestyield.paperwork import glue_sheet, sheet, title_block
from nestyield.paperwork.canvas import Area, Text
from nestyield.paperwork.curves import bounds
from nestyield.paperwork.page import MARGIN_MM
from nestyield.paperwork.write import render_all
from nestyield.planfile.text import dumps

_PATH = Path(__file__).parents[1] / "glueup" / "boards.py"
_SPEC = importlib.util.spec_from_file_location("boards", _PATH)
boards = importlib.util.module_from_spec(_SPEC)
sys.modules.setdefault("boards", boards)
_SPEC.loader.exec_module(boards)


@lru_cache(maxsize=32)
def pages_of(data):
    """The text of each page, read once a file."""
    return tuple(page.extract_text() for page in PdfReader(io.BytesIO(data)).pages)


def first_page(files, name):
    """The words of a sheet's first page."""
    return " ".join(pages_of(files[name])[0].split())


def test_title_block_of_both_sheets(plan):
    """Blank, part, order, plan number as in SHA256SUMS, version, unit, scale, sheet of sheets, date and initials."""
    for made, name, part in (
        (plan, "sheets/C07-a4.pdf", plan.layouts[0].placements[0]),
        (boards.plan(), "sheets/glue-up-1.glue-up-a4.pdf", boards.AT),
    ):
        number = hashlib.sha256(dumps(made)).hexdigest()[:8]
        said = first_page(render_all(made), name)
        for words in (
            part.part,
            part.order,
            f"Plan {number}",
            f"nestyield {nestyield.__version__}",
            "Lengths in millimeters",
            "Date:",
            "Initials:",
        ):
            assert words in said, words
        assert re.search(r"Scale 1:\d", said)
        assert re.search(r"page 1 of \d", said)


def test_another_plan_has_another_number(plan):
    """Whatever changes in the plan changes the number on its sheets."""
    other = dataclasses.replace(plan, seed=plan.seed + 1)
    assert title_block.plan_number(plan) != title_block.plan_number(other)
    assert title_block.plan_number(plan) == title_block.plan_number(plan)


@pytest.mark.outside(
    source="ISO 3098-1: heights of letters 2.5, 3.5, 5 mm; DejaVu Sans: capitals are 0.729 of its size",
    mark="M",
)
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_no_letter_is_lower_than_the_standard(plan, paper):
    """Capitals on every sheet are at least 2.5 mm high, steps of work at least 11 points."""
    made = boards.plan()
    pages = [p for layout in plan.layouts for p in sheet.sheet(plan, layout, paper)]
    pages += glue_sheet.glue_sheet(made, made.layouts[0], paper) + sheet.sheet(made, made.layouts[0], paper)
    texts = [t for p in pages for t in p.items if isinstance(t, Text)]
    low = [t for t in texts if t.size * 0.729 < 2.5]
    assert not low, low[:3]
    steps = [t for t in texts if t.x == MARGIN_MM and re.fullmatch(r"\d+\.\d+", t.text)]
    assert steps
    assert min(t.size for t in steps) * 72 / 25.4 >= 11.0


def test_cautions_are_on_the_first_page(plan):
    """The blank's own cautions stand in a frame on page 1, each once on the sheet."""
    files = render_all(plan)
    reader = PdfReader(io.BytesIO(files["sheets/C07-a4.pdf"]))
    texts = [" ".join(p.extract_text().split()) for p in reader.pages]
    assert "Check before cutting: the operator decides." in texts[0]
    assert sum(t.count("Check before cutting: the operator decides.") for t in texts) == 1


def test_tools_by_diameter(plan):
    """The cutter and every drill that holes and pins ask for stand in a list, with who sets passes and feeds."""
    layout = plan.layouts[0]
    reader = PdfReader(io.BytesIO(render_all(plan)["sheets/C07-a4.pdf"]))
    said = " ".join(" ".join(p.extract_text().split()) for p in reader.pages)
    table = said.partition(" Tools ")[2]
    assert f"cutter ø {plan.shop.settings.cutter_diameter_mm:g} mm" in table
    for pin in layout.work.pins:
        assert f"drill ø {pin.diameter_mm:g} mm" in table
    assert (
        "Depth of a pass, feed, speed and length of the screws are not given here: the maker sets them by"
        in table
    )


def test_the_scale_bar_is_as_long_as_it_says(plan):
    """The four boxes of the bar together are as long as the sheet tells, so that a ruler checks the printer."""
    page = sheet.sheet(plan, plan.layouts[0], "a4")[0]
    told = next(
        re.search(r"The bar is ([\d.]+) mm long", t.text)
        for t in page.items
        if isinstance(t, Text) and "The bar" in t.text
    )
    boxes = [bounds(a.outlines) for a in page.items if isinstance(a, Area) and a.style.startswith("scale-")]
    assert len(boxes) == 4
    assert max(b[2] for b in boxes) - min(b[0] for b in boxes) == pytest.approx(float(told[1]), abs=0.05)
