"""The full-size paper template of a blank's parts, tiled over pages with marks to join them."""

from __future__ import annotations

import math
from dataclasses import dataclass

from shapely import union_all
from shapely.geometry import box as shapely_box

from nestyield.model import Layout, Outline, Plan
from nestyield.paperwork import hatch
from nestyield.paperwork.blank_picture import BlankPicture
from nestyield.paperwork.canvas import Area, Canvas, Item, Lines, Text
from nestyield.paperwork.curves import Box, Move, bounds, move_of
from nestyield.paperwork.look import LETTER_MM
from nestyield.paperwork.page import MARGIN_MM, SIZES, Paper, check_square, wrap
from nestyield.paperwork.sheet_figure import datum
from nestyield.paperwork.words import short
from nestyield.words import Words, plural

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


def _outlines(plan: Plan, layout: Layout) -> list[Outline]:
    return [move_of(p).outline(plan.shop.part(p.part).outline) for p in layout.placements]


def _box(plan: Plan, layout: Layout, paper: Paper) -> Box:
    """Return what is printed: the parts, and the datum edges where they take no more pages."""
    x0, y0, x1, y1 = bounds(_outlines(plan, layout))
    box = (x0 - _AROUND, y0 - _AROUND, x1 + _AROUND, y1 + _AROUND)
    dx, dy = datum(layout)
    for wider in (
        (min(box[0], dx - 3.0), min(box[1], dy - 3.0), box[2], box[3]),
        (min(box[0], dx - 3.0), *box[1:]),
        (box[0], min(box[1], dy - 3.0), *box[2:]),
    ):
        if _tiles(wider, paper)[:2] == _tiles(box, paper)[:2]:
            return wider
    return box


@dataclass(frozen=True, slots=True, kw_only=True)
class _Grid:
    """The pages of a template: only those on which there is some of a part, named by row and column."""

    box: Box
    columns: int
    rows: int
    step_x: float
    step_y: float
    names: dict[tuple[int, int], str]

    def tile(self, column: int, row: int) -> Box:
        """Return what a page shows within its frame, blank coordinates."""
        x0, y0 = self.box[0] + column * self.step_x, self.box[1] + row * self.step_y
        return x0, y0, x0 + self.step_x + OVERLAP_MM, y0 + self.step_y + OVERLAP_MM


def _grid(plan: Plan, layout: Layout, paper: Paper) -> _Grid:
    box = _box(plan, layout, paper)
    columns, rows, step_x, step_y = _tiles(box, paper)
    grid = _Grid(box=box, columns=columns, rows=rows, step_x=step_x, step_y=step_y, names={})
    parts = union_all([hatch.region([o]) for o in _outlines(plan, layout)])
    for row in range(rows):
        for column in range(columns):
            if parts.intersects(shapely_box(*grid.tile(column, row))):
                grid.names[column, row] = f"{chr(ord('A') + row)}{column + 1}"
    return grid


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
    x0, y0, x1, y1 = bounds([layout.blank.shape.outer, *_outlines(plan, layout)])
    box = (x0 - _AROUND, y0 - _AROUND, x1 + _AROUND, y1 + _AROUND)
    scratch = Canvas(width_mm=box[2] - box[0], height_mm=box[3] - box[1])
    picture = BlankPicture(plan=plan, layout=layout, canvas=scratch, at=Move(), text_mm=4.2)
    picture.labels.window = box
    picture.draw()
    dx, dy = datum(layout)
    scratch.lines([((dx, box[1]), (dx, box[3])), ((box[0], dy), (box[2], dy))], "datum")
    bare = {"wood", "wood-2", "grain-line", "leftover-hatch", "part"}
    return [item for item in scratch.items if item.style not in bare]


