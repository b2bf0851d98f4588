"""Runs of points as curves."""

from __future__ import annotations

import math

import pytest

from nestyield.intake.affine import Affine
from nestyield.intake.curve import EntityError, closed_curve, open_curve, polyline
from nestyield.model import Outline


def test_polyline_drops_points_that_repeat() -> None:
    """Repeated vertices vanish; the arcs beside them stay where they are."""
    curve = polyline(
        Affine(), [(0, 0), (0, 0), (10, 0), (10, 0), (10, 5)], [0.0, 0.0, 0.0, 0.5, 0.0], False, 0.0
    )
    assert curve is not None
    assert curve.points_mm == ((0, 0), (10, 0), (10, 5))
    assert curve.bulges == (0.0, 0.5)


@pytest.mark.parametrize("bulge", [1.5, -1.5, 4.0, 100.0, -3.0])
def test_wide_arcs_are_cut_without_change(bulge: float) -> None:
    """An arc wider than half a circle becomes arcs of at most half a circle with the same area."""
    whole = Outline(points_mm=((0, 0), (10, 0), (5, 5)), bulges=(bulge, 0.0, 0.0))
    curve = polyline(Affine(), [(0, 0), (10, 0), (5, 5)], [bulge, 0.0, 0.0], True, 0.0)
    assert curve is not None
    assert max(map(abs, curve.bulges)) <= 1.0
    cut = Outline(points_mm=curve.points_mm, bulges=curve.bulges)
    assert cut.signed_area_mm2 == pytest.approx(whole.signed_area_mm2, rel=1e-9)


def test_nothing_is_no_curve() -> None:
    """Runs without length give None."""
    assert polyline(Affine(), [], [], True, 0.0) is None
    assert polyline(Affine(), [(1, 1)], [0.0], True, 0.0) is None
    assert polyline(Affine(), [(1, 1), (1, 1)], [0.0, 0.0], True, 0.0) is None
    assert open_curve([(1, 1), (1, 1)], [0.0], 0.0) is None
    assert closed_curve([(1, 1), (1, 1)], [0.0, 0.0], 0.0) is None


def test_infinite_bulge_is_refused() -> None:
    """A bulge that is no number is an error of the entity."""
    with pytest.raises(EntityError, match="bulge"):
        polyline(Affine(), [(0, 0), (1, 0)], [math.inf, 0.0], False, 0.0)
