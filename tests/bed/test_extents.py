from __future__ import annotations

import contextlib
import math

import numpy as np
import pytest

from nestyield.bed.extents import cutter_box, cutter_box_all
from nestyield.bed.sweep import circumscribed
from nestyield.model import ModelError, Outline, Shape, Zone
from nestyield.model.arcs import box_of
from nestyield.model.pose import Pose


def random_outline(rng: np.random.Generator) -> Outline:
    """Return the first outline drawn at random that does not cross itself."""
    while True:
        n = int(rng.integers(3, 10))
        angles = np.sort(rng.uniform(0, 2 * math.pi, n))
        radii = rng.uniform(20, 100, n)
        points = tuple((float(r * math.cos(t)), float(r * math.sin(t))) for r, t in zip(radii, angles))
        with contextlib.suppress(ModelError):
            return Outline(points_mm=points, bulges=tuple(float(b) for b in rng.uniform(-1.5, 1.5, n)))


def reach(outline: Outline, angle: float) -> float:
    """How far an outline reaches in a direction, radians: the side of its box when it is turned back."""
    return box_of(outline, Pose(angle_deg=-math.degrees(angle))).x1


@pytest.mark.parametrize("seed", range(30))
def test_reach_against_fine_sampling(seed):
    """The reach of random arcs in random directions is that of ten thousand points on them."""
    rng = np.random.default_rng(seed)
    outline = random_outline(rng)
    samples = []
    n = len(outline.points_mm)
    for i in range(n):
        p, q, b = outline.points_mm[i], outline.points_mm[(i + 1) % n], outline.bulges[i]
        theta = 4 * math.atan(b)
        u = np.linspace(0.0, 1.0, 2001)
        # a point at angle theta * u of the arc, by the inscribed-angle construction
        scale = np.sin(theta * u / 2) / math.sin(theta / 2) * np.exp(-0.5j * theta * (1 - u))
        start, chord = complex(*p), complex(*q) - complex(*p)
        samples.append(start + chord * scale)
    z = np.concatenate(samples)
    for t in rng.uniform(0, 2 * math.pi, 8):
        sampled = float(np.max(z.real * math.cos(t) + z.imag * math.sin(t)))
        assert sampled - 1e-9 <= reach(outline, t) <= sampled + 2e-3


def test_circle_at_any_turn():
    """The box of a circle is its diameter, wherever it is turned, mirrored and shifted to."""
    box = box_of(Outline.circle(10.0, 0.0, 50.0), Pose(angle_deg=33.0, mirrored=True, x_mm=5.0, y_mm=7.0))
    assert (box.width, box.height) == pytest.approx((100.0, 100.0), abs=1e-9)
    middle = Pose(angle_deg=33.0, mirrored=True, x_mm=5.0, y_mm=7.0).point((10.0, 0.0))
    assert (box.x0 + 50.0, box.y0 + 50.0) == pytest.approx(middle)


def test_pocket_drawn_beyond_the_outline_counts(make_part):
    """A pocket that runs 20 mm past the edge takes the cutter's center 17 mm past it."""
    pocket = Zone(
        name="P", role="pocket", shape=Shape(outer=Outline.rectangle(80, 20, 120, 40)), depth_mm=10.0
    )
    part = make_part(Outline.rectangle(0, 0, 100, 60), zones=(pocket,))
    assert cutter_box(part, Pose(), 3.0) == (-3.0, -3.0, 117.0, 63.0)


@pytest.mark.parametrize("seed", range(12))
def test_cuts_anywhere_against_fine_sampling(make_part, seed):
    """Cuts inside, across and beside the outline count as far as points on them, a radius in, reach."""
    rng, radius = np.random.default_rng([77, seed]), 3.0
    outline, zones = random_outline(rng), []
    for k in range(6):
        x, y, size = *rng.uniform(-110, 110, 2), rng.uniform(8, 40)
        zones.append(
            Zone(name=f"P{k}", role="pocket", shape=Shape(outer=Outline.circle(x, y, size)), depth_mm=5.0)
        )
    part = make_part(outline, zones=tuple(zones))
    for degrees in rng.uniform(0, 360, 5):
        pose = Pose(angle_deg=float(degrees), mirrored=bool(rng.integers(2)), x_mm=12.5, y_mm=-7.25)
        sides = [reach(pose.outline(outline), t) + radius for t in (0.0, math.pi / 2, math.pi, -math.pi / 2)]
        for zone in zones:
            (a, b), (c, d) = (pose.point(p) for p in zone.shape.outer.points_mm)
            middle, r = (0.5 * (a + c), 0.5 * (b + d)), 0.5 * math.dist((a, b), (c, d)) - radius
            for i, along in enumerate((middle[0], middle[1], -middle[0], -middle[1])):
                sides[i] = max(sides[i], along + r)
        box = cutter_box(part, pose, radius)
        assert (box.x1, box.y1, -box.x0, -box.y0) == pytest.approx(sides, abs=1e-9)


def test_nothing_placed_has_no_box():
    """No placement, no box."""
    assert cutter_box_all((), 0.0, 3.0) is None


@pytest.mark.parametrize("seed", range(10))
def test_circumscribed_chains_never_cut_an_arc(seed):
    """Chains around outward arcs reach at least as far as the arc, and at most the stated error further."""
    rng = np.random.default_rng(seed)
    n = 5
    angles = np.linspace(0, 2 * math.pi, n, endpoint=False)
    points = tuple((100 * math.cos(t), 100 * math.sin(t)) for t in angles)
    outline = Outline(points_mm=points, bulges=tuple(float(b) for b in rng.uniform(0.05, 0.3, n)))
    chain = circumscribed(outline, 0.01)
    for t in rng.uniform(0, 2 * math.pi, 20):
        direction = np.array([math.cos(t), math.sin(t)])
        exact = reach(outline, float(t))
        assert exact - 1e-9 <= float(np.max(chain @ direction)) <= exact + 0.01 + 1e-9
