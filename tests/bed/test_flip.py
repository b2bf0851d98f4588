from __future__ import annotations

from dataclasses import replace

import pytest

from nestyield.bed.flip import sections_lie_flipped
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
