"""Boards graded by hand, and what the product makes of them."""

import numpy as np
import pytest

from nestyield.model import Defect, Outline, Piece, Seam, Shape
from nestyield.model.facts import BoardTooSmall, KnotTooLarge
from nestyield.wood.grading import grade_board, is_board

IN = 25.4


def board(length, width, *defects, **more):
    """Make a board in inches; a defect is (kind, x0, y0, x1, y1) and perhaps a face."""
    return Piece(
        name="b",
        species="northern red oak",
        thickness_mm=25.4,
        shape=Shape(outer=Outline.rectangle(0, 0, length * IN, width * IN)),
        defects=tuple(
            Defect(
                name=f"defects.csv row {i + 2}",
                kind=kind,
                shape=Shape(outer=Outline.rectangle(*(v * IN for v in box))),
                face=face[0] if face else "through",
                depth_mm=3 if face else None,
            )
            for i, (kind, *rest) in enumerate(defects)
            for box, face in [(rest[:4], rest[4:])]
        ),
        **more,
    )


@pytest.mark.outside(source="Wengert 1998: 6 7/16 in x 10 ft 9 in is SM 5; rules by hand", mark="S")
def test_published_board():
    """The published board measures 5; as No. 1 Common it needs 40 units in 2 cuttings."""
    clear = grade_board(board(129, 6.4375))
    assert (clear.surface_measure, clear.grade) == (5, "FAS")
    spoilt = grade_board(board(129, 6.4375, ("split", 60, 0, 69, 6.4375)))
    assert (spoilt.top.allowed, spoilt.top.needed) == (2, 40)
    assert spoilt.grade == "No. 1 Common"
    assert len(spoilt.top.cuttings_mm) == 2
    assert spoilt.top.units == pytest.approx(6.4375 * 120 / 12)


@pytest.mark.outside(source="NHLA rules: 6 in x 8 ft, SM 4, FAS is one cutting with 40 of 48 units", mark="S")
@pytest.mark.parametrize(
    ("bad_in", "grade"), [(0, "FAS"), (16, "FAS"), (16.25, "No. 1 Common"), (32, "No. 1 Common")]
)
def test_least_fas_board(bad_in, grade):
    """The least FAS board may lose 16 of its 96 in at an end, and not a quarter more."""
    defects = [("split", 0, 0, bad_in, 6)] if bad_in else []
    graded = grade_board(board(96, 6, *defects))
    assert (graded.surface_measure, graded.grade) == (4, grade)
    assert graded.top.units == pytest.approx(48 - bad_in / 2)


@pytest.mark.outside(
    source="NHLA rules: 8 in x 8 ft with a 5 in knot from 12 to 17 in, worked by hand", mark="D"
)
def test_knot_rule():
    """52.67 units would do for FAS, but the knot exceeds SM/3; as a dead spot it would not matter."""
    knotty = grade_board(board(96, 8, ("knot", 12, 1.5, 17, 6.5)))
    assert knotty.surface_measure == 5
    assert knotty.grade == "No. 1 Common"
    missed = knotty.top.why_not_better
    assert isinstance(missed, KnotTooLarge)
    # SM/3 = 5/3 in
    assert (missed.grade, missed.size_um, missed.most_um) == ("FAS", 127_000, 42_333)
    fas = grade_board(board(96, 8, ("worm", 12, 1.5, 17, 6.5)))
    assert (fas.grade, fas.top.needed, fas.top.counted) == ("FAS", 50, 52)
    assert fas.top.units == pytest.approx(8 * 79 / 12)
    assert grade_board(board(96, 8, ("knot", 12, 3, 13.65, 4.65))).grade == "FAS"
    assert grade_board(board(96, 8, ("knot", 12, 3, 13.7, 4.7))).grade == "No. 1 Common"


@pytest.mark.outside(source="NHLA rules: SM 8 is FAS with 80 units in 2 cuttings or 88 in 3", mark="S")
@pytest.mark.parametrize(
    ("cracks", "thick", "grade", "needed"),
    [
        (0, 0, "FAS", 80),
        (1, 8, "FAS", 80),
        (1, 32, "FAS", 80),
        (1, 32.25, "No. 1 Common", 64),
        (2, 2, "FAS", 88),
        (2, 6, "FAS", 88),
        (2, 6.25, "No. 1 Common", 64),
    ],
)
def test_surface_measure_eight(cracks, thick, grade, needed):
    """A 6 in x 16 ft board with cracks right across is FAS as long as the rule's units are left."""
    at = {0: (), 1: (80,), 2: (60, 120 + thick)}[cracks]
    graded = grade_board(board(192, 6, *[("split", x, 0, x + thick, 6) for x in at]))
    assert (graded.surface_measure, graded.grade) == (8, grade)
    assert graded.top.needed == needed


