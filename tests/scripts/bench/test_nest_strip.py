"""The strip problem, from items to a layout that anyone can check."""

import json
import math
from pathlib import Path

import numpy as np
import pytest
from bench.nest_strip import nest_strip
from bench.problem import Item
from shapely.affinity import affine_transform
from shapely.geometry import Polygon, box

from nestyield.model import ModelError
from nestyield.nesting.search_line import Incumbent, Tuning
from nestyield.nesting.strip import Run

BENCH = Path(__file__).parents[4] / "shared" / "bench" / "strip"
QUARTERS = (0.0, 90.0, 180.0, 270.0)


def placed(items, layout):
    """Polygons of a layout, by its own rule: mirrored in x, turned about the origin, shifted."""
    out = []
    for s in layout.spots:
        a = math.radians(s.angle_deg)
        c, n = (round(math.cos(a), 15), round(math.sin(a), 15))
        m = -1 if s.mirrored else 1
        rings = items[s.item].rings
        out.append(affine_transform(Polygon(rings[0], rings[1:]), (c * m, -n, n * m, c, s.x, s.y)))
    return out


def check(items, layout, width):
    """Every copy is there, inside the strip, and overlaps nothing."""
    shapes = placed(items, layout)
    counts = [sum(s.item == k for s in layout.spots) for k in range(len(items))]
    assert counts == [it.count for it in items]
    strip = box(-1e-6, -1e-6, layout.length + 1e-6, width + 1e-6)
    for i, a in enumerate(shapes):
        assert strip.contains(a)
        for b in shapes[:i]:
            assert a.intersection(b).area < 1e-7 * min(a.area, b.area)


def random_items(rng, kinds, corners=8, free=False):
    items = []
    for k in range(kinds):
        a = np.sort(rng.random(int(rng.integers(3, corners + 1)))) * 2 * math.pi
        r = 3 + 7 * rng.random(len(a))
        ring = np.round(np.column_stack([r * np.cos(a), r * np.sin(a)]), int(rng.integers(0, 4)))
        shape = Polygon(ring) if len(ring) > 2 else Polygon()
        if not shape.is_valid or shape.area < 1:
            ring = np.array([[0, 0], [5, 0], [2, 4]])
        turns = None if free else QUARTERS[: int(rng.integers(1, 5))]
        items.append(
            Item(
                name=str(k), rings=[[tuple(p) for p in ring]], count=int(rng.integers(1, 4)), angles_deg=turns,
                mirror=bool(rng.random() < 0.3),
            )
        )  # fmt: skip
    return items


@pytest.mark.parametrize("free", [False, True])
def test_random_layouts_are_valid(free, jit):
    """Guards that search, separation and rounding never print an overlap, whatever the scale."""
    rng = np.random.default_rng(17)
    for k in range((2 if free else 8) if jit else 1):
        items = random_items(rng, int(rng.integers(2, 6)), free=free)
        width = float(np.round(22 + 10 * rng.random(), 2)) * 10.0 ** int(rng.integers(0, 1))
        layout = nest_strip(items, width, seed=k, effort=60_000 if jit else 3_000, workers=1)
        check(items, layout, width)
        assert layout.length >= layout.bound - 1e-9


def test_ends_at_the_bound_and_keeps_to_small_efforts():
    """Guards that a proven layout ends the search, and that a small effort is not rounded up to a long search."""
    square = [(0, 0), (5, 0), (5, 5), (0, 5)]
    one = nest_strip([Item(name="block", rings=[square])], 7.0, effort=10**9, workers=1)
    assert (one.length, one.proven, one.stopped) == (5.0, True, "bound")
    cross = [(1, 0), (2, 0), (2, 1), (3, 1), (3, 2), (2, 2), (2, 3), (1, 3), (1, 2), (0, 2), (0, 1), (1, 1)]
    few = nest_strip([Item(name="cross", rings=[cross], count=5)], 7.0, effort=3_000, workers=1)
    assert few.stopped == "effort"
    assert few.evaluations < 30_000


@pytest.mark.parametrize("stall", [500, 20_000, Tuning().stall])
def test_same_seed_and_effort_same_layout_with_any_number_of_workers(stall, jit):
    """Guards that threads only share the work, also when lines start from nothing now and then."""
    items = random_items(np.random.default_rng(3), 5)
    effort, tuning = 400_000 if jit else 3_000, Tuning(stall=stall)
    a, b = (nest_strip(items, 30.0, seed=4, effort=effort, workers=k, tuning=tuning) for k in (1, 2))
    check(items, a, 30.0)
    assert a.spots == b.spots
    assert a.length == b.length


@pytest.mark.outside(
    source="Alvarez-Valdes, Martinez, Tamarit 2013: optimum of three 6, of threep2 9.33", mark="M"
)
@pytest.mark.parametrize(("name", "length"), [("three", 6.0), ("threep2", 28 / 3)])
def test_small_instances_reach_the_proven_optimum(name, length, jit):
    """Guards contact along slanted edges and the start from a length that is too short."""
    path = BENCH / f"{name}.json"
    if not path.is_file() or not jit:
        pytest.skip(f"needs {path} and the compiler")
    data = json.loads(path.read_text())
    items = [
        Item(name=str(p["id"]), rings=[[tuple(q) for q in p["polygon"]]], count=p["demand"])
        for p in data["parts"]
    ]
    layout = nest_strip(items, data["strip_width"], seed=1, effort=3_000_000)
    check(items, layout, data["strip_width"])
    assert layout.length == pytest.approx(length, abs=1e-5)


