"""Orders of four rows and the farthest seams: quick ways against plain ones."""

from itertools import product

import numpy as np
import pytest

from nestyield.glueup.feasibility import SeamFeasibility
from nestyield.glueup.lyings import lyings
from nestyield.glueup.oracle import FeasibilityOracle
from nestyield.glueup.search import Search
from nestyield.model import Defect, GlueUpRules, Outline, Part, Piece, Settings, Shape

SETTINGS = Settings(cutter_diameter_mm=6.0, blank_margin_mm=5.0, jointing_mm=1.0)
PART = Part(
    name="p",
    drawing="",
    outline=Outline.polygon([(0, 60), (90, 0), (300, 20), (400, 150), (330, 290), (120, 300)]),
    thickness_mm=40.0,
)
RULES = GlueUpRules(sliver_mm=0.0, least_piece_width_mm=20.0)


def rack(seed: int, n: int, least_mm: float, most_mm: float, shortest_mm: float = 250.0) -> list[Piece]:
    """Boards, tapered or not, some shorter than the part, some with a knot."""
    rng = np.random.default_rng([seed, n])
    out = []
    for k in range(n):
        length, width = float(rng.uniform(shortest_mm, 450)), float(rng.uniform(least_mm, most_mm))
        a = float(rng.uniform(0, 8)) if k % 2 else 0.0
        knot = Shape(outer=Outline.circle(length / 3, width / 2, 4.0))
        out.append(
            Piece(
                name=f"b{k}",
                species="maple",
                thickness_mm=44.0,
                shape=Shape(outer=Outline.polygon([(0, a), (length, 0), (length, width), (0, width - a)])),
                count=1 + k % 2,
                defects=(Defect(name="K", kind="knot", shape=knot),) if k % 3 == 0 else (),
            )
        )
    return out


def plain_farthest(near: int, far: int, fits) -> int | None:  # type: ignore[no-untyped-def]
    """Return what halving alone finds."""
    way = 1 if far >= near else -1
    if fits(far):
        return far
    if not fits(near):
        return None
    good, bad = near, far
    while way * (bad - good) > 1:
        middle = (good + bad) // 2
        good, bad = (middle, bad) if fits(middle) else (good, middle)
    return good


@pytest.mark.parametrize("seed", range(3))
def test_where_a_seam_is_looked_for_first_changes_nothing(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Highest and lowest seams are those that halving alone finds; the guess saves most of the looks."""
    pieces = rack(seed, 5, 80, 330)
    lying = lyings(PART, SETTINGS)[0]
    looks = [0]
    real = FeasibilityOracle._fit

    def counted(self, low, high):  # type: ignore[no-untyped-def]
        looks[0] += 1
        return real(self, low, high)

    monkeypatch.setattr(FeasibilityOracle, "_fit", counted)
    quick = SeamFeasibility(lying, pieces, SETTINGS, RULES)
    found = [(quick.highest(r), quick.lowest(r)) for r in range(5)]
    taken, looks[0] = looks[0], 0
    monkeypatch.setattr(
        FeasibilityOracle,
        "_bisect",
        staticmethod(lambda near, far, fits, guess: plain_farthest(near, far, fits)),
    )
    plain = SeamFeasibility(lying, pieces, SETTINGS, RULES)
    assert found == [(plain.highest(r), plain.lowest(r)) for r in range(5)]
    assert any(end is not None for ends in found for end in ends)
    assert taken < looks[0]


@pytest.mark.parametrize("seed", range(3))
def test_orders_of_four_are_all_that_reach_by_rising_value(seed: int) -> None:
    """Orders of four come by rising value and are just those whose pairs reach each other, tried one by one."""
    pieces = rack(seed, 6, 75, 120, 412)
    search = Search(PART, pieces, SETTINGS, lambda p: p.shape.area_mm2, RULES)
    field = SeamFeasibility(lyings(PART, SETTINGS)[0], pieces, SETTINGS, RULES)
    ends, every = field.ends(), range(len(pieces))
    up, down = [ends.up(r) for r in every], [ends.down(r) for r in every]
    give = ends.width - 2 * field.lying.jointing_um
    below = float(np.sort(search.value)[-4:].sum()) * 0.98
    orders = list(search.rows.fours(field, ends, give, below))
    values = [value for value, _ in orders]
    assert values == sorted(values)
    expected = set()
    for a, b, c, d in product(range(len(pieces)), repeat=4):
        rows = (a, b, c, d)
        if any(rows.count(r) > pieces[r].count for r in rows) or sum(search.value[list(rows)]) >= below:
            continue
        if not (np.isfinite(up[a]) and np.isfinite(down[d])):
            continue
        low, high = field.reach(b, int(up[a]), True), field.reach(c, int(down[d]), False)
        if low is not None and high is not None and low >= high:
            expected.add(rows)
    assert {rows for _, rows in orders} == expected
    assert len(orders) == len(expected) > 0
