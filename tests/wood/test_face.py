"""A board's face as boxes that are never smaller than what they stand for."""

import numpy as np
import pytest
import shapely

from nestyield.model import Defect, Outline, Piece, Shape
from nestyield.wood.face import TICKS_PER_IN, BoardFace, polygon, shows_on

IN = 25.4


def piece(outline, defects=(), grain=0.0):
    return Piece(
        name="b",
        species="white ash",
        thickness_mm=25.4,
        shape=Shape(outer=outline),
        grain_deg=grain,
        defects=tuple(defects),
    )


def defect(outline, kind="knot", face="through", depth=None):
    return Defect(name="d", kind=kind, shape=Shape(outer=outline), face=face, depth_mm=depth)


def rectangle(x0, y0, x1, y1):
    return Outline.rectangle(x0 * IN, y0 * IN, x1 * IN, y1 * IN)


def inch(box):
    return tuple(v / TICKS_PER_IN for v in box)


def test_round_knot_is_its_box():
    """A round knot counts as the square around it, exact, and its diameter as the knot's."""
    face = BoardFace(piece(rectangle(0, 0, 96, 8), [defect(Outline.circle(20 * IN, 4 * IN, 1 * IN))]), "top")
    assert [inch(b) for b in face.boxes] == [(19, 3, 21, 5)]
    assert face.knots[0][1] == pytest.approx(2)


@pytest.mark.outside(source="area of a circular segment, mathematics", mark="D")
@pytest.mark.parametrize("bulge", [-0.9, -0.3, 0.2, 0.5, 1.0, 2.0])
def test_arcs(bulge):
    """An outline with an arc keeps its area within the chords' error, either way round."""
    outline = Outline(points_mm=((0, 0), (100, 0), (100, 80), (0, 80)), bulges=(0, bulge, 0, 0))
    made, off = polygon(Shape(outer=outline))
    assert made.area == pytest.approx(outline.signed_area_mm2, abs=400 * off)
    assert 0 < off < 0.02


@pytest.mark.parametrize("seed", range(10))
def test_boxes_cover(seed):
    """Defects and missing wood lie wholly inside the boxes that stand for them."""
    rng = np.random.default_rng(seed)
    corners = [(0, 0), (900, rng.uniform(-20, 40)), (1000, 180), (rng.uniform(0, 90), 200)]
    bulges = (rng.uniform(-0.05, 0.05), 0.0, 0.0, 0.3)
    outline = Outline(points_mm=tuple((float(x), float(y)) for x, y in corners), bulges=bulges)
    split = Outline.polygon([(300, 60), (600, 110), (602, 116), (298, 64)])
    b = piece(outline, [defect(split, "split"), defect(Outline.circle(400, 100, 17))])
    face = BoardFace(b, "bottom")
    boxes = shapely.union_all([shapely.box(*face.out(box)) for box in face.boxes]).buffer(2e-3)
    whole, _ = polygon(b.shape)
    missing = shapely.box(*whole.bounds).difference(whole)
    for flaw in (missing, polygon(b.defects[0].shape)[0], polygon(b.defects[1].shape)[0]):
        assert boxes.covers(flaw)
    assert boxes.area < 0.5 * whole.area


def test_grain_across_turns_the_board():
    """A board whose grain runs along Y is measured along Y, and boxes come back in its own coordinates."""
    b = piece(rectangle(1, 2, 9, 98), [defect(rectangle(2, 12, 4, 20))], grain=90.0)
    face = BoardFace(b, "top")
    assert (face.length, face.width) == (96 * TICKS_PER_IN, 8 * TICKS_PER_IN)
    assert [inch(x) for x in face.boxes] == [(10, 1, 18, 3)]
    assert face.out(face.boxes[0]) == pytest.approx((2 * IN, 12 * IN, 4 * IN, 20 * IN))


def test_faces():
    """A defect shows on its own face, and on both when it goes through."""
    spot = rectangle(1, 1, 2, 2)
    assert shows_on(defect(spot, face="top", depth=5), "top", 25)
    assert not shows_on(defect(spot, face="top", depth=5), "bottom", 25)
    assert shows_on(defect(spot, face="top", depth=25), "bottom", 25)
    assert shows_on(defect(spot, face="bottom"), "top", 25)
    assert BoardFace(piece(rectangle(0, 0, 50, 5), [defect(spot, "sapwood")]), "top").boxes == ()
