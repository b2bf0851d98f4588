"""One rounding for one quantity on every paper, no break inside a number, round things by their middle."""

import csv
import dataclasses
import io
import math
import re

import ezdxf
import pytest
from pypdf import PdfReader

from nestyield.cli.summary import summary
from nestyield.intake.table import parse_table
from nestyield.model import Outline, Shape
from nestyield.paperwork.curves import circle_of
from nestyield.paperwork.page import wrap
from nestyield.paperwork.placing import columns
from nestyield.paperwork.write import render_all
from nestyield.rackbook.cells import RowColumns
from nestyield.rackbook.rows import book_in, new_pieces
from nestyield.words import Words


def arcs(count, cx, cy, radius, way=1):
    """A circle drawn with so many arcs."""
    angles = [way * 2 * math.pi * k / count + 0.3 for k in range(count)]
    points = tuple((cx + radius * math.cos(a), cy + radius * math.sin(a)) for a in angles)
    return Outline(points_mm=points, bulges=(way * math.tan(math.pi / 2 / count),) * count)


@pytest.mark.parametrize("count", [2, 3, 4, 7])
@pytest.mark.parametrize("way", [1, -1])
def test_circles_of_any_number_of_arcs(count, way):
    """A hole drawn with two, three or four arcs is told by its middle and diameter."""
    assert circle_of(arcs(count, 30.0, 40.0, 5.5, way)) == pytest.approx((30.0, 40.0, 5.5))
    assert columns([arcs(count, 30.0, 40.0, 5.5, way)], (10.0, 20.0), Words("mm")) == ["20.0", "20.0", "ø 11"]


def test_what_is_no_circle():
    """A slot with round ends, a lens of two arcs and a rectangle are told by their edges."""
    slot = Outline(points_mm=((0, 0), (30, 0), (30, 10), (0, 10)), bulges=(0.0, 1.0, 0.0, 1.0))
    lens = Outline(points_mm=((0, 0), (30, 0)), bulges=(0.5, 0.5))
    for shape in (slot, lens, Outline.rectangle(0, 0, 10, 10)):
        assert circle_of(shape) is None
    assert columns([slot], (0.0, 0.0), Words("mm")) == ["-5.0", "0.0", "40 × 10"]


@pytest.mark.parametrize("width", [25.0, 40.0, 60.0, 90.0])
def test_no_line_breaks_inside_a_number(width):
    """Units stay with their numbers, X with its figure, 64ths with their inches, both sides of a size together."""
    text = (
        "Zero: bed X 64, Y 105 mm, saw 3 1/2 in off, keep 12.5 × 30 mm and 10 sq in, press with 4.5 kN at 3 %, "
        "hole ø 11 at Z -3 mm and 2 pockets"
    )
    held = [
        "X 64,",
        "Y 105 mm,",
        "3 1/2 in",
        "12.5 × 30 mm",
        "10 sq in,",
        "4.5 kN",
        "3 %,",
        "ø 11",
        "Z -3 mm",
    ]
    lines = wrap(text, width, 2.8)
    assert " ".join(lines) == text
    for whole in held:
        assert any(whole in line for line in lines), (whole, lines)


def test_a_column_too_narrow_for_a_size():
    """Where a size does not go into one line it breaks at a space, never inside a number."""
    assert wrap("963.7 × 60.9 mm", 12.0, 2.7) == ["963.7 ×", "60.9", "mm"]


def test_to_spare_reads_the_same_everywhere(plan):
    """Terminal, sheet and report tell what is to spare on the bed in the same figures, rounded down."""
    layout = plan.layouts[0]
    setup = dataclasses.replace(layout.setups[layout.chosen], spare_x_mm=605.76, spare_y_mm=189.78)
    setups = tuple(setup if k == layout.chosen else s for k, s in enumerate(layout.setups))
    changed = dataclasses.replace(
        plan, layouts=(dataclasses.replace(layout, setups=setups), *plan.layouts[1:])
    )
    files = render_all(changed)
    (name,) = [n for n in files if re.fullmatch(r"sheets/C07-a4\.pdf", n)]
    sheet = " ".join(" ".join(p.extract_text() for p in PdfReader(io.BytesIO(files[name])).pages).split())
    for text in (summary(changed), sheet, files["report.html"].decode().replace("\u00a0", " ")):
        assert "605.7 mm to spare along X, 189.7 mm along Y" in text
        assert "605.8" not in text
        assert "605.76" not in text


