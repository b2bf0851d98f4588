"""The order of work of a blank: before the bed, then face by face; where pins and screws stand."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import replace

from nestyield.model import FaceWork, HoldDown, Layout, Pin, Plan, Section, Units
from nestyield.paperwork import bed_picture, fills, flaws, measure, sheet_figure
from nestyield.paperwork.bed_picture import BedView, lies
from nestyield.paperwork.blank_picture import initials
from nestyield.paperwork.curves import bounds, move_of
from nestyield.paperwork.measure import MM_PER_INCH
from nestyield.paperwork.page import Pages
from nestyield.paperwork.words import clean, listed

#: Two places on the table closer than this are one, mm.
_SAME_MM = 0.05
#: Pins stand this many diameters deep in the table, and end so far below the upper face (common practice,
#: no source).
_IN_TABLE_DIAMETERS = 2.0
_BELOW_MM: dict[Units, float] = {"mm": 2.0, "in": MM_PER_INCH / 16}
_STEP = re.compile(r": (?:\d+ )?(?:pocket|contour|hole|cutout)s? (?P<name>.+), [^,]+$")


def planing(plan: Plan, layout: Layout) -> str:
    """Return what is planed off before routing, in a sentence; ``""`` for nothing and for sheets."""
    blank = layout.blank
    thick = sorted({plan.shop.part(p.part).thickness_mm for p in layout.placements}, reverse=True)
    if blank.grain_deg is None or not thick or thick[0] > blank.thickness_mm - 0.01:
        return ""
    units = plan.shop.units
    whole = blank.thickness_mm - thick[0]
    tops = {p.top_off_mm for p in layout.placements}
    text = f"Plane it to {measure.fine(thick[0], units)} first"
    if len(tops) == 1 and len(thick) == 1:
        (top,) = tops
        top = whole / 2 if top is None else top
        if abs(2 * top - whole) < 0.01:
            text += f": {_about(top, blank.thickness_mm, units)} off each face"
        else:
            above, below = (_about(v, blank.thickness_mm, units) for v in (top, whole - top))
            text += f": {above} off the top face, {below} off the bottom face"
    return f"{text}."


def _about(length_mm: float, rack_mm: float, units: Units) -> str:
    """Return what comes off so that it adds up with the thickness as shown, with ``about`` where not exact.

    ``rack_mm`` is the blank's own thickness, which sheets show to a tenth.
    """
    if units == "in" or abs(round(rack_mm, 1) - rack_mm) < 0.005:
        return measure.fine(length_mm, units)
    return f"about {measure.length(length_mm, units)}"


def _thickness(plan: Plan, layout: Layout) -> float:
    """Return how thick the blank is when it is routed, mm."""
    thick = [plan.shop.part(p.part).thickness_mm for p in layout.placements]
    return max(thick) if planing(plan, layout) else layout.blank.thickness_mm


def table_pins(layout: Layout) -> list[tuple[tuple[float, float], list[str]]]:
    """Return where pins stand in the table, and which hole of the blank each takes, one for every picture.

    Only places that hold a pin in every position of the blank: all of them when it is turned over, two
    when it is moved on by holes.
    """
    work = layout.work
    if work is None or not work.pins or layout.chosen is None:
        return []
    positions = [
        [(initials(pin.name), lie.move.point((pin.x_mm, pin.y_mm))) for pin in work.pins]
        for lie in lies(layout, layout.setups[layout.chosen])
    ]
    out = []
    for _, at in positions[0]:
        taken = [
            next((name for name, p in listed_ if abs(p[0] - at[0]) + abs(p[1] - at[1]) < _SAME_MM), "")
            for listed_ in positions
        ]
        if all(taken):
            out.append((at, taken))
    return out


def _by_part(plan: Plan, layout: Layout, face: FaceWork) -> list[str]:
    """Return the cuts of a face; the part's name is left out where there is one, else those alike joined."""
    names = {
        f"{plan.shop.part(p.part).name} ({p.order}, copy {p.copy}): ": str(k)
        for k, p in enumerate(layout.placements, start=1)
    }
    merged: dict[str, list[str]] = {}
    for step in face.steps:
        prefix = next((n for n in names if step.startswith(n)), "")
        what = clean(step.removeprefix(prefix))
        merged.setdefault(what[:1].upper() + what[1:], []).append(names.get(prefix, ""))
    out = []
    for what, parts in merged.items():
        numbers = [n for n in parts if n]
        several = len(layout.placements) > 1 and numbers
        word = "Part" if len(numbers) == 1 else "Parts"
        out.append(f"{word} {listed(numbers)}: {what[:1].lower()}{what[1:]}" if several else what)
    return out


