from __future__ import annotations

import math

import pytest
from things import block, disc, pocket, rect

from nestyield.geometry.grid import area_um2
from nestyield.model import Outline, Part, Zone
from nestyield.placement.parts import CONTOUR_STEPS, contour_depth_mm, part_shape, size_mm


def area_mm2(region):
    return area_um2(region) / 1e6


def test_a_round_part_is_never_smaller_than_true_when_safe():
    """Tangents: between pi r^2 and pi (r + e)^2; chords: between pi (r - e)^2 and pi r^2."""
    r, e = 50.0, 0.02
    part = Part(name="round", drawing="", outline=Outline.circle(7, -3, r), thickness_mm=10)
    safe, lenient = (area_mm2([part_shape(part, e, rounding).outline]) for rounding in ("safe", "lenient"))
    grid = 2 * math.pi * r * 0.0008
    assert math.pi * r**2 - grid <= safe <= math.pi * (r + e) ** 2 + grid
    assert math.pi * (r - e) ** 2 - grid <= lenient <= math.pi * r**2 + grid


def test_pockets_are_never_larger_than_true_when_safe():
    """What takes wood away errs the other way round."""
    part = block(zones=(pocket(disc(100, 40, 20), 10.0),))
    safe, lenient = (part_shape(part, 0.02, rounding).zone_regions["P"] for rounding in ("safe", "lenient"))
    assert area_mm2(safe) < math.pi * 400 < area_mm2(lenient)


@pytest.mark.parametrize(
    ("zone", "want"),
    [
        (pocket(rect(10, 10, 20, 20), 15.0, "back"), ("back", 15.0)),
        (pocket(rect(10, 10, 20, 20), 40.0), ("through", 40.0)),
        (pocket(rect(10, 10, 20, 20), 55.0), ("through", 40.0)),
        (Zone(name="Z", role="cutout", shape=rect(10, 10, 20, 20), face="through"), ("through", 40.0)),
        (Zone(name="Z", role="hole", shape=disc(20, 20, 3), depth_mm=12.0, face="front"), ("front", 12.0)),
        (Zone(name="Z", role="hole", shape=disc(20, 20, 3)), ("through", 40.0)),
    ],
)
def test_what_takes_wood_away_from_which_face(zone, want):
    """A zone as deep as the part goes right through, and counts as an opening."""
    shape = part_shape(block(zones=(zone,)), 0.02)
    ((_, face, depth),) = shape.removals
    assert (face, depth) == want
    assert bool(shape.openings) == (face == "through")


@pytest.mark.parametrize("role", ["no_seam", "screw_row"])
def test_zones_for_seams_take_nothing(role):
    """They are marks, not cuts."""
    shape = part_shape(block(zones=(Zone(name="Z", role=role, shape=rect(10, 10, 30, 30)),)), 0.02)
    assert shape.removals == ()


def test_the_least_of_slanted_and_rounded_contours():
    """At 0.6 of its width a quarter ellipse of depth 10 takes 10 (1 - 0.8) = 2, at the outline all of it."""
    assert contour_depth_mm(10.0, 0.0) == 0.0
    assert contour_depth_mm(10.0, 0.6) == pytest.approx(2.0)
    assert contour_depth_mm(10.0, 1.0) == 10.0
    assert all(contour_depth_mm(10.0, u) <= 10.0 * u for u in CONTOUR_STEPS)


def test_bands_of_a_straight_contour():
    """Along an edge of 200 mm a contour of 10 mm has bands of 200 x 10 (1 - u), each less deep than its end."""
    zone = Zone(name="C", role="contour", shape=rect(0, 70, 200, 80), depth_mm=12.0, face="front")
    bands = part_shape(block(zones=(zone,)), 0.02).removals
    assert len(bands) == len(CONTOUR_STEPS)
    for (band, face, depth), u in zip(bands, CONTOUR_STEPS):
        assert face == "front"
        assert area_mm2(band) == pytest.approx(200 * 10 * (1 - u), abs=2.0)
        assert depth == pytest.approx(12 * (1 - math.sqrt(1 - u * u)))


def test_answers_are_kept_and_sizes_are_of_the_box():
    """The same part gives the same object; another chord error another one."""
    part = block()
    assert part_shape(part, 0.02) is part_shape(part, 0.02)
    assert part_shape(part, 0.02) is not part_shape(part, 0.03)
    assert size_mm(part_shape(part, 0.02).outline) == (200.0, 80.0)


def test_a_contour_away_from_the_outline_takes_nothing():
    """How deep it is where is not known: 20 mm from an outline, a contour of 10 mm counts as wood."""
    zone = Zone(name="C", role="contour", shape=rect(90, 35, 110, 45), depth_mm=12.0, face="front")
    assert part_shape(block(zones=(zone,)), 0.02).removals == ()
