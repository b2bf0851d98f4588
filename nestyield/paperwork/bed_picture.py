"""The picture of a blank on a bed in one direction."""

from __future__ import annotations

from nestyield.model import Bed, BedPosition, Layout, Outline, Plan, Section, Setup
from nestyield.model.facts import CutOutline, CutThrough, CutZone
from nestyield.paperwork import hatch, marks, room
from nestyield.paperwork.blank_picture import tab_outline
from nestyield.paperwork.canvas import Canvas
from nestyield.paperwork.curves import Box, Move, bounds, join_boxes, move_of, outlines_of
from nestyield.paperwork.labels import Labels
from nestyield.paperwork.phrases.beds import setup_says
from nestyield.paperwork.words import short
from nestyield.words import Words


def move_to_bed(place: Setup | Section) -> Move:
    """Return the move from blank to bed coordinates, millimeters."""
    return Move(angle_deg=place.turned_deg, dx=place.x_mm, dy=place.y_mm)


def move_of_position(position: BedPosition) -> Move:
    """Return the move from blank to bed coordinates, millimeters."""
    return Move(angle_deg=position.angle_deg, mirrored=position.mirrored, dx=position.x_mm, dy=position.y_mm)


def positions(layout: Layout, setup: Setup) -> tuple[BedPosition, ...]:
    """Return every position of a blank on its bed; where nothing is cut, the one of its setup."""
    if layout.work is not None and layout.work.positions:
        return layout.work.positions
    return (
        BedPosition(
            name="A",
            up="top",
            section=0,
            mirrored=False,
            angle_deg=setup.turned_deg,
            x_mm=setup.x_mm,
            y_mm=setup.y_mm,
        ),
    )


def _cut_in(layout: Layout, position: BedPosition) -> set[tuple[int, str]]:
    """Return number of the part and name of each zone that is cut in a position."""
    return {
        (step.placement, zone)
        for stage in (layout.work.stages if layout.work else ())
        if stage.position == position.name
        for step in stage.steps
        if isinstance(step, CutZone | CutThrough)
        for zone in step.zones
    }


def bed_extent(bed: Bed) -> Box:
    """Return the box around table, travel and keep-outs, bed coordinates."""
    boxes: list[Box] = [
        (bed.table_x_mm[0], bed.table_y_mm[0], bed.table_x_mm[1], bed.table_y_mm[1]),
        (0.0, 0.0, bed.travel_x_mm, bed.travel_y_mm),
    ]
    boxes += [bounds([k.outline]) for k in bed.keep_outs]
    return join_boxes(boxes)


def draw_bed(canvas: Canvas, bed: Bed, at: Move, labels: Labels, text_mm: float) -> set[str]:
    """Draw a bed without a blank: table, open ends, keep-outs. Return the legend keys."""
    shown = {"table", "travel"}
    (tx0, tx1), (ty0, ty1) = bed.table_x_mm, bed.table_y_mm
    canvas.area([at.outline(Outline.rectangle(tx0, ty0, tx1, ty1))], "table")
    if bed.keep_outs:
        shown.add("keep-out")
    if bed.open_ends:
        shown.add("open-end")
    return shown


