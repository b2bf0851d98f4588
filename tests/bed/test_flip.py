from __future__ import annotations

from dataclasses import replace

import pytest
import shapely

from nestyield.bed.fit import setup
from nestyield.bed.flip import plan_flip, sections_lie_flipped
from nestyield.model import KeepOut, Outline, Section, Settings


@pytest.mark.parametrize(
    ("axis_y", "keep_out", "lies"),
    [
        # 100 wide at y 50 to 150 of the bed; turned over about y = 50 it lies there again
        (50.0, None, True),
        # about its upper edge it comes to lie at 150 to 250, about 110 at 170 to 270
        (100.0, None, True),
        (110.0, (300.0, 240.0, 340.0, 300.0), False),
        (110.0, (300.0, 272.0, 340.0, 300.0), True),
        # about y = 180 it comes to lie at 310 to 410: over the table's closed side at 400
        (180.0, None, False),
    ],
)
def test_sections_turned_over_keep_clear(make_part, make_blank, make_bed, at, axis_y, keep_out, lies):
    """A blank in sections, turned over about the line of holes, keeps off keep-outs and closed ends."""
    part = make_part(Outline.rectangle(0, 0, 900, 60))
    blank = make_blank(Outline.rectangle(0, 0, 960, 100))
    bed = replace(
        make_bed(600, 400, table=(-20.0, 0.0, 620.0, 400.0)),
        open_ends=("x-", "x+"),
        keep_outs=(KeepOut(name="jaw", outline=Outline.rectangle(*keep_out)),) if keep_out else (),
    )
    sections = (
        Section(x_mm=-10.0, y_mm=50.0, turned_deg=0.0, from_mm=20.0, to_mm=560.0),
        Section(x_mm=-380.0, y_mm=50.0, turned_deg=0.0, from_mm=30.0, to_mm=550.0),
    )
    found = sections_lie_flipped(
        blank,
        [(part, at(30, 20))],
        bed,
        sections,
        Settings(cutter_diameter_mm=6.0),
        ((0.0, axis_y), (960.0, axis_y)),
    )
    assert found is lies


@pytest.mark.parametrize("room", [True, False])
def test_holes_for_pins_lie_within_reach(make_part, make_blank, make_bed, at, room):
    """Where the blank lies partly beyond the travel, holes are where the machine can drill; else by hand."""
    # waste all round, or to the right only, where the travel ends 9 mm past the part
    part = make_part(Outline.rectangle(0, 0, 560 if room else 588, 200))
    blank = make_blank(Outline.rectangle(0, 0, 660, 300 if room else 206))
    bed = replace(make_bed(600, 400, table=(-20.0, -20.0, 720.0, 420.0)), pin_diameter_mm=6.0)
    settings = Settings(cutter_diameter_mm=6.0)
    pairs = [(part, at(3, 50 if room else 3))]
    chosen = setup(blank, pairs, bed, "x", settings)
    assert chosen.fits
    pins, axis, _ = plan_flip(blank, pairs, bed, chosen, settings, True, shapely.Polygon())
    assert axis is not None
    assert len(pins) >= 2
    for pin in pins:
        x, y = pin.x_mm + chosen.x_mm, pin.y_mm + chosen.y_mm
        assert (0.0 <= x <= 600.0 and 0.0 <= y <= 400.0) is not pin.by_hand
    assert any(p.by_hand for p in pins) is not room
