"""Chaining of open strands into outlines."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nestyield.geometry.chain import WELD_MM, Chains, Strand, chain, same_run


def line(a: tuple[float, float], b: tuple[float, float], source: int, bulge: float = 0.0) -> Strand:
    return Strand(points_mm=(a, b), bulges=(bulge,), source=source)


def polygon(points: list[tuple[float, float]], first: int = 0) -> list[Strand]:
    n = len(points)
    return [line(points[i], points[(i + 1) % n], first + i) for i in range(n)]


SQUARE = [(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)]


def test_lines_of_a_square_become_one_outline() -> None:
    """Four lines that touch make one closed outline of the right area."""
    result = chain(polygon(SQUARE), 0.1)
    assert [c.outline().signed_area_mm2 for c in result.closed] == [100.0]
    assert result.open == ()
    assert result.closed[0].sources == (0, 1, 2, 3)


def test_direction_and_order_do_not_matter() -> None:
    """Shuffled and reversed lines of many outlines give the same areas."""
    rng = np.random.default_rng(3)
    strands, areas = [], []
    for k in range(40):
        n = int(rng.integers(3, 12))
        angles = np.sort(rng.uniform(0, 2 * math.pi, n))
        points = [(30.0 * k + 5 * math.cos(a), 30.0 * (k % 7) + 5 * math.sin(a)) for a in angles.tolist()]
        made = polygon(points, first=100 * k)
        areas.append(chain(made, 0.1).closed[0].outline().signed_area_mm2)
        strands += [s.reversed() if rng.random() < 0.5 else s for s in made]
    order = rng.permutation(len(strands))
    result = chain([strands[i] for i in order], 0.001)
    got = sorted(abs(c.outline().signed_area_mm2) for c in result.closed)
    assert got == pytest.approx(sorted(map(abs, areas)), abs=1e-9)


def test_arcs_keep_their_bulge() -> None:
    """A half disc of one line and one arc keeps its exact area whichever way the arc is drawn."""
    for arc in (line((10.0, 0.0), (0.0, 0.0), 1, 1.0), line((0.0, 0.0), (10.0, 0.0), 1, -1.0)):
        result = chain([line((0.0, 0.0), (10.0, 0.0), 0), arc], 0.1)
        assert result.closed[0].outline().signed_area_mm2 == pytest.approx(math.pi * 12.5)


@given(st.floats(0.001, 0.099), st.floats(0, 2 * math.pi))
@settings(max_examples=40, deadline=None)
def test_gap_within_tolerance_is_closed_halfway(gap: float, turn: float) -> None:
    """A gap up to the tolerance is closed at its middle and its width is told."""
    strands = polygon(SQUARE)
    end = (10.0 + gap * math.cos(turn), gap * math.sin(turn))
    strands[0] = line((0.0, 0.0), end, 0)
    result = chain(strands, 0.1)
    assert len(result.closed) == 1
    (told,) = result.closed[0].gaps
    assert told.width_mm == pytest.approx(gap)
    assert told.at_mm == pytest.approx((10.0 + 0.5 * gap * math.cos(turn), 0.5 * gap * math.sin(turn)))


def test_gap_beyond_tolerance_stays_open() -> None:
    """A gap wider than the tolerance leaves one open chain."""
    strands = polygon(SQUARE)
    strands[0] = line((0.0, 0.0), (9.89, 0.0), 0)
    result = chain(strands, 0.1)
    assert result.closed == ()
    assert len(result.open) == 1
    assert len(result.open[0].sources) == 4


def test_nearest_ends_are_joined_first() -> None:
    """Of several ends within the tolerance the nearest two meet."""
    a = [line((0.0, 0.0), (5.0, 0.0), 0), line((5.02, 0.0), (5.0, 5.0), 1), line((5.0, 5.0), (0.0, 0.0), 2)]
    b = [line((5.08, -0.05), (9.0, 0.0), 3)]
    result = chain(a + b, 0.1)
    assert [c.sources for c in result.closed] == [(0, 1, 2)]
    assert [c.sources for c in result.open] == [(3,)]


def test_doubled_strands_are_left_out_and_told() -> None:
    """A line drawn twice, also backwards, is used once."""
    strands = [*polygon(SQUARE), line((0.0, 0.0), (10.0, 0.0), 7), line((10.0, 10.0), (10.0, 0.0), 8)]
    result = chain(strands, 0.1)
    assert len(result.closed) == 1
    assert result.doubled == ((7, 0), (8, 1))


def test_two_arcs_between_the_same_points_are_not_doubled() -> None:
    """Two half circles make a circle, not one arc drawn twice."""
    result = chain([line((0.0, 0.0), (2.0, 0.0), 0, 1.0), line((0.0, 0.0), (2.0, 0.0), 1, -1.0)], 0.1)
    assert result.doubled == ()
    assert abs(result.closed[0].outline().signed_area_mm2) == pytest.approx(math.pi)


def test_branch_is_told_and_not_joined() -> None:
    """Where three ends meet nothing is joined."""
    result = chain([*polygon(SQUARE), line((10.0, 0.0), (20.0, 0.0), 4)], 0.1)
    assert [b.at_mm for b in result.branches] == [(10.0, 0.0)]
    assert set(result.branches[0].sources) == {0, 1, 4}
    assert result.closed == ()


def test_short_run_is_not_closed_onto_itself() -> None:
    """A line no longer than the tolerance does not become an outline of no size."""
    result = chain([line((0.0, 0.0), (0.05, 0.0), 0)], 0.1)
    assert result.closed == ()
    assert len(result.open) == 1


def test_short_line_between_long_ones_keeps_its_place() -> None:
    """A chamfer shorter than the tolerance is not skipped when its ends touch."""
    corner = [(0.0, 0.0), (10.0, 0.0), (10.05, 0.05), (10.05, 10.0), (0.0, 10.0)]
    result = chain(polygon(corner), 0.2)
    assert len(result.closed) == 1
    assert len(result.closed[0].outline().points_mm) == 5


def test_ends_within_weld_are_one_point() -> None:
    """Rounding noise below a tenth of a micrometer is no gap."""
    strands = polygon(SQUARE)
    strands[1] = line((10.0 + 0.5 * WELD_MM, 0.0), (10.0, 10.0), 1)
    result = chain(strands, 0.0)
    assert len(result.closed) == 1
    assert result.closed[0].gaps == ()


def test_single_strand_that_ends_where_it_begins() -> None:
    """A polyline that is closed only by its last point becomes an outline."""
    strand = Strand(points_mm=(*SQUARE, SQUARE[0]), bulges=(0.0,) * 4, source=5)
    result = chain([strand], 0.1)
    assert result.closed[0].outline().signed_area_mm2 == 100.0


def test_nothing_gives_nothing() -> None:
    """No strands give no chains."""
    assert chain([], 0.1) == Chains(closed=(), open=(), branches=(), doubled=())


def test_every_strand_is_accounted_for() -> None:
    """Random soups of strands: each strand is in exactly one chain or told as doubled."""
    rng = np.random.default_rng(11)
    for _ in range(60):
        grid = rng.integers(0, 4, size=(int(rng.integers(1, 25)), 4)).astype(float)
        strands = [
            line((a, b), (c, d), i, 0.3) for i, (a, b, c, d) in enumerate(grid.tolist()) if (a, b) != (c, d)
        ]
        result = chain(strands, 0.1)
        used = [s for c in (*result.closed, *result.open) for s in c.sources]
        assert sorted(used + [d for d, _ in result.doubled]) == [s.source for s in strands]
        for c in result.closed:
            assert c.points_mm[0] == c.points_mm[-1]


def test_same_run_compares_points_and_bulges() -> None:
    """A strand equals itself reversed, and not one with another bulge."""
    a = line((0.0, 0.0), (1.0, 0.0), 0, 0.5)
    assert same_run(a, a.reversed())
    assert not same_run(a, line((0.0, 0.0), (1.0, 0.0), 0, 0.4))
