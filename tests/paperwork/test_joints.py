"""What a glue-up asks of each piece, worked by hand."""

import dataclasses
import itertools

import pytest

from nestyield.paperwork import joints


def test_staves_by_hand(glued):
    """K-1 rises from 84 to 92 over 420: at the ends of the seam (20 and 400) 4.4 and 11.6 come off."""
    a, b, c = joints.staves(glued, glued.layouts[-1])
    assert [s.letter for s in (a, b, c)] == ["A", "B", "C"]
    (upper,) = a.edges
    assert upper.upper
    assert (upper.off_start_mm, upper.off_end_mm) == pytest.approx((4.39, 11.61), abs=0.02)
    assert upper.mark_mm == pytest.approx(210.0, abs=0.02)
    low, high = b.edges
    assert (low.off_start_mm, low.off_end_mm) == pytest.approx((2.0, 2.0), abs=0.02)
    assert (high.off_start_mm, high.off_end_mm) == pytest.approx((3.0, 3.0), abs=0.02)
    assert (low.mark_mm, high.mark_mm) == pytest.approx((190.0, 190.0), abs=0.02)
    (under,) = c.edges
    assert under.off_start_mm == pytest.approx(2.5, abs=0.02)


def test_marks_of_neighbours_meet(glued):
    """Both pieces of a seam carry their mark at the same place of the blank."""
    staves = joints.staves(glued, glued.layouts[-1])
    for lower, upper in itertools.pairwise(staves):
        mine = next(e for e in lower.edges if e.upper)
        other = next(e for e in upper.edges if not e.upper)
        assert mine.mark == pytest.approx(other.mark)
        assert mine.seam == other.seam


def test_used_wood_fills_the_blank(glued):
    """What stays of the pieces covers nearly the blank's own area, and nothing twice."""
    layout = glued.layouts[-1]
    staves = joints.staves(glued, layout)
    assert sum(s.used.area for s in staves) == pytest.approx(layout.blank.shape.area_mm2, rel=0.01)
    assert staves[0].used.intersection(staves[1].used).area == pytest.approx(0.0, abs=1.0)


def test_a_single_piece_is_no_glue_up(plan):
    """A blank of one piece has no staves, and neither has one whose seams do not fit its pieces."""
    assert joints.staves(plan, plan.layouts[0]) == []


def test_seams_that_do_not_fit(glued):
    """With a seam missing nothing is guessed."""
    layout = glued.layouts[-1]
    blank = dataclasses.replace(layout.blank, seams=layout.blank.seams[:1])
    assert joints.staves(glued, dataclasses.replace(layout, blank=blank)) == []


def test_turning_the_blank_turns_nothing_else(glued):
    """A glue-up whose seams run upright gives the same figures."""
    from nestyield.model import Seam
    from nestyield.paperwork.curves import Move

    layout = glued.layouts[-1]
    turn = Move(angle_deg=90.0)
    blank = dataclasses.replace(
        layout.blank,
        shape=turn.shape(layout.blank.shape),
        members=tuple(
            dataclasses.replace(
                m,
                angle_deg=m.angle_deg + 90.0,
                x_um=round(turn.point((m.x_um, m.y_um))[0]),
                y_um=round(turn.point((m.x_um, m.y_um))[1]),
            )
            for m in layout.blank.members
        ),
        seams=tuple(Seam(name=s.name, line_mm=turn.points(s.line_mm)) for s in layout.blank.seams),
    )
    before = joints.staves(glued, layout)
    after = joints.staves(glued, dataclasses.replace(layout, blank=blank))
    for a, b in zip(before, after):
        for e, f in zip(a.edges, b.edges):
            assert f.mark_mm == pytest.approx(e.mark_mm, abs=0.01)
            assert (f.off_start_mm, f.off_end_mm) == pytest.approx((e.off_start_mm, e.off_end_mm), abs=0.02)
