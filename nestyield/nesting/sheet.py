"""Many parts on sheets and pieces of stock: most value, fewest sheets, shortest used length.

Everything here is in whole micrometers. What is returned has passed exact tests on that grid: parts lie in
their feasible regions and keep their gap.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from nestyield.geometry.grid import UM_PER_MM, Region, area_um2, bounds
from nestyield.geometry.minkowski import inner_fit_region
from nestyield.geometry.shape import to_shapely
from nestyield.model import ModelError
from nestyield.model.pose import Pose
from nestyield.nesting.bounds import fewest_sheets, greatest_value, least_length
from nestyield.nesting.certify import Certifier
from nestyield.nesting.depth import MOST_CELLS
from nestyield.nesting.filling import FillJob, fewer, used_length
from nestyield.nesting.lowering import lowered
from nestyield.nesting.most_value import most_value
from nestyield.nesting.open_ended import push
from nestyield.nesting.packer import Packing
from nestyield.nesting.search_line import Tuning
from nestyield.nesting.shapes import OrientedShape, build_tables
from nestyield.nesting.together import on_fewest

Goal = Literal["value", "sheets", "length"]
SheetOrientation = tuple[float, bool]
#: Share of the effort for filling the sheets, and, where length is not the goal, for pushing the last.
FILL_SHARE, PUSH_SHARE = 0.9, 0.1
FeasibleRegions = Callable[[int, SheetOrientation, int], Region]


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetItem:
    """Copies of one part.

    Parameters
    ----------
    name : str
    outline : Region
        Outer rings; other parts are kept out of holes. Micrometers.
    count : int
    orientations : tuple of (angle_deg, mirrored)
        At least one.
    value : float
        Of one copy; 0 means its area.
    """

    name: str
    outline: Region
    count: int = 1
    orientations: tuple[SheetOrientation, ...] = ((0.0, False),)
    value: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A sheet or piece; several alike are several sheets.

    Parameters
    ----------
    name : str
    region : Region
        Where outlines may lie: margins already taken off. Micrometers.
    """

    name: str
    region: Region


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetPlace:
    """Where one copy lies; as ``model.Placement``.

    Parameters
    ----------
    item, sheet : int
    copy : int
        From 1.
    angle_deg : float
    mirrored : bool
    x_um, y_um : int
    """

    item: int
    copy: int
    sheet: int
    angle_deg: float
    mirrored: bool
    x_um: int
    y_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetLayout:
    """What was found.

    Parameters
    ----------
    places : tuple of SheetPlace
        Sorted by sheet, item, copy.
    left : tuple of int
        Copies of each item that were not placed.
    value : float
        Of all that was placed.
    sheets_used : int
    used_length_um : tuple of int
        By sheet, from the least x of its region to the greatest x of a part; 0 when empty.
    bound : float
        No layout does better: greatest value, fewest sheets or least length (of the last sheet used).
    gap_pct : float
        Distance to the bound, in percent of it; 0 is proven best.
    evaluations : int
    stopped : str
        ``"effort"``, ``"seconds"`` (or what ``stop`` says), ``"interrupt"`` or ``"bound"``.
    """

    places: tuple[SheetPlace, ...]
    left: tuple[int, ...]
    value: float
    sheets_used: int
    used_length_um: tuple[int, ...]
    bound: float
    gap_pct: float
    evaluations: int
    stopped: str


