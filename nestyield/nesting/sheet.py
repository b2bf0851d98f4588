"""Many parts on sheets and pieces of stock: most value, fewest sheets, shortest used length.

Everything here is in whole micrometres. What is returned has passed exact tests on that grid: parts lie in
their allowed regions and keep their gap.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from nestyield.geometry.grid import Region, area_um2, bounds
from nestyield.geometry.minkowski import inner_fit_region
from nestyield.geometry.transform import place
from nestyield.model import ModelError
from nestyield.nesting.certify import Judge
from nestyield.nesting.packer import Packer, Packing
from nestyield.nesting.shapes import Turned, build_tables
from nestyield.nesting.stream import Incumbent, Tuning
from nestyield.nesting.strip import search_strip

Goal = Literal["value", "sheets", "length"]
Way = tuple[float, bool]
Allowed = Callable[[int, Way, int], Region]


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetItem:
    """Copies of one part.

    Parameters
    ----------
    name : str
    outline : Region
        Outer rings; other parts are kept out of holes. Micrometres.
    count : int
    ways : tuple of (angle_deg, mirrored)
        At least one.
    value : float
        Of one copy; 0 means its area.
    """

    name: str
    outline: Region
    count: int = 1
    ways: tuple[Way, ...] = ((0.0, False),)
    value: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A sheet or piece; several alike are several sheets.

    Parameters
    ----------
    name : str
    region : Region
        Where outlines may lie: margins already taken off. Micrometres.
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
        ``"effort"``, ``"seconds"``, ``"interrupt"`` or ``"bound"``.
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


@dataclass(slots=True)
class _Job:
    """Everything that the searches of one call share."""

    items: Sequence[SheetItem]
    shapes: list[Turned]
    tab: object
    boxes: np.ndarray  # type: ignore[type-arg]
    judge: Judge
    tuning: Tuning
    stop: Callable[[], bool]

    def packer(self, rng: np.random.Generator) -> Packer:
        return Packer(self.tab, len(self.shapes), self.boxes, rng, self.tuning, self.stop)  # type: ignore[arg-type]

    def worth(self, kind: int) -> float:
        item = self.items[kind]
        return item.value if item.value > 0 else area_um2(item.outline) / 1e6


def nest(
    items: Sequence[SheetItem],
    sheets: Sequence[Sheet],
    *,
    goal: Goal,
    gap_um: int,
    allowed: Allowed | None = None,
    seed: int = 1,
    effort: int = 2_000_000,
    seconds: float | None = None,
    workers: int = 2,
    tuning: Tuning | None = None,
    progress: Callable[[str], None] | None = None,
) -> SheetLayout:
    """Lay parts on sheets.

    Sheets are filled in the order given. Goal ``"value"`` makes the most of each sheet in turn; ``"sheets"`` then
    tries to do with fewer; ``"length"`` also pushes everything on the last sheet used towards its least x, so that
    the rest is one piece. With ``"value"`` and ``"sheets"`` a layout that holds all parts is
    pushed together too, when effort is left.

    Parameters
    ----------
    items : sequence of SheetItem
    sheets : sequence of Sheet
    goal : {"value", "sheets", "length"}
    gap_um : int
        Least distance between outlines, micrometres.
    allowed : callable, optional
        ``allowed(item, way, sheet)`` gives the shifts at which the item may lie, for stock with defects;
        the inner fit of the outline in the sheet's region when left out.
    seed : int
    effort : int
        Evaluations; the answer repeats with any number of workers.
    seconds : float, optional
        Ceiling.
    workers : int
        Threads.
    tuning : Tuning, optional
    progress : callable, optional
        Called with a line of text now and then.

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
        if it.count < 0 or not it.ways:
            raise ModelError(
                f"expected count >= 0 and at least one way for {it.name}, got {it.count}, {it.ways}"
            )
    began = time.monotonic()
    clock = (lambda: False) if seconds is None else (lambda: time.monotonic() - began > seconds)
    job, exact_regions = _prepare(items, sheets, gap_um, allowed, tuning or Tuning(), clock)
    rngs = [np.random.default_rng(s) for s in np.random.SeedSequence(seed).spawn(4)]
    left = [it.count for it in items]
    stopped = "effort"
    layouts: list[Packing | None] = []
    spent = 0
    with ThreadPoolExecutor(max_workers=max(1, workers)) as pool:
        try:
            for b in range(len(sheets)):
                if not any(left):
                    layouts.append(None)
                    continue
                tell = progress or (lambda _: None)
                tell(f"sheet {b + 1} of {len(sheets)}: {sum(left)} parts to place")
                budget = max(100_000, effort // (2 * len(sheets)))
                tries = list(
                    pool.map(lambda r, b=b, n=budget: _fill(job, list(left), b, n // 2, r), rngs[:2])
                )
                spent += sum(t[1] for t in tries)
                best = max((t[0] for t in tries), key=lambda p: _value(job, p))
                layouts.append(best)
                if best is not None:
                    for k in best.kinds:
                        left[int(k)] -= 1
            if goal == "sheets" and not any(left):
                layouts, more = _fewer(job, layouts, max(0, effort - spent) // 2, rngs[2])
                spent += more
            last = max((b for b, p in enumerate(layouts) if p is not None), default=-1)
            if last >= 0 and spent < effort and not clock():
                shorter, more = _push(job, layouts[last], last, effort - spent, rngs[3], workers)
                spent += more
                if shorter is not None:
                    layouts[last] = shorter
        except KeyboardInterrupt:
            stopped = "interrupt"
            layouts += [None] * (len(sheets) - len(layouts))
    if clock():
        stopped = "seconds"
    return _report(job, sheets, exact_regions, layouts, goal, spent, stopped)


def _prepare(
    items: Sequence[SheetItem],
    sheets: Sequence[Sheet],
    gap_um: int,
    allowed: Allowed | None,
    tuning: Tuning,
    stop: Callable[[], bool],
) -> tuple[_Job, dict[tuple[int, int], Region]]:
    shapes: list[Turned] = []
    for k, it in enumerate(items):
        for angle, mirrored in it.ways:
            rings = place(it.outline, angle, mirrored)
            x0, y0, x1, y1 = bounds(rings)
            at = np.array([x0, y0])
            shapes.append(
                Turned(
                    kind=k,
                    angle_deg=angle,
                    mirrored=mirrored,
                    rings=tuple(r - at for r in rings),
                    corner=(x0, y0),
                    size=(x1 - x0, y1 - y0),
                    area=area_um2(rings),
                )
            )
    regions: dict[tuple[int, int], Region] = {}
    grounds = []
    memo: dict[tuple[int, int], Region] = {}
    for b, sheet in enumerate(sheets):
        ground = []
        for i, s in enumerate(shapes):
            if allowed is not None:
                shifts = allowed(s.kind, (s.angle_deg, s.mirrored), b)
            else:
                key = (id(sheet.region), i)
                if key not in memo:
                    memo[key] = inner_fit_region(
                        sheet.region, place(items[s.kind].outline, s.angle_deg, s.mirrored)
                    )
                shifts = memo[key]
            regions[(b, i)] = shifts
            ground.append([r + np.array(s.corner) for r in shifts])
        grounds.append(ground)
    tab = build_tables(shapes, len(items), gap=gap_um, grounds=grounds)
    boxes = np.array([bounds(sheet.region) for sheet in sheets], dtype=np.float64)
    judge = Judge(shapes=shapes, gap_um=gap_um, grounds=grounds)
    return _Job(items, shapes, tab, boxes, judge, tuning, stop), regions


def _value(job: _Job, packing: Packing | None) -> float:
    return -1.0 if packing is None else sum(job.worth(int(k)) for k in packing.kinds)


def _fill(
    job: _Job, left: list[int], b: int, effort: int, rng: np.random.Generator
) -> tuple[Packing | None, int]:
    """Put as much value as possible on one sheet: add parts one at a time, then exchange some."""
    packer = job.packer(rng)
    room = job.boxes[b]
    current: Packing | None = None
    order = sorted((k for k in range(len(left)) if left[k]), key=lambda k: (-job.worth(k), k))
    closed: set[int] = set()
    stock = list(left)
    share = max(20_000, effort // max(8, 2 * min(sum(left), 40)))
    while packer.evaluations < effort and not job.stop():
        kind = next((k for k in order if stock[k] and k not in closed), None)
        if kind is None:
            break
        got = _add(job, packer, current, [kind], b, share)
        if got is None:
            closed.add(kind)
        else:
            current = got
            stock[kind] -= 1
    while current is not None and any(stock) and packer.evaluations < effort and not job.stop():
        # exchange: take some out at random, put dearer ones in
        n = len(current.kinds)
        out = set(rng.choice(n, min(n, 1 + int(rng.random() * 3)), replace=False).tolist())
        lost = sum(job.worth(int(current.kinds[i])) for i in out)
        pool = [k for k in order for _ in range(stock[k])] + [int(current.kinds[i]) for i in out]
        rng.shuffle(pool)
        area = float((room[2] - room[0]) * (room[3] - room[1]))
        fresh: list[int] = []
        for k in pool:
            if len(fresh) <= len(out) + 1:
                fresh.append(k)
        gain = sum(job.worth(k) for k in fresh)
        if gain <= lost * (1 + 1e-9) or sum(job.shapes[0].area for _ in ()) > area:
            packer.evaluations += 2_000
            continue
        keep = [i for i in range(n) if i not in out]
        base = Packing(
            kinds=current.kinds[keep], shape=current.shape[keep], bin=current.bin[keep], pos=current.pos[keep]
        )
        got = _add(job, packer, base, fresh, b, share)
        if got is not None:
            for i in out:
                stock[int(current.kinds[i])] += 1
            for k in fresh:
                stock[k] -= 1
            current = got
    return current, packer.evaluations


def _add(
    job: _Job, packer: Packer, base: Packing | None, kinds: Sequence[int], b: int, effort: int
) -> Packing | None:
    have = [] if base is None else [int(k) for k in base.kinds]
    total = sum(next(s.area for s in job.shapes if s.kind == k) for k in (*have, *kinds))
    box = job.boxes[b]
    if total > (box[2] - box[0]) * (box[3] - box[1]):
        packer.evaluations += 100
        return None
    got = packer.pack([*have, *kinds], [b], effort, base)
    return job.judge.settle(job.tab, got, job.boxes) if got is not None else None


def _fewer(
    job: _Job, layouts: list[Packing | None], effort: int, rng: np.random.Generator
) -> tuple[list[Packing | None], int]:
    """Try to do without the last sheet used, again and again."""
    packer = job.packer(rng)
    while packer.evaluations < effort and not job.stop():
        used = [b for b, p in enumerate(layouts) if p is not None]
        if len(used) <= 1:
            break
        kinds = [int(k) for b in used for k in layouts[b].kinds]  # type: ignore[union-attr]
        area = sum(next(s.area for s in job.shapes if s.kind == k) for k in kinds)
        bins = used[:-1]
        if area > sum(
            (job.boxes[b, 2] - job.boxes[b, 0]) * (job.boxes[b, 3] - job.boxes[b, 1]) for b in bins
        ):
            break
        got = packer.pack(kinds, bins, effort - packer.evaluations)
        done = job.judge.settle(job.tab, got, job.boxes) if got is not None else None
        if done is None:
            break
        layouts = [_part_of(done, b) for b in range(len(layouts))]
    return layouts, packer.evaluations


def _part_of(packing: Packing, b: int) -> Packing | None:
    own = np.flatnonzero(packing.bin == b)
    if not len(own):
        return None
    return Packing(
        kinds=packing.kinds[own], shape=packing.shape[own], bin=packing.bin[own], pos=packing.pos[own]
    )


def _push(
    job: _Job, packing: Packing | None, b: int, effort: int, rng: np.random.Generator, workers: int
) -> tuple[Packing | None, int]:
    """Shorten the used length of one sheet; None when nothing shorter was found."""
    if packing is None:
        return None, 0
    box = job.boxes[b]
    origin = box[:2]
    tab = job.tab
    room = tab.room[b : b + 1] - np.concatenate([origin, origin])  # type: ignore[attr-defined]
    view = tab._replace(room=room)  # type: ignore[attr-defined]
    order = np.argsort(packing.kinds, kind="stable")
    kinds = packing.kinds[order]
    begin = Incumbent(
        length=float(_used(job, packing, b)), pos=packing.pos[order] - origin, shape=packing.shape[order]
    )
    area = float(sum(next(s.area for s in job.shapes if s.kind == k) for k in kinds))
    ground = len(job.shapes) + b
    result = search_strip(
        view,
        kinds,
        float(box[3] - box[1]),
        area,
        seed=int(rng.integers(2**31)),
        effort=effort,
        workers=workers,
        tuning=replace(job.tuning, explore=0.7),
        ground=ground,
        longest=float(box[2] - box[0]),
        stop=job.stop,
        round_size=min(500_000, max(50_000, effort // 8)),
        ground_at=(-float(origin[0]), -float(origin[1])),
        start=begin,
    )
    now = _used(job, packing, b)
    for found in result.layouts:
        candidate = Packing(
            kinds=kinds, shape=found.shape, bin=np.full(len(kinds), b, dtype=np.int32), pos=found.pos + origin
        )
        done = job.judge.settle(job.tab, candidate, job.boxes)
        if done is not None and _used(job, done, b) < now:
            return done, result.evaluations
    return None, result.evaluations


def _used(job: _Job, packing: Packing | None, b: int) -> int:
    if packing is None or not len(packing.kinds):
        return 0
    ends = [p[0] + job.shapes[int(s)].size[0] for p, s in zip(packing.pos, packing.shape)]
    return int(max(ends) - job.boxes[b, 0])


def _report(
    job: _Job,
    sheets: Sequence[Sheet],
    regions: dict[tuple[int, int], Region],
    layouts: list[Packing | None],
    goal: Goal,
    spent: int,
    stopped: str,
) -> SheetLayout:
    rows = []
    for b, p in enumerate(layouts):
        if p is None:
            continue
        job.judge.require(p)
        for i in range(len(p.kinds)):
            s = job.shapes[int(p.shape[i])]
            x, y = int(p.pos[i, 0]) - s.corner[0], int(p.pos[i, 1]) - s.corner[1]
            rows.append((b, s.kind, s.angle_deg, s.mirrored, x, y))
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
    left = tuple(it.count - copies.get(k, 0) for k, it in enumerate(job.items))
    value = sum(job.worth(p.item) for p in places)
    used = tuple(_used(job, p, b) for b, p in enumerate(layouts))
    count = sum(p is not None for p in layouts)
    bound, gap = _gap(job, sheets, layouts, goal, value, count, used)
    return SheetLayout(
        places=tuple(places),
        left=left,
        value=value,
        sheets_used=count,
        used_length_um=used,
        bound=bound,
        gap_pct=gap,
        evaluations=spent,
        stopped="bound" if gap == 0.0 else stopped,
    )


def _gap(
    job: _Job,
    sheets: Sequence[Sheet],
    layouts: list[Packing | None],
    goal: Goal,
    value: float,
    count: int,
    used: tuple[int, ...],
) -> tuple[float, float]:
    """Bound and distance to it, in percent of the bound."""
    from nestyield.nesting.bounds import fewest_sheets, greatest_value, least_length

    areas = [next(s.area for s in job.shapes if s.kind == k) for k in range(len(job.items))]
    if goal == "value" or any(job.items[k].count for k in range(len(areas)) if value == 0):
        worths = [(areas[k], job.worth(k), it.count) for k, it in enumerate(job.items)]
        bound = greatest_value(worths, sum(area_um2(s.region) for s in sheets))
        return bound, max(0.0, 100.0 * (bound - value) / bound) if bound > 0 else 0.0
    if goal == "sheets":
        need = [areas[k] for k, it in enumerate(job.items) for _ in range(it.count)]
        fewest = fewest_sheets(need, [area_um2(s.region) for s in sheets])
        return float(fewest), 100.0 * (count - fewest) / fewest if fewest else 0.0
    last = max((b for b, p in enumerate(layouts) if p is not None), default=-1)
    if last < 0:
        return 0.0, 0.0
    p = layouts[last]
    assert p is not None
    box = job.boxes[last]
    least = least_length(
        [areas[int(k)] for k in p.kinds],
        [min(s.size[0] for s in job.shapes if s.kind == k) for k in p.kinds],
        float(box[3] - box[1]),
    )
    return least, max(0.0, 100.0 * (used[last] - least) / least) if math.isfinite(
        least
    ) and least > 0 else 0.0