def _marks(
    canvas: Canvas, grid: _Grid, column: int, row: int, title: str, corner: tuple[float, float], words: Words
) -> None:
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
    around = (("left", -1, 0), ("right", 1, 0), ("below", 0, -1), ("above", 0, 1))
    neighbors = [
        f"{side}: {grid.names[column + dx, row + dy]}"
        for side, dx, dy in around
        if (column + dx, row + dy) in grid.names
    ]
    name = grid.names[column, row]
    number = f"{list(grid.names).index((column, row)) + 1} of {len(grid.names)}"
    size = LETTER_MM
    canvas.text((MARGIN_MM, height - MARGIN_MM + 3.0), f"{title}, page {name} ({number})", size, "plain-bold")
    x0, y0, _, _ = grid.tile(column, row)
    left, low = (words.number(v + half - c) for v, c in zip((x0, y0), corner))
    canvas.text(
        (MARGIN_MM, MARGIN_MM - 4.5),
        f"Lower left cross: {left} from the left datum edge, {low} from the lower one.",
        size,
        "plain",
    )
    canvas.text((MARGIN_MM, MARGIN_MM - 9.0), "; ".join(neighbors) or "One page does.", size, "plain")


def _cover(plan: Plan, layout: Layout, paper: Paper, grid: _Grid, title: str) -> Canvas:
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
        "The line of long and short dashes is a datum edge of the blank. Where it is not printed, measure to "
        "the lower left cross as its page says.",
        "Paper stretches with damp: check one long length against the sheet before you mark the wood.",
    ]
    for line in (text for step in steps for text in wrap(step, width - 2 * MARGIN_MM, LETTER_MM)):
        y -= 5.2
        canvas.text((MARGIN_MM, y), line, LETTER_MM, "plain")
    check_square(canvas, MARGIN_MM, y - 62.0, words)
    canvas.text(
        (MARGIN_MM + 60.0, y - 14.0),
        f"Map of the {len(grid.names)} {plural(len(grid.names), 'page')} below; "
        "where nothing is cut, none is printed.",
        LETTER_MM,
        "plain",
    )
    y -= 62.0 + 8.0
    room_y = y - MARGIN_MM - 4.0
    wide, high = grid.columns * grid.step_x + OVERLAP_MM, grid.rows * grid.step_y + OVERLAP_MM
    k = min((width - 2 * MARGIN_MM) / wide, room_y / high)
    at = Move(scale=k, dx=MARGIN_MM - grid.box[0] * k, dy=MARGIN_MM + 4.0 - grid.box[1] * k)
    for outline in _outlines(plan, layout):
        canvas.area([at.outline(outline)], "outline")
    for (column, row), name in grid.names.items():
        x0, y0, x1, y1 = grid.tile(column, row)
        canvas.area([at.outline(Outline.rectangle(x0, y0, x1, y1))], "tile")
        canvas.text(at.point(((x0 + x1) / 2, (y0 + y1) / 2)), name, 5.0, "text-bold", "middle")
    return canvas


def pages_of(plan: Plan, layout: Layout, paper: Paper) -> int:
    """Return how many pages a template has, its cover apart; 0 where there is none."""
    if not layout.placements:
        return 0
    found = len(_grid(plan, layout, paper).names)
    return found if found <= MOST_PAGES else 0


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
    if not pages_of(plan, layout, paper):
        return []
    grid = _grid(plan, layout, paper)
    width, height = SIZES[paper]
    title = f"Full-size template {short(layout.blank.name, 40)}"
    pages = [_cover(plan, layout, paper, grid, title)]
    content = full_size(plan, layout) if content is None else content
    words, corner = Words(plan.shop.units), datum(layout)
    for (column, row), name in grid.names.items():
        canvas = Canvas(width_mm=width, height_mm=height, title=f"{title}, page {name}")
        x0, y0, _, _ = grid.tile(column, row)
        dx, dy = MARGIN_MM - x0, MARGIN_MM - y0
        window = (-dx, -dy, width - dx, height - dy)
        canvas.items += [_shifted(item, dx, dy) for item in content if _reaches(item, window)]
        _marks(canvas, grid, column, row, title, corner, words)
        pages.append(canvas)
    return pages
