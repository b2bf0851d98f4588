"""How far a piece reaches at the most, told at once, against seams that it does serve."""

from dataclasses import replace

import numpy as np
import pytest

from nestyield.glueup.feasibility import SeamFeasibility
from nestyield.glueup.lyings import lyings
from nestyield.model import Defect, GlueUpRules, Outline, Part, Piece, Settings, Shape

RULES = GlueUpRules()


def odd_piece(rng, k):
    """Return a board with a corner off, perhaps with a knot."""
    length, width = float(rng.integers(120, 420)), float(rng.integers(40, 140))
    a, b = length * rng.uniform(0.1, 0.5), width * rng.uniform(0.0, 0.5)
    knot = Shape(outer=Outline.circle(length * rng.uniform(0.2, 0.8), width * rng.uniform(0.2, 0.8), 8.0))
    return Piece(
        name=f"p{k}",
        species="walnut",
        thickness_mm=20.0,
        shape=Shape(
            outer=Outline.polygon([(0, 0), (length, 0), (length, width - b), (length - a, width), (0, width)])
        ),
        grain_deg=0.0,
        defects=(Defect(name="knot 1", kind="knot", shape=knot),) if rng.random() < 0.5 else (),
    )


@pytest.mark.parametrize(("margin", "jointing"), [(3.0, 1.5), (0.5, 2.0)])
def test_no_piece_serves_a_seam_past_its_bound(margin, jointing):
    rng = np.random.default_rng([7, round(10 * margin)])
    outline = Outline.polygon([(0, 0), (300, 20), (320, 90), (200, 160), (30, 150)])
    part = Part(
        name="body", drawing="", outline=outline, thickness_mm=15.0, grain_deg=0.0, grain_tolerance_deg=5.0
    )
    settings = replace(Settings(cutter_diameter_mm=6, blank_margin_mm=margin), jointing_mm=jointing)
    pieces = [odd_piece(rng, k) for k in range(12)]
    served = near = 0
    for lying in lyings(part, settings, pieces, RULES)[:3]:
        field = SeamFeasibility(lying, pieces, settings, RULES, strict=False)
        ends = field.ends()
        low, high = lying.span_um
        for row in range(len(pieces)):
            for c in np.linspace(low + 1, high - 1, 25).astype(int).tolist():
                for server in field.servers(row):
                    for up, band in ((True, (None, c)), (False, (c, None))):
                        if server.fit(*band) is None:
                            continue
                        served += 1
                        bound = server.bound(up)
                        assert bound is not None
                        assert c <= bound if up else c >= bound
                        edge = ends.most_up[row] if up else ends.least_down[row]
                        inside = low + field.least_um <= c <= high - field.least_um
                        assert not inside or (c <= edge if up else c >= edge)
                        near += abs(bound - c) < 20_000
    assert served > 100
    assert near > 10
