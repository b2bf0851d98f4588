"""Where each piece of a glue-up is ripped and marked, against two boards worked by hand."""

import math
from dataclasses import replace

import boards
import pytest

from nestyield.glueup.boards import boards_of, in_blank, joins, on_piece
from nestyield.model import Member, Outline, Piece, Seam, Shape

PIECES = {"K-1": boards.A, "K-2": boards.B}


def cut(blank=boards.BLANK, pieces=PIECES, jointing=0.8, units="mm"):
    return boards_of(blank, pieces, jointing, units)


def test_lines_on_the_pieces():
    """A is ripped at 95 of 100; B, end for end, begins its line at its right end, 3 mm from its old edge."""
    a, b = cut()
    (upper,) = a.edges
    assert upper.upper
    assert upper.on_piece_mm == (pytest.approx((0, 95), abs=1e-3), pytest.approx((500, 95), abs=1e-3))
    assert upper.rip_on_piece_mm[0] == pytest.approx((0, 95.8), abs=1e-3)
    (lower,) = b.edges
    # left end of B's joint is the far end of its length; 120 - 3 = 117 across from its corner
    assert lower.on_piece_mm == (pytest.approx((480, 117), abs=1e-3), pytest.approx((0, 117), abs=1e-3))
    assert lower.rip_on_piece_mm[0] == pytest.approx((480, 117.8), abs=1e-3)
    assert upper.off_mm == pytest.approx((5, 5), abs=1e-3)
    assert lower.off_mm == pytest.approx((3, 3), abs=1e-3)
    assert upper.off_at_mm == pytest.approx((25, 475), abs=1e-3)


def test_marks():
    """Wood meets from 30 to 500: the mark at 265 is 265 from A's left end and 235 from B's, at 30."""
    a, b = cut()
    assert a.edges[0].mark_mm == pytest.approx(265, abs=1e-3)
    assert b.edges[0].mark_mm == pytest.approx(235, abs=1e-3)
    assert a.edges[0].mark_at_mm == b.edges[0].mark_at_mm == pytest.approx((265, 95), abs=1e-3)


def test_inches_measure_an_inch_in():
    """In an inch shop what comes off is measured one inch from either end."""
    assert cut(units="in")[0].edges[0].off_at_mm == pytest.approx((25.4, 474.6), abs=1e-3)


def test_taper():
    """An edge that rises 8 mm over 400 leaves 2.5 mm off 25 mm from its left end and 9.5 at the right."""
    tapered = replace(boards.A, shape=Shape(outer=Outline.polygon([(0, 0), (400, 0), (400, 105), (0, 97)])))
    blank = replace(boards.BLANK, seams=(Seam(name="seam 1", line_mm=((30.0, 95.0), (400.0, 95.0))),))
    edge = cut(blank, {**PIECES, "K-1": tapered})[0].edges[0]
    assert edge.off_mm == pytest.approx((2 + 8 * 25 / 400, 2 + 8 * 375 / 400), abs=2e-3)


def test_turning_the_whole_blank_changes_no_figure():
    """A glue-up whose seams stand upright asks the same of each piece."""
    blank = boards.BLANK

    def turn(p):
        return (-p[1], p[0])

    turned = replace(
        blank,
        members=tuple(
            replace(m, angle_deg=m.angle_deg + 90, x_um=-m.y_um, y_um=m.x_um) for m in blank.members
        ),
        shape=Shape(outer=Outline.polygon([turn(p) for p in blank.shape.outer.points_mm])),
        seams=(Seam(name="seam 1", line_mm=tuple(turn(p) for p in boards.SEAM.line_mm)),),
    )
    for before, after in zip(cut(), cut(turned)):
        for e, f in zip(before.edges, after.edges):
            assert f.mark_mm == pytest.approx(e.mark_mm, abs=1e-3)
            assert f.off_mm == pytest.approx(e.off_mm, abs=1e-3)
            for p, q in zip(e.on_piece_mm, f.on_piece_mm):
                assert q == pytest.approx(p, abs=1e-3)


