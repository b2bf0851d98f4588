import numpy as np
import pytest
from geometry_zoo import REGIONS, SIMPLE

from nestyield.geometry.grid import area_um2, bounds, ring_area_um2, tidy, to_grid, to_mm


def test_there_and_back():
    """Millimeters to the grid and back lose at most half a micrometer."""
    p = np.random.default_rng(1).uniform(-9000, 9000, (50, 2))
    assert np.abs(to_mm(to_grid(p)) - p).max() <= 0.0005 + 1e-9


def test_too_far_is_refused():
    """Beyond ten meters exact arithmetic is not promised."""
    with pytest.raises(ValueError, match="within 10 m"):
        to_grid([(0, 0), (10_001, 0)])
    with pytest.raises(ValueError, match="within 10 m"):
        to_grid([(0, 0), (float("nan"), 0)])


def test_area_far_from_the_origin_is_exact():
    """Coordinates are taken relative to the first vertex."""
    square = np.array([[0, 0], [3, 0], [3, 3], [0, 3]]) + 9_999_000
    assert ring_area_um2(square) == 9
    assert ring_area_um2(square[::-1]) == -9


def test_bounds_of_a_region():
    """The box of all rings; none for the empty region."""
    assert bounds(REGIONS["two islands"]) == (0, 0, 100_000, 100_000)
    with pytest.raises(ValueError, match="empty region"):
        bounds([])


@pytest.mark.parametrize("name", sorted(SIMPLE))
def test_tidy_keeps_area_and_direction(name):
    """Only vertices that say nothing are dropped."""
    ring = SIMPLE[name]
    noisy = np.repeat(ring, 2, axis=0)
    out = tidy(noisy)
    assert ring_area_um2(out) == ring_area_um2(ring)
    assert len(out) <= len(ring)


def test_tidy_drops_spikes_and_what_has_no_area():
    """A spike out and back goes; a line is nothing."""
    spike = np.array([[0, 0], [10, 0], [30, 0], [10, 0], [10, 10], [0, 10]])
    assert len(tidy(spike)) == 4
    assert len(tidy(np.array([[0, 0], [5, 5], [9, 9]]))) == 0
    assert area_um2([]) == 0.0
