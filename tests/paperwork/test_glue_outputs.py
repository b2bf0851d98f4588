"""What a glue-up's files say, read back from PDF, CSV and DXF: in the shop's unit, with figures worked out here."""

import csv
import importlib.util
import io
import re
import sys
import typing
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import ezdxf
import pytest
from pypdf import PdfReader

from nestyield.model import GlueUpRules, MachineLimits
from nestyield.model.facts import Remedy, SourceKey, glue, glue_steps, grades, joints, machines, wood
from nestyield.paperwork.notices import plan_findings
from nestyield.paperwork.phrases import PHRASES
from nestyield.paperwork.phrases.wood import REMEDIES, SOURCES
from nestyield.paperwork.write import render_all

_PATH = Path(__file__).parents[1] / "glueup" / "boards.py"
_SPEC = importlib.util.spec_from_file_location("boards", _PATH)
boards = importlib.util.module_from_spec(_SPEC)
sys.modules.setdefault("boards", boards)
_SPEC.loader.exec_module(boards)

IN = 25.4
POCKET = boards.pocket("POCKET", (150, 50, 200, 110), 36.0)
#: Two boards of unlike moisture, one planed, grain that crosses, splines, and machines that refuse both.
SHOP = {
    "pieces": (boards.A, replace(boards.B, moisture_pct=11.0, grain_deg=30.0)),
    "glueup": GlueUpRules(reinforce="spline", crossed="allowed"),
    "machines": MachineLimits(jointer_shortest_mm=490.0, saw_push_stick_mm=600.0, planer_widest_mm=200.0),
}


def made(units):
    return render_all(boards.plan(POCKET, units=units, **SHOP))


@pytest.fixture(scope="module")
def mm():
    return made("mm")


@pytest.fixture(scope="module")
def inch():
    return made("in")


@lru_cache(maxsize=32)
def pages_of(data):
    """The text of each page, read once a file."""
    return tuple(page.extract_text() for page in PdfReader(io.BytesIO(data)).pages)


def text(files, paper="letter"):
    """The words of a glue-up sheet as a PDF reader finds them, one space between them."""
    (name,) = [n for n in files if n.endswith(f"glue-up-{paper}.pdf")]
    return " ".join(" ".join(pages_of(files[name])).split())


def fraction(mm_long):
    """A length in 64ths of an inch as a maker writes it."""
    whole, rest = divmod(round(mm_long / IN * 64), 64)
    low = 64
    while rest and rest % 2 == 0:
        rest, low = rest // 2, low // 2
    part = f"{rest}/{low}" if rest else ""
    return " ".join(w for w in (str(whole) if whole or not part else "", part) if w)


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_an_inch_shop_never_reads_metric(inch, paper):
    """No millimeter, kilonewton, megapascal or square centimeter stands on an inch shop's glue-up sheet."""
    assert not re.search(r"\b(mm|cm²|kN|N|MPa|ml)\b|N/mm|°C", text(inch, paper))


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_a_metric_shop_never_reads_inches(mm, paper):
    """No inch, pound or psi stands on a metric shop's glue-up sheet."""
    assert not re.search(r"\d in\b(?! picture)|\b(lbf|psi|sq)\b", text(mm, paper))


def test_clamping_force(mm, inch):
    """470 mm of seam, 44.5 mm thick, at 200 to 300 psi, take 7 clamps: in lbf and psi, or in kN and MPa."""
    square_inches = 470 / IN * 44.5 / IN
    low, high = square_inches * 200, square_inches * 300
    said = text(inch)
    assert high > 7 * 1000 > low  # seven clamps of 1000 lbf give less than the most that is wanted
    assert f"Total force {round(low, -1):.0f} lbf to 7000 lbf" in said
    assert f"These clamps give {5 * round(7000 / square_inches / 5)} psi at most" in said
    assert "7 clamps across all seams" in said
    assert (
        f"Each gives 1000 lbf (clamp_force of the shop); set each to {round(low / 7, -1):.0f} lbf to 1000 lbf"
        in said
    )
    assert "200 psi to 300 psi on seam 1" in said
    said = text(mm)
    newton = 4.4482216152605
    total = re.search(r"Total force ([0-9.]+) kN to ([0-9.]+) kN", said)
    assert [float(v) for v in total.groups()] == pytest.approx([low * newton / 1000, 7 * 4.45], abs=0.06)
    assert (
        f"Each gives 4.5 kN (clamp_force of the shop); set each to {low * newton / 7000:.1f} kN to 4.5 kN"
        in said
    )
    psi = newton / IN**2
    assert f"{200 * psi:.1f} MPa to {300 * psi:.1f} MPa on seam 1" in said


def test_clamps_that_do_not_do():
    """Four clamps of 4.5 kN give 0.9 of 1.4 MPa: a caution on both sheets, in cautions.csv, report and on the terminal."""
    plan = boards.plan(glueup=GlueUpRules(clamps=4))
    words = (
        "Seam 1 takes 7 clamps that give 4.5 kN each, and the shop has 4. They press with 0.9 MPa at most; the glue "
        "needs 1.4 MPa, and the joint stays weak."
    )
    files = render_all(plan)
    assert words in text(files)
    assert "7 clamps are needed: see the cautions." in text(files)
    for name in ("cautions.csv", "report.html"):
        assert words in files[name].decode().replace("\xa0", " ").replace("&nbsp;", " ")
    (sheet,) = [n for n in files if n == "sheets/glue-up-1-a4.pdf"]
    assert words in " ".join(
        " ".join(p.extract_text() for p in PdfReader(io.BytesIO(files[sheet])).pages).split()
    )
    (found,) = [f for f in plan_findings(plan) if f.code == "G723"]
    assert (found.severity, found.message.replace("\xa0", " ")[: len(words)]) == ("warning", words)
    assert "G723" not in [f.code for f in plan_findings(boards.plan())]


