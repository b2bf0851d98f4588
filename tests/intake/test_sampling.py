"""Fine chords for checks."""

from __future__ import annotations

import itertools
import math

import pytest

from nestyield.intake.sampling import CHECK_CHORD_MM, sample, sampled
from nestyield.model import Outline


@pytest.mark.parametrize("radius", [0.01, 1.0, 50.0, 3000.0])
def test_chords_lie_within_the_error(radius: float) -> None:
    """Vertices lie on the circle and chord middles no deeper than the error."""
    polygon = sampled(Outline.circle(3, 4, radius))
    ring = list(polygon.exterior.coords)
    for (x0, y0), (x1, y1) in itertools.pairwise(ring):
        assert math.hypot(x0 - 3, y0 - 4) == pytest.approx(radius)
        middle = math.hypot((x0 + x1) / 2 - 3, (y0 + y1) / 2 - 4)
        assert radius - CHECK_CHORD_MM - 1e-9 <= middle <= radius + 1e-9 or radius < CHECK_CHORD_MM * 10


@pytest.mark.parametrize("bulge", [-1.0, -0.2, 0.3, 1.0])
def test_area_of_a_bulge(bulge: float) -> None:
    """The sampled polygon has the outline's exact area within the chord error along the arc."""
    outline = Outline(points_mm=((0, 0), (90, 0), (90, 60), (0, 60)), bulges=(bulge * 0.5, 0, 0, 0))
    assert sampled(outline).area == pytest.approx(outline.signed_area_mm2, abs=CHECK_CHORD_MM * 120)


def test_open_runs_keep_their_last_point() -> None:
    """An open run ends at its end."""
    assert sample([(0, 0), (5, 0), (5, 5)], [0.0, 0.0], closed=False) == [(0, 0), (5, 0), (5, 5)]
    assert sample([(0, 0), (5, 0), (0, 0)], [0.0, 0.0], closed=True) == [(0, 0), (5, 0)]
