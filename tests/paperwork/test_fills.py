"""Fillings on every paper."""

import csv
import dataclasses
import io
import re

from nestyield.model import Fill
from nestyield.paperwork import fills, report, sheet, sheet_work, tables
from nestyield.paperwork.blank_picture import picture
from nestyield.paperwork.canvas import Text
from nestyield.paperwork.write import render_all
from nestyield.planning.work.stages import with_stages


def filled(plan):
    """The first blank, with its check and a screw hole to be filled."""
    layout = dataclasses.replace(
        plan.layouts[0],
        fills=(
            Fill(placement=0, defect="defects.csv row 3", volume_ml=4.23),
            Fill(placement=0, defect="defects.csv row 4", volume_ml=0.04),
        ),
    )
    layout = with_stages(layout, plan.shop)
    return dataclasses.replace(plan, layouts=(layout, *plan.layouts[1:])), layout


def test_where_and_how_much(plan):
    """Each filling names part, sign, defect, face, place from the datum edges and filler, rounded up."""
    changed, layout = filled(plan)
    check, hole = fills.rows(changed, layout)
    assert check == ["1", "CH", "check (defects.csv row 3)", "top", "0.0", "118.0", "40 × 6", "4.3 ml"]
    assert hole[1] == "SC"
    assert hole[-1] == "0.1 ml"
    assert fills.total(changed, layout) == "4.3 ml"
    inches = dataclasses.replace(changed, shop=dataclasses.replace(changed.shop, units="in"))
    # 4.23 ml are 0.2581 cubic inches
    assert fills.rows(inches, layout)[0][-1] == "0.26 cu in"


def test_it_is_on_sheet_report_picture_and_table(plan):
    """Sheet, order of work, picture, report and table all tell it; without fillings none does."""
    changed, layout = filled(plan)
    words = " ".join(
        t.text for p in sheet.sheet(changed, layout, "a4") for t in p.items if isinstance(t, Text)
    )
    assert "To fill, 4.3 ml together" in words
    assert sheet_work.steps(changed, layout)[-1][1][:2] == [
        "Fill the check (defects.csv row 3) of part 1: 4.3 ml of filler. Let it harden before sanding.",
        "Fill the screw hole (defects.csv row 4) of part 1: 0.1 ml of filler. Let it harden before sanding.",
    ]
    canvas, _ = picture(changed, layout)
    assert {"CH fill", "SC fill", "K"} <= {t.text for t in canvas.items if isinstance(t, Text)}
    page = report.html(changed, ["a", "b"])
    assert "<h4>To fill</h4>" in page
    page = page.replace("\u00a0", " ")
    assert "4.3 ml of filler together" in page
    rows = list(csv.DictReader(io.StringIO(tables.fillings(changed).decode("utf-8-sig"), newline="")))
    assert [(r["defect"], r["row"], r["filler_ml"]) for r in rows] == [
        ("check", "defects.csv row 3", "4.3"),
        ("screw hole", "defects.csv row 4", "0.1"),
    ]
    inches = dataclasses.replace(changed, shop=dataclasses.replace(changed.shop, units="in"))
    head, *lines = tables.fillings(inches).decode("utf-8-sig").splitlines()
    # 4.23 ml / 16.387064 ml, 0.04 ml / 16.387064 ml, rounded up as on the sheet
    assert head.endswith(",filler_cu_in")
    assert [line.rpartition(",")[2] for line in lines] == ["0.26", "0.01"]
    assert not re.search("_mm|_ml", head)
    assert "fills.csv" in render_all(changed)
    assert "fills.csv" not in render_all(plan)
    assert "To fill" not in report.html(plan, ["a", "b"])


def test_after_the_bed_comes_the_rack(plan):
    """The last step says what to write on the leftovers."""
    assert sheet_work.steps(plan, plan.layouts[0])[-1] == (
        "After the bed",
        [
            "Take out the screws, lift the blank off and free the parts.",
            "Saw off leftover C07-a along its lines (table below), the blade outside of them, and clear of the "
            "screws. "
            "Label C07-a, return to the rack and note the shelf.",
        ],
    )