@pytest.mark.parametrize(
    ("units", "depth", "layer"), [("mm", "15.88", "15.88 MM"), ("in", "5/8", "0.625 IN")]
)
def test_a_depth_reads_the_same_everywhere(plan, units, depth, layer):
    """Table, order of work and drawing tell the same depth: 15.875 mm or 5/8 in."""
    part = plan.shop.parts[0]
    zones = tuple(dataclasses.replace(z, depth_mm=15.875) if z.role == "pocket" else z for z in part.zones)
    parts = (dataclasses.replace(part, zones=zones), *plan.shop.parts[1:])
    changed = dataclasses.replace(plan, shop=dataclasses.replace(plan.shop, parts=parts, units=units))
    files = render_all(changed)
    doc = ezdxf.read(io.StringIO(files["drawings/C07.dxf"].decode()))
    assert any(n.dxf.name.startswith("POCKET") and n.dxf.name.endswith(layer) for n in doc.layers)
    texts = [t.dxf.text for t in doc.modelspace().query("TEXT")]
    assert any(f"{depth} {units} deep" in t for t in texts), texts
    sheet = " ".join(
        " ".join(p.extract_text() for p in PdfReader(io.BytesIO(files["sheets/C07-a4.pdf"])).pages).split()
    )
    assert re.search(rf"pocket (top|bottom) {re.escape(depth)} ", sheet)


def test_turns_in_table_and_sheet(plan):
    """A turn of 0.16 degrees reads 0.2 in the table of cuts as on the sheet."""
    layout = plan.layouts[0]
    placement = dataclasses.replace(layout.placements[0], angle_deg=0.16)
    changed = dataclasses.replace(
        plan,
        layouts=(
            dataclasses.replace(layout, placements=(placement, *layout.placements[1:])),
            *plan.layouts[1:],
        ),
    )
    files = render_all(changed)
    rows = list(csv.DictReader(io.StringIO(files["cuts.csv"].decode("utf-8-sig"), newline="")))
    assert rows[0]["turned_deg"] == "0.2"
    sheet = "".join(p.extract_text() for p in PdfReader(io.BytesIO(files["sheets/C07-a4.pdf"])).pages)
    assert "0.2°" in sheet


@pytest.mark.parametrize(
    ("units", "length", "width"),
    [("mm", "301.4", "120.4"), ("in", "11 55/64", "4 47/64")],
)
def test_a_leftover_is_as_long_on_paper_as_on_the_rack(plan, units, length, width):
    """Sheet, report, table, drawing and the row that take writes round a leftover's size down alike.

    301.46 mm are 759.6 sixty-fourths of an inch, 120.46 mm are 303.5: 760 and 304, or 301.5 and 120.5, would
    claim wood that is not there.
    """
    layout = plan.layouts[0]
    shape = Shape(outer=Outline.rectangle(10, 10, 311.46, 130.46))
    left = dataclasses.replace(
        layout.leftovers[0], shape=shape, rectangle_mm=(10.0, 10.0, 301.46, 120.46), usable=True
    )
    layout = dataclasses.replace(layout, leftovers=(left,))
    shop = dataclasses.replace(plan.shop, units=units)
    changed = dataclasses.replace(plan, shop=shop, layouts=(layout, *plan.layouts[1:]))
    head = f"piece,species,thickness_{units},length_{units},width_{units}"
    table, _ = parse_table(f"{head}\nC07,cherry,45,640,190\n".encode())
    table = book_in(table, new_pieces(changed, [layout], ()), RowColumns(table, units), 0.02)
    row = table.record(table.rows[-1])
    assert (row[f"length_{units}"], row[f"width_{units}"]) == (length, width)
    files = render_all(changed)
    told = next(csv.DictReader(io.StringIO(files["leftovers.csv"].decode("utf-8-sig"), newline="")))
    assert (told[f"length_{units}"], told[f"width_{units}"]) == (length, width)
    sheet = " ".join(p.extract_text() for p in PdfReader(io.BytesIO(files["sheets/C07-a4.pdf"])).pages)
    pages = " ".join(sheet.split()), files["report.html"].decode().replace("\u00a0", " ")
    for page in pages:
        assert f"{length} × {width}" in page
        assert not any(wrong in page for wrong in ("301.5", "120.5", "11 7/8 ×", "× 4 3/4"))
