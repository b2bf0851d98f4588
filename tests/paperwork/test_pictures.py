"""Pictures of blanks, beds and the rack."""

import dataclasses

import pytest

from nestyield.paperwork import bed_picture, blank_picture, curves, rack_picture
from nestyield.paperwork.canvas import Area, Text


def test_a_blank_shows_what_it_has(plan):
    """Each thing on the first blank is drawn once and named in the legend; nothing else is."""
    canvas, shown = blank_picture.picture(plan, plan.layouts[0])
    wanted = {"part", "pocket", "pocket-under", "contour", "cutout", "hole", "center", "watch", "seam"}
    wanted |= {"leftover", "rectangle", "grain", "pin", "clamp", "axis"}
    wanted |= {"defect knot", "defect check", "defect screw hole"}
    assert shown == wanted
    letters = [t.text for t in canvas.items if isinstance(t, Text)]
    for text in ("mandolin", "K", "CH", "SC", "H1", "H2", "S1", "S2", "seam 1", "a: 270 × 170 mm"):
        assert letters.count(text) == 1, text


def test_picture_says_in_words_what_it_shows(plan):
    """The description names wood, size, parts, grain, seams, defects and leftovers."""
    text = blank_picture.describe(plan, plan.layouts[0])
    for words in ("sugar maple", "mandolin", "grain at 0°", "1 seam", "1 knot", "1 leftover to keep"):
        assert words in text


def test_a_blank_lies_on_the_bed_where_the_setup_says(plan):
    """The blank's zero and corners come to lie at the setup's place, turned as it says."""
    setup = plan.layouts[0].setups[1]
    move = bed_picture.move_to_bed(setup)
    assert move.point((0.0, 0.0)) == (300.0, -60.0)
    assert move.point((100.0, 0.0)) == pytest.approx((300.0, 40.0))


def test_both_directions_have_one_scale(plan):
    """The two pictures of a bed can be compared: the table is equally large in both."""
    layout = plan.layouts[0]
    box = bed_picture.common_box(plan, layout, "bench")
    sizes = []
    for setup in layout.setups:
        canvas, shown = bed_picture.picture(plan, layout, setup, box=box)
        table = next(i for i in canvas.items if isinstance(i, Area) and i.style == "table")
        x0, y0, x1, y1 = curves.bounds(table.outlines)
        sizes.append((x1 - x0, y1 - y0))
        assert {"table", "travel", "keep-out", "open-end", "zero", "part"} <= shown
    assert sizes[0] == pytest.approx(sizes[1])


def test_states_of_the_rack(plan):
    """A piece is used, in part used, on hold, taken or stays."""
    piece = plan.shop.pieces[2]
    assert rack_picture.state(piece, 0) == "2 stay"
    assert rack_picture.state(piece, 1) == "1 of 2 used"
    assert rack_picture.state(piece, 2) == "all 2 used"
    assert rack_picture.state(plan.shop.pieces[0], 1) == "used"
    assert rack_picture.state(plan.shop.pieces[3], 0) == "on hold"
    assert rack_picture.state(dataclasses.replace(piece, status="taken"), 0) == "taken"
    assert rack_picture.used_copies(plan) == {"C07": 1, "T-3": 1}