def _in_section(
    plan: Plan, layout: Layout, face: FaceWork, section: Section, lie: BedView, axis: str
) -> FaceWork:
    """Return the work of a face without the pockets and holes that lie wholly outside a section."""
    i = 0 if axis == "X" else 1
    kept = []
    for step in face.steps:
        found = _STEP.search(step)
        if found is None:
            kept.append(step)
            continue
        boxes = [
            bounds([move_of(p).then(lie.move).outline(zone.shape.outer)])
            for p in layout.placements
            if step.startswith(f"{p.part} ({p.order}, copy {p.copy}): ")
            for zone in plan.shop.part(p.part).zones
            if zone.shape is not None and zone.name.split("#")[0] == found["name"]
        ]
        if not boxes or any(b[i] < section.to_mm and b[i + 2] > section.from_mm for b in boxes):
            kept.append(step)
    return replace(face, steps=tuple(kept))


def _laying(face: FaceWork, lie: BedView, many: bool) -> str:
    over = face.up == "bottom" and lie.over
    text = f"Lay the blank {face.up} face up"
    if over:
        text += ", turned over about the flip axis"
    if many:
        text += f", as picture {lie.letter} shows"
    else:
        text += " as the picture of the bed shows"
    return text


def _turning(layout: Layout, before: BedView, after: BedView) -> str:
    """Return how the blank comes over, and which hole goes to which pin."""
    pairs = table_pins(layout)
    text = "Turn the blank over about the flip axis"
    if not pairs:
        return f"{text}, as picture {after.letter} shows, and hold it again."
    k = ord(before.letter) - ord("A")
    n = ord(after.letter) - ord("A")
    if after.section:
        onto = listed([taken[n] for _, taken in pairs])
        return f"{text}, so that {onto} stand on the pins, as picture {after.letter} shows. Hold it again."
    stay = [taken[k] for _, taken in pairs if taken[k] == taken[n]]
    swap = sorted({tuple(sorted((taken[k], taken[n]))) for _, taken in pairs if taken[k] != taken[n]})
    words = [f"{a} and {b} change pins" for a, b in swap]
    if stay:
        words.append(f"{listed(stay)} " + ("stays on its pin" if len(stay) == 1 else "stay on their pins"))
    return f"{text} onto the same pins, as picture {after.letter} shows: {', '.join(words)}. Hold it again."


def _drilling(pins: Sequence[Pin], plan: Plan) -> list[str]:
    """Return how the holes for pins come into blank and table."""
    if not pins:
        return []
    units = plan.shop.units
    size = measure.setting(pins[0].diameter_mm, units)
    if any(p.use != "flip" for p in pins):
        return []
    deep = measure.plain(_IN_TABLE_DIAMETERS * pins[0].diameter_mm, units)
    into = f"square through the blank and {deep} {units} into the table (spoil board)"
    out = []
    drilled = [initials(p.name) for p in pins if not p.by_hand]
    if drilled:
        out.append(f"Drill {listed(drilled)}, {size}, with the machine, {into}.")
    by_hand = [initials(p.name) for p in pins if p.by_hand]
    if by_hand:
        beyond = (
            "lies beyond the travel: drill it" if len(by_hand) == 1 else "lie beyond the travel: drill them"
        )
        out.append(f"{listed(by_hand)} {beyond} by hand, {size}, {into}, before the blank is moved.")
    return out


