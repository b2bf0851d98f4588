"""Where seams go: against brute force, and worked by hand."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from nestyield.glueup.feasibility import SeamFeasibility
from nestyield.glueup.lyings import lyings
from nestyield.glueup.rules import (
    ForbiddenInterval,
    best_place,
    forbidden_intervals,
    free_intervals,
    violation_um,
)
from nestyield.glueup.seams import SETTLED_UM, _farthest, optimize_seams, wanted_seams
from nestyield.model import GlueUpRules, Outline, Part, Piece, Settings, Shape, Zone
from nestyield.model.facts import InNoSeamZone

SETTINGS = Settings(cutter_diameter_mm=6.0, blank_margin_mm=5.0, jointing_mm=1.0)


def rectangle(x0, y0, x1, y1):
    return Shape(outer=Outline.rectangle(x0, y0, x1, y1))


def body(*zones, length=400.0, width=300.0):
    return Part(
        name="p", drawing="", outline=Outline.rectangle(0, 0, length, width), thickness_mm=40.0, zones=zones
    )


def board(name, corners, **more):
    if isinstance(corners, tuple):
        corners = [(0, 0), (corners[0], 0), corners, (0, corners[1])]
    shape = Shape(outer=Outline.polygon(corners))
    return Piece(**{"name": name, "species": "maple", "thickness_mm": 44.0, "shape": shape, **more})


def field_of(part, pieces, strict=True, **rules):
    rules = GlueUpRules(**{"sliver_mm": 0.0, "least_piece_width_mm": 20.0, **rules})
    return SeamFeasibility(lyings(part, SETTINGS)[0], pieces, SETTINGS, rules, strict)


def pocket(y0, y1):
    return Zone(name="POCKET", role="pocket", face="front", depth_mm=19.0, shape=rectangle(150, y0, 250, y1))


CENTER = Zone(name="CENTER", role="center_line", line_mm=((0, 150), (400, 150)))


@pytest.mark.parametrize(
    ("wanted", "low", "high", "expected"),
    [(50, 0, 100, 50), (50, 60, 100, 60), (15, 0, 100, 10), (26, 0, 100, 30), (15, 12, 28, None)],
)
def test_best_place(wanted, low, high, expected):
    """No seam strictly between 10 and 30; its ends are free."""
    zone = Zone(name="Z", role="no_seam", shape=rectangle(0, 0.010, 5, 0.030))
    lying = lyings(body(zone), SETTINGS)[0]
    bars = [
        b for b in forbidden_intervals(lying, GlueUpRules(sliver_mm=0.0)) if b.rule == InNoSeamZone(zone="Z")
    ]
    assert [(b.low, b.high) for b in bars] == [(10, 30)]
    assert best_place(low, high, wanted, bars, True) == expected
    assert free_intervals(0, 100, bars) == [(0, 10), (30, 100)]


@pytest.mark.parametrize("seed", range(60))
def test_best_place_against_every_place(seed):
    """Least broken, then nearest, then lowest: as among all whole numbers of the interval."""
    rng = np.random.default_rng(seed)
    bars = []
    for _ in range(int(rng.integers(0, 4))):
        low = int(rng.integers(0, 90))
        bars.append(
            ForbiddenInterval(low=low, high=low + int(rng.integers(1, 40)), rule=InNoSeamZone(zone="Z"))
        )
    low = int(rng.integers(0, 60))
    high, wanted = low + int(rng.integers(0, 60)), int(rng.integers(0, 130))
    best = min(range(low, high + 1), key=lambda y: (violation_um(y, bars), abs(y - wanted), y))
    assert best_place(low, high, wanted, bars, False) == best
    assert best_place(low, high, wanted, bars, True) == (None if violation_um(best, bars) else best)


@pytest.mark.parametrize("way", [1, -1])
@pytest.mark.parametrize("guess", [None, -40, -13, 0, 20, 21, 22, 55])
def test_farthest(way, guess):
    """The last value that fits, wherever it is first looked for."""
    for last in (-20, -13, 0, 21, 50):
        found = _farthest(-way * 20, way * 50, way, lambda y, last=last: way * y <= last, guess)
        assert found == way * last


def test_two_boards_on_the_center_line():
    """Worked by hand: 170 mm serve up to 170 - 5 - 1 = 164, from 300 - 164 = 136; the center line at 150."""
    field = field_of(body(CENTER), [board("a", (420, 170)), board("b", (420, 170))])
    seams = optimize_seams(field, (0, 1))
    assert (seams.at_um, seams.off_um) == ((150_000,), 0)
    assert field.highest(0) == pytest.approx(164_000, abs=3)
    assert field.lowest(0) == pytest.approx(136_000, abs=3)


def test_three_boards_share_what_the_middle_one_lacks():
    """Worked by hand: wanted at 110 - 5 and 190 + 5, 90 apart; 70 mm give 68: each seam is 11 mm off."""
    pieces = [board("a", (420, 200)), board("m", (420, 70)), board("b", (420, 200))]
    field = field_of(body(CENTER, pocket(110, 190)), pieces)
    assert wanted_seams(field.lying, 3) == (105_000, 195_000)
    seams = optimize_seams(field, (0, 1, 2))
    assert seams.at_um == pytest.approx((116_000, 184_000), abs=300)
    assert seams.off_um == pytest.approx(11_000 * math.sqrt(2), abs=SETTLED_UM)
    assert seams.at_um[1] - seams.at_um[0] <= 68_003


def test_a_bar_decides_between_two_ways():
    """Worked by hand: the middle board gives 68 mm; a bar over 108 to 150 leaves seams at 150 and 195 only."""
    pieces = [board("a", (420, 200)), board("m", (420, 70)), board("b", (420, 200))]
    zones = (CENTER, pocket(110, 190), Zone(name="Z", role="no_seam", shape=rectangle(0, 108, 9, 150)))
    seams = optimize_seams(field_of(body(*zones), pieces), (0, 1, 2))
    # (108, 176): 3 and 19 mm off, 19.2 together; (150, 195): 45 mm off
    assert seams.at_um == pytest.approx((108_000, 176_000), abs=300)
    zones = (CENTER, pocket(110, 190), Zone(name="Z", role="no_seam", shape=rectangle(0, 60, 9, 150)))
    seams = optimize_seams(field_of(body(*zones), pieces), (0, 1, 2))
    # (60, 128): 45 and 67 mm off; (150, 195): 45 mm off
    assert seams.at_um == pytest.approx((150_000, 195_000), abs=3)


def test_where_the_rules_may_give_the_least_broken_place_is_taken():
    """Worked by hand: the pair can have its seam from 136 to 164; 120 to 190 is barred."""
    zone = Zone(name="Z", role="no_seam", shape=rectangle(0, 120, 9, 190))
    pieces = [board("a", (420, 170)), board("b", (420, 170))]
    assert optimize_seams(field_of(body(CENTER, zone), pieces), (0, 1)) is None
    seams = optimize_seams(field_of(body(CENTER, zone), pieces, strict=False), (0, 1))
    # 16 mm inside at 136, 26 mm at 164
    assert seams.at_um[0] == pytest.approx(136_000, abs=3)
    assert seams.violation_um == pytest.approx(16_000, abs=3)


def odd(rng, name, members):
    """A board with a waist, a step or a slant, so that reach does not follow its width alone."""
    length, width = rng.uniform(412, 470), rng.uniform(1.0, 1.5) * 340 / members
    cut = rng.uniform(0, 60 / members, size=4)
    corners = [(0, cut[0]), (length / 2, rng.uniform(0, 6)), (length, cut[1]), (length, width - cut[2])]
    corners += [(length * rng.uniform(0.3, 0.7), width), (0, width - cut[3])]
    return board(name, [(float(x), float(y)) for x, y in corners])


@pytest.mark.parametrize("members", [2, 3, 4])
@pytest.mark.parametrize("seed", [0, 1, *(pytest.param(k, marks=pytest.mark.study) for k in range(2, 6))])
def test_against_brute_force(members, seed):
    """No seams on a grid of 4 mm (6 mm for three seams) are better than those settled, and where there are none, none are found."""
    rng = np.random.default_rng([seed, members])
    zones = [CENTER, pocket(*sorted(rng.uniform(60, 240, size=2).tolist()))]
    for k in range(int(rng.integers(0, 3))):
        y = float(rng.uniform(40, 240))
        zones.append(Zone(name=f"Z{k}", role="no_seam", shape=rectangle(5, y, 9, y + rng.uniform(5, 40))))
    part = body(*zones)
    field = field_of(part, [odd(rng, f"b{k}", members) for k in range(members)], least_piece_width_mm=24.0)
    rows = tuple(range(members))
    bottom, top = field.lying.span_um
    grid = [
        y
        for y in range(bottom + 24_000, top - 24_000 + 1, 6000 if members > 3 else 4000)
        if not violation_um(y, field.bars)
    ]
    wanted = wanted_seams(field.lying, members)
    best = math.inf
    for at in itertools.combinations(grid, members - 1):
        if any(b - a < 24_000 for a, b in itertools.pairwise(at)):
            continue
        off = math.hypot(*(a - w for a, w in zip(at, wanted)))
        edges = [None, *at, None]
        if off < best and all(
            field.serving(r, low, high) is not None for r, low, high in zip(rows, edges, edges[1:])
        ):
            best = off
    seams = optimize_seams(field, rows)
    if best < math.inf:
        assert seams is not None
        assert seams.off_um <= best + SETTLED_UM
    if seams is not None:
        edges = [None, *seams.at_um, None]
        assert not any(violation_um(a, field.bars) for a in seams.at_um)
        assert all(field.serving(r, low, high) is not None for r, low, high in zip(rows, edges, edges[1:]))
        assert all(b - a >= 24_000 for a, b in itertools.pairwise([bottom, *seams.at_um, top]))
