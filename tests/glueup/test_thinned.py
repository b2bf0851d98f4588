"""Outlines with fewer points that hold the true ones."""

from __future__ import annotations

import study_glueup as study
from shapely import Polygon

from nestyield.geometry.grid import UM_PER_MM
from nestyield.glueup.band import lay


def test_an_outline_that_comes_near_itself_is_not_torn() -> None:
    """Simplified, the margin around this part falls into a polygon and a line: it stays as it is, and holds the part."""
    part = study.plant_turned(17, 4, 12, 0.05).part
    lying = lay(part, study.SETTINGS, -4.375, False)
    wide = [Polygon(ring / UM_PER_MM) for ring in lying.wide]
    margin = study.SETTINGS.blank_margin_mm
    # to 5 micrometers by shapely, as chords go
    assert max(wide, key=lambda p: p.area).covers(Polygon(lying.outline / UM_PER_MM).buffer(margin - 0.005))
