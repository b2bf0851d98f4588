"""The full-size paper template of a blank's parts, tiled over pages with marks to join them."""

from __future__ import annotations

import math

from nestyield.model import Layout, Outline, Plan
from nestyield.paperwork.blank_picture import BlankPicture
from nestyield.paperwork.canvas import Area, Canvas, Item, Lines, Text
from nestyield.paperwork.curves import Box, Move, bounds, join_boxes, move_of
from nestyield.paperwork.page import MARGIN_MM, SIZES, Paper, check_square
from nestyield.paperwork.words import short
from nestyield.words import Words

#: How far neighboring pages show the same, mm.
OVERLAP_MM = 12.0
#: A blank that wants more pages than this gets no template.
MOST_PAGES = 30
_AROUND = 8.0


def _tiles(box: Box, paper: Paper) -> tuple[int, int, float, float]:
    width, height = SIZES[paper]
    step_x = width - 2 * MARGIN_MM - OVERLAP_MM
    step_y = height - 2 * MARGIN_MM - OVERLAP_MM
    columns = max(1, math.ceil((box[2] - box[0] - OVERLAP_MM) / step_x))
    rows = max(1, math.ceil((box[3] - box[1] - OVERLAP_MM) / step_y))
    return columns, rows, step_x, step_y


def _box(plan: Plan, layout: Layout) -> Box:
    x0, y0, x1, y1 = join_boxes(
        [bounds([move_of(p).outline(plan.shop.part(p.part).outline)]) for p in layout.placements]
    )
    return x0 - _AROUND, y0 - _AROUND, x1 + _AROUND, y1 + _AROUND


def _reaches(item: Item, window: Box) -> bool:
    if isinstance(item, Area):
        box = bounds(item.outlines)
    elif isinstance(item, Lines):
        points = [p for line in item.lines for p in line]
        box = (
            min(p[0] for p in points),
            min(p[1] for p in points),
            max(p[0] for p in points),
            max(p[1] for p in points),
        )
    else:
        reach = item.size * len(item.text)
        box = (item.x - reach, item.y - reach, item.x + reach, item.y + reach)
    return box[0] <= window[2] and box[2] >= window[0] and box[1] <= window[3] and box[3] >= window[1]


def _shifted(item: Item, dx: float, dy: float) -> Item:
    move = Move(dx=dx, dy=dy)
    if isinstance(item, Area):
        return Area(outlines=tuple(move.outline(o) for o in item.outlines), style=item.style)
    if isinstance(item, Lines):
        return Lines(lines=tuple(move.points(line) for line in item.lines), style=item.style)
    x, y = move.point((item.x, item.y))
    return Text(
        x=x,
        y=y,
        text=item.text,
        size=item.size,
        style=item.style,
        anchor=item.anchor,
        angle_deg=item.angle_deg,
    )


def full_size(plan: Plan, layout: Layout) -> list[Item]:
    """Return everything at full size, in blank coordinates, without tints that only eat ink."""
    if not layout.placements:
        return []
    box = _box(plan, layout)
    scratch = Canvas(width_mm=box[2] - box[0], height_mm=box[3] - box[1])
    picture = BlankPicture(plan=plan, layout=layout, canvas=scratch, at=Move(), text_mm=4.0)
    picture.labels.window = box
    picture.draw()
    bare = {"wood", "wood-2", "grain-line", "leftover-hatch", "part"}
    return [item for item in scratch.items if item.style not in bare]


def _marks(canvas: Canvas, name: str, column: int, row: int, columns: int, rows: int, title: str) -> None:
    width, height = canvas.width_mm, canvas.height_mm
    inner = Outline.rectangle(MARGIN_MM, MARGIN_MM, width - MARGIN_MM, height - MARGIN_MM)
    canvas.area([Outline.rectangle(-1, -1, width + 1, height + 1), inner], "mask")
    canvas.area([inner], "tile")
    # Crosses in the middle of the overlaps: those of neighbors must lie on each other.
    half = OVERLAP_MM / 2
    xs = (MARGIN_MM + half, width - MARGIN_MM - half)
    ys = (MARGIN_MM + half, height - MARGIN_MM - half)
    for x in xs:
        for y in ys:
            canvas.lines([((x - 4, y), (x + 4, y)), ((x, y - 4), (x, y + 4))], "frame")
            canvas.area([Outline.circle(x, y, 2.0)], "frame")
    neighbors = []
    if column > 0:
        neighbors.append(f"left: {_name(column - 1, row)}")
    if column < columns - 1:
        neighbors.append(f"right: {_name(column + 1, row)}")
    if row > 0:
        neighbors.append(f"below: {_name(column, row - 1)}")
    if row < rows - 1:
        neighbors.append(f"above: {_name(column, row + 1)}")
    canvas.text((MARGIN_MM, height - MARGIN_MM + 3.0), f"{title}, page {name}", 3.4, "plain-bold")
    canvas.text((MARGIN_MM, MARGIN_MM - 5.0), "; ".join(neighbors) or "one page does", 2.8, "plain")