@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize("angle", [0.0, 180.0, 33.0])
def test_there_and_back(mirrored, angle):
    """A point of the blank found on the piece lies where the piece lies."""
    member = Member(piece="a", copy=1, angle_deg=angle, mirrored=mirrored, x_um=12_345, y_um=-678)
    assert in_blank(on_piece((10.0, 20.0), member), member) == pytest.approx((10.0, 20.0))


def test_what_is_no_glue_up():
    """A single piece, a blank with a seam too few, and one of unknown pieces have no boards."""
    assert joins(replace(boards.BLANK, members=boards.MEMBERS[:1], seams=())) == ()
    assert cut(replace(boards.BLANK, seams=())) == ()
    assert cut(pieces={"K-1": boards.A}) == ()


def test_used_wood():
    """What stays of both pieces is the blank, and nothing is used twice."""
    a, b = cut()
    assert a.used.area == pytest.approx(500 * 95, abs=1)
    assert b.used.area == pytest.approx(480 * 117, abs=1)
    assert a.used.intersection(b.used).area < 1e-3


def test_round_end():
    """A piece with a round end has its line where the arc is, within the chords' two hundredths."""
    round_end = Piece(
        name="K-1",
        species="sugar maple",
        thickness_mm=44.5,
        shape=Shape(
            outer=Outline(points_mm=((0, 0), (450, 0), (450, 100), (0, 100)), bulges=(0.0, 1.0, 0.0, 0.0))
        ),
    )
    blank = replace(boards.BLANK, seams=(Seam(name="seam 1", line_mm=((30.0, 95.0), (470.0, 95.0))),))
    edge = cut(blank, {**PIECES, "K-1": round_end})[0].edges[0]
    # a half circle of 50 mm about (450, 50): at 95 it reaches sqrt(50^2 - 45^2) = 21.79 beyond
    assert edge.line_mm[1][0] == pytest.approx(471.794, abs=0.05)


def askew(piece, degrees):
    """The same wood, noted on the rack in a frame turned by so many degrees, and how it then lies as before."""
    a = math.radians(degrees)
    turn = [
        (x * math.cos(a) - y * math.sin(a), x * math.sin(a) + y * math.cos(a))
        for x, y in piece.shape.outer.points_mm
    ]
    shape = Shape(outer=Outline.polygon(turn))
    return replace(piece, shape=shape, grain_deg=degrees)


def test_a_piece_noted_askew_is_measured_as_it_lies():
    """TurnedMember 33 degrees on the rack A has no corner to measure from: the lower left of what lies there is it."""
    member = replace(boards.MEMBERS[0], angle_deg=-33.0)
    blank = replace(boards.BLANK, members=(member, boards.MEMBERS[1]))
    a, b = cut(blank, {**PIECES, "K-1": askew(boards.A, 33.0)})
    assert not a.ruler.on_rack
    assert b.ruler.on_rack
    assert a.ruler.corner == pytest.approx((0, 0), abs=2e-3)
    assert a.ruler.size(a.whole) == pytest.approx((500, 100), abs=2e-3)
    begin, end = a.edges[0].on_piece_mm
    assert begin == pytest.approx((0, 95), abs=2e-3)
    assert end == pytest.approx((500, 95), abs=2e-3)


def test_a_little_askew_is_still_measured_as_on_the_rack():
    """A taper of 2 degrees is measured from the piece's own corner; with no wood at the corner it is not."""
    member = replace(boards.MEMBERS[0], angle_deg=2.0)
    blank = replace(boards.BLANK, members=(member, boards.MEMBERS[1]))
    assert cut(blank)[0].ruler.on_rack
    no_corner = replace(
        boards.A, shape=Shape(outer=Outline.polygon([(60, 0), (500, 0), (500, 100), (0, 100), (0, 60)]))
    )
    assert not cut(pieces={**PIECES, "K-1": no_corner})[0].ruler.on_rack
