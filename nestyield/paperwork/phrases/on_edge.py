"""Phrases: how a blank is glued from strips on edge."""

from __future__ import annotations

from collections.abc import Mapping

from nestyield.model.facts import (
    GlueStrips,
    LookAtEnds,
    PlanedStrips,
    PlaneStrips,
    RipNarrow,
    RipStrips,
    StandStrips,
)
from nestyield.paperwork.phrases.kind import Phrase
from nestyield.words import Words, fill, listed, plural


def _rip(fact: RipStrips, words: Words) -> str:
    n = len(fact.boards)
    sheets = f"as the saw {plural(n, 'sheet')} of {listed(fact.boards)} {plural(n, 'says', 'say')}"
    return fill(
        f"Saw {{strips}} strips {sheets}, each {{to_um:fine}} wide: crosscut the board first, then rip. "
        f"Joint the "
        "edge that runs along the fence first, where it is not straight. Write each strip's letter on the "
        "face that "
        "was the board's top, with an arrow to the end where its length begins. Label the rests of the saw "
        "sheet and return them to the rack.",
        fact,
        words,
    )


def _plane(fact: PlaneStrips, words: Words) -> str:
    each = listed(
        fill(
            f"{', '.join(one.boards)} to {{to_um:fine}} ({{top_um:fine}} off the top face, "
            f"{{bottom_um:fine}} off "
            "the bottom face)",
            one,
            words,
        )
        for one in fact.strips
    )
    return (
        f"Plane the faces of the strips just before gluing, before they are turned: {each}. These faces "
        f"are glued, and "
        "must lie flat on each other."
    )


PHRASES: Mapping[type, Phrase] = {
    RipStrips: _rip,
    LookAtEnds: (
        "Look at the end grain. Of a flat-sawn board, its rings along the width, the turned strips are "
        "quartersawn: "
        "rings upright. A quartersawn board gives flat-sawn strips. Leave out a strip whose grain runs out "
        "of its edge; the "
        "rack does not know how rings run."
    ),
    PlanedStrips: "{to_um:fine}",
    PlaneStrips: _plane,
    StandStrips: (
        "Turn each strip by a quarter, onto the edge that the table names, and stand them side by side in "
        "their order, A "
        "nearest to you, without glue. Clamp lightly: no light may show between them. Then draw a triangle "
        "across all of them, so that none is turned or changes its place with the glue on."
    ),
    GlueStrips: (
        "Spread glue evenly on both faces of {seams:plural the each} seam and press across the strips with "
        "{clamps} "
        "{clamps:plural clamp}, cauls above and below so that the strips stay level, until a line of glue "
        "shows along "
        "every seam."
    ),
    RipNarrow: (
        "Strips {wide_um} wide are ripped: the hand would come near the blade. Rip them only with a riving "
        "knife and the "
        "guard, a push stick at least for the last {last_um} of each cut and for all of a shorter one, and a "
        "second push block or a featherboard that holds the strip to the fence; the strip must not jam "
        "between blade and fence at "
        "the end. A band saw is safer for strips. Whoever is not trained on the saw does not make these "
        "cuts; the saw's "
        "manual says how narrow it may rip."
    ),
}
