"""Equal bins: exact fits first, then overlap search."""

import numpy as np
from bench.nest_bins import nest_bins
from bench.problem import Item
from shapely.geometry import box


def _check(items, layout, width, height, shapes):
    assert len(shapes) == sum(it.count for it in items)
    room = box(-1e-6, -1e-6, width + 1e-6, height + 1e-6)
    for i, (a, s) in enumerate(zip(shapes, layout.spots)):
        assert room.contains(a)
        for b, t in zip(shapes[:i], layout.spots):
            assert s.bin != t.bin or a.intersection(b).area < 1e-7 * a.area


def _placed(items, layout):
    from shapely.affinity import affine_transform
    from shapely.geometry import Polygon

    turn = {0.0: (1, 0), 90.0: (0, 1), 180.0: (-1, 0), 270.0: (0, -1)}
    out = []
    for s in layout.spots:
        c, n = turn[s.angle_deg]
        out.append(affine_transform(Polygon(items[s.item].rings[0]), (c, -n, n, c, s.x, s.y)))
    return out


def test_random_parts_are_all_laid(jit):
    """Guards that every part lies in some bin and none overlap."""
    rng = np.random.default_rng(6)
    for _ in range(3 if jit else 1):
        items = []
        for k in range(4):
            w, h, c = rng.integers(3, 9, 3)
            ring = [(0, 0), (float(w), 0), (float(w), float(h)), (float(w) / 2, float(h) + float(c) / 2)]
            items.append(Item(name=str(k), rings=[ring], count=4, angles_deg=(0.0, 90.0, 180.0, 270.0)))
        layout = nest_bins(items, 20.0, 15.0, seed=1, effort=400_000 if jit else 4_000)
        _check(items, layout, 20.0, 15.0, _placed(items, layout))
        assert layout.bins >= layout.bound


def test_perfect_fit_over_two_bins(jit):
    """Guards that parts which fill two bins exactly are found to do so, rectangles or not."""
    wedge = [(0, 0), (4, 0), (0, 6)]
    items = [Item(name="w", rings=[wedge], count=4, angles_deg=(0.0, 180.0))]
    layout = nest_bins(items, 4.0, 6.0)
    assert layout.bins == 2
    assert layout.proven
    bars = [Item(name="b", rings=[[(0, 0), (4, 0), (4, 2), (0, 2)]], count=6)]
    layout = nest_bins(bars, 4.0, 6.0)
    assert layout.bins == 2
    _check(bars, layout, 4.0, 6.0, _placed(bars, layout))
