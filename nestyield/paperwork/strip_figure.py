"""The pictures of a blank of strips on edge: seen from the end, and from above with the part."""

from __future__ import annotations

from nestyield.model import Layout, OnEdge, Outline, Plan
from nestyield.paperwork import marks
from nestyield.paperwork.canvas import Canvas
from nestyield.paperwork.curves import Move, bounds, move_of, outlines_of
from nestyield.paperwork.look import LETTER_MM

#: Highest view from the end and from above, mm on paper.
_END_HIGH_MM, _TOP_HIGH_MM = 40.0, 60.0
#: Larger than life no more than this.
_MOST = 2.0
#: Room for letters beside the pictures, mm on paper.
SIDE_MM = 8.0


def scale_of(layout: Layout, width_mm: float) -> tuple[float, float]:
    """Return the scales of the view from the end and from above, in so much width."""
    x0, y0, x1, y1 = bounds([layout.blank.shape.outer])
    thick, room = layout.blank.thickness_mm, width_mm - 2 * SIDE_MM
    end = min(_MOST, room / (y1 - y0), _END_HIGH_MM / thick)
    return end, min(1.0, room / (x1 - x0), _TOP_HIGH_MM / (y1 - y0))


def _edges(layout: Layout) -> list[float]:
    """Return where strips begin and end across the blank."""
    _, y0, _, y1 = bounds([layout.blank.shape.outer])
    return [y0, *(s.line_mm[0][1] for s in layout.blank.seams), y1]


def end_view(canvas: Canvas, layout: Layout, told: OnEdge, at: Move) -> set[str]:
    """Draw the strips as seen from the right end, top face up; return the legend keys of what is shown.

    Parameters
    ----------
    canvas : Canvas
    layout : Layout
    told : OnEdge
    at : Move
        From width, and height above the bottom face, to the canvas.
    """
    blank, thick = layout.blank, layout.blank.thickness_mm
    shown = {"glue-line"}
    edges = _edges(layout)

    def box(a: float, b: float, top: float, bottom: float) -> list[Outline]:
        return [at.outline(Outline.rectangle(a, thick - bottom, b, thick - top))]

    for k, one in enumerate(told.strips):
        ground = box(edges[k], edges[k + 1], 0.0, thick)
        canvas.area(ground, "wood-2" if k % 2 else "wood")
        x0, y0, x1, _ = bounds(ground)
        canvas.text(((x0 + x1) / 2, y0 - 5.2), one.letter, 4.2, "plain-bold", "middle")
    for defect in blank.defects:
        _, a, _, b = bounds(outlines_of(defect.shape))
        marks.defect(canvas, box(a, b, *defect.span_mm(thick)), defect.kind, 0.0)
        shown.add(f"defect {defect.kind}")
    whole = box(edges[0], edges[-1], 0.0, thick)
    canvas.area(whole, "edge-thin")
    for y in edges[1:-1]:
        canvas.line(at.point((y, 0.0)), at.point((y, thick)), "seam")
    for off in (told.top_off_mm, thick - told.bottom_off_mm):
        if 0.0 < off < thick:
            canvas.line(at.point((edges[0], thick - off)), at.point((edges[-1], thick - off)), "travel")
            shown.add("planed-off")
    return shown


def top_view(canvas: Canvas, plan: Plan, layout: Layout, told: OnEdge, at: Move) -> set[str]:
    """Draw the blank from above: strips, seams, the part with what is cut from it; return the legend keys.

    Parameters
    ----------
    canvas : Canvas
    plan : Plan
    layout : Layout
    told : OnEdge
    at : Move
        From the blank's coordinates to the canvas.
    """
    x0, _, x1, _ = bounds([layout.blank.shape.outer])
    edges = _edges(layout)
    shown = {"seam", "part"}
    for k, one in enumerate(told.strips):
        ground = [at.outline(Outline.rectangle(x0, edges[k], x1, edges[k + 1]))]
        canvas.area(ground, "wood-2" if k % 2 else "wood")
        left, low, _, high = bounds(ground)
        canvas.text((left - 5.0, (low + high - LETTER_MM) / 2), one.letter, LETTER_MM, "plain-bold")
    whole = [at.outline(o) for o in outlines_of(layout.blank.shape)]
    canvas.hatch(whole, "grain-line", 0.0, 1.6)
    for placement in layout.placements:
        move = move_of(placement).then(at)
        part = plan.shop.part(placement.part)
        canvas.area([move.outline(part.outline)], "part")
        for zone in part.zones:
            if zone.shape is not None and zone.does.cuts:
                style = "cutout" if zone.goes_through(part.thickness_mm) else "pocket"
                canvas.area([move.outline(o) for o in outlines_of(zone.shape)], style)
                shown.add(style)
        canvas.area([move.outline(part.outline)], "edge-thin")
    for defect in layout.blank.defects:
        drawn = [at.outline(o) for o in outlines_of(defect.shape)]
        marks.defect(canvas, drawn, defect.kind, 0.0)
        shown.add(f"defect {defect.kind}")
    canvas.area(whole, "edge-thin")
    for y in edges[1:-1]:
        canvas.line(at.point((x0, y)), at.point((x1, y)), "seam")
    return shown