@pytest.mark.outside(source="NHLA rules: the grade is that of the poorer side, as remembered", mark="M")
def test_poorer_face_decides():
    """A flaw of one face leaves the other its grade, and the board the poorer of the two."""
    graded = grade_board(board(96, 6, ("knot", 40, 1, 46, 5, "bottom")))
    assert (graded.top.grade, graded.bottom.grade) == ("FAS", "No. 1 Common")
    assert graded.grade == "No. 1 Common"
    assert graded.poorer is graded.bottom


def test_small_and_hopeless_boards():
    """An offcut under 4 ft is below grade and still told its largest clear rectangle."""
    offcut = grade_board(board(40, 8, ("knot", 10, 2, 12, 4)))
    assert offcut.grade == "below grade"
    assert offcut.top.why_not_better == BoardTooSmall(grade="No. 3A Common", width_in=3, length_ft=4)
    assert offcut.top.largest_mm == pytest.approx((12 * IN, 0, 40 * IN, 8 * IN))
    assert offcut.top.clear_yield > 0.5
    gone = grade_board(board(60, 6, ("rot", 0, 0, 60, 6)))
    assert (gone.grade, gone.top.units, gone.top.largest_mm) == ("below grade", 0, None)


@pytest.mark.outside(
    source="NHLA rules, summary charts: each grade's units and least cuttings, by hand", mark="D"
)
@pytest.mark.parametrize(
    ("free", "grade"),
    [
        (((0, 66), (68, 96)), "No. 1 Common"),
        (((0, 23), (25, 59), (61, 83)), "No. 3A Common"),
        (((0, 24), (36, 60), (72, 96)), "No. 2A Common"),
        (((0, 23), (24, 47), (48, 71)), "below grade"),
    ],
)
def test_lower_grades(free, grade):
    """Cross bands of defects leave pieces of known length, from which the grade follows by hand."""
    bad, at = [], 0
    for a, b in [*free, (96, 96)]:
        if a > at:
            bad.append(("rot", at, 0, a, 6))
        at = b
    assert grade_board(board(96, 6, *bad)).grade == grade


def test_fraction_of_a_cutting_does_not_count():
    """Two cuttings whose fractions alone would make up the need do not, and lines move to save a unit."""
    graded = grade_board(board(96, 6, ("split", 39.9, 0, 56.1, 6)))
    assert graded.top.units == pytest.approx(2 * 39.9 / 2)
    assert graded.top.counted == 38


def test_tapered_board():
    """A board that is no rectangle measures by its mean width and holds only what wood there is."""
    taper = Piece(
        name="t",
        species="black cherry",
        thickness_mm=25.4,
        shape=Shape(outer=Outline.polygon([(0, 0), (96 * IN, 0), (96 * IN, 6 * IN), (0, 10 * IN)])),
    )
    graded = grade_board(taper)
    assert graded.surface_measure == 5
    for x0, y0, x1, y1 in graded.top.cuttings_mm:
        assert 0 <= x0 < x1 <= 96 * IN + 1e-6
        assert 0 <= y0 < y1 <= 10 * IN - x1 / 24 + 1e-6
    assert graded.top.clear_yield < 1


@pytest.mark.parametrize("seed", range(12))
def test_more_defects_never_help(seed):
    """A further defect never betters the grade, and a board turned end for end grades the same."""
    rng = np.random.default_rng(seed)
    length, width = int(rng.integers(60, 130)), int(rng.integers(5, 12))
    spots = []
    for _ in range(3):
        x, y = rng.uniform(0, length - 6), rng.uniform(0, width - 3)
        spots.append(("worm", x, y, x + rng.uniform(0.3, 6), y + rng.uniform(0.3, 3)))
    order = ["FAS", "No. 1 Common", "No. 2A Common", "No. 3A Common", "below grade"]
    ranks = [order.index(grade_board(board(length, width, *spots[:k])).grade) for k in range(4)]
    assert ranks == sorted(ranks)
    turned = [(k, length - c, width - d, length - a, width - b) for k, a, b, c, d in spots]
    one, other = grade_board(board(length, width, *spots)), grade_board(board(length, width, *turned))
    assert one.grade == other.grade
    assert one.top.units == pytest.approx(other.top.units, abs=1e-2)


def test_what_can_be_graded():
    """Sheets and glued-up pieces are no boards."""
    assert is_board(board(96, 6))
    assert not is_board(board(96, 6, grain_deg=None))
    assert not is_board(board(96, 6, seams=(Seam(name="s", line_mm=((0, 50), (900, 50))),)))
