"""What a seam runs through under a part, in words."""

from __future__ import annotations

from nestyield.model import Layout, SeamUnderPart
from nestyield.model.facts import SeamRuleBroken
from nestyield.paperwork.phrases.wood import seam_rule
from nestyield.paperwork.words import clean
from nestyield.words import Words


def crossed(layout: Layout, seam: SeamUnderPart, words: Words) -> str:
    """Return the zones with the length in each, the wood that stays there, and rules that are broken.

    ``NECK 67.0 (24 left); within 3 mm of hole STUDS: see Cautions``.
    """
    left = dict(seam.wood_left_mm)
    out = []
    for name, run in seam.zones:
        text = f"{clean(name)} {words.column(run)}"
        if name in left:
            text += f" ({words.depth(left[name])} left)"
        out.append(text)
    broken = [
        clean(seam_rule(fact.rule, words))
        for fact in layout.wood
        if isinstance(fact, SeamRuleBroken) and (fact.seam, fact.placement) == (seam.seam, seam.placement)
    ]
    if broken:
        out.append(f"{', '.join(dict.fromkeys(broken))}: see Cautions")
    return "; ".join(out) or "none"
