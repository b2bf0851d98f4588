"""Phrases: how a blank is laminated."""

from __future__ import annotations

from collections.abc import Mapping

from nestyield.model.facts import (
    GlueFaces,
    LabelLayers,
    LayersPull,
    PlanedLayer,
    PlaneLayers,
    PressEvenly,
    PressShort,
    SawLayers,
    StackDry,
)
from nestyield.paperwork.phrases.kind import Phrase
from nestyield.words import Words, fill, listed

_LAYER = "{layer} to {to_um:fine} ({top_um:fine} off the top, {bottom_um:fine} off the bottom)"


def _saw(fact: SawLayers, words: Words) -> str:
    text = (
        "Lay the outline of the blank on each layer as picture 2 shows it, and saw each to it, full by "
        "what your "
        "saw leaves rough: all glued edges come flush at the end."
    )
    kept = " Label the offcuts of the table and return them to the rack." if fact.kept else ""
    return text + kept


def _plane(fact: PlaneLayers, words: Words) -> str:
    each = listed(fill(_LAYER, one, words) for one in fact.layers)
    return (
        f"Plane the faces just before gluing: {each}. Faces that are glued must lie flat on each other "
        f"without "
        "light between them."
    )


def _glue(fact: GlueFaces, words: Words) -> str:
    both = "both faces of each glue line" if fact.faces > 1 else "both faces"
    return fill(
        f"Spread glue evenly on {both}, stack the layers mark on mark, and keep them from sliding with "
        "stop blocks at two edges: no screw or nail, which a cutter could meet. Press between stiff cauls "
        "with {clamps} {clamps:plural clamp}, from the middle outwards, until a line of glue shows all "
        "around.",
        fact,
        words,
    )


def _short(fact: PressShort, words: Words) -> str:
    return fill(
        "Over the whole face the least pressure takes {needed} clamps that give {clamp_n} each, and the "
        "shop has {count}: they press with {reached_mpa}; the glue asks for {least_mpa}. Borrow clamps, "
        "use a press, or a glue whose leaflet asks for less; a joint pressed too lightly opens.",
        fact,
        words,
    )


def _pull(fact: LayersPull, words: Words) -> str:
    one, other = fact.species
    if fact.mismatch_um is None:
        by = "how much is not known of one of them"
    else:
        by = (
            f"up to {words.length(fact.mismatch_um / 1000, style='fine')} across the grain, if they were free"
        )
    even = (
        "The outer layers are alike, so the blank stays flat."
        if fact.balanced
        else "The outer layers are not alike: the blank may cup over the year. Finish both faces alike."
    )
    return f"{fact.face.capitalize()}: {one} and {other} move unlike each other over the year, {by}. {even}"


PHRASES: Mapping[type, Phrase] = {
    LabelLayers: (
        "Write each layer's letter on its top face, with an arrow to the end where its length begins. A "
        "is on top."
    ),
    SawLayers: _saw,
    PlanedLayer: _LAYER,
    PlaneLayers: _plane,
    StackDry: (
        "Stack the layers dry in their order, top faces up, the grain of all one way, and clamp lightly: "
        "no light "
        "may show between them. Otherwise plane again."
    ),
    GlueFaces: _glue,
    PressShort: _short,
    LayersPull: _pull,
    PressEvenly: (
        "A face takes far more clamps than an edge: the pressure is a handbook's figure for edges, "
        "spread over the "
        "whole face. Clamps at the rim alone leave the middle starved or thick: use stiff cauls, crowned "
        "a little."
    ),
}
