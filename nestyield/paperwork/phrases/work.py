"""Phrases: the steps of the work on the bed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from nestyield.model import ROLES
from nestyield.model.facts import (
    CutBetween,
    CutNothing,
    CutOutline,
    CutThrough,
    CutZone,
    DrillBlank,
    DrillTable,
    DrillTableByHand,
    DrillThrough,
    DrillThroughByHand,
    FillDefect,
    FitPins,
    Flip,
    FlipOnPins,
    FreeParts,
    Hold,
    HoldOtherwise,
    HoleOnPin,
    LabelLeftovers,
    LayBlank,
    LayBlankOver,
    LayOnPins,
    MarkTop,
    MoveOn,
    PlaneEvenly,
    PlaneFaces,
    PlaneTo,
    RemoveBlank,
    ResawFirst,
    SawLeftover,
    SawOff,
    SearchMetal,
    TurnEndForEnd,
)
from nestyield.paperwork.phrases.kind import Phrase
from nestyield.words import Words, fill, listed, plural

_TENTH_UM = 100


def initials(name: str) -> str:
    """Return how drawings call a pin or screw: ``P1`` for ``pin 1``."""
    first, *rest = name.split()
    return f"{first[:1].upper()}{''.join(rest)}" if rest else name


def hole(name: str) -> str:
    """Return how drawings call the hole of a blank for a pin: ``H1`` for ``pin 1``; others by `initials`."""
    short = initials(name)
    return f"H{short[1:]}" if name.startswith("pin ") else short


def _named(names: Sequence[str]) -> str:
    return listed(initials(n) for n in names)


def _off(off_um: int, rack_um: int, words: Words) -> str:
    """Return what is planed off so that it adds up with the thickness as shown, to 0.1 mm."""
    if words.units == "in" or min(rack_um % _TENTH_UM, -rack_um % _TENTH_UM) < 5:
        return words.length(off_um / 1000, style="fine")
    return f"about {words.length(off_um / 1000)}"


def _plane_evenly(fact: PlaneEvenly, words: Words) -> str:
    off = _off(fact.each_um, fact.to_um + 2 * fact.each_um, words)
    return fill("Plane it to {to_um:fine} first: ", fact, words) + f"{off} off each face."


def _plane_faces(fact: PlaneFaces, words: Words) -> str:
    rack_um = fact.to_um + fact.top_um + fact.bottom_um
    top, bottom = (_off(v, rack_um, words) for v in (fact.top_um, fact.bottom_um))
    return (
        fill("Plane it to {to_um:fine} first: ", fact, words)
        + f"{top} off the top face, {bottom} off the bottom face."
    )


def _pins(template: str) -> Phrase:
    """Return a phrase in which ``pins {pins}`` are named as drawings call them."""

    def said(fact: DrillTable | DrillTableByHand | FitPins, words: Words) -> str:
        named = f"{plural(len(fact.pins), 'pin')} {_named(fact.pins)}"
        return fill(template.replace("pins {pins}", named), fact, words)

    return said


def _holes(template: str) -> Phrase:
    def said(fact: DrillBlank | DrillThrough | DrillThroughByHand, words: Words) -> str:
        named = listed(hole(n) for n in fact.holes)
        return fill(template.replace("{holes}", f"{plural(len(fact.holes), 'hole')} {named}"), fact, words)

    return said


def _on(on: Sequence[HoleOnPin]) -> str:
    """Return which hole of the blank goes on which pin of the table."""
    return listed(f"hole {hole(p.hole)} on pin {initials(p.pin)}" for p in on)


def _lay_on_pins(fact: LayOnPins, words: Words) -> str:
    return f"Lay the blank {fact.up} face up, as in Setup {fact.setup}: {_on(fact.on)}."


def _flip_on_pins(fact: FlipOnPins, words: Words) -> str:
    return (
        f"Turn the blank over about the flip axis, {fact.up} face up, as in Setup {fact.setup}. "
        f"Put {_on(fact.on)}."
    )


def _move_on(fact: MoveOn, words: Words) -> str:
    sign = "+" if fact.step_um > 0 else "−"
    by = words.length(abs(fact.step_um) / 1000)
    pins = f" Put {_on(fact.on)}." if fact.on else ""
    way = f"{sign}{fact.axis.upper()}"
    return f"Unscrew the blank and move it on by {by} along {way}, as in Setup {fact.setup}.{pins}"


def _turn(fact: TurnEndForEnd, words: Words) -> str:
    pins = f" Put {_on(fact.on)}." if fact.on else ""
    return f"Unscrew the blank and turn it end for end, as in Setup {fact.setup}.{pins}"


def _hold(fact: Hold, words: Words) -> str:
    return f"Hold it down at {_named(fact.holds)}."


def _between(fact: CutBetween, words: Words) -> str:
    limits = fill("{from_um:machine bare} to {to_um:machine}", fact, words)
    return f"Cut only what is drawn from {fact.axis.upper()} {limits} of the bed:"


def _many(fact: CutZone | CutThrough) -> str:
    """Return ``Pocket NECK`` or ``3 pockets DOTS``."""
    if fact.count == 1:
        return f"{ROLES[fact.role].title.capitalize()} {fact.zone}"
    return f"{fact.count} {plural(fact.count, ROLES[fact.role].title)} {fact.zone}"


def _zone(fact: CutZone, words: Words) -> str:
    where = " at the outline" if ROLES[fact.role].slopes else ""
    deep = words.length(fact.depth_um / 1000, style="fine")
    return f"{_many(fact)}, {deep} deep{where}"


def _outline(fact: CutOutline, words: Words) -> str:
    return "Outline, through cut, last" + leaving(fact.tabs)


def leaving(tabs: Sequence[str]) -> str:
    """Return which tabs are left, to go on a step with: ``; leave tabs T1 to T4``."""
    if not tabs:
        return ""
    return f"; leave {plural(len(tabs), 'tab')} {run_of([initials(t) for t in tabs])}"


def saw_leftovers(names: Sequence[str], straight: bool) -> str:
    """Return how leftovers are sawn off: at their straight lines, or along their exact outlines."""
    named, their = f"{plural(len(names), 'leftover')} {listed(names)}", plural(len(names), "its", "their")
    if straight:
        where = f"along {their} lines (table below), the blade outside of them"
        return f"Saw off {named} {where}, and clear of the screws."
    where = f"along {their} drawn {plural(len(names), 'outline')} (layer LEFTOVER of the drawing)"
    return f"Cut off {named} {where}, clear of the screws."


def run_of(names: Sequence[str]) -> str:
    """Return names that end in numbers: ``T1 to T4`` where they follow one another, else as they are."""
    numbers = [int(n.lstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ")) for n in names]
    run = len(numbers) > 2 and numbers == list(range(numbers[0], numbers[-1] + 1))
    return f"{names[0]} to {names[-1]}" if run else listed(names)


def _made_by(sawn: bool, face: str) -> str:
    return "sawn" if sawn else f"the board's {face} face"


PHRASES: Mapping[type, Phrase] = {
    PlaneEvenly: _plane_evenly,
    PlaneFaces: _plane_faces,
    PlaneTo: "Plane it to {to_um:fine} first.",
    SearchMetal: lambda fact, words: (
        f"Search the wood for metal ({listed(fact.kinds)}) and take it out, before any blade or cutter "
        "touches it."
    ),
    SawOff: "Saw it off {piece} first, as the saw sheet shows: from {from_x_um} to {to_x_um} of its "
    "length and from {from_y_um} to {to_y_um} of its width, measured from its corner at 0, 0.",
    ResawFirst: lambda fact, words: (
        f"Resaw {fact.piece} first, as the saw sheet shows. This leaf lies from "
        f"{words.length(fact.from_um / 1000.0, style='fine')} to "
        f"{words.length(fact.to_um / 1000.0, style='fine')} below its top face, sawn faces planed flat: its "
        f"top face is {_made_by(fact.top_sawn, 'top')}, its bottom face "
        f"{_made_by(fact.bottom_sawn, 'bottom')}."
    ),
    MarkTop: "Write TOP on the top face and BOTTOM on the other, and mark the datum corner on both.",
    DrillBlank: _holes(
        "Drill {holes}, {diameter_um:setting}, square through the blank before it goes on the bed. Write "
        "their names on the wood. What is off in their distances shows where the sections meet."
    ),
    DrillTable: _pins(
        "Drill the table for pins {pins} with the machine: {diameter_um:setting}, {depth_um} deep. The table "
        '"Pins in the table" shows the places.'
    ),
    DrillTableByHand: _pins(
        "Drill the table for pins {pins} by hand, beyond the travel: {diameter_um:setting}, {depth_um} deep. "
        'The table "Pins in the table" shows the places.'
    ),
    DrillThrough: _holes(
        "Drill {holes}, {diameter_um:setting}, with the machine: square through the blank and {depth_um} "
        "into the table (spoil board). Write their names on the wood."
    ),
    DrillThroughByHand: _holes(
        "Drill {holes}, {diameter_um:setting}, by hand, beyond the travel: square through the blank and "
        "{depth_um} into the table (spoil board), before the blank is moved."
    ),
    RemoveBlank: "Unscrew and remove the blank.",
    FitPins: _pins(
        "Fit {diameter_um:setting} dowel pins {pins}, {longest_um} long at most, below the surface of the "
        "blank."
    ),
    LayBlank: "Lay the blank {up} face up, as in Setup {setup}.",
    LayBlankOver: "Lay the blank {up} face up, turned over about the flip axis, as in Setup {setup}.",
    LayOnPins: _lay_on_pins,
    Flip: "Turn the blank over about the flip axis, {up} face up, as in Setup {setup}.",
    FlipOnPins: _flip_on_pins,
    MoveOn: _move_on,
    TurnEndForEnd: _turn,
    Hold: _hold,
    HoldOtherwise: (
        "Hold it down without screws: no place for one is clear of the cutter. Use vacuum, double-sided tape "
        "or tabs."
    ),
    CutBetween: _between,
    CutZone: _zone,
    CutThrough: lambda fact, words: f"{_many(fact)}, through cut",
    CutOutline: _outline,
    CutNothing: "Nothing is cut here: leave this setup out.",
    FillDefect: (
        "Fill the {kind} ({defect}) of part {placement}: {filler_ml:up} of filler. Let it harden before "
        "sanding."
    ),
    SawLeftover: lambda fact, words: saw_leftovers([fact.leftover], fact.straight),
    LabelLeftovers: "Label {leftovers}, return to the rack and note the shelf.",
    FreeParts: lambda fact, words: (
        "Take out the screws, lift the blank off and free the parts."
        + (" No leftover is worth keeping." if fact.last else "")
    ),
}