def _pins_go_in(plan: Plan, layout: Layout, pins: Sequence[Pin]) -> str:
    """Return when the pins are set, and how long they may be."""
    units = plan.shop.units
    size = pins[0].diameter_mm
    longest = _IN_TABLE_DIAMETERS * size + _thickness(plan, layout) - _BELOW_MM[units]
    step = 1.0 if units == "mm" else MM_PER_INCH / 16
    length = measure.length(math.floor(longest / step + 1e-6) * step, units)
    return (
        f"Unscrew and lift the blank, and set pins of {measure.setting(size, units)} into the holes of the "
        f"table, at most {length} long: below the upper face."
    )


def _reach_of(plan: Plan, layout: Layout, spots: Sequence[tuple[float, float]]) -> str:
    """Return whether holes in the table are drilled by the machine or by hand."""
    assert layout.chosen is not None
    bed = plan.shop.bed(layout.setups[layout.chosen].bed)
    near = all(0.0 <= x <= bed.travel_x_mm and 0.0 <= y <= bed.travel_y_mm for x, y in spots)
    return " with the machine" if near else " by hand (beyond the travel)"


def _first(plan: Plan, layout: Layout, face: FaceWork, lie: BedView, many: bool) -> list[str]:
    """Return how the blank comes onto the bed for the first time."""
    work = layout.work
    assert work is not None
    held = f" and hold it at {listed([initials(h.name) for h in work.hold_downs])}" if work.hold_downs else ""
    index = [p for p in work.pins if p.use == "index"]
    out, onto = [], ""
    if index:
        pins = table_pins(layout)
        size = measure.setting(index[0].diameter_mm, plan.shop.units)
        deep = measure.length(_IN_TABLE_DIAMETERS * index[0].diameter_mm, plan.shop.units)
        how = _reach_of(plan, layout, [at for at, _ in pins])
        out.append(
            f"Drill the table for {len(pins)} pins of {size}{how}, {deep} deep, at the places in the table "
            '"Pins in the table", and set them; they stay below the upper face.'
        )
        n = ord(lie.letter) - ord("A")
        onto = f", {listed([taken[n] for _, taken in pins])} on the pins" + ("," if held else "")
    return [*out, f"{_laying(face, lie, many)}{onto}{held}.", *_drilling(work.pins, plan)]


def steps(plan: Plan, layout: Layout) -> list[tuple[str, list[str]]]:
    """Return the order of work: a heading and its steps for the bench, then for each face and section."""
    work = layout.work
    if work is None or layout.chosen is None:
        return []
    setup = layout.setups[layout.chosen]
    every = lies(layout, setup)
    many = len(every) > 1
    index = [p for p in work.pins if p.use == "index"]
    before = [planing(plan, layout)] if planing(plan, layout) else []
    before.append("Write TOP on the top face, and mark the datum corner on it.")
    if index:
        before.append(
            f"Drill {listed([initials(p.name) for p in index])} "
            f"{measure.setting(index[0].diameter_mm, plan.shop.units)} through the blank, square, before it "
            "goes on the bed. Number the holes on the wood."
        )
    out = [("Before the bed", before)]
    before_it: BedView | None = None
    for k, lie in enumerate(every):
        face = next(f for f in work.faces if f.up == lie.up)
        last_section = k + 1 == len(every) or every[k + 1].up != lie.up
        through = ", outlines last" if face.through and last_section and not setup.sections else ""
        which = f", section {lie.section}" if setup.sections else ""
        heading = f"{face.up.capitalize()} face up{which}{through}"
        reach = ""
        if setup.sections:
            section = setup.sections[lie.section - 1]
            units = plan.shop.units
            axis = bed_picture.long_axis(setup)
            face = _in_section(plan, layout, face, section, lie, axis)
            reach = (
                f"Cut only what is drawn from {axis} {measure.plain(section.from_mm, units)} to "
                f"{measure.length(section.to_mm, units)} of the bed:"
            )
            if not face.steps:
                out.append((heading, ["Nothing is cut here: leave this position out."]))
                continue
        if before_it is None:
            lines = _first(plan, layout, face, lie, many)
        elif before_it.up != lie.up:
            flip = [p for p in work.pins if p.use == "flip"]
            lines = [_pins_go_in(plan, layout, flip)] if flip else []
            lines.append(_turning(layout, before_it, lie))
        else:
            n = ord(lie.letter) - ord("A")
            onto = listed([taken[n] for _, taken in table_pins(layout)])
            end = abs(lie.move.angle_deg - before_it.move.angle_deg) > 1.0
            how = "Turn the blank end for end" if end else "Move the blank on"
            lines = [
                f"{how}, so that {onto} stand on the pins, as picture {lie.letter} shows. Hold it again."
            ]
        before_it = lie
        out.append((heading, [*lines, *([reach] if reach else []), *_by_part(plan, layout, face)]))
    after = after_the_bed(layout)
    return [*out, ("After the bed", after)] if after else out


