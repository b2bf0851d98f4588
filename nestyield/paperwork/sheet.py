"""The shop sheet of one blank: what a maker takes to the bench."""

from __future__ import annotations

from collections.abc import Sequence

from nestyield.model import ROLES, Layout, Leftover, Outline, Plan
from nestyield.model.cutting import face_of
from nestyield.paperwork import (
    cautions,
    fills,
    flaws,
    off_by,
    placing,
    room,
    sheet_bed,
    sheet_figure,
    sheet_work,
    tables,
    title_block,
    weights,
)
from nestyield.paperwork.canvas import Canvas, Text
from nestyield.paperwork.curves import Move, bounds, circle_of, move_of
from nestyield.paperwork.look import LETTER_MM, TITLE_MM
from nestyield.paperwork.page import LEADING, MARGIN_MM, Pages, Paper, scale_bar, wrap
from nestyield.paperwork.phrases.cautions import LAST_WORD, OPERATOR
from nestyield.paperwork.phrases.work import hole, run_of
from nestyield.paperwork.seam_words import crossed
from nestyield.paperwork.signs import signs
from nestyield.paperwork.words import clean, short
from nestyield.words import Words, listed, plural

#: What a sheet does not say, and who does.
PASSES = (
    "Depth of a pass, feed, speed and length of the screws are not given here: the maker sets them by the "
    "manuals of machine and cutter."
)
#: What a contour is.
SLOPE = "Contour: straight from 0 at its inner edge to its depth at the outline, in steps or shaped by hand."
#: Longest table of pockets and holes.
MOST_ROWS = 40
_SMALL_MM = LETTER_MM


def _head(pages: Pages, plan: Plan, layout: Layout, also: Sequence[Layout]) -> float:
    """Write the heading; return the upper edge of the room for the title block."""
    words = Words(plan.shop.units)
    blank = layout.blank
    x0, y0, x1, y1 = bounds([blank.shape.outer])
    pages.canvas.text((MARGIN_MM + pages.width, pages.y - 5.0), "Shop sheet", TITLE_MM, "plain-soft", "end")
    pages.line(short(blank.name, 34), 7.0, "plain-bold")
    pages.gap(1.0)
    top = pages.y
    pages.gap(title_block.HEIGHT_MM)
    shelves = sorted(
        {clean(p.shelf) for p in plan.shop.pieces for m in blank.members if p.name == m.piece} - {""}
    )
    facts = [
        clean(blank.species),
        words.size(x1 - x0, y1 - y0),
        f"{words.length(blank.thickness_mm)} thick",
    ]
    if shelves:
        facts.append(f"shelf {', '.join(shelves)}")
    if len(blank.members) > 1:
        made = "laminated" if blank.stack else "glued of strips on edge" if blank.on_edge else "glued up"
        facts.append(f"{made} from " + ", ".join(clean(label) for label in blank.stock))
    lying = "as measured for the rack" if layout.glueup is None else "as on the glue-up sheet"
    if blank.stack:
        lying = "as on the layer sheet"
    if blank.on_edge:
        lying = "as on the strip sheet"
    pages.paragraph(", ".join(facts) + f". Top view, {lying}.", LETTER_MM)
    if also:
        named = listed(f"{clean(x.blank.name)} ({title_block.orders(x)})" for x in also)
        text = f"Also for {named}: {'it is' if len(also) == 1 else 'they are'} alike."
        if any(k.usable for k in layout.leftovers):
            text += (
                " Its leftovers carry its own name."
                if len(also) == 1
                else " Leftovers carry their own names."
            )
        pages.paragraph(text, LETTER_MM, "plain-bold")
    planed = sheet_work.planing(plan, layout)
    if planed:
        pages.paragraph(planed, LETTER_MM)
    for text in cautions.datum(plan, layout):
        pages.paragraph(text, LETTER_MM)
    pages.gap(1.0)
    return top


