"""What a seam runs through under a part, in words."""

from __future__ import annotations

from nestyield.model import SeamUnderPart
from nestyield.paperwork.words import clean
from nestyield.words import Words


def crossed(seam: SeamUnderPart, words: Words) -> str:
    """Return the zones with the length in each, and the wood that stays there: ``NECK 67.0 (24.0 left)``."""
    left = dict(seam.wood_left_mm)
    out = []
    for name, run in seam.zones:
        text = f"{clean(name)} {words.column(run)}"
        if name in left:
            text += f" ({words.column(left[name])} left)"
        out.append(text)
    return "; ".join(out) or "none"
