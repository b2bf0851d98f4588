"""Phrases: what can hurt someone, and what lies in the cutter's path."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType

from nestyield.model.facts import (
    BothFacesInSections,
    CutPlace,
    EdgeGap,
    FarFromScrews,
    FewScrews,
    FibersRise,
    FlipOffPlace,
    FrameCutOpen,
    HeldByFew,
    HoleNearCut,
    HolesInLeftover,
    IndexHolesAlike,
    InZone,
    KnotUnderCutter,
    LittleWoodFromLine,
    LittleWoodFromOpposite,
    LooseInWood,
    MeasuredWood,
    MeasureFromLine,
    MeasureFromOpposite,
    MetalInWood,
    MetalUnderCutter,
    MixedFaces,
    NoBed,
    NoFlipPins,
    NoPlaceForFlipPins,
    NoWoodAtCorner,
    PartsComeLoose,
    PinInOpening,
    PinsNotUnique,
    PointsBreak,
    ScrewsCutFree,
    SectionsFlipBlocked,
    ShortStock,
    SmallParts,
)
from nestyield.paperwork.phrases.kind import Phrase
from nestyield.paperwork.phrases.work import hole
from nestyield.words import Words, listed, plural


def _numbers(placements: tuple[int, ...]) -> str:
    """Return parts of a blank by their numbers on the drawing: ``parts 1 and 3``."""
    return f"{plural(len(placements), 'part')} {listed(str(k + 1) for k in placements)}"


def _ends(fact: FrameCutOpen) -> str:
    """Return at which ends of the wood, by parts where these differ: ``at the lower edge of the blank``."""

    def at(ends: Sequence[str]) -> str:
        edges = [end for end in ends if end != "hole"]
        of_edges = [f"the {listed(edges)} {plural(len(edges), 'edge')}"] if edges else []
        return f"at {listed([*of_edges, *(['a hole'] if 'hole' in ends else [])])} of the blank"

    if not fact.ends:
        return "at an edge of the blank"
    if len(set(fact.ends)) == 1:
        return at(fact.ends[0])
    by_part = (f"part {k + 1} {at(ends)}" for k, ends in zip(fact.placements, fact.ends, strict=True))
    return f"({'; '.join(by_part)})"


def _mixed(fact: MixedFaces, words: Words) -> str:
    front, back = _numbers(fact.front_up), _numbers(fact.back_up)
    have = plural(len(fact.front_up), "has its", "have their")
    return (
        f"{front[:1].upper()}{front[1:]} {have} front up, {back} "
        f"{plural(len(fact.back_up), 'its', 'their')} back. Check on the drawing which face is cut first."
    )


def _holes(fact: HolesInLeftover, words: Words) -> str:
    go, holes = (plural(len(fact.names), *pair) for pair in (("goes", "go"), ("hole", "holes")))
    names, them = listed(hole(n) for n in fact.names), plural(len(fact.names), "it", "them")
    book = f"write the {holes} on it; take books {them} with it."
    return f"{names} {go} through leftover {fact.leftover}: {book}"


def _fence(fact: NoFlipPins, words: Words) -> str:
    text = f"Bed {fact.bed} has no pins (pin_diameter in the shop file). Flip the blank against a fence"
    if fact.fence is None:
        return (
            f"Bed {fact.bed} has no pins (pin_diameter in the shop file), and this blank has no two sound, "
            "parallel edges for a fence. Straighten them or drill holes for pins before you flip it: what is "
            "cut from the other face is else out of place."
        )
    other = "Y" if fact.fence == "x" else "X"
    first, then = (words.length(um / 1000.0, style="setting") for um in (fact.at_um, fact.then_um))
    place = (
        f"{other} {first}, for both faces"
        if first == then
        else f"{other} {first} with the top face up, at {other} {then} with the bottom face up"
    )
    return f"{text} along {fact.fence.upper()} at {place}, and check the blank's place."


_BED: Mapping[type, Phrase] = {
    MixedFaces: _mixed,
    FlipOffPlace: (
        "Flipped over, the blank does not fit bed {bed} at the same place. Move it before the other face "
        "is cut."
    ),
    NoFlipPins: _fence,
    NoPlaceForFlipPins: (
        "The waste over the table has no room for two pins clear of the cutter. Use a wider blank, or flip "
        "it against a fence and check its place."
    ),
    PinsNotUnique: (
        "The {count} pins also take the blank turned end for end. Mark the end that goes to the bed's zero."
    ),
    IndexHolesAlike: (
        "The blank is cut in {sections} sections, and the index holes are alike. Mark the ends of the blank, "
        "and finish each section before the next."
    ),
    BothFacesInSections: (
        "Both faces are cut in sections. Flip the blank over about the line of holes after the last section."
    ),
    SectionsFlipBlocked: (
        "Flipped over about the line of holes, the blank runs into a keep-out, a closed end or the end of "
        "the travel of bed {bed}. Clear it or move the pins before the other face is cut."
    ),
    FewScrews: (
        "The waste over the table has room for {count} {count:plural screw} clear of the cutter. Hold the "
        "blank another way: vacuum, double-sided tape, or tabs left in the cut."
    ),
    ScrewsCutFree: lambda fact, words: (
        f"{listed(hole(n) for n in fact.names)} "
        f"{plural(len(fact.names), 'stands', 'stand')} in wood that comes loose before the outline of part "
        f"{fact.placement + 1} is cut in Setup {fact.position}: "
        f"{plural(len(fact.names), 'it no longer holds', 'they no longer hold')} the part then."
    ),
    HeldByFew: lambda fact, words: (
        f"Too few screws ({fact.count}) hold the wood around part {fact.placement + 1} when its outline is "
        f"cut in Setup {fact.position}. Leave tabs on it and on the parts cut before it, or hold it another "
        "way."
    ),
    PinInOpening: lambda fact, words: (
        f"Hole {hole(fact.pin)} is in an opening. Take its pin out before that opening is cut, and cut it "
        "last."
    ),
    HolesInLeftover: _holes,
    PartsComeLoose: (
        "A part is loose once its outline is cut through, and so is the wood inside an opening. Leave tabs "
        "or an onion skin, and free them by hand when the spindle stands still."
    ),
}


def _gaps(gaps: Sequence[EdgeGap], words: Words) -> str:
    """Return what an edge lacks: ``wane from 20 to 350 mm``."""
    return listed(
        dict.fromkeys(
            f"{gap.kind} from {words.number(gap.from_um / 1000)} to {words.length(gap.to_um / 1000)}"
            for gap in gaps
        )
    )


def _from_opposite(fact: MeasureFromOpposite, words: Words) -> str:
    return (
        f"The {fact.edge} datum edge has {_gaps(fact.gaps, words)}. Do not measure from it. "
        f"{_opposite(fact, words)}"
    )


def _opposite(fact: MeasureFromOpposite | LittleWoodFromOpposite, words: Words) -> str:
    return (
        f"Measure from the {fact.opposite} edge, {words.length(fact.size_um / 1000)} less the figure, or "
        "draw the datum edge as a line at that distance."
    )


def _from_line(fact: MeasureFromLine, words: Words) -> str:
    return f"The {fact.edge} datum edge has {_gaps(fact.gaps, words)}. Do not measure from it. {_LINE}"


_LINE = "Draw the datum edge as a straight line on the sound face, and measure from the line."


def _corner(fact: NoWoodAtCorner) -> str:
    if fact.kind:
        return f"The wood at the datum corner is not sound ({fact.kind})."
    return "There is no wood at the datum corner."


def places(found: Sequence[CutPlace]) -> str:
    """Return where the cutter meets something: ``part 1: PICKUPS, outline; parts 2 and 3: outline``."""
    by_part: dict[int, list[str]] = {}
    for place in found:
        by_part.setdefault(place.placement, []).append(place.zone if isinstance(place, InZone) else "outline")
    alike: dict[tuple[str, ...], list[int]] = {}
    for placement, names in by_part.items():
        alike.setdefault(tuple(dict.fromkeys(names)), []).append(placement)
    return "; ".join(f"{_numbers(tuple(parts))}: {', '.join(names)}" for names, parts in alike.items())


def _knots(fact: KnotUnderCutter, words: Words) -> str:
    one = len(fact.knots) == 1
    return (
        f"{'Knot' if one else f'{len(fact.knots)} knots'} in the cutter's path ({places(fact.places)}). "
        f"Check that {'it is' if one else 'each is'} tight: loose knots are thrown. Take light passes."
    )


def _metal(fact: MetalUnderCutter, words: Words) -> str:
    kinds = listed(fact.kinds)
    return (
        f"{kinds[:1].upper()}{kinds[1:]} in the cutter's path ({places(fact.places)}). Metal may still be in "
        "the wood: search it, and take the metal out before any cutter touches it."
    )


def _near(fact: HoleNearCut, words: Words) -> str:
    kinds = listed(fact.kinds)
    return (
        f"{kinds[:1].upper()}{kinds[1:]} within {words.length(fact.within_um / 1000)} of what is cut "
        f"({places(fact.places)}). The edge can break out there: probe for metal, and fill the hole before "
        "cutting."
    )


def _points(fact: PointsBreak, words: Words) -> str:
    return (
        f"Double edge ({fact.count} {plural(fact.count, 'point')}): a narrow point off the grain has short "
        "fibers and may break out. Leave wood beside it until last, and take light passes."
    )


def _small(fact: SmallParts, words: Words) -> str:
    numbers = _numbers(fact.placements)
    are, them = plural(len(fact.placements), "is", "are"), plural(len(fact.placements), "it", "them")
    under = words.length(fact.under_um / 1000, style="coarse", rounding="up")
    return (
        f"{numbers[:1].upper()}{numbers[1:]} {are} narrower than {under}: never hold {them} by hand at a "
        f"cutter. Leave {them} joined to the blank by tabs, or on a carrier, until shaped."
    )


def _measured(fact: MeasuredWood, words: Words) -> str:
    to, names = words.length(fact.measured_um / 1000, style="setting"), listed(fact.pieces)
    are = plural(len(fact.pieces), "is", "are")
    text = f"{names} {are} measured to {to}: edges and flaws may be that far off. "
    if fact.room_um is None:
        return text + "The glue-up is planned to what they hold in any case; measure again before you saw."
    room = words.length(fact.room_um / 1000, style="fine", rounding="down")
    return (
        text + f"Parts keep their margin as long as no edge is more than {room} off: "
        "measure the edge nearest to them again before you cut."
    )


_WOOD: Mapping[type, Phrase] = {
    MeasuredWood: _measured,
    MeasureFromOpposite: _from_opposite,
    MeasureFromLine: _from_line,
    LittleWoodFromOpposite: lambda fact, words: (
        f"Little wood reaches the {fact.edge} datum edge. {_opposite(fact, words)}"
    ),
    LittleWoodFromLine: lambda fact, words: f"Little wood reaches the {fact.edge} datum edge. {_LINE}",
    NoWoodAtCorner: lambda fact, words: (
        f"{_corner(fact)} The corner is where the two datum edges meet when a straightedge is laid along "
        "each."
    ),
    FibersRise: (
        "Edge likely to tear out, marked red ({total_um} total): with {feed} feed the fibers rise against "
        "the cutter. Rough it out wide, then take light passes with a sharp cutter."
    ),
    PointsBreak: _points,
    MetalUnderCutter: _metal,
    HoleNearCut: _near,
    MetalInWood: (
        "Marked in this wood, clear of the cutter: {kinds}. Metal may still be in it: search it before it is "
        "sawn or planed."
    ),
    KnotUnderCutter: _knots,
    LooseInWood: ("Knock out or cut off what is loose ({kinds}) before the blank goes on a machine."),
    ShortStock: (
        "Shorter than {least_um:coarse up}: too short for the jointer or the planer on its own. Use a "
        "carrier, or flatten it on the router bed."
    ),
    SmallParts: _small,
    FrameCutOpen: lambda fact, words: (
        f"Beside {_numbers(fact.placements)} the cutter leaves less than "
        f"{words.length(fact.under_um / 1000)} of wood {_ends(fact)}: slivers and corners of the "
        "waste come off there. Leave no tab there, and stay clear."
    ),
    FarFromScrews: lambda fact, words: (
        f"In {plural(len(fact.positions), 'Setup')} {listed(fact.positions)} the cutter works more than "
        f"{words.length(fact.beyond_um / 1000)} beyond the screws. Hold that end down too, clear of the "
        "cutter, and support an end that hangs over."
    ),
    NoBed: "No bed takes this blank as it is. Do not run it on a bed that this plan does not name.",
}

#: A datum edge or corner that is not to be measured from, in a line that points to the cautions.
DATUM: Mapping[type, str] = MappingProxyType(
    {
        MeasureFromOpposite: "Do not measure from the {edge} datum edge: see Cautions.",
        MeasureFromLine: "Do not measure from the {edge} datum edge: see Cautions.",
        LittleWoodFromOpposite: "Little wood reaches the {edge} datum edge: see Cautions.",
        LittleWoodFromLine: "Little wood reaches the {edge} datum edge: see Cautions.",
        NoWoodAtCorner: "Do not measure from the datum corner: see Cautions.",
    }
)

PHRASES: Mapping[type, Phrase] = MappingProxyType({**_BED, **_WOOD})
