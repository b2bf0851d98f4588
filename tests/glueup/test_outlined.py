"""A part laid for the rules of seams alone, against the same part laid with the wood that it needs."""

import numpy as np
import pytest

from nestyield.glueup.band import lay, outlined
from nestyield.glueup.rules import forbidden_intervals
from nestyield.model import GlueUpRules, Outline, Part, Settings, Shape, Zone

SETTINGS = Settings(cutter_diameter_mm=6.0, blank_margin_mm=3.0, jointing_mm=1.5)


@pytest.mark.parametrize("seed", range(6))
def test_the_rules_of_seams_are_those_of_a_part_laid_in_full(seed: int) -> None:
    """Outline and barred stretches are the same at random angles, mirrored or not."""
    rng = np.random.default_rng([seed, 14])
    corners = [(0, 0), (300, float(rng.uniform(0, 30))), (320, 90), (200, 160), (30, 150)]
    zones = (
        Zone(name="A", role="hole", shape=Shape(outer=Outline.circle(150, 80, 9)), face="through"),
        Zone(name="B", role="no_seam", shape=Shape(outer=Outline.rectangle(40, 30, 90, 60)), face="through"),
    )
    part = Part(
        name="p", drawing="", outline=Outline.polygon(corners), thickness_mm=20.0, grain_deg=0.0, zones=zones
    )
    way = float(rng.uniform(0, 360)), bool(rng.integers(2))
    bare, full = outlined(part, SETTINGS, *way), lay(part, SETTINGS, *way)
    assert np.array_equal(bare.outline, full.outline)
    assert len(bare.wide) == 0 < len(full.wide)
    bars = forbidden_intervals(bare, GlueUpRules())
    assert bars == forbidden_intervals(full, GlueUpRules())
    assert len(bars) >= 2
