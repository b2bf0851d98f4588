"""Equal circles in a square: published radii as a check of how exactly contact is told."""

from __future__ import annotations

import math

import pytest

from nestyield.model import Outline
from nestyield.placement.single import place_part

SIDE = 300.0


def _points() -> dict[int, list[tuple[float, float]]]:
    """Return the best known places of circle centers, scaled to a unit square of centers."""
    tan15 = math.tan(math.radians(15))
    t = 1 - math.sqrt(3) / 2
    corners = [(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)]
    return {
        1: [(0.5, 0.5)],
        2: [(0.0, 0.0), (1.0, 1.0)],
        3: [(0.0, 0.0), (1.0, tan15), (tan15, 1.0)],
        4: corners,
        5: [*corners, (0.5, 0.5)],
        8: [*corners, (0.5, t), (1 - t, 0.5), (0.5, 1 - t), (t, 0.5)],
        9: [(x / 2, y / 2) for x in range(3) for y in range(3)],
    }


POINTS = _points()
#: Published radii in a unit square, as remembered to six places.
RADII = {1: 0.5, 2: 0.292893, 3: 0.254333, 4: 0.25, 5: 0.207107, 8: 0.170541, 9: 0.166667}
PUBLISHED = pytest.mark.outside(
    source="equal circles in a square, best radii (Schaer 1965 and others), as remembered", mark="M"
)


def radius_of(count: int) -> float:
    """Return the radius for which the circles touch, from the least distance of the centers."""
    if count == 1:
        return 0.5
    points = POINTS[count]
    least = min(math.dist(p, q) for i, p in enumerate(points) for q in points[:i])
    return least / (2 * (1 + least))


def circles(jigsaw, count, radius_mm):
    room = 1 - 2 * radius_of(count)
    at = [(radius_of(count) + room * x, radius_of(count) + room * y) for x, y in POINTS[count]]
    if count == 1:
        at = [(0.5, 0.5)]
    return [jigsaw.lay_circle(f"c{i}", x * SIDE, y * SIDE, radius_mm) for i, (x, y) in enumerate(at)]


@PUBLISHED
@pytest.mark.parametrize("count", sorted(RADII))
def test_radii(count):
    """The places give the published radius, to the last place remembered."""
    assert radius_of(count) == pytest.approx(RADII[count], abs=6e-7)


@PUBLISHED
@pytest.mark.parametrize(
    "count", [1, 2, 3, 4, 5, *(pytest.param(n, marks=pytest.mark.study) for n in (8, 9))]
)
def test_audit_tells_contact(jigsaw, count):
    """Circles of the published radius touch and are accepted; 0.02 mm more in radius is refused."""
    square = Outline.rectangle(0, 0, SIDE, SIDE)
    radius = radius_of(count) * SIDE
    assert jigsaw.errors(jigsaw.make_plan(square, circles(jigsaw, count, radius))) == []
    found = jigsaw.errors(jigsaw.make_plan(square, circles(jigsaw, count, radius + 0.02)))
    assert {f.code for f in found} & {"A204", "A206"}


@PUBLISHED
@pytest.mark.parametrize("count", sorted(RADII))
def test_last_circle_finds_its_place(jigsaw, count):
    """With the others laid, the last circle goes in when 0.05 mm under size, and not when as much over.

    Chords lie at most 0.02 mm outside their arc, so under size leaves a little play and over size none.
    """
    square = Outline.rectangle(0, 0, SIDE, SIDE)
    blank = jigsaw.make_blank(square)
    for change, fits in ((-0.05, True), (0.05, False)):
        laid = circles(jigsaw, count, radius_of(count) * SIDE + change)
        for i in {0, count // 2, count - 1}:
            taken = [(o.part, o.placement) for k, o in enumerate(laid) if k != i]
            answer = place_part(laid[i].part, blank, jigsaw.settings, taken=taken)
            assert (answer.placement is not None) == fits, f"{count} circles, {change:+} mm: {answer.refusal}"
