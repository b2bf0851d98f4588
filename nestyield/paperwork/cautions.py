"""The cautions of a plan as lines of text, each with where it comes from."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import get_args

from nestyield.model import Layout, Plan
from nestyield.model.facts import (
    BedCaution,
    Caution,
    ClampsShort,
    FarFromScrews,
    FibersRise,
    FrameCutOpen,
    GeneralCaution,
    HoleNearCut,
    LayersPull,
    MeasuredWood,
    MetalUnderCutter,
    NoBed,
    OperatorDecides,
    PartsComeLoose,
    PointsBreak,
    PressShort,
    PushStick,
    SmallParts,
    WoodDust,
    WoodFact,
)
from nestyield.paperwork import placing
from nestyield.paperwork.curves import bounds, outlines_of
from nestyield.paperwork.phrases import phrase
from nestyield.paperwork.phrases.hazards import DATUM
from nestyield.paperwork.phrases.wood import SOURCES
from nestyield.paperwork.words import clean
from nestyield.words import Words, fill, listed

#: Cautions of a blank that are of its parts or its bed: they are not on the glue-up sheet.
_NOT_OF_WOOD = (FibersRise, PointsBreak, SmallParts, NoBed, FrameCutOpen, FarFromScrews)

_FOUND = {
    OperatorDecides,
    NoBed,
    MeasuredWood,
    ClampsShort,
    LayersPull,
    PressShort,
    *get_args(get_args(BedCaution)[0]),
    *get_args(get_args(WoodFact)[0]),
} - {PartsComeLoose}
#: Where cautions come from that do not rest on the practice of the trade; ``""`` for what the plan found.
_SOURCES: Mapping[type, str] = MappingProxyType(
    {
        **dict.fromkeys(_FOUND, ""),
        PushStick: SOURCES["HSE saw"],
        WoodDust: "OSHA, NIOSH",
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One caution.

    Parameters
    ----------
    text : str
    source : str
        Where it comes from; ``""`` for what the plan itself found.
    """

    text: str
    source: str


def general(plan: Plan) -> list[Line]:
    """Return the cautions for any work that this plan asks for."""
    return _lines(plan, plan.cautions)


def for_blank(plan: Plan, layout: Layout) -> list[Line]:
    """Return the cautions of one blank: warnings of its wood, then of its setup on the bed, then the rest."""
    work = layout.work.cautions if layout.work is not None else ()
    found = (*wood_warnings(layout), *work, *layout.cautions)
    lines = zip(found, _lines(plan, found), strict=True)
    return [replace(line, text=line.text + _where(plan, layout, fact)) for fact, line in lines]


def _where(plan: Plan, layout: Layout, fact: object) -> str:
    """Return where the defects lie that a caution of metal or holes is about, from the datum edges."""
    if not isinstance(fact, HoleNearCut | MetalUnderCutter):
        return ""
    words, datum = Words(plan.shop.units), bounds([layout.blank.shape.outer])[:2]
    places = [
        "left {}, bottom {}".format(*(words.column(v) for v in placing.place(outlines_of(d.shape), datum)))
        for d in layout.blank.defects
        if d.name in fact.defects
    ]
    return f" It lies at {listed(dict.fromkeys(places))}." if places else ""


def wood_warnings(layout: Layout) -> list[WoodFact | ClampsShort | LayersPull | PressShort]:
    """Return the facts of a blank's wood, seams and clamps that need a person."""
    glued = layout.glueup.cautions if layout.glueup is not None else ()
    stacked = layout.laminate.cautions if layout.laminate is not None else ()
    ripped = layout.on_edge.cautions if layout.on_edge is not None else ()
    return [
        *(f for f in layout.wood if f.severity == "warning"),
        *(f for f in glued if isinstance(f, ClampsShort)),
        *(f for f in stacked if isinstance(f, PressShort | LayersPull)),
        *(f for f in ripped if isinstance(f, PressShort)),
    ]


def of_wood(plan: Plan, layout: Layout) -> list[Line]:
    """Return the cautions of a blank's wood, for whoever glues it up."""
    return _lines(plan, [c for c in layout.cautions if not isinstance(c, _NOT_OF_WOOD)])


def datum(plan: Plan, layout: Layout) -> list[str]:
    """Return a line for each datum edge that is not measured from, and for a corner without wood."""
    words = Words(plan.shop.units)
    return [fill(DATUM[type(c)], c, words) for c in layout.cautions if type(c) in DATUM]


def _lines(
    plan: Plan,
    facts: Iterable[BedCaution | Caution | ClampsShort | GeneralCaution | LayersPull | PressShort | WoodFact],
) -> list[Line]:
    words = Words(plan.shop.units)
    return [
        Line(text=clean(phrase(fact, words)), source=_SOURCES.get(type(fact), SOURCES["practice"]))
        for fact in facts
    ]
