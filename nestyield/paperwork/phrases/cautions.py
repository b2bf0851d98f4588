"""Phrases: what to mind about a plan as a whole and in any work that it asks for, and who decides."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType

from nestyield.model import Finding
from nestyield.model.facts import (
    BlanksKept,
    CrosscutSafely,
    Detail,
    DetailRejected,
    DryRun,
    GuardsOn,
    LayoutRejected,
    LooseKnots,
    MdfDust,
    OperatorDecides,
    OrderShort,
    ProofRejected,
    PushBlocks,
    PushStick,
    ReclaimedMetal,
    ResawSafely,
    StoppedEarly,
    WoodDust,
)
from nestyield.paperwork.phrases.kind import Phrase
from nestyield.words import Words, listed

_ENDED = MappingProxyType(
    {"seconds": "the time limit in seconds ended it", "interrupt": "Ctrl-C or another wish to stop ended it"}
)


def _stopped(caution: StoppedEarly, words: Words) -> str:
    return (
        f"the run stopped early: {_ENDED[caution.by]}. "
        "This is the best plan found so far; run it again for the rest"
    )


_DETAILS: Mapping[Detail, str] = MappingProxyType(
    {
        "setup": "the first choice of setup is replaced",
        "screws": "screws are left out",
        "tabs": "tabs are not listed",
        "leftovers": "leftovers are not kept",
        "play": "play is left out",
        "edges to watch": "edges likely to tear out are left out",
    }
)


def _evidence(found: Sequence[Finding]) -> str:
    """Return the first finding, and how many more there are."""
    more = f" (and {len(found) - 1} more)" if len(found) > 1 else ""
    return f"the plan's own check found {found[0].code}: {found[0].message}{more}"


def _detail(caution: DetailRejected, words: Words) -> str:
    names = f" ({listed(caution.names)})" if caution.names else ""
    return f"{_DETAILS[caution.detail]}{names}: {_evidence(caution.evidence)}"


def _layout(caution: LayoutRejected, words: Words) -> str:
    return (
        f"a layout of {listed(caution.parts)} on {listed(caution.pieces)} is left out: "
        f"{_evidence(caution.evidence)}"
    )


def _proof(caution: ProofRejected, words: Words) -> str:
    return (
        f"whether {caution.piece} has a place for {caution.part} is undecided: {_evidence(caution.evidence)}"
    )


#: Who decides, at the foot of every page.
LAST_WORD = (
    "The manual of your machine, the rules where you live and a person qualified for the work have "
    "the last word."
)
OPERATOR = "Check before cutting: the operator decides."

_GENERAL: Mapping[type, Phrase] = {
    OperatorDecides: f"{LAST_WORD} {OPERATOR}",
    ReclaimedMetal: (
        "Look over reclaimed wood and go over it with a metal detector before any cutter touches it: nails, "
        "screws and grit break cutters and fly."
    ),
    LooseKnots: "Take off loose knots and splits before machining; they come loose at the cutter.",
    GuardsOn: (
        "Guards on, eyes and ears covered, sleeves and hair tied back, and everything off the bed before the "
        "spindle starts. Stay clear of the bed while it runs."
    ),
    CrosscutSafely: (
        "Crosscut with the miter gauge or a sled, never against the rip fence: wood that binds between fence "
        "and blade is thrown back. Hold up the long end. Stop the blade before you take short pieces away."
    ),
    ResawSafely: (
        "Resaw only what your machine's manual allows: no board higher than {highest_um:fine} on edge, none "
        "shorter than {shortest_um:fine}. A wide sharp blade, a high fence, guide and guard just above the "
        "wood, push blocks for the last of the cut; no hand behind the blade. Joint the face against the "
        "fence and the edge below straight and square first; no metal, no loose knots in the cut. Wood under "
        "stress closes on the blade: stop the saw and wedge the cut open."
    ),
    DryRun: (
        "Check the first run in air, above the blank: zero, direction, depth, and that clamps and pins stay "
        "clear of cutter and collet."
    ),
    PushStick: (
        "At the circular saw use a push stick, at least {stick_um:coarse up} long, for the last "
        "{last_um:coarse up} of a cut and for every shorter cut."
    ),
    PushBlocks: (
        "Use push blocks over the jointer for anything under {length_um:coarse up} long, "
        "{width_um:coarse up} wide or {thickness_um:coarse up} thick. Leave pieces under "
        "{shortest_um:coarse up} part of a longer one."
    ),
    WoodDust: (
        "Wood dust harms the lungs and can burn. Extract it at the cutter and wear a mask that suits fine "
        "dust. Limits for the air you breathe: OSHA 15 mg/m³ total and 5 mg/m³ respirable, NIOSH 1 mg/m³."
    ),
    MdfDust: "Dust of MDF is very fine and holds resin: extraction and mask even for a short cut.",
}

PHRASES: Mapping[type, Phrase] = MappingProxyType(
    {
        **_GENERAL,
        StoppedEarly: _stopped,
        OrderShort: "{missing} of {count} {part} not placed",
        BlanksKept: "kept as accepted: {blanks}",
        DetailRejected: _detail,
        LayoutRejected: _layout,
        ProofRejected: _proof,
    }
)
