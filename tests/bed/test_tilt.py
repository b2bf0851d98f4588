from __future__ import annotations

import contextlib
import math

import numpy as np
import pytest

from nestyield.bed.tilt import hull_of, least_travel, tilt
from nestyield.model import ModelError, Outline
from nestyield.model.pose import Pose


def carver(p: float, q: float, a: float, b: float) -> bool:
    """Whether a p x q rectangle (p >= q) fits in an a x b one (a >= b)."""
    if p <= a and q <= b:
        return True
    root = p * p + q * q - a * a
    return p > a and q <= b and b >= (2 * p * q * a + (p * p - q * q) * math.sqrt(root)) / (p * p + q * q)


@pytest.mark.outside(source="Carver, Amer. Math. Monthly 64 (1957), rule as remembered", mark="M")
def test_tilted_rectangle_rule():
    """3,000 random rectangles fit in a rectangle at some angle exactly when the published rule says so."""
    rng = np.random.default_rng(1957)
    fits = tilted = 0
    for _ in range(3000):
        a, b = sorted(rng.uniform(50, 600, 2))[::-1]
        p, q = sorted(rng.uniform(30, 800, 2))[::-1]
        found = tilt(hull_of(Outline.rectangle(0, 0, p, q)), 0.0, a, b)
        assert (found is not None) == carver(p, q, a, b), (p, q, a, b)
        fits += found is not None
        tilted += found is not None and p > a
    assert fits > 400
    assert tilted > 20


def drawn(rng: np.random.Generator) -> Outline:
    """Return the first outline drawn at random that does not cross itself."""
    while True:
        n = int(rng.integers(3, 9))
        angles = np.sort(rng.uniform(0, 2 * math.pi, n))
        radii = rng.uniform(60, 200, n)
        points = tuple((float(r * math.cos(t)), float(r * math.sin(t))) for r, t in zip(radii, angles))
        with contextlib.suppress(ModelError):
            return Outline(points_mm=points, bulges=tuple(float(b) for b in rng.uniform(-0.2, 0.6, n)))


@pytest.mark.parametrize("seed", range(40))
def test_against_a_sweep_over_angles(seed):
    """Angles, best spare and least travel of random hulls with arcs agree with a fine sweep of all angles."""
    rng = np.random.default_rng(seed)
    outline = drawn(rng)
    hull = hull_of(outline)
    travel_x, travel_y = rng.uniform(180, 420, 2)
    turns = np.radians(np.arange(0.0, 360.0, 0.05))
    along = np.stack([np.cos(turns), -np.sin(turns)])
    across = np.stack([np.sin(turns), np.cos(turns)])
    wx, wy = np.ptp(hull @ along, axis=0) + 6.0, np.ptp(hull @ across, axis=0) + 6.0
    spare = np.minimum(travel_x - wx, travel_y - wy)
    found = tilt(hull, 6.0, travel_x, travel_y)
    if spare.max() > 0.0:
        assert found is not None
        assert spare.max() - 1e-3 <= found.spare_mm <= spare.max() + 0.3
        inside = np.zeros(len(turns), dtype=bool)
        for low, high in found.angles_deg:
            inside |= (np.degrees(turns) >= low) & (np.degrees(turns) <= high)
        assert not np.any(inside & (spare < -0.003))
        assert not np.any(~inside & (spare > 0.003))
    elif spare.max() < -0.3:
        assert found is None
    least = least_travel(hull, 6.0, travel_y)
    swept = np.where(wy <= travel_y, wx, np.inf).min()
    if math.isfinite(swept):
        assert least is not None
        assert swept - 0.7 <= least[0] <= swept + 1e-3


def test_circle_fits_exactly_and_not_a_tenth_less():
    """A circle with its cutter fits its own diameter at every angle, and nothing smaller."""
    hull = hull_of(Outline.circle(5, -7, 197.0))
    found = tilt(hull, 6.0, 400.0, 400.0)
    assert found is not None
    assert found.angles_deg == ((0.0, 360.0),)
    assert tilt(hull, 6.0, 399.9, 400.0) is None


def test_mirrored_hull_turns_the_other_way():
    """The tilt of a mirrored part is the mirrored tilt."""
    outline = Outline.polygon([(0, 0), (500, 0), (520, 60), (0, 40)])
    plain = tilt(hull_of(outline), 6.0, 480.0, 300.0)
    mirrored = tilt(hull_of(outline, Pose(mirrored=True)), 6.0, 480.0, 300.0)
    assert plain is not None
    assert mirrored is not None
    assert plain.spare_mm == pytest.approx(mirrored.spare_mm, abs=1e-6)
    back = sorted((360.0 - b, 360.0 - a) for a, b in mirrored.angles_deg)
    assert np.allclose(np.array(back), np.array(plain.angles_deg), atol=1e-6)