@pytest.mark.outside(
    source="dighe1, dighe2: jigsaws of length 100 by construction; ESICUP data sets, CC0", mark="S"
)
@pytest.mark.parametrize("name", ["dighe1", "dighe2"])
def test_jigsaws_are_put_together(name):
    """Guards that a strip whose area is a whole length is first tried as a perfect fit."""
    path = BENCH / f"{name}.json"
    if not path.is_file():
        pytest.skip(f"needs {path}")
    data = json.loads(path.read_text())
    items = [Item(name=str(p["id"]), rings=[[tuple(q) for q in p["polygon"]]]) for p in data["parts"]]
    layout = nest_strip(items, data["strip_width"], seed=1, effort=1000)
    check(items, layout, data["strip_width"])
    assert layout.length == 100.0
    assert layout.proven


def test_exact_contact_loses_nothing(jit):
    """Guards that bars which fill the width exactly stand side by side to the last unit."""
    bar = [(0, 0), (0.7, 0), (0.7, 0.1), (0, 0.1)]
    items = [
        Item(name="bar", rings=[bar], count=9),
        Item(name="wedge", rings=[[(0, 0), (0.3, 0), (0, 0.3)]], count=2, angles_deg=(0.0, 180.0)),
    ]
    layout = nest_strip(items, 0.3, seed=1, effort=300_000 if jit else 30_000)
    check(items, layout, 0.3)
    assert layout.length == pytest.approx(2.4, abs=1e-6)


def test_mistakes_are_named():
    """Guards the messages for what cannot be laid."""
    square = [(0, 0), (5, 0), (5, 5), (0, 5)]
    with pytest.raises(ModelError, match="fit the width"):
        nest_strip([Item(name="block", rings=[square])], 4.0, effort=10)
    with pytest.raises(ModelError, match="effort or seconds"):
        nest_strip([Item(name="block", rings=[square])], 6.0)
    for bad in ({"effort": 0}, {"seconds": 0.0}, {"seconds": math.nan}):
        with pytest.raises(ModelError, match=f"expected {next(iter(bad))} >"):
            nest_strip([Item(name="block", rings=[square])], 6.0, **bad)
    for width in (0.0, -5.0, math.nan, math.inf):
        with pytest.raises(ModelError, match="expected a strip width > 0"):
            nest_strip([Item(name="block", rings=[square])], width, effort=10)
    with pytest.raises(ModelError, match="at least one turn for block"):
        nest_strip([Item(name="block", rings=[square], angles_deg=())], 6.0, effort=10)
    with pytest.raises(ModelError, match="area"):
        nest_strip([Item(name="line", rings=[[(0, 0), (1, 0), (2, 0)]])], 6.0, effort=10)


@pytest.mark.parametrize("upright", [False, True])
def test_a_bar_leans_as_far_as_the_strip_lets_it(upright):
    """Guards any angle: a bar a by b in a strip of width w leans by asin(w / hypot(a, b)) - atan(b / a).

    Source: trigonometry; the extents of a turned rectangle are a sin t + b cos t and a cos t + b sin t.
    """
    a, b, width = 10.0, 1.0, 8.0
    bar = [(0, 0), (b, 0), (b, a), (0, a)] if upright else [(0, 0), (a, 0), (a, b), (0, b)]
    lean = math.asin(width / math.hypot(a, b)) - math.atan(b / a)
    layout = nest_strip([Item(name="bar", rings=[bar], angles_deg=None)], width, effort=5_000, workers=1)
    check([Item(name="bar", rings=[bar])], layout, width)
    assert layout.length == pytest.approx(a * math.cos(lean) + b * math.sin(lean), rel=1e-6)


def test_five_squares_in_a_strip(jit):
    """Guards turned parts among others: five unit squares lie in a square of side 2 + sqrt(1/2).

    Source: F. Goebel (1979), Geometrical packing and covering problems; known to be best.
    """
    if not jit:
        return
    side = 2.0 + math.sqrt(0.5)
    items = [Item(name="unit", rings=[[(0, 0), (1, 0), (1, 1), (0, 1)]], count=5, angles_deg=None)]
    layout = nest_strip(items, side, seed=1, effort=3_000_000, workers=1)
    check(items, layout, side)
    assert side - 1e-6 <= layout.length < side + 1e-3


def test_when_a_search_starts_from_nothing():
    """Guards patience: at least the least, and as long as it took to come so far."""
    run = Run(began=100, gained=100)
    best = Incumbent(length=50.0, pos=np.zeros((0, 2)), shape=np.zeros(0, dtype=np.int32))
    assert not run.stalled(110, None, 10)
    assert run.stalled(111, None, 10)
    assert not run.stalled(140, best, 10)
    assert not run.stalled(180, best, 10)
    assert run.stalled(181, best, 10)
    run.begin(200)
    assert not run.stalled(205, best, 10)
