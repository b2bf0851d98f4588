"""The order of work of a blank, stage by stage, and where its pins and screws are."""

from __future__ import annotations

from dataclasses import replace

from nestyield.model import BedPosition, HoldDown, Layout, Pin, Plan, Stage
from nestyield.model.facts import (
    CutOutline,
    CutThrough,
    CutZone,
    FitPins,
    Hold,
    HoldOtherwise,
    LabelLeftovers,
    SawLeftover,
    WorkStep,
)
from nestyield.paperwork import sheet_figure
from nestyield.paperwork.bed_picture import move_of_position
from nestyield.paperwork.features import in_sections
from nestyield.paperwork.look import LETTER_MM, STEP_MM
from nestyield.paperwork.page import Pages
from nestyield.paperwork.phrases import phrase
from nestyield.paperwork.phrases.work import hole, initials, leaving, saw_leftovers
from nestyield.paperwork.words import clean, listed
from nestyield.words import Words

_PLACES = {"before the bed": "Before the bed", "after the bed": "After the bed"}


def planing(plan: Plan, layout: Layout) -> str:
    """Return what is planed off before routing, in a sentence; ``""`` for nothing and for sheets."""
    planed = layout.inspection.planing if layout.inspection is not None else None
    return "" if planed is None else phrase(planed, Words(plan.shop.units))


#: Steps that are told in one paragraph with the one before.
_GOES_ON = Hold | HoldOtherwise | FitPins | LabelLeftovers


def _heading(layout: Layout, stage: Stage) -> str:
    """Return what a stage is called."""
    if stage.place != "on the bed" or layout.work is None:
        return _PLACES[stage.place]
    position = next(p for p in layout.work.positions if p.name == stage.position)
    section = f", section {position.section}" if position.section else ""
    return f"Setup {position.name}: {position.up} face up{section}"


def _lines(plan: Plan, layout: Layout, stage: Stage) -> list[str]:
    """Return the steps of a stage; cuts of several parts that are alike are one line with their numbers."""
    words = Words(plan.shop.units)
    several = len(layout.placements) > 1
    parts: dict[WorkStep, list[str]] = {}
    tabs: dict[WorkStep, list[str]] = {}
    for step in stage.steps:
        if isinstance(step, CutZone | CutThrough):
            parts.setdefault(replace(step, placement=0, part="", zones=()), []).append(str(step.placement))
        elif isinstance(step, CutOutline):
            key = replace(step, placement=0, part="", tabs=())
            parts.setdefault(key, []).append(str(step.placement))
            tabs.setdefault(key, []).extend(step.tabs)
        else:
            parts.setdefault(step, [])
    out: list[str] = []
    sawn = [step.leftover for step in parts if isinstance(step, SawLeftover)]
    for step, numbers in parts.items():
        if isinstance(step, SawLeftover):
            if step.leftover == sawn[0]:
                out.append(clean(saw_leftovers(sawn, step.straight)))
            continue
        text = clean(phrase(step, words))
        if isinstance(step, _GOES_ON) and out:
            out[-1] += f" {text}"
            continue
        if numbers and several:
            word = "Part" if len(numbers) == 1 else "Parts"
            text = f"{word} {listed(numbers)}: {text[:1].lower()}{text[1:]}"
            if isinstance(step, CutOutline) and len(numbers) > 1:
                text += ", in this order"
        text += leaving(tabs.get(step, ()))
        out.append(text)
    return out


def steps(plan: Plan, layout: Layout) -> list[tuple[str, list[str]]]:
    """Return the order of work: a heading and its steps for each stage."""
    if layout.work is None:
        return []
    return [(_heading(layout, s), _lines(plan, layout, s)) for s in layout.work.stages]


def write(pages: Pages, plan: Plan, layout: Layout) -> None:
    """Write the order of work."""
    told = steps(plan, layout)
    if not told:
        return
    pages.title("Order of work", 9.0 + 6.0 * (1 + len(told[0][1])))
    for number, (heading, lines) in enumerate(told, start=1):
        pages.need(6.0 * min(3, 1 + len(lines)))
        pages.line(f"{number}. {heading}", STEP_MM, "plain-bold")
        for n, step in enumerate(lines, start=1):
            pages.paragraph(step, STEP_MM, mark=f"{number}.{n}")
        pages.gap(1.0)


