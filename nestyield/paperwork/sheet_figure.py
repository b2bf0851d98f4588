"""The dimensioned figure of a shop sheet: a blank to scale, measured from two datum edges."""

from __future__ import annotations

from dataclasses import dataclass

from nestyield.model import Layout, Outline, Plan
from nestyield.paperwork import fonts, hatch, marks, ordinates
from nestyield.paperwork.blank_picture import BlankPicture, extent
from nestyield.paperwork.canvas import Canvas
from nestyield.paperwork.curves import Move, bounds, move_of
from nestyield.paperwork.look import LETTER_MM
from nestyield.paperwork.ordinates import Ordinate
from nestyield.paperwork.phrases.work import hole, initials
from nestyield.words import Words

#: Paper to true length, largest first, so that a rule reads it easily.
SCALES = tuple(
    1.0 / n
    for n in (1, 1.5, 2, 2.5, 3, 3.5, 4, 4.5, 5, 6, 7, 8, 9, 10, 12, 14, 16, 18, 20, 25, 30, 40, 50, 100)
)
_MOST = 26


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """What was drawn.

    Parameters
    ----------
    height : float
        Height used on the paper, mm.
    scale : float
        Paper mm a true mm.
    shown : set of str
        Legend keys.
    at : Move
        From the blank to the paper.
    """

    height: float
    scale: float
    shown: set[str]
    at: Move


def datum(layout: Layout) -> tuple[float, float]:
    """Return the corner that everything is measured from: lowest x and lowest y of the blank."""
    x0, y0, _, _ = bounds([layout.blank.shape.outer])
    return x0, y0


def measured(plan: Plan, layout: Layout) -> tuple[list[tuple[float, str]], list[tuple[float, str]]]:
    """Return what is dimensioned along x and along y: (blank coordinate, what), most important first."""
    several = len(layout.placements) > 1
    xs: list[tuple[float, str]] = []
    ys: list[tuple[float, str]] = []
    for k, placement in enumerate(layout.placements, start=1):
        x0, y0, x1, y1 = bounds([move_of(placement).outline(plan.shop.part(placement.part).outline)])
        what = f"part {k}" if several else "part"
        xs += [(x0, what), (x1, what)]
        ys += [(y0, what), (y1, what)]
    work = layout.work
    if work is not None:
        for pin in work.pins:
            xs.append((pin.x_mm, hole(pin.name)))
            ys.append((pin.y_mm, hole(pin.name)))
        for hold in work.hold_downs:
            xs.append((hold.x_mm, initials(hold.name)))
            ys.append((hold.y_mm, initials(hold.name)))
        if work.flip_axis_mm is not None:
            (ax, ay), (bx, by) = work.flip_axis_mm
            if abs(ay - by) < 1e-6:
                ys.append((ay, "flip axis"))
            elif abs(ax - bx) < 1e-6:
                xs.append((ax, "flip axis"))
    for seam in layout.blank.seams:
        (ax, ay), (bx, by) = seam.line_mm[0], seam.line_mm[-1]
        if abs(bx - ax) >= abs(by - ay):
            first, last = sorted([(ax, ay), (bx, by)])
            ys.append((first[1], seam.name))
            if abs(last[1] - first[1]) > 0.05:
                ys.append((last[1], f"{seam.name} far end"))
        else:
            first, last = sorted([(ay, ax), (by, bx)])
            xs.append((first[1], seam.name))
            if abs(last[1] - first[1]) > 0.05:
                xs.append((last[1], f"{seam.name} far end"))
    return xs, ys


