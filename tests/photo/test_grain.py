"""Grain by figure, on stripes drawn here."""

from __future__ import annotations

import numpy as np
import pytest

from nestyield.photo.grain import grain_of


def striped(angle_deg: float, contrast: float, noise: float, seed: int = 1) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[0:260, 0:420].astype(float)
    a = np.radians(angle_deg)
    across = -x * np.sin(a) + y * np.cos(a)
    waves = sum(np.sin(across / w + p) for w, p in ((1.7, 0.3), (2.9, 1.1), (5.3, 2.0)))
    face = 0.3 * (1 + contrast * waves / 3 + noise * rng.standard_normal(x.shape))
    inside = (x - 210) ** 2 / 200**2 + (y - 130) ** 2 / 120**2 < 1
    return face.astype(np.float32), inside


@pytest.mark.parametrize("angle", [-75.0, -30.0, 0.0, 12.5, 44.0, 90.0])
def test_direction(angle: float) -> None:
    """Stripes are told in their direction, from X toward Y."""
    grain = grain_of(*striped(angle, 0.3, 0.02))
    assert grain.seen
    assert abs((grain.angle_deg - angle + 90) % 180 - 90) < 0.5


def test_noise_has_no_direction() -> None:
    """Noise alone is not taken for grain."""
    assert not grain_of(*striped(0.0, 0.0, 0.05)).seen


def test_halves_that_disagree_are_told() -> None:
    """Wood whose halves run 40 degrees apart has no one grain."""
    one, inside = striped(20.0, 0.3, 0.02)
    other, _ = striped(-20.0, 0.3, 0.02)
    one[:, 210:] = other[:, 210:]
    assert not grain_of(one, inside).seen
