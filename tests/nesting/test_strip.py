"""The shortest strip, and when a line of the search starts again."""

import json
from pathlib import Path

import numpy as np
import pytest
from shapely import affinity
from shapely.geometry import Polygon, box

from nestyield.nesting.search_line import Incumbent
from nestyield.nesting.sheet import Sheet, SheetItem, nest
from nestyield.nesting.strip import Run

BENCH = Path(__file__).parents[3] / "shared" / "bench" / "strip"
#: Grid units a unit of the data.
UNIT = 10_000


@pytest.mark.outside(
    source="Alvarez-Valdes, Martinez, Tamarit 2013: optimum of three 6, of threep2 9.33", mark="M"
)
@pytest.mark.parametrize(("name", "length"), [("three", 6.0), ("threep2", 28 / 3)])
def test_small_instances_reach_the_proven_optimum(name, length, jit):
    """Guards contact along slanted edges; shapely lays the parts as told."""
    path = BENCH / f"{name}.json"
    if not path.is_file() or not jit:
        pytest.skip(f"needs {path} and the compiler")
    data = json.loads(path.read_text())
    outlines = [np.array(p["polygon"]) for p in data["parts"]]
    items = [
        SheetItem(name=str(p["id"]), outline=[_left(np.rint(o * UNIT).astype(np.int64))], count=p["demand"])
        for p, o in zip(data["parts"], outlines)
    ]
    wide = data["strip_width"]
    region = [np.array([[0, 0], [20, 0], [20, wide], [0, wide]]) * UNIT]
    sheet = Sheet(name="strip", region=[r.astype(np.int64) for r in region])
    found = nest(items, [sheet], goal="length", gap_um=0, seed=1, effort=3_000_000)
    laid = [affinity.translate(Polygon(outlines[p.item]), p.x_um / UNIT, p.y_um / UNIT) for p in found.places]
    assert len(laid) == sum(p["demand"] for p in data["parts"])
    for k, one in enumerate(laid):
        assert box(0, 0, 20, wide).buffer(1e-3).covers(one)
        assert all(one.intersection(other).area < 1e-3 for other in laid[:k])
    assert max(one.bounds[2] for one in laid) == pytest.approx(length, abs=1e-3)


def _left(ring):
    """Return a ring with its inside on the left."""
    x, y = ring[:, 0], ring[:, 1]
    return ring if (x * np.roll(y, -1) - y * np.roll(x, -1)).sum() > 0 else ring[::-1].copy()


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
