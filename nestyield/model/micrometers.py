"""Millimeters to whole micrometers, rounded so that a fact never promises more than there is."""

from __future__ import annotations

import math

UM_PER_MM = 1000
#: Noise of floating-point arithmetic, micrometers.
_NOISE_UM = 1e-3


def nearest_um(mm: float) -> int:
    """Return a length in whole micrometers."""
    return round(mm * UM_PER_MM)


def up_um(mm: float) -> int:
    """Return a length in whole micrometers, rounded up: for what is missing."""
    return math.ceil(mm * UM_PER_MM - _NOISE_UM)


def down_um(mm: float) -> int:
    """Return a length in whole micrometers, rounded down: for what there is."""
    return math.floor(mm * UM_PER_MM + _NOISE_UM)