def _figure(pages: Pages, plan: Plan, layout: Layout, top: float, high: float) -> set[str]:
    words = Words(plan.shop.units)
    most = min(high, pages.room - 90.0)
    figure = sheet_figure.draw(pages.canvas, plan, layout, pages.y - 1.0, MARGIN_MM, pages.width, most)
    pages.gap(figure.height + 2.0)
    title_block.draw(pages, plan, layout, sheet_figure.scale_words(figure.scale), top)
    text = f"Lengths in {words.unit()} from the two datum edges."
    pages.canvas.text((MARGIN_MM, pages.y - 4.0), text, LETTER_MM, "plain")
    run = scale_bar(pages.canvas, MARGIN_MM + pages.width - 84.0, pages.y - 4.4, figure.scale, words)
    pages.gap(6.0)
    said = f"The bar is {words.length(run)} long on paper; if it is not, print at 100 %."
    pages.canvas.text((MARGIN_MM + pages.width, pages.y - 4.0), said, LETTER_MM, "plain-soft", "end")
    pages.gap(5.0)
    return figure.shown


def _parts(pages: Pages, plan: Plan, layout: Layout) -> None:
    words = Words(plan.shop.units)
    dx, dy = sheet_figure.datum(layout)
    rows = []
    for k, placement in enumerate(layout.placements, start=1):
        part = plan.shop.part(placement.part)
        x0, y0, x1, y1 = bounds([move_of(placement).outline(part.outline)])
        mirror = ", mirror image" if placement.mirrored == placement.front_up else ""
        rows.append(
            [
                str(k),
                clean(part.name),
                f"{clean(placement.order)}, copy {placement.copy}",
                words.column(x0 - dx),
                words.column(y0 - dy),
                f"{words.column(x1 - x0)} × {words.column(y1 - y0)}",
                words.angle(placement.angle_deg),
                ("front" if placement.front_up else "back") + mirror,
                words.depth(part.thickness_mm),
            ]
        )
    pages.table(
        "Parts",
        ["No.", "Part", "Order", "Left", "Bottom", "Across X × Y", "Turned", "Face up", "Thickness"],
        rows,
        [0.6, 1.9, 2.4, -1.05, -1.3, -2.1, -1.2, 1.2, -1.6]
        if words.units == "mm"
        else [0.65, 1.6, 2.2, -1.4, -1.4, -2.6, -1.2, 1.2, -1.6],
    )


def _weights(pages: Pages, plan: Plan, layout: Layout) -> None:
    """Write what each finished part weighs, and by which density."""
    words = Words(plan.shop.units)
    told = weights.each(plan, layout, words)
    if told:
        pages.gap(0.6)
        pages.paragraph(" ".join([*told, weights.basis(layout, words)]), LETTER_MM)


def _travel(pages: Pages, plan: Plan, layout: Layout) -> None:
    """Write the least travel of each part for owners of other beds, where the shop asks for it."""
    if not plan.shop.settings.both_directions:
        return
    words = Words(plan.shop.units)
    several = len(layout.placements) > 1
    told = []
    for k in range(1, len(layout.placements) + 1):
        x, y = (words.number(v, style="machine", rounding="up") for v in tables.travel_of(plan, layout, k))
        told.append(f"{f'part {k}: ' if several else ''}X {x}, Y {y}")
    pages.paragraph(
        f"Least travel, the blank along X: {'; '.join(told)} {words.units}. With the blank along Y, X and Y "
        "change places.",
        LETTER_MM,
    )


def _cautions(pages: Pages, plan: Plan, layout: Layout) -> None:
    """Write the blank's own cautions, in a frame; the last word stands at the foot of every page."""
    texts = [*(c.text for c in cautions.for_blank(plan, layout)), OPERATOR]
    width = pages.width - 5.0
    lines = sum(len(wrap(text, width - 3.0, LETTER_MM)) for text in texts)
    pages.need(min(11.0 + LEADING * LETTER_MM * lines, 180.0))
    pages.gap(2.0)
    page, above = pages.canvas, pages.y
    pages.gap(1.5)
    pages.line("Cautions", LETTER_MM, "plain-bold", MARGIN_MM + 2.5)
    for text in texts:
        pages.paragraph(text, LETTER_MM, x=MARGIN_MM + 2.5, width=width, mark="•")
    pages.gap(1.0)
    if pages.canvas is page:
        frame = Outline.rectangle(MARGIN_MM, pages.y, MARGIN_MM + pages.width, above)
        page.area([frame], "check")