def after_the_bed(layout: Layout) -> list[str]:
    """Return what is done when the blank has come off the bed."""
    filled = [
        f"{item.defect.kind} ({clean(item.defect.name)}), {fills.amount(item.volume_ml)}"
        for item in fills.fillings(layout)
    ]
    out = [f"Fill {listed(filled)}; let it harden before sanding."] if filled else []
    keep = [clean(k.name) for k in layout.leftovers if k.usable]
    if keep:
        where, them = ("leftovers", "them") if len(keep) > 1 else ("leftover", "it")
        out.append(
            f"Saw the {where} off (lines: table below), clear of screw holes; write {listed(keep)} on {them} "
            f"and put {them} back on the rack."
        )
    else:
        out.append("Free the parts. No leftover is worth a place on the rack: the rest is scrap.")
    return out


def write(pages: Pages, plan: Plan, layout: Layout) -> None:
    """Write the order of work."""
    told = steps(plan, layout)
    if not told:
        return
    pages.title("Order of work", 9.0 + 4.6 * (1 + len(told[0][1])))
    for number, (heading, lines) in enumerate(told, start=1):
        pages.need(4.6 * min(3, 1 + len(lines)))
        pages.line(f"{number}. {heading}", 3.0, "plain-bold")
        for n, step in enumerate(lines, start=1):
            pages.paragraph(step, 2.9, mark=f"{number}.{n}")
        pages.gap(1.0)


def holding(pages: Pages, plan: Plan, layout: Layout) -> None:
    """Write where pins and screws stand in the blank, and where pins stand in the table."""
    work = layout.work
    if work is None or layout.chosen is None or not (work.pins or work.hold_downs):
        return
    units = plan.shop.units
    dx, dy = sheet_figure.datum(layout)
    every = lies(layout, layout.setups[layout.chosen])
    pins = table_pins(layout)
    # Few pictures: where each comes to lie in them. Many: a table of its own for the pins.
    few = every if len(every) < 3 else []
    uses = {"flip": "pin to turn over on", "index": "hole to move along by"}
    rows: list[tuple[Pin | HoldDown, str]] = [(item, uses[item.use]) for item in work.pins]
    rows += [(item, "screw") for item in work.hold_downs]
    what = listed([w for w, there in (("pins", work.pins), ("screws", work.hold_downs)) if there])
    pages.table(
        what.capitalize(),
        [
            "Sign",
            "What",
            "From left",
            "From bottom",
            "Diameter",
            "Stands in",
            *(f"Bed X, Y in picture {lie.letter}" if len(few) > 1 else "Bed X, Y" for lie in few),
        ],
        [
            [
                initials(item.name),
                use,
                measure.number(item.x_mm - dx, units),
                measure.number(item.y_mm - dy, units),
                ("head " if use == "screw" else "") + measure.plain(item.diameter_mm, units),
                flaws.standing(layout, item),
                *(
                    ", ".join(measure.plain(v, units) for v in lie.move.point((item.x_mm, item.y_mm)))
                    for lie in few
                ),
            ]
            for item, use in rows
        ],
        [0.6, 2.1, -1.1, -1.4, -1.2, 1.1, *(2.2 for _ in few)],
    )
    if pins and (not few or any(p.use == "index" for p in work.pins)):
        pages.table(
            "Pins in the table",
            ["Bed X", "Bed Y", *(f"In picture {lie.letter}" for lie in every)],
            [[*(measure.number(v, units) for v in at), *taken] for at, taken in pins],
            [-1.0, -1.0, *(1.0 for _ in every)],
        )