def draw_over(canvas: Canvas, bed: Bed, at: Move, labels: Labels, text_mm: float) -> None:
    """Draw what must stay visible above the blank: travel, open ends, zero, axes, names of keep-outs."""
    (tx0, tx1), (ty0, ty1) = bed.table_x_mm, bed.table_y_mm
    ends = {
        "x-": ((tx0, (ty0 + ty1) / 2), 180.0),
        "x+": ((tx1, (ty0 + ty1) / 2), 0.0),
        "y-": (((tx0 + tx1) / 2, ty0), 270.0),
        "y+": (((tx0 + tx1) / 2, ty1), 90.0),
    }
    for end in bed.open_ends:
        p, angle = ends[end]
        x, y = at.point(p)
        step = Move(angle_deg=angle, dx=x, dy=y)
        along = Move(angle_deg=angle + 90.0)
        for k in (-1.0, 0.0, 1.0):
            off = along.point((k * 4.0, 0.0))
            tip = step.point((3.2, 0.0))
            canvas.head((tip[0] + off[0], tip[1] + off[1]), angle, 2.6, "open-end")
    for keep in bed.keep_outs:
        marks.keep_out(canvas, [at.outline(keep.outline)])
    canvas.area([at.outline(Outline.rectangle(0, 0, bed.travel_x_mm, bed.travel_y_mm))], "travel")
    zero = at.point((0.0, 0.0))
    marks.zero(canvas, zero, 1.5)
    labels.block((zero[0] - 2, zero[1] - 2, zero[0] + 2, zero[1] + 2))
    run = text_mm * 2.2
    canvas.arrow((zero[0] + 1.5, zero[1]), (zero[0] + 1.5 + run, zero[1]), "grain", "grain-head", 1.8)
    canvas.arrow((zero[0], zero[1] + 1.5), (zero[0], zero[1] + 1.5 + run), "grain", "grain-head", 1.8)
    canvas.text((zero[0] + 2.2 + run, zero[1] - text_mm * 0.36), "X", text_mm, "text-bold")
    canvas.text((zero[0], zero[1] + 2.4 + run), "Y", text_mm, "text-bold", "middle")
    labels.block((zero[0], zero[1] - 2, zero[0] + run + 4, zero[1] + 2))
    labels.block((zero[0] - 2, zero[1], zero[0] + 2, zero[1] + run + 5))
    for k, keep in enumerate(bed.keep_outs):
        outline = at.outline(keep.outline)
        x0, y0, x1, y1 = bounds([outline])
        labels.block((x0, y0, x1, y1))
        reach = min(x1 - x0, y1 - y0) / 2
        labels.put(hatch.center([outline]), f"K{k + 1}", text_mm, "text-defect", reach=reach)


def draw_blank_on_bed(
    canvas: Canvas, plan: Plan, layout: Layout, move: Move, position: BedPosition | None = None
) -> set[str]:
    """Draw a blank and its parts; ``move`` goes from blank coordinates to the canvas.

    With ``position`` also what is cut in it. Returns the legend keys of what is drawn along outlines.
    """
    cut = _cut_in(layout, position) if position else set()
    canvas.area([move.outline(o) for o in outlines_of(layout.blank.shape)], "wood")
    for number, placement in enumerate(layout.placements, start=1):
        part = plan.shop.part(placement.part)
        placed = move_of(placement).then(move)
        outline = placed.outline(part.outline)
        canvas.area([outline], "part")
        for zone in part.zones:
            if zone.shape is not None and (number, zone.name) in cut:
                rings = [placed.outline(o) for o in outlines_of(zone.shape)]
                if zone.does.drawn == "contour":
                    canvas.hatch(rings, "contour-hatch", 45.0, 1.1)
                canvas.area(rings, f"{zone.does.drawn}-small")
        canvas.area([outline], "outline")
    canvas.area([move.outline(o) for o in outlines_of(layout.blank.shape)], "edge")
    return _at_outlines(canvas, plan, layout, move, position) if position else set()


def _outlines_in(layout: Layout, position: BedPosition) -> list[CutOutline]:
    """Return the steps that cut outlines in a position."""
    return [
        step
        for stage in (layout.work.stages if layout.work else ())
        if stage.position == position.name
        for step in stage.steps
        if isinstance(step, CutOutline)
    ]


def tabs_in(layout: Layout, position: BedPosition) -> set[str]:
    """Return the names of the tabs that are left where outlines are cut in a position."""
    return {name for step in _outlines_in(layout, position) for name in step.tabs}


def _at_outlines(canvas: Canvas, plan: Plan, layout: Layout, move: Move, position: BedPosition) -> set[str]:
    """Draw tabs and edges likely to tear out along the outlines cut in a position; return legend keys."""
    shown: set[str] = set()
    steps = _outlines_in(layout, position)
    cut = {step.placement - 1 for step in steps}
    left = tabs_in(layout, position)
    for tab in layout.work.tabs if layout.work else ():
        if tab.name in left:
            canvas.area([move.outline(tab_outline(tab, plan.shop.settings.cutter_diameter_mm))], "tab")
            shown.add("tab")
    for watch in (w for w in layout.watch if w.placement in cut):
        placement = layout.placements[watch.placement]
        outline = move_of(placement).then(move).outline(plan.shop.part(placement.part).outline)
        draw = room.teeth if watch.kind == "rising grain" else room.beside
        canvas.lines(draw(move.points(watch.line_mm), hatch.region([outline])), "tear")
        shown.add(watch.kind)
    return shown