def nest(
    items: Sequence[SheetItem],
    sheets: Sequence[Sheet],
    *,
    goal: Goal,
    gap_um: int,
    wider_um: int = 0,
    feasible_shifts: FeasibleRegions | None = None,
    seed: int = 1,
    effort: int = 2_000_000,
    seconds: float | None = None,
    stop: Callable[[], bool] | None = None,
    workers: int = 2,
    tuning: Tuning | None = None,
    progress: Callable[[str], None] | None = None,
    begun: Sequence[SheetPlace] = (),
) -> SheetLayout:
    """Lay parts on sheets.

    Sheets are filled in the order given, the most value on each; goal ``"sheets"`` then tries to do with
    fewer. With every goal, effort that is left goes into pushing the last sheet used towards its least x, and
    then parts go to the least y that they can, so that what is left of it is one piece.

    Parameters
    ----------
    items : sequence of SheetItem
    sheets : sequence of Sheet
    goal : {"value", "sheets", "length"}
    gap_um : int
        Least distance between outlines, micrometers.
    wider_um : int
        So much more from and between outlines that are not turned by quarters, which are rounded.
    feasible_shifts : callable, optional
        ``feasible_shifts(item, orientation, sheet)`` gives the feasible region for stock with defects;
        the inner fit of the outline in the sheet's region when left out.
    seed : int
    effort : int
        Evaluations; the answer repeats with any number of workers.
    seconds : float, optional
        Ceiling.
    stop : callable, optional
        Asked now and then; when it tells true, the best so far is returned.
    workers : int
        Threads.
    tuning : Tuning, optional
    progress : callable, optional
        Called with a line of text now and then.
    begun : sequence of SheetPlace
        What lies on the only sheet already: all effort goes into pushing it together. Where it does not pass
        the exact tests, the search begins from nothing.

    Raises
    ------
    ModelError
        When there is no item, no sheet, or a count or gap below its least value.
    """
    if not items or not sheets:
        raise ModelError(f"expected at least one item and one sheet, got {len(items)} and {len(sheets)}")
    if gap_um < 0:
        raise ModelError(f"expected gap_um >= 0, got {gap_um}")
    for it in items:
        if it.count < 0 or not it.orientations:
            raise ModelError(
                f"expected count >= 0 and at least one orientation for {it.name}, "
                f"got {it.count}, {it.orientations}"
            )
    began = time.monotonic()

    def clock() -> bool:
        late = seconds is not None and time.monotonic() - began > seconds
        return late or (stop is not None and stop())

    job = prepare(items, sheets, gap_um, feasible_shifts, wider_um=wider_um, tuning=tuning, stop=clock)
    rngs = [np.random.default_rng(s) for s in np.random.SeedSequence(seed).spawn(4)]
    left = [it.count for it in items]
    stopped = "effort"
    layouts: list[Packing | None] = []
    spent = 0
    try:
        there = _packing(job, begun) if begun else None
        if there is not None:
            layouts, left = [there], [0] * len(items)
        for b in range(len(layouts), len(sheets)):
            if not any(left):
                layouts.append(None)
                continue
            tell = progress or (lambda _: None)
            tell(f"sheet {b + 1} of {len(sheets)}: {sum(left)} parts to place")
            best, more = most_value(job, left, b, round(FILL_SHARE * effort / len(sheets)), rngs[:2], workers)
            spent += more
            layouts.append(best)
            for k in best.kinds if best is not None else ():
                left[int(k)] -= 1
        if goal == "sheets" and not any(left):
            layouts, more = fewer(job, layouts, max(0, effort - spent) // 2, rngs[2])
            spent += more
        last = max((b for b, p in enumerate(layouts) if p is not None), default=-1)
        most = effort if goal == "length" or there is not None else round(PUSH_SHARE * effort)
        rest = min(effort - spent, most)
        if last >= 0 and rest > 0 and not clock():
            shorter, more = push(job, layouts[last], last, rest, rngs[3], workers)
            spent += more
            pushed = layouts[last] if shorter is None else shorter
            layouts[last] = None if pushed is None else lowered(job, pushed, last)
    except KeyboardInterrupt:
        stopped = "interrupt"
        layouts += [None] * (len(sheets) - len(layouts))
    if clock():
        stopped = "seconds"
    return _report(job, items, sheets, layouts, goal, spent, stopped)


def nest_on_fewest(
    items: Sequence[SheetItem],
    sheet: Sheet,
    most: int,
    *,
    gap_um: int,
    wider_um: int = 0,
    feasible_shifts: FeasibleRegions | None = None,
    seed: int = 1,
    effort: int = 2_000_000,
    stop: Callable[[], bool] = lambda: False,
    workers: int = 2,
) -> tuple[SheetPlace, ...]:
    """Lay all copies of some parts on as few alike sheets as the effort finds.

    Parameters
    ----------
    items : sequence of SheetItem
    sheet : Sheet
    most : int
        How many there are.
    gap_um, wider_um, feasible_shifts, seed, effort, stop, workers
        As of `nest`; ``feasible_shifts`` is asked about sheet 0.

    Returns
    -------
    tuple of SheetPlace
        Sorted by sheet, item, copy; empty when not all were laid.
    """
    regions: dict[tuple[int, SheetOrientation], Region] = {}

    def shifts(item: int, orientation: SheetOrientation, _: int) -> Region:
        assert feasible_shifts is not None
        if (item, orientation) not in regions:
            regions[item, orientation] = feasible_shifts(item, orientation, 0)
        return regions[item, orientation]

    job = prepare(
        items,
        [sheet] * most,
        gap_um,
        None if feasible_shifts is None else shifts,
        wider_um=wider_um,
        stop=stop,
        open_ended=False,
    )
    rngs = [np.random.default_rng(s) for s in np.random.SeedSequence(seed).spawn(2)]
    kinds = [k for k, it in enumerate(items) for _ in range(it.count)]
    found = on_fewest(job, kinds, most, effort, rngs, workers)
    return _report(job, items, [sheet] * most, found, "sheets", effort, "effort").places


def _packing(job: FillJob, places: Sequence[SheetPlace]) -> Packing | None:
    """Return places on the first sheet as a packing that passes the exact tests; None where there is none."""
    of = {(s.kind, s.angle_deg, s.mirrored): i for i, s in enumerate(job.shapes)}
    keys = [(p.item, p.angle_deg, p.mirrored) for p in places]
    if any(key not in of for key in keys):
        return None
    shape = np.array([of[key] for key in keys], dtype=np.int32)
    corners = np.array([job.shapes[s].corner for s in shape])
    packing = Packing(
        kinds=np.array([p.item for p in places], dtype=np.int32),
        shape=shape,
        bin=np.zeros(len(places), dtype=np.int32),
        pos=np.array([(p.x_um, p.y_um) for p in places], dtype=np.float64) + corners,
    )
    return job.certifier.round_to_grid(job.tab, packing, job.boxes)


def prepare(
    items: Sequence[SheetItem],
    sheets: Sequence[Sheet],
    gap_um: int,
    feasible_shifts: FeasibleRegions | None,
    *,
    wider_um: int = 0,
    tuning: Tuning | None = None,
    stop: Callable[[], bool] = lambda: False,
    most_cells: int = MOST_CELLS,
    open_ended: bool = True,
) -> FillJob:
    """Turn parts, lay out no-fit regions and areas: all that the searches of one call share; see `nest`.

    ``most_cells`` is as for `build_table`; without ``open_ended`` no search may go beyond a sheet's end.
    """
    shapes: list[OrientedShape] = []
    for k, it in enumerate(items):
        for angle, mirrored in it.orientations:
            rings = Pose(angle_deg=angle, mirrored=mirrored).on_grid(it.outline)
            x0, y0, x1, y1 = bounds(rings)
            at = np.array([x0, y0])
            shapes.append(
                OrientedShape(
                    kind=k,
                    angle_deg=angle,
                    mirrored=mirrored,
                    rings=tuple(r - at for r in rings),
                    corner=(x0, y0),
                    size=(x1 - x0, y1 - y0),
                    area=area_um2(rings),
                    wider=0 if angle % 90.0 == 0.0 else wider_um,
                )
            )
    feasible = []
    memo: dict[tuple[int, int], Region] = {}
    for b, sheet in enumerate(sheets):
        own = []
        for i, s in enumerate(shapes):
            if feasible_shifts is not None:
                shifts = feasible_shifts(s.kind, (s.angle_deg, s.mirrored), b)
            else:
                key = (id(sheet.region), i)
                if key not in memo:
                    memo[key] = inner_fit_region(
                        sheet.region,
                        Pose(angle_deg=s.angle_deg, mirrored=s.mirrored).on_grid(items[s.kind].outline),
                    )
                shifts = memo[key]
            own.append([r + np.array(s.corner) for r in shifts])
        feasible.append(own)
    boxes = np.array([bounds(sheet.region) for sheet in sheets], dtype=np.float64)
    ends = [round(x) for x in boxes[:, 2]] if open_ended else []
    tab = build_tables(
        shapes,
        len(items),
        gap=gap_um,
        feasible=feasible,
        ends=ends,
        single={k for k, it in enumerate(items) if it.count <= 1},
        most_cells=most_cells,
    )
    half = gap_um / 2 / UM_PER_MM
    room = np.array([to_shapely(sheet.region).buffer(1.02 * half + 0.001).area for sheet in sheets])
    wood = [to_shapely(it.outline).buffer(half).area for it in items]
    certifier = Certifier(shapes=shapes, gap_um=gap_um, feasible=feasible)
    values = [it.value if it.value > 0 else area_um2(it.outline) / 1e6 for it in items]
    return FillJob(
        values=values,
        shapes=shapes,
        tab=tab,
        boxes=boxes,
        certifier=certifier,
        gap_um=gap_um + max(s.wider for s in shapes),
        room=room,
        wood=wood,
        tuning=tuning or Tuning(),
        stop=stop,
    )


def _report(
    job: FillJob,
    items: Sequence[SheetItem],
    sheets: Sequence[Sheet],
    layouts: Sequence[Packing | None],
    goal: Goal,
    spent: int,
    stopped: str,
) -> SheetLayout:
    rows = []
    for b, p in enumerate(layouts):
        if p is None:
            continue
        job.certifier.require(p)
        for shape, pos in zip(p.shape, p.pos):
            s = job.shapes[int(shape)]
            rows.append(
                (b, s.kind, s.angle_deg, s.mirrored, int(pos[0]) - s.corner[0], int(pos[1]) - s.corner[1])
            )
    rows.sort()
    copies: dict[int, int] = {}
    places = []
    for b, kind, angle, mirrored, x, y in rows:
        copies[kind] = copies.get(kind, 0) + 1
        places.append(
            SheetPlace(
                item=kind, copy=copies[kind], sheet=b, angle_deg=angle, mirrored=mirrored, x_um=x, y_um=y
            )
        )
    left = tuple(it.count - copies.get(k, 0) for k, it in enumerate(items))
    lengths = tuple(used_length(job, p, b) for b, p in enumerate(layouts))
    value = sum(job.values[p.item] for p in places)
    count = sum(p is not None for p in layouts)
    areas = [area_um2(s.region) for s in sheets]
    wanted = [(job.area(k), job.values[k], it.count) for k, it in enumerate(items) if it.count]
    if goal == "value" or any(left):
        bound = greatest_value(wanted, sum(areas))
        short = bound - value
    elif goal == "sheets":
        bound = float(fewest_sheets([a for a, _, n in wanted for _ in range(n)], areas))
        short = count - bound
    else:
        last = max((b for b, p in enumerate(layouts) if p is not None), default=-1)
        kinds = [] if last < 0 else [int(k) for k in layouts[last].kinds]  # type: ignore[union-attr]
        bound = least_length(
            [job.area(k) for k in kinds],
            [min(s.size[0] for s in job.shapes if s.kind == k) for k in kinds],
            float(job.boxes[last, 3] - job.boxes[last, 1]),
        )
        short = lengths[last] - bound
    gap = max(0.0, 100.0 * short / bound) if bound > 0 else 0.0
    gap = 0.0 if gap < 1e-9 else gap
    return SheetLayout(
        places=tuple(places),
        left=left,
        value=value,
        sheets_used=count,
        used_length_um=lengths,
        bound=bound,
        gap_pct=gap,
        evaluations=spent,
        stopped="bound" if gap == 0.0 else stopped,
    )
