"""How each kind of thing is drawn: by pattern and letter first, by color last."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from nestyield.model import DEFECTS, Outline
from nestyield.paperwork import hatch
from nestyield.paperwork.canvas import Canvas
from nestyield.paperwork.curves import Move, bounds


def letters(kind: str) -> str:
    """Return the letters that mark a kind of defect."""
    return DEFECTS[kind].letters


def defect(canvas: Canvas, outlines: Sequence[Outline], kind: str, grain_deg: float) -> None:
    """Draw a defect: edge and pattern of its kind (canvas mm)."""
    pattern = DEFECTS[kind].pattern
    canvas.area(outlines, "defect")
    if pattern == "rings":
        x0, y0, x1, y1 = bounds(outlines)
        cx, cy = (x0 + x1) / 2, (y0 + y1) / 2
        for k in (0.66, 0.33):
            shrink = Move(scale=k, dx=cx * (1 - k), dy=cy * (1 - k))
            canvas.area([shrink.outline(o) for o in outlines[:1]], "defect-ring")
    elif pattern == "along":
        canvas.hatch(outlines, "defect-hatch", grain_deg, 0.8)
    elif pattern == "slant":
        canvas.hatch(outlines, "defect-hatch", 55.0, 1.1)
    elif pattern == "cross":
        canvas.hatch(outlines, "defect-hatch", 45.0, 1.2)
        canvas.hatch(outlines, "defect-hatch", -45.0, 1.2)
    elif pattern == "dots":
        canvas.dots(outlines, "defect-dot", 1.3, 0.28)
    elif pattern == "sparse":
        canvas.dots(outlines, "defect-dot", 2.2, 0.2)
    else:
        canvas.area(outlines, "defect-dot")


def cutout(canvas: Canvas, outlines: Sequence[Outline]) -> None:
    """Draw an opening: crossed corner to corner."""
    canvas.area(outlines, "cutout")
    canvas.lines(hatch.diagonals(outlines), "cutout-cross")


def leftover(canvas: Canvas, outlines: Sequence[Outline]) -> None:
    """Draw wood that goes back on the rack."""
    canvas.area(outlines, "leftover")
    canvas.hatch(outlines, "leftover-hatch", 135.0, 2.6)


def keep_out(canvas: Canvas, outlines: Sequence[Outline]) -> None:
    """Draw a place on the bed that stays free."""
    canvas.area(outlines, "keep-out")
    canvas.hatch(outlines, "keep-out-hatch", 45.0, 1.6)
    canvas.hatch(outlines, "keep-out-hatch", -45.0, 1.6)


@dataclass(frozen=True, slots=True, kw_only=True)
class KeyEntry:
    """One line of a legend.

    Parameters
    ----------
    key : str
        What to draw: ``part``, ``seam``, ``defect knot`` ...
    text : str
        What it means.
    """

    key: str
    text: str


_WORDS = {
    "part": "part",
    "pocket": "pocket, this face",
    "pocket-under": "cut from below",
    "contour": "contour, this face",
    "contour-under": "contour from below",
    "cutout": "through cut",
    "hole": "drilled hole",
    "center": "center line",
    "watch": "no seam here",
    "corner": "datum corner",
    "datum": "datum edge",
    "cutter": "path of the cutter",
    "room": "limit of play",
    "rising grain": "may tear out",
    "narrow point": "may break off",
    "seam": "seam",
    "leftover": "leftover to keep",
    "rectangle": "its largest rectangle",
    "grain": "grain",
    "pin": "H: hole for a pin",
    "clamp": "S: screw",
    "tab": "tab left in the cut",
    "clamp-head": "clamp of the glue-up",
    "joint-edge": "joint line",
    "saw-cut": "saw cut, with its number",
    "blank-edge": "outline of the blank: saw here",
    "glue-line": "glue line",
    "planed-off": "planed off after gluing",
    "stand": "edge that is down at the resaw",
    "mark": "mark on a jointed edge",
    "cut-off": "comes off",
    "piece-corner": "corner 0 of a piece",
    "key": "spline or dowel",
    "axis": "flip axis",
    "zero": "zero of the bed",
    "drawing-zero": "zero of the drawing",
    "section": "cut in this section",
    "keep-out": "keep out",
    "travel": "travel",
    "table": "table",
    "open-end": "open end of table",
}

_ORDER = [*_WORDS]
#: Lines that are drawn as others are.
_LINES = {"blank-edge": "joint-edge", "glue-line": "seam", "planed-off": "travel"}


def entries(shown: set[str]) -> list[KeyEntry]:
    """Return legend lines for what is shown, in a fixed order, defects last."""
    out = [KeyEntry(key=k, text=_WORDS[k]) for k in _ORDER if k in shown]
    kinds = [k for k in DEFECTS if f"defect {k}" in shown]
    return out + [KeyEntry(key=f"defect {k}", text=f"{letters(k)}: {k}") for k in kinds]


def swatch(key: str, width: float = 9.0, height: float = 5.0) -> Canvas:
    """Return a small sample of one legend line."""
    canvas = Canvas(width_mm=width, height_mm=height)
    draw_swatch(canvas, key, 0.0, 0.0, width, height)
    return canvas


def draw_swatch(canvas: Canvas, key: str, x: float, y: float, width: float, height: float) -> None:
    """Draw a sample with its lower left corner at (x, y)."""
    m = 0.4
    full = [Outline.rectangle(x + m, y + m, x + width - m, y + height - m)]
    mid = y + height / 2
    a, b = (x + m, mid), (x + width - m, mid)
    if key == "part":
        canvas.area(full, "part")
        canvas.area(full, "outline")
    elif key == "tab":
        canvas.line((x + m, y + height - m), (x + width - m, y + height - m), "outline-line")
        canvas.area([Outline.rectangle(x + width / 3, y + m, x + 2 * width / 3, y + height - m)], "tab")
    elif key in ("pocket", "table"):
        canvas.area(full, key)
    elif key == "cutout":
        cutout(canvas, full)
    elif key == "pocket-under":
        canvas.area(full, "part")
        canvas.area(full, "pocket-under")
    elif key == "contour-under":
        canvas.area(full, "part")
        canvas.hatch(full, "under-hatch", 45.0, 1.1)
        canvas.area(full, "pocket-under")
    elif key == "contour":
        canvas.area(full, "part")
        canvas.hatch(full, "contour-hatch", 90.0, 1.1)
        canvas.area(full, "contour")
    elif key == "hole":
        canvas.area([Outline.circle(x + width / 2, mid, height / 2 - m)], "hole")
    elif key == "key":
        canvas.area([Outline.rectangle(x + m, mid - 0.9, x + width - m, mid + 0.9)], "key")
    elif key == "piece-corner":
        canvas.area([Outline.circle(x + width / 2, mid, 1.0)], "zero")
    elif key in ("center", "watch", "cutter", "datum", "travel", "axis", "joint-edge", "saw-cut", "stand"):
        canvas.line(a, b, key)
    elif key in _LINES:
        canvas.line(a, b, _LINES[key])
    elif key == "section":
        for x0, angle in ((x + 1.0, 0.0), (x + width - 1.0, 180.0)):
            canvas.line((x0, y + m), (x0, y + height - m), "section")
            canvas.head((x0 + (2.4 if angle == 0.0 else -2.4), mid), angle, 2.4, "section-head")
    elif key == "room":
        canvas.area(full, "room")
    elif key == "rising grain":
        canvas.line(a, b, "outline-line")
        xs = [a[0] + (b[0] - a[0]) * k / 6 for k in range(7)]
        canvas.lines([[p for x, z in pairwise(xs) for p in ((x, mid), (x, mid + 1.1), (z, mid))]], "tear")
    elif key == "narrow point":
        canvas.line(a, b, "outline-line")
        canvas.line((a[0], mid + 1.0), (b[0], mid + 1.0), "tear")
    elif key == "seam":
        canvas.line(a, b, "seam")
    elif key == "leftover":
        leftover(canvas, full)
    elif key == "rectangle":
        canvas.area(full, "rectangle")
    elif key == "grain":
        canvas.arrow(a, b, "grain", "grain-head", 2.0, both=True)
    elif key == "pin":
        pin(canvas, (x + width / 2, mid), height / 2 - m)
    elif key == "clamp":
        hold_down(canvas, (x + width / 2, mid), height / 2 - m)
    elif key in ("clamp-head", "mark"):
        canvas.head((x + width / 2, y + height - m), 90.0, 3.0, key)
    elif key == "cut-off":
        canvas.area(full, "edge-thin")
        canvas.dots(full, "off-dot", 1.3, 0.18)
    elif key == "corner":
        corner(canvas, (x + width / 2, mid))
    elif key == "zero":
        zero(canvas, (x + width / 2, mid), height / 2 - m)
    elif key == "drawing-zero":
        drawing_zero(canvas, (x + width / 2, mid), 0.8)
    elif key == "keep-out":
        keep_out(canvas, full)
    elif key == "open-end":
        canvas.head((x + width - 2.0, mid), 0.0, 3.4, "open-end")
    elif key.startswith("defect "):
        kind = key.removeprefix("defect ")
        if DEFECTS[kind].pattern == "rings":
            full = [Outline.circle(x + width / 2, mid, height / 2 - m)]
        defect(canvas, full, kind, 0.0)


def pin(canvas: Canvas, at: tuple[float, float], radius: float) -> None:
    """Draw a locating pin: a ring with a filled middle."""
    canvas.area([Outline.circle(*at, radius)], "pin")
    canvas.area([Outline.circle(*at, radius * 0.4)], "pin-fill")


def hold_down(canvas: Canvas, at: tuple[float, float], radius: float) -> None:
    """Draw a screw or a clamp's pad: a hatched ring."""
    ring = [Outline.circle(*at, radius)]
    canvas.area(ring, "clamp")
    canvas.hatch(ring, "clamp-hatch", 0.0, 0.7)


