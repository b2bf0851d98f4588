"""Perfect fits by exact search."""

import json
from pathlib import Path

import numpy as np
import pytest
from bench.jigsaw import perfect_fit
from bench.shapes import turned
from shapely.affinity import translate
from shapely.geometry import LineString, Polygon
from shapely.ops import split, unary_union

BENCH = Path(__file__).parents[4] / "shared" / "bench"


def _shape(kind, ring, angle=0.0):
    p = np.rint(np.array(ring)).astype(np.int64)
    return turned(kind, [p if Polygon(p).exterior.is_ccw else p[::-1].copy()], angle, False)


def _cut(rng, size, cuts):
    """Cut a square along lines between whole points of edges until no crossing is fractional."""
    pieces = [Polygon([(0, 0), (size, 0), (size, size), (0, size)])]
    while len(pieces) < cuts:
        k = int(np.argmax([p.area for p in pieces]))
        ring = list(pieces[k].exterior.coords)[:-1]
        a, b = rng.choice(len(ring), 2, replace=False)
        ends = []
        for i in (a, b):
            p, q = np.array(ring[i]), np.array(ring[(i + 1) % len(ring)])
            n = int(np.gcd(*np.abs(q - p).astype(int)))
            ends.append(p + (q - p) / n * int(rng.integers(0, n)) if n > 1 else p)
        if (ends[0] == ends[1]).all():
            continue
        parts = [g for g in split(pieces[k], LineString(ends)).geoms if g.area > 0]
        whole = all(float(v).is_integer() for g in parts for c in g.exterior.coords for v in c)
        if len(parts) == 2 and whole and min(g.area for g in parts) > 0.01 * size * size / cuts:
            pieces[k : k + 1] = parts
    return [list(p.exterior.coords)[:-1] for p in pieces]


def _check(answer, shapes, size, count):
    placed = [translate(Polygon(shapes[f.shape].rings[0]), f.x, f.y) for f in answer.fits]
    assert len(placed) == count
    assert sum(p.area for p in placed) == pytest.approx(size * size)
    assert (
        unary_union(placed).symmetric_difference(Polygon([(0, 0), (size, 0), (size, size), (0, size)])).area
        < 1e-6
    )


def test_cut_squares_are_put_together_again(jit):
    """Guards the search on jigsaws that exist by construction."""
    rng = np.random.default_rng(2)
    for _ in range(15 if jit else 2):
        rings = _cut(rng, 240, 12)
        shapes = [_shape(k, r) for k, r in enumerate(rings)]
        box = [np.array([[0, 0], [240, 0], [240, 240], [0, 240]])]
        answer = perfect_fit(shapes, [1] * len(shapes), [box], rng=rng)
        assert answer.fits is not None
        _check(answer, shapes, 240, len(shapes))


def test_container_need_not_be_a_rectangle():
    """Guards irregular containers: two triangles and a square fill an outline with a notch."""
    ring = np.array([[0, 0], [6, 0], [6, 3], [3, 3], [3, 6], [0, 6]])
    shapes = [_shape(0, [(0, 0), (3, 0), (3, 3), (0, 3)])]
    answer = perfect_fit(shapes, [3], [[ring]], rng=np.random.default_rng(1))
    assert answer.fits is not None
    assert sorted((f.x, f.y) for f in answer.fits) == [(0, 0), (0, 3), (3, 0)]


def test_no_fit_is_proved():
    """Guards that an exhausted search is told from one that ran out of effort."""
    shapes = [_shape(0, [(0, 0), (4, 0), (4, 1), (0, 1)]), _shape(1, [(0, 0), (2, 0), (2, 2), (0, 2)])]
    box = [np.array([[0, 0], [4, 0], [4, 2], [0, 2]])]
    answer = perfect_fit(shapes, [1, 1], [box], rng=np.random.default_rng(1))
    assert answer.fits is None
    assert answer.complete


@pytest.mark.outside(
    source="Terashima-Marin et al. 2010, bins of known optimum; ESICUP data sets, CC0", mark="S"
)
@pytest.mark.parametrize("name", ["TA001", "TB001C10", "TE001", "TV001C5", "TX001C8C5", "TZ001C20"])
def test_published_bins(name, jit):
    """Guards several containers at once, convex parts and others."""
    path = BENCH / "bins" / f"{name}.json"
    if not path.is_file() or not jit:
        pytest.skip(f"needs {path} and the compiler")
    data = json.loads(path.read_text())
    shapes = [_shape(k, p["polygon"]) for k, p in enumerate(data["parts"])]
    box = [np.array([[0, 0], [1000, 0], [1000, 1000], [0, 1000]])]
    bins = data["known_optimum_bins"]
    answer = perfect_fit(
        shapes, [p["demand"] for p in data["parts"]], [box] * bins, rng=np.random.default_rng(1)
    )
    assert answer.fits is not None
    for b in range(bins):
        placed = [
            translate(Polygon(shapes[f.shape].rings[0]), f.x, f.y) for f in answer.fits if f.container == b
        ]
        assert unary_union(placed).area == pytest.approx(1e6)
        assert sum(p.area for p in placed) == pytest.approx(1e6)