def test_steps_in_words(mm, inch):
    """B is planed by 2 mm from 46.5, slots lie 22.5 mm below the upper face, the blank comes to 40 mm."""
    said = text(mm)
    assert "Plane to 44.5 mm: take 2 mm off the lower face of B." in said
    assert "6.35 mm wide, 9.5 mm deep, middle 22.5 mm below the face that is up" in said
    # A page may end within the sentence.
    assert re.search(r"Leave 0\.8 mm( for|.{0,200}? for) ?.{0,200}?jointing\.", said)
    assert "The planer must take 212 mm of width; if yours does not, flatten the blank with a router" in said
    assert "Plane the blank to 40 mm after gluing" in said
    said = text(inch)
    assert f"Plane to {fraction(44.5)} in: take {fraction(2)} in off the lower face of B." in said
    wide, deep, below = fraction(6.35), fraction(9.5), fraction(22.5)
    assert f"{wide} in wide, {deep} in deep, middle {below} in below the face that is up" in said
    assert f"Plane the blank to {fraction(40)} in after gluing" in said


def test_machines_in_words(mm, inch):
    """B, 480 mm long, is under a jointer's 490; the blank, 212 wide, over a planer's 200; cuts take a push stick."""
    said = text(mm)
    assert "B: Too short for the jointer: 480 mm, at least 490 mm is needed. Instead, joint the edge" in said
    assert "The glued blank: Too wide for the planer: 212 mm, at most 200 mm goes through." in said
    assert "A: A saw cut of 500 mm is shorter than 600 mm: use a push stick, at least 450 mm long" in said
    said = text(inch)
    # limits are rounded to the safe side: 490 mm are 1234.6, 200 mm 503.9 and 600 mm 1511.8 sixty-fourths
    assert f"Too short for the jointer: {fraction(480)} in, at least 19 19/64 in is needed" in said
    assert f"Too wide for the planer: {fraction(212)} in, at most 7 55/64 in goes through" in said
    assert f"A saw cut of {fraction(500)} in is shorter than 23 5/8 in" in said


def test_wood_in_words(mm, inch):
    """Moisture apart, grain that crosses, thin wood: 4 mm stay of a part of 40 under a pocket of 36."""
    said = text(mm)
    assert "Seam 1: the boards are 3 points of moisture apart, at most 2 points allowed." in said
    assert "Seam 1: grain crosses at 30°. The sides pull at each other by up to" in said
    # steeper to the seam than 1 in 5 no more is promised than for end grain
    assert "about 25 % of the wood's strength (FPL Report 1522 (1945), for 90 degrees)" in said
    assert "The grain of piece K-2 is 30° off that of plate" in said
    assert "Seam 1 runs through POCKET: 4 mm of wood is left." in said
    assert f"Seam 1 runs through POCKET: {fraction(4)} in of wood is left." in text(inch)


@pytest.mark.parametrize("units", ["mm", "in"])
def test_table_of_edges(units, request):
    """The spreadsheet's columns carry the shop's unit, and its figures are those of the boards."""
    files = request.getfixturevalue("mm" if units == "mm" else "inch")
    a, b = csv.DictReader(io.StringIO(files["glueups.csv"].decode("utf-8-sig")))
    other = "in" if units == "mm" else "mm"
    assert not any(name.endswith(f"_{other}") for name in a)

    def value(cell):
        whole, _, part = cell.partition(" ")
        top, _, low = part.partition("/")
        return float(whole) + (float(top) / float(low) if part else 0.0)

    scale, near = (1.0, 0.05) if units == "mm" else (1 / IN, 1 / 128)
    for row, off, mark in ((a, 5.0, 265.0), (b, 3.0, 235.0)):
        assert value(row[f"off_left_{units}"]) == pytest.approx(off * scale, abs=near)
        assert value(row[f"mark_from_left_end_{units}"]) == pytest.approx(mark * scale, abs=near)
    assert value(b[f"planed_to_{units}"]) == pytest.approx(44.5 * scale, abs=near)


@pytest.mark.parametrize("units", ["mm", "in"])
def test_drawing(units, request):
    """The DXF says its unit, and seam and splines lie at y = 95 mm in it, each spline 19 mm across."""
    files = request.getfixturevalue("mm" if units == "mm" else "inch")
    (name,) = [n for n in files if n.endswith(".dxf") and "bottom" not in n]
    read = ezdxf.read(io.StringIO(files[name].decode("utf-8")))
    assert read.header["$INSUNITS"] == (4 if units == "mm" else 1)
    scale = 1.0 if units == "mm" else 1 / IN
    splines = list(read.modelspace().query('LWPOLYLINE[layer=="SPLINE"]'))
    assert splines
    for each in splines:
        ys = sorted(y for _, y, *_ in each.get_points())
        assert (ys[0], ys[-1]) == pytest.approx(((95 - 9.5) * scale, (95 + 9.5) * scale), abs=1e-6)


@pytest.mark.parametrize("module", [glue, glue_steps, grades, joints, machines, wood])
def test_every_fact_has_its_phrase(module):
    """No fact of glue-ups, joints, machines, wood and grades is without words on paper."""
    kinds = [k for k in vars(module).values() if isinstance(k, type) and k.__module__ == module.__name__]
    assert kinds
    assert [k.__name__ for k in kinds if k not in PHRASES] == []


def test_every_figure_has_its_source():
    """Each source that a fact may name is written out."""
    assert set(SOURCES) == set(typing.get_args(SourceKey))
    assert set(REMEDIES) == set(typing.get_args(Remedy))
