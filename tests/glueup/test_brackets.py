"""How far rows serve, told by few looks, against the farthest seams found one by one and against shapely's sizes."""

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from shapely.geometry import Polygon, box

from nestyield.glueup import seams
from nestyield.glueup.brackets import Nested
from nestyield.glueup.clear_boxes import has_room
from nestyield.glueup.feasibility import SeamFeasibility
from nestyield.glueup.lyings import lyings
from nestyield.glueup.oracle import FeasibilityOracle
from nestyield.glueup.seams import optimize_seams
from nestyield.model import Defect, GlueUpRules, Outline, Part, Piece, Settings, Shape, Zone

SETTINGS = Settings(cutter_diameter_mm=6.0, blank_margin_mm=3.0, jointing_mm=1.5)
HOLE = Zone(name="HOLE", role="hole", shape=Shape(outer=Outline.circle(150.0, 80.0, 12.0)), face="through")
PART = Part(
    name="body",
    drawing="",
    outline=Outline.polygon([(0, 0), (300, 20), (320, 90), (200, 160), (30, 150)]),
    thickness_mm=15.0,
    grain_deg=0.0,
    zones=(HOLE,),
)
RULES = GlueUpRules(least_piece_width_mm=20.0)


def rack(seed: int, kind: str = "knot") -> list[Piece]:
    """Boards, plain, with a corner off, or with a defect."""
    rng = np.random.default_rng([seed, 11])
    out = []
    for k in range(8):
        length, width = float(rng.uniform(300, 420)), float(rng.uniform(50, 120))
        a, b = length * 0.2 * (k % 3 == 1), width * 0.3 * (k % 3 == 1)
        corners = [(0, 0), (length, 0), (length, width - b), (length - a, width), (0, width)]
        corners = corners if k % 3 == 1 else [(0, 0), (length, 0), (length, width), (0, width)]
        spot = Shape(outer=Outline.circle(length * rng.uniform(0.2, 0.8), width * rng.uniform(0.2, 0.8), 8.0))
        out.append(
            Piece(
                name=f"b{k}",
                species="maple",
                thickness_mm=20.0,
                shape=Shape(outer=Outline.polygon(corners)),
                grain_deg=0.0,
                defects=(Defect(name="1", kind=kind, shape=spot),) if k % 3 == 2 else (),
            )
        )
    return out


def field_of(pieces: list[Piece], settings: Settings = SETTINGS) -> SeamFeasibility:
    return SeamFeasibility(lyings(PART, settings)[0], pieces, settings, RULES)


