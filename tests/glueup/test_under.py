"""What a seam runs through and how much wood is left, worked by hand."""

import boards
import pytest

from nestyield.glueup.under import crossings, laid, wood_left
from nestyield.model import Outline, Shape, Zone

# Part coordinates: the seam at y = 95 of the blank is y = 75 of the part, from x = 0 to 400.


def found(*zones, at=boards.AT):
    part = boards.shop(*zones).parts[0]
    return crossings(boards.SEAM, [laid(0, part, at)])


def test_pockets_from_both_faces():
    """19 mm from the front and 14 from the back leave 21 and 26 of 40 alone, and 7 where they overlap."""
    front = boards.pocket("FRONT", (100, 50, 200, 100), 19.0)
    back = boards.pocket("BACK", (150, 50, 300, 100), 14.0, face="back")
    (alone,) = found(front)
    assert (alone.length_mm, alone.wood_left_mm, alone.face) == (pytest.approx(100), 21.0, "up")
    (alone,) = found(back)
    assert (alone.length_mm, alone.wood_left_mm, alone.face) == (pytest.approx(150), 26.0, "down")
    both = found(front, back)
    assert [c.wood_left_mm for c in both] == [7.0, 7.0]


def test_pockets_that_meet_end_to_end_do_not_add_up():
    """Two pockets side by side along the seam each leave their own."""
    one = boards.pocket("ONE", (100, 50, 200, 100), 19.0)
    other = boards.pocket("OTHER", (200, 50, 300, 100), 14.0, face="back")
    assert [c.wood_left_mm for c in found(one, other)] == [21.0, 26.0]


def test_openings_holes_and_what_is_not_cut():
    """An opening and a drilled hole leave nothing; where no seam may run nothing is cut."""
    opening = boards.pocket("SLOT", (100, 70, 200, 80), None, role="cutout", face="through")
    hole = Zone(name="STUD", role="hole", shape=Shape(outer=Outline.circle(300, 75, 5)), depth_mm=None)
    watch = boards.pocket("WATCH", (0, 0, 400, 160), None, role="no_seam", face="through")
    through = found(opening, hole, watch)
    assert [(c.zone, c.wood_left_mm, c.face) for c in through] == [
        ("SLOT", 0.0, "through"),
        ("STUD", 0.0, "through"),
    ]
    assert through[1].length_mm == pytest.approx(10, abs=0.01)


def test_beside_the_seam():
    """A pocket that ends short of the seam is not crossed."""
    assert found(boards.pocket("ASIDE", (100, 76, 200, 100), 19.0)) == ()


def test_part_laid_back_up():
    """With the back up, a front pocket is cut from the face that lies down."""
    from dataclasses import replace

    at = replace(boards.AT, front_up=False, mirrored=True, x_um=460_000)
    (crossing,) = found(boards.pocket("FRONT", (100, 50, 200, 100), 19.0), at=at)
    assert (crossing.face, crossing.wood_left_mm) == ("down", 21.0)


def test_wood_left():
    """Overlapping spans count once, and nothing is left of less than nothing."""
    assert wood_left([], 40) == 40
    assert wood_left([(0, 10), (5, 20)], 40) == 20
    assert wood_left([(30, 40), (0, 10)], 40) == 20
    assert wood_left([(0, 40), (10, 20)], 40) == 0
