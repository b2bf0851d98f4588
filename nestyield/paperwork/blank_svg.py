"""One SVG a blank at 1:1: the same outlines as the DXF, one user unit a millimetre."""

from __future__ import annotations

from nestyield.model import Layout, Plan
from nestyield.paperwork import svg
from nestyield.paperwork.blank_picture import describe, extent
from nestyield.paperwork.canvas import Canvas
from nestyield.paperwork.curves import Move
from nestyield.paperwork.features import TEXT_HEIGHT_MM, features, notes
from nestyield.paperwork.words import short

BORDER_MM = 10.0
_STYLES = {
    "BLANK": "edge",
    "PART": "outline",
    "CUTOUT": "outline",
    "POCKET": "line-slate",
    "CONTOUR": "contour",
    "HOLE": "outline",
    "CENTRE": "centre",
    "NO": "watch",
    "SCREW": "watch",
    "SEAM": "seam-thin",
    "DEFECT": "defect",
    "LEFTOVER": "leftover",
    "PIN": "line-slate",
    "HOLD": "line-slate",
    "FLIP": "axis",
    "TEXT": "leader",
}


def drawing(plan: Plan, layout: Layout) -> str:
    """Return the SVG of a blank at 1:1 in millimetres; each outline carries its layer's name."""
    x0, y0, x1, y1 = extent(plan, layout)
    below = 36.0
    canvas = Canvas(
        width_mm=max(x1 - x0, 160.0) + 2 * BORDER_MM,
        height_mm=y1 - y0 + 2 * BORDER_MM + below,
        title=f"{short(layout.blank.name, 80)}, full size, seen from the top",
        description=describe(plan, layout),
    )
    at = Move(dx=BORDER_MM - x0, dy=BORDER_MM + below - y0)
    texts, leaders = notes(plan, layout)
    for feature in [*features(plan, layout), *leaders]:
        word = feature.layer.split(" ")[0]
        style = "rectangle" if feature.layer == "LEFTOVER RECTANGLE" else _STYLES[word]
        if " BOTTOM " in feature.layer:
            style = "pocket-under"
        if feature.outline is not None:
            canvas.area([at.outline(feature.outline)], style, layer=feature.layer)
        else:
            canvas.lines([at.points(feature.line_mm)], style, layer=feature.layer)
    for note in texts:
        canvas.text(at.point(note.at_mm), note.text, TEXT_HEIGHT_MM, "plain")
    return svg.document(canvas, digits=4)