def _name(column: int, row: int) -> str:
    return f"{chr(ord('A') + row)}{column + 1}"


def _cover(plan: Plan, layout: Layout, paper: Paper, box: Box, title: str) -> Canvas:
    columns, rows, step_x, step_y = _tiles(box, paper)
    width, height = SIZES[paper]
    canvas = Canvas(width_mm=width, height_mm=height, title=title)
    y = height - MARGIN_MM - 6.0
    canvas.text((MARGIN_MM, y), title, 5.0, "plain-bold")
    words = Words(plan.shop.units)
    steps = [
        "Print every page at 100 %, without fitting to the page. Measure the square below first.",
        f"Neighboring pages overlap by {words.length(OVERLAP_MM)}. "
        "Cut along the dashed frame where a page lies on top.",
        "Lay the crosses of neighbors on each other, check a long straight line, then tape.",
        "Paper stretches with damp: check one long length against the sheet before you mark the wood.",
    ]
    for line in steps:
        y -= 5.5
        canvas.text((MARGIN_MM, y), line, 2.9, "plain")
    check_square(canvas, MARGIN_MM, y - 62.0, words)
    y -= 62.0 + 8.0
    room_y = y - MARGIN_MM - 4.0
    k = min((width - 2 * MARGIN_MM) / (columns * step_x + OVERLAP_MM), room_y / (rows * step_y + OVERLAP_MM))
    at = Move(scale=k, dx=MARGIN_MM - box[0] * k, dy=MARGIN_MM + 4.0 - box[1] * k)
    for placement in layout.placements:
        outline = move_of(placement).then(at).outline(plan.shop.part(placement.part).outline)
        canvas.area([outline], "outline")
    for row in range(rows):
        for column in range(columns):
            x0, y0 = box[0] + column * step_x, box[1] + row * step_y
            tile = at.outline(Outline.rectangle(x0, y0, x0 + step_x + OVERLAP_MM, y0 + step_y + OVERLAP_MM))
            canvas.area([tile], "tile")
            middle = at.point((x0 + (step_x + OVERLAP_MM) / 2, y0 + (step_y + OVERLAP_MM) / 2))
            canvas.text(middle, _name(column, row), 5.0, "text-bold", "middle")
    return canvas


def template(plan: Plan, layout: Layout, paper: Paper, content: list[Item] | None = None) -> list[Canvas]:
    """Return a cover and the pages of the full-size template, or nothing when it would be too many.

    Parameters
    ----------
    plan : Plan
    layout : Layout
        With at least one placement.
    paper : {"a4", "letter"}
    content : list of Item, optional
        As `full_size` gives it, when it is there already.
    """
    if not layout.placements:
        return []
    box = _box(plan, layout)
    columns, rows, step_x, step_y = _tiles(box, paper)
    if columns * rows > MOST_PAGES:
        return []
    width, height = SIZES[paper]
    title = f"Full-size template {short(layout.blank.name, 40)}"
    pages = [_cover(plan, layout, paper, box, title)]
    content = full_size(plan, layout) if content is None else content
    for row in range(rows):
        for column in range(columns):
            name = _name(column, row)
            canvas = Canvas(width_mm=width, height_mm=height, title=f"{title}, page {name}")
            dx = MARGIN_MM - box[0] - column * step_x
            dy = MARGIN_MM - box[1] - row * step_y
            window = (-dx, -dy, width - dx, height - dy)
            canvas.items += [_shifted(item, dx, dy) for item in content if _reaches(item, window)]
            _marks(canvas, name, column, row, columns, rows, title)
            pages.append(canvas)
    return pages