def _tools(pages: Pages, plan: Plan, layout: Layout) -> None:
    """Write every cutter and drill that the work asks for, by diameter."""
    words = Words(plan.shop.units)
    drills: dict[str, list[str]] = {}
    found: list[tuple[float, str]] = []
    sizes: dict[float, list[str]] = {}
    for pin in layout.work.pins if layout.work is not None else ():
        sizes.setdefault(pin.diameter_mm, []).append(hole(pin.name))
    for size, names in sizes.items():
        found.append((size, f"{plural(len(names), 'hole')} {run_of(names)}"))
    for placement in layout.placements:
        for zone in plan.shop.part(placement.part).zones:
            ring = circle_of(zone.shape.outer) if zone.shape is not None else None
            if zone.does.drawn == "hole" and ring is not None:
                found.append((2 * ring[2], clean(zone.name.split("#")[0])))
    for diameter, what in sorted(found, key=lambda item: item[0]):
        named = drills.setdefault(words.length(diameter, style="fine"), [])
        if what not in named:
            named.append(what)
    cutter = words.length(plan.shop.settings.cutter_diameter_mm, style="setting")
    deepest = max((plan.shop.part(p.part).thickness_mm for p in layout.placements), default=0.0)
    reach = f", long enough for {words.length(deepest, style='fine')}" if layout.placements else ""
    told = [f"cutter ø {cutter} for all that is not drilled{reach}"]
    told += [f"drill ø {size} for {', '.join(what)}" for size, what in drills.items()]
    pages.title("Tools", 14.0)
    pages.paragraph("; ".join(told) + f". {PASSES}", LETTER_MM)


def _room(pages: Pages, plan: Plan, layout: Layout) -> None:
    """Write how far each part may still be shifted and turned."""
    if len(layout.rooms) == 1:
        pages.gap(0.6)
        pages.paragraph(f"Play: {room.sentence(plan, layout, layout.rooms[0])}", LETTER_MM)
    elif room.rows(plan, layout):
        pages.table(
            "Play: how far one part may be shifted straight one way, or else turned",
            ["No.", "Left", "Right", "Down", "Up", "Turn"],
            room.rows(plan, layout),
            [0.5, -1.0, -1.0, -1.0, -1.0, 3.0],
        )
        rest = "" if len(room.rows(plan, layout)) == len(layout.rooms) else "The other parts have none. "
        pages.paragraph(
            f"{rest}One of these figures, for one part; a turned part is shifted as that needs. {room.KEPT} "
            f"{room.ASIDE}",
            LETTER_MM,
            "plain-soft",
        )


def _fills(pages: Pages, plan: Plan, layout: Layout) -> None:
    """Write which defects are filled, and with how much."""
    listed = fills.rows(plan, layout)
    if listed:
        pages.table(
            f"To fill, {fills.total(plan, layout)} together",
            ["Part", "Ref.", "Defect", "Face", "Left", "Bottom", "Size X × Y", "Filler"],
            listed,
            [0.5, 0.5, 3.2, 0.9, -1.0, -1.0, -1.5, -1.3],
        )


def _zones(pages: Pages, plan: Plan, layout: Layout) -> None:
    """Write where every pocket, contour, opening and hole lies, how large and how deep it is."""
    words = Words(plan.shop.units)
    dx, dy = sheet_figure.datum(layout)
    several = len(layout.placements) > 1
    rows: list[list[str]] = []
    slope = False
    for k, placement in enumerate(layout.placements, start=1):
        part = plan.shop.part(placement.part)
        for zone in part.zones:
            if not zone.does.cuts or zone.shape is None:
                continue
            slope |= zone.does.slopes
            side = face_of(zone, placement) if zone.depth_mm is not None else "through"
            deep = "through" if zone.depth_mm is None else words.depth(zone.depth_mm)
            outline = move_of(placement).outline(zone.shape.outer)
            rows.append(
                [
                    *([f"{k}"] if several else []),
                    clean(zone.name).split("#")[0],
                    zone.does.title,
                    side,
                    deep,
                    *placing.columns([outline], (dx, dy), words),
                ]
            )
    rows = _joined(rows, 1 if several else 0)
    if not rows:
        return
    title = listed([plural(2, r.title) for r in ROLES.values() if r.cuts]).capitalize()
    if len(rows) > MOST_ROWS:
        title += f" (the first {MOST_ROWS} of {len(rows)}; all are in the drawings)"
    pages.table(
        title,
        [*(["Part"] if several else []), "Name", "What", "Face", "Depth", "Left", "Bottom", "Box X × Y"],
        rows[:MOST_ROWS],
        [*([0.6] if several else []), 2.2, 1.2, 0.95, -1.0, -1.6, -1.6, -1.6],
    )
    pages.paragraph(
        f"{placing.MEANING} All are seen from the top face, turned counter-clockwise. Box: as it lies; cut "
        "the shape of the drawing, not the box." + (f" {SLOPE}" if slope else ""),
        LETTER_MM,
        "plain-soft",
    )