def plainly(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let every band be worked out as a region, and every row be followed to its last micrometer."""
    monkeypatch.setattr(FeasibilityOracle, "holds", lambda self, low, high: self.fit(low, high) is not None)
    monkeypatch.setattr(SeamFeasibility, "shrinks", lambda self, row: False)


@pytest.mark.parametrize("kind", ["knot", "metal"])
@pytest.mark.parametrize("seed", [0, pytest.param(1, marks=pytest.mark.study)])
def test_rows_meet_as_their_farthest_seams_say(seed: int, kind: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Two rows come within a gap just where the lowest seam of the one less the highest of the other is no more."""
    pieces = rack(seed, kind)
    quick = field_of(pieces)
    ends = quick.ends()
    gaps = (0.0, 15_000.0, 60_000.0)
    told = {(i, k, g): ends.meet(i, k, g) for i, k in product(range(8), repeat=2) for g in gaps}
    found = [(quick.highest(r), quick.lowest(r)) for r in range(8)]
    plainly(monkeypatch)
    plain = field_of(pieces)
    up, down = [plain.up(r) for r in range(8)], [plain.down(r) for r in range(8)]
    assert told == {(i, k, g): down[k] - up[i] <= g for i, k, g in told}
    assert found == [(plain.highest(r), plain.lowest(r)) for r in range(8)]
    assert 20 < sum(told.values()) < len(told) - 20


@pytest.mark.parametrize("seed", [2, pytest.param(3, marks=pytest.mark.study)])
def test_seams_are_those_of_the_plain_way(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Seams of random orders of two to four rows are the same with sizes, neighbors and brackets and without."""
    rng = np.random.default_rng([seed, 12])
    pieces = rack(seed)
    orders = [tuple(rng.integers(0, 8, n).tolist()) for n in (2, 3, 4) for _ in range(25)]
    field = field_of(pieces)
    quick = [optimize_seams(field, rows) for rows in orders]
    assert 5 < sum(s is not None for s in quick) < len(orders) - 5
    plainly(monkeypatch)
    monkeypatch.setattr(seams._Settler, "_apart", lambda self: False)
    field = field_of(pieces)
    assert [optimize_seams(field, rows) for rows in orders] == quick


@pytest.mark.parametrize("less", [0, 4])
def test_the_box_of_a_band_is_that_of_the_wood_in_it(less: int) -> None:
    """The box of a band of the part grown by its margin, by shapely; and none is told where the allowance decides."""
    lying = lyings(PART, SETTINGS)[0]
    wood = Polygon(lying.wide[0])
    low, high = lying.held_um
    by = lying.jointing_um - less
    rng = np.random.default_rng(5)
    for _ in range(60):
        a, b = sorted(rng.integers(low + 2_000, high - 2_000, 2).tolist())
        for one, other in ((a, b + 100), (None, b), (a, None), (None, None)):
            strip = box(-1e9, -1e9 if one is None else one - by, 1e9, 1e9 if other is None else other + by)
            x0, y0, x1, y1 = wood.intersection(strip).bounds
            assert lying.extent(one, other, less) == pytest.approx((x0, y0, x1, y1), abs=1e-3)
    meager = replace(SETTINGS, blank_margin_mm=0.5)
    assert lyings(PART, meager)[0].extent(None, high - 5_000, 0) is None


def test_a_band_is_told_by_wider_and_narrower_ones() -> None:
    """Worked by hand: what lies in a band held is held, what holds a band that is not is not, and others are not told."""
    known = Nested()
    known.add(10, 50, True)
    known.add(0, 60, False)
    known.add(20, 40, True)
    assert [known.told(*band) for band in ((10, 50), (20, 30), (0, 60), (-5, 60))] == [
        True,
        True,
        False,
        False,
    ]
    assert [known.told(*band) for band in ((5, 50), (10, 55), (1, 59), (60, 70))] == [None] * 4


def test_metal_and_scant_margins_tell_nothing_by_neighbors() -> None:
    """No saw may meet a nail near a seam, wherever the part lies; an allowance past the margin is asked for at the seam alone."""
    assert [field_of(rack(0, "metal")).shrinks(r) for r in (0, 1, 2)] == [True, True, False]
    meager = replace(SETTINGS, blank_margin_mm=0.5)
    assert not any(field_of(rack(0), meager).shrinks(r) for r in range(8))


@pytest.mark.parametrize("seed", range(4))
def test_room_beside_boxes_is_found_where_a_try_of_every_shift_finds_it(seed: int) -> None:
    """Boxes on a coarse grid: every whole shift is tried, with the room asked for on each side."""
    rng = np.random.default_rng([seed, 13])

    def some(width: int, height: int) -> tuple[int, int, int, int]:
        x, y = rng.integers(-3, 12), rng.integers(-3, 10)
        return int(x), int(y), int(x + rng.integers(1, width)), int(y + rng.integers(1, height))

    found = 0
    for _ in range(150):
        container, needed = (0, 0, 14, 11), (2, 1, 2 + int(rng.integers(3, 12)), 1 + int(rng.integers(2, 9)))
        pairs = [(some(5, 5), (2, 1, needed[2] - int(rng.integers(0, 3)), needed[3])) for _ in range(3)]

        def clear(x: int, y: int, container=container, needed=needed, pairs=pairs) -> bool:  # type: ignore[no-untyped-def]
            inside = container[0] + 1 <= needed[0] + x and needed[2] + x <= container[2] - 1
            inside = inside and container[1] + 1 <= needed[1] + y and needed[3] + y <= container[3] - 1
            return inside and all(
                m[2] + x + 1 <= f[0] or f[2] + 1 <= m[0] + x or m[3] + y + 1 <= f[1] or f[3] + 1 <= m[1] + y
                for f, m in pairs
            )

        plain = any(clear(x, y) for x, y in product(range(-20, 20), repeat=2))
        assert has_room(container, needed, pairs, 1.0) == plain
        found += plain
    assert 20 < found < 130