def draw(
    canvas: Canvas, plan: Plan, layout: Layout, top: float, left: float, width: float, most: float
) -> Figure:
    """Draw the figure with its upper edge at ``top``.

    Parameters
    ----------
    canvas : Canvas
    plan : Plan
    layout : Layout
    top, left, width : float
        Where it may stand, mm.
    most : float
        Greatest height, mm.
    """
    words = Words(plan.shop.units)
    x0, y0, x1, y1 = extent(plan, layout)
    dx, dy = datum(layout)
    xs, ys = measured(plan, layout)
    xs, ys = xs[:_MOST], ys[:_MOST]
    side = ordinates.depth([Ordinate(value_mm=v - dy, at=0.0, what=w) for v, w in ys], words) + 1.0
    under = ordinates.depth([Ordinate(value_mm=v - dx, at=0.0, what=w) for v, w in xs], words) + 1.0
    over = 9.0
    # The height stands clear of the sign for turning over.
    beyond = 5.0 if layout.work is None or layout.work.flip_axis_mm is None else 9.0
    right = beyond + 4.0
    room_x, room_y = width - side - right, most - under - over
    fitting = [s for s in SCALES if (x1 - x0) * s <= room_x and (y1 - y0) * s <= room_y]
    scale = fitting[0] if fitting else min(room_x / (x1 - x0), room_y / (y1 - y0))
    # More room than the figures along the left edge need is shared out evenly.
    free = (room_x - (x1 - x0) * scale) / 2
    ox = left + side + min(free, 12.0)
    oy = top - over - (y1 - y0) * scale
    at = Move(scale=scale, dx=ox - x0 * scale, dy=oy - y0 * scale)
    picture = BlankPicture(plan=plan, layout=layout, canvas=canvas, at=at, text_mm=LETTER_MM / 0.85)
    picture.labels.window = (ox + 0.3, oy + 0.3, ox + (x1 - x0) * scale - 0.3, oy + (y1 - y0) * scale - 0.3)
    cutter = plan.shop.settings.cutter_diameter_mm
    paths = []
    for placement in layout.placements:
        outline = move_of(placement).then(at).outline(plan.shop.part(placement.part).outline)
        paths += [Outline.polygon(r) for r in hatch.grown([outline], cutter / 2 * scale)]
    picture.over_wood = [("cutter", paths)] if paths else []
    shown = picture.draw()
    if paths:
        shown.add("cutter")
    bx0, by0, bx1, by1 = bounds([at.outline(layout.blank.shape.outer)])
    # The two datum edges, drawn past the blank.
    canvas.lines([((bx0 - 3.0, by0), (bx1 + 3.0, by0)), ((bx0, by0 - 3.0), (bx0, by1 + 3.0))], "datum")
    marks.corner(canvas, (bx0, by0))
    shown |= {"datum", "corner"}
    if layout.blank.grain_deg is not None:
        # Clear of the length that is written over the middle of a short blank.
        half = fonts.width(words.number((bx1 - bx0) / scale), LETTER_MM) / 2
        word_from = bx1 - 17.0 - fonts.width("grain", LETTER_MM)
        clear = max(0.0, (bx0 + bx1) / 2 + half + 1.5 - word_from)
        picture.grain_arrow(bx1 - 8.0 + clear, by1 + 5.5, 14.0)
        canvas.text((bx1 - 17.0 + clear, by1 + 4.6), "grain", LETTER_MM, "text-soft", "end")
    canvas.dimension((bx0, by1), (bx1, by1), 3.5, words.number((bx1 - bx0) / scale), LETTER_MM)
    canvas.dimension((bx1, by1), (bx1, by0), beyond, words.number((by1 - by0) / scale), LETTER_MM)
    low = oy - 1.0
    ordinates.below(
        canvas,
        [Ordinate(value_mm=v - dx, at=at.point((v, 0.0))[0], what=w) for v, w in xs],
        by0 - 1.5,
        words,
        (left + side - 4.0, left + width),
    )
    ordinates.beside(
        canvas,
        [Ordinate(value_mm=v - dy, at=at.point((0.0, v))[1], what=w) for v, w in ys],
        bx0 - 1.5,
        words,
        (low - under + 6.0, top - 3.0),
    )
    return Figure(height=over + (y1 - y0) * scale + under, scale=scale, shown=shown, at=at)


def scale_words(scale: float) -> str:
    """Return a scale as drawings give it: ``1:4``."""
    if scale <= 0:
        return ""
    text = f"{1.0 / scale:.2f}".rstrip("0").rstrip(".")
    return f"1:{text}"