def _joined(rows: list[list[str]], first: int) -> list[list[str]]:
    """Join rows that differ in how far from one edge alone, and tell how many they are."""
    what, left, bottom = first + 1, first + 4, first + 5
    counted = [(1, row) for row in rows]
    for column in (bottom, left):
        joined: dict[tuple[str, ...], tuple[int, list[str]]] = {}
        for count, row in counted:
            key = (*row[:column], *row[column + 1 :])
            if key in joined:
                before, kept = joined[key]
                kept[column] += f"; {row[column]}"
                joined[key] = (before + count, kept)
            else:
                joined[key] = (count, list(row))
        counted = list(joined.values())
    for count, row in counted:
        if count > 1:
            row[what] = f"{count} {plural(count, row[what])}"
    return [row for _, row in counted]


def _seams(pages: Pages, plan: Plan, layout: Layout) -> None:
    if not layout.seams:
        return
    words = Words(plan.shop.units)
    pages.table(
        "Seams under the parts",
        ["Seam", "Part", "Under the part", "Crosses or nears, length (wood left)", "Visible from"],
        [
            [
                clean(s.seam),
                f"{s.placement + 1} {clean(layout.placements[s.placement].part)}",
                words.column(s.length_mm),
                crossed(layout, s, words),
                ", ".join(s.visible) or "nowhere",
            ]
            for s in layout.seams
        ],
        [1.0, 1.6, -1.1, 2.6, 1.6],
    )


def _leftovers(pages: Pages, plan: Plan, layout: Layout) -> None:
    keep = [k for k in layout.leftovers if k.usable]
    if not keep:
        return
    words = Words(plan.shop.units)
    straight = plan.shop.settings.leftover_cut == "saw"
    pages.table(
        "Label and return to the rack",
        [
            "Leftover",
            "Size" if straight else "Largest rectangle",
            "Saw lines, left" if straight else "Left",
            "Bottom",
            "Area",
            "Defects in it",
            "Clear of them",
        ],
        [
            [
                clean(k.name),
                words.size(*k.rectangle_mm[2:], rounding="wood"),
                *_rectangle(layout, k, words),
                words.area(k.area_mm2),
                flaws.inside(layout, k),
                flaws.clear_of(layout, k, words),
            ]
            for k in keep
        ],
        [1.1, -2.3, -1.8, -1.65, -1.35, 1.4, -2.3],
    )
    if _askew(layout):
        pages.paragraph(
            "Left and Bottom give the four corners of each rectangle in turn: mark them and join them.",
            LETTER_MM,
        )


def _askew(layout: Layout) -> bool:
    """Tell whether the grain, and what is measured along it, runs aslant to the datum edges."""
    off = abs((layout.blank.grain_deg or 0.0) % 90.0)
    return min(off, 90.0 - off) > 1e-6


def _rectangle(layout: Layout, leftover: Leftover, words: Words) -> list[str]:
    """Return from where to where the rectangle of a leftover runs; its four corners where it lies askew."""
    x, y, length, width = leftover.rectangle_mm
    turn = Move(angle_deg=layout.blank.grain_deg or 0.0)
    dx, dy = sheet_figure.datum(layout)
    if _askew(layout):
        corners = ((x, y), (x + length, y), (x + length, y + width), (x, y + width))
        there = [turn.point(at) for at in corners]
        return [
            ", ".join(words.number(px - dx) for px, _ in there),
            ", ".join(words.number(py - dy) for _, py in there),
        ]
    x0, y0, x1, y1 = bounds([turn.outline(Outline.rectangle(x, y, x + length, y + width))])
    return [words.run(a - d, b - a) for a, b, d in ((x0, x1, dx), (y0, y1, dy))]


