"""Answers kept for regions: equal by vertices, never by object, and the caller's own list."""

from __future__ import annotations

import numpy as np
import shapely

from nestyield.geometry.remember import remember_regions
from nestyield.geometry.sweep import rotation_intersection


def _square(at: int, size: int) -> np.ndarray:
    return np.array([[at, at], [at + size, at], [at + size, at + size], [at, at + size]], dtype=np.int64)


def test_equal_regions_are_asked_about_once_and_others_again() -> None:
    """An answer is given again for equal vertices and equal arguments, and for nothing else."""
    asked: list[tuple[int, int]] = []

    @remember_regions(2)
    def shifted(region, by=0):
        asked.append((int(region[0][0, 0]), by))
        return [r + by for r in region]

    first = shifted([_square(0, 10)], 5)
    first.append(_square(0, 1))
    assert [r.tolist() for r in shifted([_square(0, 10)], 5)] == [(_square(0, 10) + 5).tolist()]
    assert asked == [(0, 5)]
    shifted([_square(0, 10)], 6)
    shifted([_square(1, 10)], 5)
    assert asked == [(0, 5), (0, 6), (1, 5)]
    shifted([_square(0, 10)], 5)  # the oldest was let go
    assert asked[-1] == (0, 5)
    assert len(asked) == 4


def test_two_rings_are_not_one_of_the_same_vertices() -> None:
    """A region of two rings is told apart from one ring with the vertices of both."""
    kept = remember_regions(4)(lambda region: [np.array([[len(region), 0]] * 3)])
    two, one = [_square(0, 4), _square(9, 4)], [np.concatenate([_square(0, 4), _square(9, 4)])]
    assert kept(two)[0][0, 0] == 2
    assert kept(one)[0][0, 0] == 1


def test_other_centers_and_angles_are_other_answers() -> None:
    """What stays covered of a square is smaller for a wider turn, however often it is asked."""
    square = [_square(-50_000, 100_000)]
    areas = [
        shapely.Polygon(rotation_intersection(square, half, (0.0, 0.0))[0]).area for half in (1.0, 5.0, 1.0)
    ]
    assert areas[0] == areas[2] > areas[1]