def long_axis(setup: Setup) -> str:
    """Return the axis of the bed along which a blank is moved from section to section."""
    return "X" if setup.spare_x_mm < setup.spare_y_mm else "Y"


def draw_section(canvas: Canvas, setup: Setup, section: int, blank: Box, at: Move) -> None:
    """Draw from where to where a section is cut, across the blank's box (bed coordinates)."""
    here = setup.sections[section - 1]
    upright = long_axis(setup) == "X"
    for value, inwards in ((here.from_mm, 1.0), (here.to_mm, -1.0)):
        ends = ((value, blank[1]), (value, blank[3])) if upright else ((blank[0], value), (blank[2], value))
        low, high = at.points(ends)
        canvas.line(low, high, "section")
        angle = (0.0 if inwards > 0 else 180.0) if upright else (90.0 if inwards > 0 else 270.0)
        step = Move(angle_deg=angle)
        tip = step.point((2.4, 0.0))
        for end in (low, high):
            canvas.head((end[0] + tip[0], end[1] + tip[1]), angle, 2.4, "section-head")


def blank_extent_on_bed(layout: Layout, place: Setup | Section) -> Box:
    """Return the box around the blank as it lies on the bed."""
    return bounds([move_to_bed(place).outline(layout.blank.shape.outer)])


def spare_words(plan: Plan, setup: Setup) -> str:
    """Return what is to spare, or the reasons why not, in sentences."""
    return setup_says(setup, Words(plan.shop.units))


def common_box(plan: Plan, layout: Layout, bed: str) -> Box:
    """Return the box that holds a blank on a bed in every direction, so that pictures can be compared."""
    places: list[Setup | Section] = []
    for setup in layout.setups:
        if setup.bed == bed:
            places += setup.sections or (setup,)
    return join_boxes([bed_extent(plan.shop.bed(bed)), *(blank_extent_on_bed(layout, p) for p in places)])


def picture(
    plan: Plan,
    layout: Layout,
    setup: Setup,
    *,
    section: Section | None = None,
    box: Box | None = None,
    width_mm: float = 80.0,
) -> tuple[Canvas, set[str]]:
    """Return the picture of one setup (or one section of it), and the legend keys of what it shows.

    ``box`` is what the picture holds, bed coordinates; as much as it needs by default.
    """
    bed = plan.shop.bed(setup.bed)
    place = section or setup
    x0, y0, x1, y1 = box or join_boxes([bed_extent(bed), blank_extent_on_bed(layout, place)])
    border = 5.0
    k = min((width_mm - 2 * border) / (x1 - x0), 80.0 / (y1 - y0))
    answer = "fits" if setup.fits else "does not fit"
    canvas = Canvas(
        width_mm=width_mm,
        height_mm=(y1 - y0) * k + 2 * border,
        title=f"{short(layout.blank.name, 60)} along {setup.along.upper()} "
        f"on bed {short(bed.name, 40)}: {answer}",
        description=spare_words(plan, setup),
    )
    left = (width_mm - (x1 - x0) * k) / 2
    at = Move(scale=k, dx=left - x0 * k, dy=border - y0 * k)
    labels = Labels(canvas=canvas, window=(0.5, 0.5, width_mm - 0.5, canvas.height_mm - 0.5))
    shown = draw_bed(canvas, bed, at, labels, 3.2)
    draw_blank_on_bed(canvas, plan, layout, move_to_bed(place).then(at))
    draw_over(canvas, bed, at, labels, 3.2)
    if section is not None:
        number = setup.sections.index(section) + 1
        draw_section(canvas, setup, number, blank_extent_on_bed(layout, section), at)
        shown = shown | {"section"}
    shown |= {"part", "zero"}
    return canvas, shown
