"""What a seam runs through under a part, in words."""

from __future__ import annotations

from nestyield.model import SeamUnderPart, Units
from nestyield.paperwork import measure
from nestyield.paperwork.words import clean


def crossed(seam: SeamUnderPart, units: Units) -> str:
    """Return the zones with the length in each, and the wood that stays there: ``NECK 67.0 (24.0 left)``."""
    left = dict(seam.wood_left_mm)
    out = []
    for name, run in seam.zones:
        text = f"{clean(name)} {measure.number(run, units)}"
        if name in left:
            text += f" ({measure.number(left[name], units)} left)"
        out.append(text)
    return "; ".join(out) or "none"
