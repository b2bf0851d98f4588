from __future__ import annotations

import pytest
import shapely

from nestyield.bed.pins import find_pins, only_flip, ways_down


@pytest.mark.parametrize(
    ("points", "ways"),
    [
        ([(0, 0), (100, 0)], 4),  # as it is, over, end for end, both
        ([(0, 0), (50, 0), (100, 0)], 4),
        ([(0, 0), (40, 0), (100, 0)], 2),
        ([(0, 20), (0, -20), (100, 0)], 2),
        ([(0, 20), (0, -20), (100, 20), (100, -20)], 4),
        ([(0, 20), (0, -20), (100, 40), (100, -40)], 2),
        ([(0, 0), (100, 0), (100, 100), (0, 100)], 8),  # a square: eight ways
        ([(0, 20), (100, 30), (100, -100)], 1),
    ],
)
@pytest.mark.outside(source="symmetry groups of point sets, counted by hand", mark="D")
def test_ways_down(points, ways):
    """The ways in which a blank goes down on its pins are the symmetries of the pins."""
    assert len(ways_down(points)) == ways
    assert only_flip(points) == (ways == 2)


def frame(inner: float = 30.0, w: float = 400.0, h: float = 200.0):
    """Waste along the edge of a blank."""
    return shapely.box(0, 0, w, h).difference(shapely.box(inner, inner, w - inner, h - inner))


def test_found_pins_are_sure_and_lie_in_the_waste():
    """With waste all round, pins are found that the blank goes down on in two ways only."""
    free = {"waste": frame(), "cutout": shapely.Polygon()}
    for axis, at in (("x", 100.0), ("y", 200.0)):
        pins = find_pins(free, axis, at, 6.0)
        assert pins is not None
        assert pins.sure
        assert only_flip(pins.points_mm)
        for x, y in pins.points_mm:
            assert free["waste"].covers(shapely.Point(x, y))
            over = (x, 2 * at - y) if axis == "x" else (2 * at - x, y)
            assert any(abs(over[0] - p) + abs(over[1] - q) < 1e-9 for p, q in pins.points_mm)
        assert set(pins.places) == {"waste"}


def test_two_small_corners_give_two_pins_that_are_not_sure():
    """Where only two places are free there are two pins, and they say that they do not tell end from end."""
    corners = shapely.union_all([shapely.box(0, 0, 3, 3), shapely.box(0, 97, 3, 100)])
    pins = find_pins({"waste": corners, "cutout": shapely.Polygon()}, "x", 50.0, 6.0)
    assert pins is not None
    assert len(pins.points_mm) == 2
    assert not pins.sure


def test_openings_serve_when_the_waste_does_not():
    """A core in an opening holds a pin when the waste alone has no room for two."""
    free = {"waste": shapely.box(0, 98, 4, 102), "cutout": shapely.box(200, 95, 300, 105)}
    pins = find_pins(free, "x", 100.0, 6.0)
    assert pins is not None
    assert "cutout" in pins.places
    assert pins.sure


def test_no_room_no_pins():
    """Without free wood there are no pins."""
    nothing = {"waste": shapely.Polygon(), "cutout": shapely.Polygon()}
    assert find_pins(nothing, "x", 0.0, 6.0) is None
    one = {"waste": shapely.box(0, 10, 4, 14), "cutout": shapely.Polygon()}
    assert find_pins(one, "x", 50.0, 6.0) is None
