"""How long the wood is below a seam: against shapely's clipping at every height asked."""

import numpy as np
import pytest
import shapely

from nestyield.glueup.held_length import HeldLength


def length_below(shape: shapely.Polygon, at: int) -> float:
    """Return the length along X of what of a shape lies no higher than a line."""
    x0, y0, x1, _ = shape.bounds
    held = shape.intersection(shapely.box(x0 - 1, y0 - 1, x1 + 1, at))
    return 0.0 if held.is_empty else held.bounds[2] - held.bounds[0]


@pytest.mark.parametrize("seed", range(12))
def test_against_clipping(seed):
    """The wood up to the seam is no longer than asked, and that up to one micrometer more is."""
    rng = np.random.default_rng([91, seed])
    n = int(rng.integers(3, 14))
    turns = np.sort(rng.uniform(0.0, 2.0 * np.pi, n))
    far = rng.uniform(2e4, 2e5, n)
    ring = np.round(np.column_stack([far * np.cos(turns), far * np.sin(turns)])).astype(np.int64)
    if seed % 3 == 0:  # level edges, as boards and bodies have
        ring[:, 1] -= ring[:, 1] % 20_000
    shape = shapely.Polygon(ring)
    if not shape.is_valid:
        shape = shape.convex_hull
        ring = np.array(shape.exterior.coords[:-1]).astype(np.int64)
    held = HeldLength([ring])
    whole = int(np.ptp(ring[:, 0]))
    assert held.seam(whole) is None
    for length in [int(v) for v in rng.uniform(0, whole - 1, 40)]:
        seam = held.seam(length)
        low = int(ring[:, 1].min())
        if seam > low:
            assert length_below(shape, seam) <= length + 0.01
        assert length_below(shape, seam + 1) > length - 0.01


def test_a_level_bottom_that_is_too_long():
    """Where even the lowest edge is longer than the piece, the seam is at that edge."""
    ring = np.array([[0, 0], [1000, 0], [1000, 500], [0, 500]], dtype=np.int64)
    assert HeldLength([ring]).seam(999) == 0
    assert HeldLength([ring]).seam(1000) is None