def holding(pages: Pages, plan: Plan, layout: Layout) -> None:
    """Write where pins and screws stand in the blank, and where pins stand in the table."""
    work = layout.work
    if work is None or layout.chosen is None or not (work.pins or work.hold_downs):
        return
    words = Words(plan.shop.units)
    dx, dy = sheet_figure.datum(layout)
    every = work.positions
    # Few setups: where each comes to lie in them. Many: a table of its own for the pins.
    few = every if len(every) < 3 else ()
    uses = {"flip": "pin hole", "index": "index hole"}
    rows: list[tuple[Pin | HoldDown, str]] = [(item, uses[item.use]) for item in work.pins]
    rows += [(item, f"screw{in_sections(item.sections)}") for item in work.hold_downs]
    what = listed([w for w, there in (("holes", work.pins), ("screws", work.hold_downs)) if there])
    wide = 2.2 if any(h.sections for h in work.hold_downs) else 1.4
    pages.table(
        what.capitalize(),
        [
            "Ref.",
            "What",
            "Left",
            "Bottom",
            "Diameter",
            "In",
            *(f"Setup {p.name}: bed X, Y" if len(few) > 1 else "Bed X, Y" for p in few),
        ],
        [
            [
                hole(item.name),
                use,
                words.column(item.x_mm - dx),
                words.column(item.y_mm - dy),
                ("head " if isinstance(item, HoldDown) else "") + words.number(item.diameter_mm),
                _located(item),
                *(_on_bed(item, p, words) for p in few),
            ]
            for item, use in rows
        ],
        [0.7, wide, -1.4 if words.units == "in" else -1.1, -1.3, -1.4, 1.3, *(2.3 for _ in few)],
    )
    if work.table_pins and few and all(p.use == "flip" for p in work.pins):
        first = work.positions[0].name
        pages.paragraph(
            f"Pin P1 stands in the table where hole H1 lies in Setup {first}, and so on for all pins.",
            LETTER_MM,
            "plain-soft",
        )
    elif work.table_pins:
        pages.table(
            "Pins in the table",
            ["Pin", "Bed X", "Bed Y", *(f"Hole in Setup {p.name}" for p in every)],
            [
                [
                    initials(pin.name),
                    words.number(pin.x_mm, style="machine"),
                    words.number(pin.y_mm, style="machine"),
                    *(hole(name) for name in pin.holes),
                ]
                for pin in work.table_pins
            ],
            [0.6, -1.0, -1.0, *(1.0 for _ in every)],
        )


def _on_bed(item: Pin | HoldDown, position: BedPosition, words: Words) -> str:
    """Return where a pin hole or screw comes to lie on the bed; a dash where a screw is not driven."""
    if isinstance(item, HoldDown) and not item.driven_in(position.section):
        return "–"
    at = move_of_position(position).point((item.x_mm, item.y_mm))
    return ", ".join(words.number(v, style="machine") for v in at)


def tabs(pages: Pages, plan: Plan, layout: Layout) -> None:
    """Write where tabs are left in the grooves, up to three in a row."""
    every = layout.work.tabs if layout.work is not None else ()
    if not every:
        return
    words = Words(plan.shop.units)
    dx, dy = sheet_figure.datum(layout)
    several = len(layout.placements) > 1
    cells = [
        [
            initials(tab.name) + (f", part {tab.placement + 1}" if several else ""),
            words.column(tab.x_mm - dx),
            words.column(tab.y_mm - dy),
        ]
        for tab in every
    ]
    across = min(3, len(cells))
    rows = [cells[k : k + across] for k in range(0, len(cells), across)]
    pages.table(
        f"Tabs left in the cut, {words.length(every[0].width_mm)} wide",
        ["Tab", "Left", "Bottom"] * across,
        [[cell for one in row for cell in one] + [""] * 3 * (across - len(row)) for row in rows],
        [1.2, -1.0, -1.0] * across,
    )
    pages.paragraph(
        "Middle of the tab on the outline. How thick a tab must be, the maker decides by wood and cutter.",
        LETTER_MM,
        "plain-soft",
    )


def _located(item: Pin | HoldDown) -> str:
    """Return what a pin or screw is located in: ``leftover a``, ``an opening`` or ``waste``."""
    if item.place == "cutout":
        return "an opening"
    return f"leftover {clean(item.leftover.rpartition('-')[2])}" if item.leftover else "waste"
