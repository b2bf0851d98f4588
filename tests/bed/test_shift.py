from __future__ import annotations

from dataclasses import replace

import pytest

from nestyield.bed.shift import may_shift_mm
from nestyield.model import HoldDown, KeepOut, Outline, Pin, Settings, Setup

SETTINGS = Settings(cutter_diameter_mm=6.0)
CHOSEN = Setup(
    bed="bench",
    along="x",
    fits=True,
    turned_deg=0.0,
    x_mm=100.0,
    y_mm=100.0,
    spare_x_mm=0.0,
    spare_y_mm=0.0,
    needs_x_mm=0.0,
    needs_y_mm=0.0,
)


@pytest.mark.parametrize(
    ("held", "keep_out", "off"),
    [
        # alone: the part at bed 130 to 330, the cutter's center 3 mm outside: 600 - 333 right, 127 left,
        # across 120 - 3 down, 400 - 223 up; the blank at 100 to 400, 100 to 260 over a table that is larger
        ([], None, 117.0),
        # a hole drilled at bed (190, 110): 110 above the end of the travel
        ([Pin(name="pin 1", x_mm=90.0, y_mm=10.0, diameter_mm=6.0)], None, 110.0),
        # drilled by hand only the table counts: 110 + 20 - 3
        ([Pin(name="pin 1", x_mm=90.0, y_mm=10.0, diameter_mm=6.0, by_hand=True)], None, 117.0),
        # a screw at bed (390, 200) and a keep-out for the cutter from 450 on: 60 less half a head
        (
            [HoldDown(name="screw 1", x_mm=290.0, y_mm=100.0, diameter_mm=10.0)],
            (450.0, 150.0, 460.0, 250.0),
            55.0,
        ),
    ],
)
def test_counts_pins_and_screws(make_part, make_blank, make_bed, at, held, keep_out, off):
    """The least of travel, table, keep-outs, reach of the drill and heads, worked out by hand."""
    part = make_part(Outline.rectangle(0, 0, 200, 100))
    blank = make_blank(Outline.rectangle(0, 0, 300, 160))
    bed = make_bed(600, 400, table=(-20.0, -20.0, 620.0, 420.0))
    if keep_out:
        bed = replace(
            bed, keep_outs=(KeepOut(name="jaw", outline=Outline.rectangle(*keep_out), blocks="cutter"),)
        )
    found = may_shift_mm(blank, [(part, at(30, 20))], bed, CHOSEN, SETTINGS, ("top",), None, held)
    assert found == pytest.approx(off, abs=0.01)


def test_every_face_counts(make_part, make_blank, make_bed, at):
    """Turned over about its lower edge the blank lies nearer to the end of the travel."""
    part = make_part(Outline.rectangle(0, 0, 200, 100))
    blank = make_blank(Outline.rectangle(0, 0, 300, 160))
    bed = make_bed(600, 400, table=(-20.0, -300.0, 620.0, 420.0))
    pairs, axis = [(part, at(30, 20))], ((0.0, 20.0), (300.0, 20.0))
    # bottom up the part lies at bed Y 120 - 100 to 120, the cutter's center down to 17
    found = may_shift_mm(blank, pairs, bed, CHOSEN, SETTINGS, ("bottom", "top"), axis, [])
    assert found == pytest.approx(17.0, abs=0.01)
