"""One part in one blank: worked by hand, against shapely at sampled places, and the tilted rectangle."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely import affinity

from nestyield.bed.tilt import hull_of, tilt
from nestyield.geometry.grid import bounds, to_grid
from nestyield.geometry.shape import to_shapely
from nestyield.model import Defect, Outline, Part, Placement, Settings, Shape
from nestyield.model.pose import Pose
from nestyield.placement.single import place_part


def make_part(outline, grain=0.0, tolerance=0.0, **more):
    return Part(
        name="p",
        drawing="",
        outline=outline,
        thickness_mm=20.0,
        grain_deg=grain,
        grain_tolerance_deg=tolerance,
        **more,
    )


def knot(outline):
    return Defect(name="defects.csv row 2", kind="knot", shape=Shape(outer=outline))


@pytest.mark.outside(source="rectangles, worked by hand in the docstring", mark="D")
def test_knot_by_hand(jigsaw):
    """A 100 x 90 part in 200 x 100 with a knot of radius 10 at (60, 50) lies with x 70 to 100, y 0 to 10."""
    blank = replace(
        jigsaw.make_blank(Outline.rectangle(0, 0, 200, 100)), defects=(knot(Outline.circle(60, 50, 10)),)
    )
    part = make_part(Outline.rectangle(0, 0, 100, 90))
    answer = place_part(part, blank, jigsaw.settings)
    assert answer.placement is not None
    x0, y0, x1, y1 = bounds(answer.region)
    # the part's box, whichever end and face it lies by
    box = bounds(
        [
            Pose(angle_deg=answer.angle_deg, mirrored=answer.placement.mirrored).on_grid(
                to_grid([(0, 0), (100, 0), (100, 90), (0, 90)])
            )
        ]
    )
    x0, y0, x1, y1 = x0 + box[0], y0 + box[1], x1 + box[0], y1 + box[1]
    # chords around the knot lie at most 0.02 mm outside it
    assert (x0, y0, x1, y1) == (pytest.approx(70_000, abs=21), 0, 100_000, 10_000)
    bigger = make_part(Outline.rectangle(0, 0, 130.1, 90))
    assert place_part(bigger, blank, jigsaw.settings).placement is None
    assert place_part(bigger, replace(blank, defects=()), jigsaw.settings).placement is not None


@pytest.mark.outside(source="shapely 2 predicates at sampled places", mark="D")
@pytest.mark.parametrize("seed", range(8))
def test_region_against_shapely(jigsaw, seed):
    """Sampled places are allowed just when shapely finds part, margin, gap and knots in order."""
    rng = np.random.default_rng(seed)
    corners = [(0, rng.uniform(0, 30)), (400, 0), (380 + rng.uniform(0, 40), 200), (rng.uniform(0, 60), 230)]
    outline = Outline.polygon(corners)
    settings = Settings(
        cutter_diameter_mm=6.0,
        between_parts_mm=9.0,
        blank_margin_mm=6.35,
        planing_mm=0.0,
        chord_error_mm=0.005,
    )
    knots = [Outline.circle(rng.uniform(60, 340), rng.uniform(40, 190), rng.uniform(3, 15)) for _ in range(3)]
    blank = replace(jigsaw.make_blank(outline), defects=tuple(knot(k) for k in knots))
    part = make_part(Outline.polygon([(0, 0), (90, 5), (70, 40), (30, 25), (5, 60)]), grain=0.0)
    other = make_part(Outline.rectangle(0, 0, 60, 40))
    lies = Placement(part="p", order="", copy=1, angle_deg=0.0, mirrored=False, x_um=200_000, y_um=80_000)
    answer = place_part(part, blank, settings, taken=[(other, lies)])
    if answer.placement is None:
        pytest.fail(f"expected room for a small part: {answer.refusal}")
    seen = affinity.scale(
        to_shapely(Shape(outer=part.outline)), -1 if answer.placement.mirrored else 1, 1, origin=(0, 0)
    )
    moving = affinity.rotate(seen, answer.angle_deg, origin=(0, 0))
    wood = to_shapely(Shape(outer=outline)).buffer(-6.35, join_style="mitre")
    barred = shapely.box(200, 80, 260, 120).buffer(9.0, quad_segs=128)
    spots = shapely.union_all([to_shapely(Shape(outer=k)) for k in knots])
    ours = to_shapely(answer.region)
    for at in rng.uniform((-50, -50), (450, 280), (400, 2)):
        there = affinity.translate(moving, *at)
        if ours.boundary.distance(shapely.Point(at)) > 0.03:
            good = wood.covers(there) and not there.intersects(barred) and not there.intersects(spots)
            assert ours.covers(shapely.Point(at)) == good


CARVER = pytest.mark.outside(
    source="rectangle in a rectangle, tilted: Carver, Amer. Math. Monthly 64 (1957), rule as remembered",
    mark="M",
)


def least_width(p, q, a):
    """Return the least b for which p x q fits in a x b tilted, p > a."""
    return (2 * p * q * a + (p * p - q * q) * math.sqrt(p * p + q * q - a * a)) / (p * p + q * q)


@CARVER
@pytest.mark.parametrize(("p", "q", "a"), [(100, 10, 95), (150, 30, 149), (300, 80, 290), (210, 5, 160)])
def test_tilted_rectangle(jigsaw, p, q, a):
    """A part longer than its blank goes in tilted when the blank is wide enough, and not 0.1 mm under."""
    b = least_width(p, q, a)
    assert b < a
    part = make_part(Outline.rectangle(0, 0, p, q), grain=None)
    for more, fits in ((0.1, True), (-0.1, False)):
        blank = jigsaw.make_blank(Outline.rectangle(0, 0, a, b + more))
        assert (place_part(part, blank, jigsaw.settings).placement is not None) == fits


@pytest.mark.outside(source="shapely.oriented_envelope, minimum rectangle of a general library", mark="D")
@pytest.mark.parametrize("seed", range(10))
def test_least_box_goes_on_the_bed(seed):
    """Travel of the size of an outline's minimum rectangle takes it at some turn; of less area, at none."""
    rng = np.random.default_rng(seed)
    hull = shapely.MultiPoint(rng.uniform(0, 300, (9, 2)) * (1.0, 0.5)).convex_hull
    outline = Outline.polygon(list(hull.exterior.coords)[:-1])
    ring = np.array(shapely.oriented_envelope(hull).exterior.coords)
    sides = sorted(float(np.hypot(*(ring[i + 1] - ring[i]))) for i in range(2))

    found = tilt(hull_of(outline), 0.0, sides[1] + 0.001, sides[0] + 0.001)
    assert found is not None
    turned = affinity.rotate(hull, found.best_deg, origin=(0, 0)).bounds
    assert turned[2] - turned[0] <= sides[1] + 0.002
    assert turned[3] - turned[1] <= sides[0] + 0.002
    smaller = (sides[0] * sides[1] - 1.0) / sides[1]
    assert tilt(hull_of(outline), 0.0, sides[1], smaller) is None