def _defects(pages: Pages, plan: Plan, layout: Layout) -> None:
    """Write where the defects of the wood lie, those apart that the table of fillings has."""
    found = _joined(flaws.rows(plan, layout, [f.defect for f in layout.fills]), 0)
    if not found:
        return
    more = len(found) > flaws.MOST_ROWS
    title = "Defects in the wood, depths before planing"
    pages.table(
        f"{title} (the first {flaws.MOST_ROWS} of {len(found)})" if more else title,
        ["Ref.", "Defect", "Face", "Depth", "Left", "Bottom", "Size X × Y"],
        found[: flaws.MOST_ROWS],
        [0.6, 1.4, 0.9, -1.0, -2.3, -2.0, -1.6],
    )
    cut = any(z.does.cuts for p in layout.placements for z in plan.shop.part(p.part).zones)
    if any("ø" in row[-1] for row in found) and not cut:
        pages.paragraph(placing.MEANING, LETTER_MM, "plain-soft")


#: Height of the figure, mm, the block that begins a page, and the leading, as they are tried: the first is
#: taken that gives the fewest pages, and rather one that leaves no page less than half full.
_TRIES: tuple[tuple[float, str, float], ...] = (
    *((high, "", LEADING) for high in (100.0, 116.0)),
    (100.0, "", 1.22),
    *((100.0, block, LEADING) for block in ("leftovers", "holding", "work", "bed")),
    (100.0, "holding", 1.38),
    *((high, "", 1.22) for high in (84.0, 76.0)),
)

#: Heights of a figure that are tried then, mm: the largest is taken that asks for no more pages.
_LARGER_MM = (150.0, 138.0, 126.0, 114.0)


def sheet(plan: Plan, layout: Layout, paper: Paper, also: Sequence[Layout] = ()) -> list[Canvas]:
    """Return the pages of the shop sheet of one blank.

    Parameters
    ----------
    plan : Plan
    layout : Layout
    paper : {"a4", "letter"}
    also : sequence of Layout
        Blanks that are alike, for which the sheet serves too.
    """
    best: Pages | None = None
    chosen = _TRIES[0]
    for tried in _TRIES:
        pages = _filled(plan, layout, paper, tried, also)
        if best is None or _rank(pages) < _rank(best):
            best, chosen = pages, tried
        if not _rank(best)[1]:
            break
    assert best is not None
    for high in _LARGER_MM:
        pages = _filled(plan, layout, paper, (high, *chosen[1:]), also)
        if _rank(pages)[:2] <= _rank(best)[:2]:
            best = pages
            break
    return best.finish()


def _rank(pages: Pages) -> tuple[int, int, float]:
    """Return how many pages there are, how many of several are under half full, and the emptiest share."""
    top, bottom, count = pages.canvas.height_mm - MARGIN_MM, pages.bottom, len(pages.canvases)
    lowest = [min(t.y for t in page.items if isinstance(t, Text)) for page in pages.canvases]
    empty = [(y - bottom) / (top - bottom) for y in lowest] if count > 1 else [0.0]
    return count, sum(e > 0.5 for e in empty), round(max(empty), 2)


def _filled(
    plan: Plan, layout: Layout, paper: Paper, tried: tuple[float, str, float], also: Sequence[Layout]
) -> Pages:
    """Return the pages with a figure of at most that height, a block beginning a page, and a leading."""
    high, block, leading = tried
    pages = Pages(
        paper=paper,
        heading=f"Shop sheet {short(layout.blank.name, 48)}",
        foot=f"{short(plan.shop.name, 40)}. {LAST_WORD}",
        leading=leading,
    )
    top = _head(pages, plan, layout, also)
    shown = _figure(pages, plan, layout, top, high)
    _parts(pages, plan, layout)
    _weights(pages, plan, layout)
    for text in off_by.lines(layout, Words(plan.shop.units)):
        pages.paragraph(text, LETTER_MM)
    _travel(pages, plan, layout)
    _cautions(pages, plan, layout)
    _room(pages, plan, layout)
    _zones(pages, plan, layout)
    _fills(pages, plan, layout)
    _defects(pages, plan, layout)
    _seams(pages, plan, layout)

    def begins(name: str) -> None:
        if name == block:
            pages.new_page()

    begins("bed")
    shown |= sheet_bed.on_bed(pages, plan, layout)
    begins("work")
    sheet_work.write(pages, plan, layout)
    begins("leftovers")
    _leftovers(pages, plan, layout)
    begins("holding")
    sheet_work.holding(pages, plan, layout)
    sheet_work.tabs(pages, plan, layout)
    _tools(pages, plan, layout)
    signs(pages, shown)
    return pages