def corner(canvas: Canvas, at: tuple[float, float]) -> None:
    """Draw the datum corner: a small filled square."""
    x, y = at
    canvas.area([Outline.rectangle(x - 1.0, y - 1.0, x + 1.0, y + 1.0)], "zero-fill")


def drawing_zero(canvas: Canvas, at: tuple[float, float], size: float = 1.0) -> None:
    """Draw the zero of a drawing: a cross in a ring, as in the drawing itself, clear of a datum corner."""
    x, y = at
    arm = 2.8 * size
    canvas.lines([((x - arm, y), (x + arm, y)), ((x, y - arm), (x, y + arm))], "zero-cross")
    canvas.area([Outline.circle(x, y, 1.9 * size)], "zero-cross")


def turn_over(canvas: Canvas, start: tuple[float, float], end: tuple[float, float]) -> None:
    """Draw the sign for turning over at the far end of an axis: an arrow that goes round it."""
    run = math.dist(start, end)
    if run < 12.0:
        return
    along = math.degrees(math.atan2(end[1] - start[1], end[0] - start[0]))
    turn = Move(angle_deg=along, dx=end[0], dy=end[1])
    # Half an ellipse round the axis as it shows from the side, a little beyond its end.
    ring = [
        turn.point((2.2 + 1.5 * math.sin(math.radians(a)), -3.2 * math.cos(math.radians(a))))
        for a in range(-15, 166, 10)
    ]
    canvas.lines([ring], "axis-arrow")
    way = math.degrees(math.atan2(ring[-1][1] - ring[-3][1], ring[-1][0] - ring[-3][0]))
    canvas.head(ring[-1], way, 2.2, "axis-head")


def zero(canvas: Canvas, at: tuple[float, float], radius: float) -> None:
    """Draw the work zero: a ring, two opposite quarters filled."""
    x, y = at
    canvas.area([Outline.circle(x, y, radius)], "zero")
    bulge = 0.41421356237309503
    for s in (1.0, -1.0):
        canvas.area(
            [
                Outline(
                    points_mm=((x, y), (x + s * radius, y), (x, y + s * radius)),
                    bulges=(0.0, bulge, 0.0),
                )
            ],
            "zero-fill",
        )
