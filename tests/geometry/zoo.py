"""Odd shapes that every function of the room must bear, and random ones."""

import numpy as np

from nestyield.geometry import grid


def ring(*points):
    return grid.to_grid(points)


def star(rng, n, size_um, least=0.35):
    """A star-shaped polygon with random turns and reaches."""
    turn = np.sort(rng.uniform(0, 2 * np.pi, n))
    far = size_um * rng.uniform(least, 1.0, n)
    out = grid.tidy(np.rint(np.column_stack([far * np.cos(turn), far * np.sin(turn)])).astype(np.int64))
    return out if grid.ring_area_um2(out) > 0 else out[::-1]


def smooth(rng, n, size_um):
    """A smooth closed curve with dents."""
    turn = np.arange(n) * 2 * np.pi / n
    far = np.ones(n)
    for k in range(2, 6):
        far += 0.25 / k * rng.normal() * np.cos(k * turn + rng.uniform(0, 2 * np.pi))
    far = size_um * np.clip(far, 0.35, 2.0)
    return np.rint(np.column_stack([1.4 * far * np.cos(turn), far * np.sin(turn)])).astype(np.int64)


SQUARE = ring((0, 0), (40, 0), (40, 40), (0, 40))
SIMPLE = {
    "square": SQUARE,
    "triangle": ring((0, 0), (50, 5), (10, 40)),
    "sliver": ring((0, 0), (200, 0.001), (200, 0.003), (0, 0.002)),
    "needle": ring((0, 0), (150, 0.5), (0, 1)),
    "ell": ring((0, 0), (60, 0), (60, 20), (20, 20), (20, 60), (0, 60)),
    "cup": ring((0, 0), (80, 0), (80, 60), (60, 60), (60, 20), (20, 20), (20, 60), (0, 60)),
    "hook": ring(
        (0, 0), (70, 0), (70, 50), (30, 50), (30, 30), (35, 30), (35, 45), (65, 45), (65, 5), (0, 5)
    ),
    "comb": ring(
        *[(0, 0), (90, 0), (90, 50)],
        *[
            p
            for k in range(4, -1, -1)
            for p in ((18 * k + 9, 50), (18 * k + 9, 10), (18 * k + 4, 10), (18 * k + 4, 50))
        ],
        (0, 50),
    ),
    "saw": ring(*[(k, 10 + 3 * (k % 2)) for k in range(40, -1, -1)], (0, 0), (40, 0)),
    "tiny": ring((0, 0), (0.002, 0), (0.002, 0.002), (0, 0.002)),
    "far": ring((9000, 9000), (9100, 9000), (9100, 9050), (9000, 9080)),
    "collinear": ring((0, 0), (10, 0), (20, 0), (40, 0), (40, 20), (40, 40), (0, 40), (0, 10)),
    "round": smooth(np.random.default_rng(1), 120, 60_000),
    "spiky": star(np.random.default_rng(2), 25, 60_000, 0.1),
}
HOLED = {
    "frame": [SQUARE * 2, ring((20, 20), (60, 20), (60, 60), (20, 60))[::-1]],
    "two windows": [
        ring((0, 0), (100, 0), (100, 50), (0, 50)),
        ring((10, 10), (40, 10), (40, 40), (10, 40))[::-1],
        ring((60, 10), (90, 20), (60, 40))[::-1],
    ],
    "two islands": [SQUARE, SQUARE + 60_000],
}
REGIONS = {**{k: [v] for k, v in SIMPLE.items()}, **HOLED}
