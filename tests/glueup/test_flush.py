"""Members of a glue-up lie flush at one end where that leaves the part its wood."""

from __future__ import annotations

import numpy as np

from nestyield.glueup.realize import flush, slide


def test_flush_takes_no_more_than_needed() -> None:
    """The member that needs its end farthest out decides; one that cannot come so far stays nearest."""
    assert flush([(-50, 0), (-80, -20), (-60, 10)]) == [-20, -20, -20]
    assert flush([(-50, 0), (5, 40)]) == [0, 5]


def test_a_level_edge_of_the_shifts_is_all_allowed() -> None:
    """Of a trapezium the lower edge from 10 to 70 lies level; the highest point is a corner alone."""
    from nestyield.geometry.grid import SUBGRID

    ring = np.array([[10, 0], [40, 0], [70, 0], [60, 30], [30, 45], [20, 30]]) * SUBGRID
    assert slide([ring], lowest=False, topmost=True) == (10, 70, 0)
    assert slide([ring], lowest=True, topmost=False) == (30, 30, 45)
