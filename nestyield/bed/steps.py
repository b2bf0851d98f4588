"""The step to which places on a bed are rounded."""

from __future__ import annotations

from nestyield.model import Units


def grid_mm(units: Units) -> float:
    """Return the step to which places are rounded that a maker measures: a millimeter, or 1/16 inch."""
    return 1.0 if units == "mm" else 25.4 / 16.0


def um(length_mm: float) -> int:
    """Return a length in whole micrometers, as facts hold it."""
    return round(length_mm * 1000.0)
