"""One blank in one turn on one bed, as cutting in sections sees it: the long way is always X."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import shapely
from shapely.affinity import rotate, translate
from shapely.geometry.base import BaseGeometry

from nestyield.bed.extents import LIMIT_TOL_MM, blank_box, cutter_box_all
from nestyield.bed.sweep import outline_polygon, swept, wood
from nestyield.bed.waste import Pairs, free_wood
from nestyield.model import Bed, Blank, Point, Settings
from nestyield.model.arcs import Box

#: Places tried in each direction.
TRIES = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionJob:
    """One blank in one turn, axes swapped if need be so that the long way is X."""

    bed: Bed
    swap: bool
    turned_deg: float
    cut: Box
    wood: Box
    travel: tuple[float, float]
    table: tuple[tuple[float, float], tuple[float, float]]
    open: tuple[bool, bool, bool, bool]  # x-, x+, y-, y+
    radius: float
    bodies: tuple[BaseGeometry, ...]  # swept by the cutter
    boards: tuple[BaseGeometry, ...]
    keep_outs: tuple[tuple[str, BaseGeometry], ...]  # blocks, ground
    free: BaseGeometry

    @property
    def reach(self) -> float:
        """Longest stretch of outline within the travel."""
        return self.travel[0] - 2.0 * self.radius

    @property
    def outline(self) -> tuple[float, float]:
        """From where to where there is outline along X."""
        return self.cut.x0 + self.radius, self.cut.x1 - self.radius


def make_job(
    blank: Blank, pairs: Pairs, bed: Bed, swap: bool, turned: float, settings: Settings
) -> SectionJob:
    """Return a blank in one turn as a job, axes swapped when the long way is the bed's Y."""
    radius = settings.cutter_diameter_mm / 2.0
    cut = cutter_box_all(pairs, turned, radius)
    assert cut is not None
    board = blank_box(blank.shape, turned)
    free = free_wood(blank, pairs, settings, bed.pin_diameter_mm / 2.0)["waste"]
    free = rotate(free, turned, origin=(0, 0))
    opens = tuple(end in bed.open_ends for end in ("x-", "x+", "y-", "y+"))
    bodies, boards = swept(pairs, turned, radius), wood(blank.shape, turned)
    grounds = [(k.blocks, outline_polygon(k.outline).buffer(-LIMIT_TOL_MM)) for k in bed.keep_outs]
    travel, table = (bed.travel_x_mm, bed.travel_y_mm), (bed.table_x_mm, bed.table_y_mm)
    if swap:
        cut, board = _flip_box(cut), _flip_box(board)
        free, bodies, boards = _flip(free), [_flip(b) for b in bodies], [_flip(b) for b in boards]
        grounds = [(blocks, _flip(g)) for blocks, g in grounds]
        travel, table, opens = travel[::-1], table[::-1], (*opens[2:], *opens[:2])
    return SectionJob(
        bed=bed,
        swap=swap,
        turned_deg=turned,
        cut=cut,
        wood=board,
        travel=travel,
        table=table,
        open=(opens[0], opens[1], opens[2], opens[3]),
        radius=radius,
        bodies=tuple(bodies),
        boards=tuple(boards),
        keep_outs=tuple((str(b), g) for b, g in grounds),
        free=free,
    )


def _flip(shape: BaseGeometry) -> BaseGeometry:
    return shapely.transform(shape, lambda c: c[:, ::-1])


def _flip_box(box: Box) -> Box:
    return Box(box.y0, box.x0, box.y1, box.x1)


def sides(job: SectionJob) -> tuple[float, float]:
    """From where to where the blank may lie across the long axis."""
    low, high = -job.cut.y0, job.travel[1] - job.cut.y1
    if not job.open[2]:
        low = max(low, job.table[1][0] - job.wood.y0)
    if not job.open[3]:
        high = min(high, job.table[1][1] - job.wood.y1)
    return low, high


def spread(low: float, high: float) -> list[float]:
    """Places from low to high, the middle first."""
    if low > high + LIMIT_TOL_MM:
        return []
    middle, half = 0.5 * (low + high), max(0.0, 0.5 * (high - low))
    steps = [k / (TRIES // 2) for k in range(1, TRIES // 2 + 1)]
    return [middle, *(middle + sign * half * s for s in steps for sign in (1.0, -1.0))]


def clear(job: SectionJob, at: Point, part: tuple[float, float], turn: bool = False) -> bool:
    """Whether a section keeps clear of the keep-outs."""
    if not job.keep_outs:
        return True
    reach = 2.0 * job.radius
    strip = shapely.box(part[0] - reach, job.cut.y0 - reach, part[1] + reach, job.cut.y1 + reach)
    for blocks, ground in job.keep_outs:
        bodies: list[BaseGeometry] = []
        if blocks in ("cutter", "both"):
            bodies += [b.intersection(strip) for b in job.bodies]
        if blocks in ("blank", "both"):
            bodies += job.boards
        if turn:
            bodies = [rotate(b, 180.0, origin=(0, 0)) for b in bodies]
        if any(ground.intersects(translate(b, *at)) for b in bodies):
            return False
    return True


def turn_sides(job: SectionJob, my: float) -> list[float]:
    """Places of the pins' middle across, so that the cut lies within the travel both ways."""
    up, down = job.cut.y1 - my, my - job.cut.y0
    most = max(up, down)
    return spread(most, job.travel[1] - most)


def pins_stand(job: SectionJob, spots: Sequence[Point]) -> int:
    """Tell how pins stand at some places of the bed: 0 not over the table, 1 over it, 2 within reach too.

    Within reach their holes are drilled by the machine.
    """
    radius = job.bed.pin_diameter_mm / 2.0
    (x0, x1), (y0, y1) = job.table
    table = shapely.box(x0 + radius, y0 + radius, x1 - radius, y1 - radius)
    reach = shapely.box(0.0, 0.0, *job.travel)
    points = [shapely.Point(p) for p in spots]
    if not all(table.covers(p) for p in points):
        return 0
    if any(ground.dwithin(p, radius) for _, ground in job.keep_outs for p in points):
        return 0
    return 2 if all(reach.covers(p) for p in points) else 1


def turn_on_table(job: SectionJob, first: Point, second: Point) -> bool:
    """Tell whether the blank lies on the table in both positions, or hangs over open ends only."""
    boxes = (
        Box(job.wood.x0 + first[0], job.wood.y0 + first[1], job.wood.x1 + first[0], job.wood.y1 + first[1]),
        Box(
            second[0] - job.wood.x1, second[1] - job.wood.y1, second[0] - job.wood.x0, second[1] - job.wood.y0
        ),
    )
    (x0, x1), (y0, y1) = job.table
    return all(
        (job.open[0] or b.x0 >= x0 - LIMIT_TOL_MM)
        and (job.open[1] or b.x1 <= x1 + LIMIT_TOL_MM)
        and (job.open[2] or b.y0 >= y0 - LIMIT_TOL_MM)
        and (job.open[3] or b.y1 <= y1 + LIMIT_TOL_MM)
        for b in boxes
    )
