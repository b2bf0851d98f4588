"""One SVG a blank at 1:1: the same outlines as the DXF, one user unit a millimeter."""

from __future__ import annotations

from nestyield.model import ROLES, Layout, Plan
from nestyield.paperwork import fonts, svg
from nestyield.paperwork.blank_picture import describe
from nestyield.paperwork.canvas import Canvas
from nestyield.paperwork.features import TEXT_HEIGHT_MM, Content, content
from nestyield.paperwork.words import short

BORDER_MM = 10.0
#: By ``Role.drawn``.
_ZONE_STYLES = {
    "cutout": "outline",
    "pocket": "line-slate",
    "contour": "contour",
    "hole": "outline",
    "line": "center",
    "watch": "watch",
}
#: By first word of the layer.
_STYLES = {
    "BLANK": "edge",
    "PART": "outline",
    **{role.layer.split()[0]: _ZONE_STYLES[role.drawn] for role in ROLES.values()},
    "SEAM": "seam-thin",
    "SECTION": "section",
    "SPLINE": "seam-thin",
    "DOWEL": "seam-thin",
    "DEFECT": "defect",
    "WATCH": "tear",
    "LEFTOVER": "leftover",
    "PIN": "line-slate",
    "HOLD": "line-slate",
    "TAB": "edge-thin",
    "FLIP": "axis",
    "TEXT": "leader",
    "ZERO": "axis",
}


def drawing(plan: Plan, layout: Layout, over: bool = False, held: Content | None = None) -> str:
    """Return the SVG of a blank at 1:1 in millimeters; each outline carries its layer's name.

    A point (x, y) of the drawing stands at (x, -y), since y runs downwards there. With ``over`` the blank
    is turned over about its flip axis, the bottom face up. ``held`` is what it holds, where that is made.
    """
    held = held or content(plan, layout, over)
    x0, y0, x1, y1 = held.box
    wide = max([x1 - x0, *(n.at_mm[0] - x0 + fonts.width(n.text, TEXT_HEIGHT_MM) for n in held.notes)])
    low = min([y0, *(n.at_mm[1] - 2.0 for n in held.notes)])
    below = "TOP" if over else "BOTTOM"
    seen = "seen from the bottom" if over else "seen from the top"
    canvas = Canvas(
        width_mm=wide + 2 * BORDER_MM,
        height_mm=y1 - low + 2 * BORDER_MM,
        title=f"{short(layout.blank.name, 80)}, full size, {seen}",
        description=describe(plan, layout),
    )
    for feature in held.features:
        word = feature.layer.split(" ")[0]
        style = "rectangle" if feature.layer == "LEFTOVER RECTANGLE" else _STYLES[word]
        if f" {below} " in feature.layer:
            style = "pocket-under"
        if feature.outline is not None:
            canvas.area([feature.outline], style, layer=feature.layer)
        else:
            canvas.lines([feature.line_mm], style, layer=feature.layer)
    for note in held.notes:
        canvas.text(note.at_mm, note.text, TEXT_HEIGHT_MM, "plain")
    return svg.document(canvas, digits=4, origin=(x0 - BORDER_MM, low - BORDER_MM))
