"""The compiled convolution against its plain twin: the same paths, vertex by vertex."""

import numpy as np
import pytest

from nestyield.geometry.minkowski import plain_convolution
from nestyield.nesting.quick_convolution import quick_convolution


def ring(rng, most, size):
    """Return a ring of any kind: star-shaped, crossing itself, on a coarse lattice (repeats, half turns), a box."""
    n = int(rng.integers(1, most))
    kind = rng.integers(4)
    if kind == 0:
        t = np.sort(rng.uniform(0, 2 * np.pi, n))
        return np.rint(size * np.column_stack([np.cos(t), np.sin(t)]) * rng.uniform(0.3, 1, (n, 1))).astype(
            np.int64
        )
    if kind == 1:
        return rng.integers(-size, size, (n, 2))
    if kind == 2:
        return rng.integers(-3, 4, (n, 2)) * 1000
    w, h = rng.integers(1, size, 2)
    return np.array([[0, 0], [w, 0], [w, h], [0, h]])[:: 1 if rng.random() < 0.5 else -1]


@pytest.mark.parametrize("windowed", [False, True])
@pytest.mark.parametrize("most", [8, 60])
def test_quick_paths_are_the_plain_ones(most, windowed):
    rng = np.random.default_rng([most, windowed])
    points = 0
    for _ in range(60):
        a, b = ring(rng, most, 50_000), ring(rng, most, 30_000)
        window = None
        if windowed:
            (x, y), (w, h) = rng.integers(-60_000, 60_000, 2), rng.integers(1, 40_000, 2)
            window = (int(x), int(y), int(x + w), int(y + h))
        plain, quick = plain_convolution(a, b, window, 16), quick_convolution(a, b, window, 16)
        assert [p.tolist() for p in plain] == [q.tolist() for q in quick]
        points += sum(map(len, plain))
    assert points > 50


def test_farthest_strips_are_within_reach_of_whole_numbers():
    """Half planes of the search are strips of 2 km: cross products of their edges stay exact."""
    far = 10**9
    strip = np.array([[-far, -far], [far, -far], [far, 5], [-far, 5]])
    small = np.array([[0, 0], [900, 0], [400, 700]])
    plain, quick = plain_convolution(strip, -small, None, 1), quick_convolution(strip, -small, None, 1)
    assert [p.tolist() for p in plain] == [q.tolist() for q in quick]
    (path,) = quick
    assert (path[:, 1].min(), path[:, 1].max()) == (-far - 700, 5)
