"""Lay parts on one sheet one at a time, exchange some, and do with fewer sheets."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nestyield.nesting.certify import Certifier
from nestyield.nesting.moves import Tables
from nestyield.nesting.packer import Packer, Packing
from nestyield.nesting.search_line import Tuning
from nestyield.nesting.shapes import OrientedShape


@dataclass(slots=True, kw_only=True)
class FillJob:
    """Everything that the searches of one call share.

    Parameters
    ----------
    values : sequence of float
        Of one copy of each item.
    shapes : sequence of OrientedShape
    tab : Tables
    boxes : (B, 4) float
        Bounds of the sheets, micrometers.
    certifier : Certifier
    gap_um : int
    room : (B,) float
        Area of the sheets, square millimeters, with half a gap around it.
    wood : sequence of float
        Area of one copy of each item, square millimeters, with half a gap around it.
    tuning : Tuning
    stop : callable
    """

    values: Sequence[float]
    shapes: Sequence[OrientedShape]
    tab: Tables
    boxes: NDArray[np.float64]
    certifier: Certifier
    gap_um: int
    room: NDArray[np.float64]
    wood: Sequence[float]
    tuning: Tuning
    stop: Callable[[], bool]

    def packer(self, rng: np.random.Generator) -> Packer:
        """Make a packer with its own random numbers."""
        return Packer(self.tab, len(self.shapes), self.boxes, rng, self.tuning, self.stop)

    def may_hold(self, kinds: Iterable[int], b: int) -> bool:
        """Tell whether a sheet has the area for some parts with their gaps; false is certain."""
        return bool(sum(self.wood[k] for k in kinds) <= self.room[b])

    def area(self, kind: int) -> float:
        """Area of one copy, square micrometers."""
        return next(s.area for s in self.shapes if s.kind == kind)


def value_of(job: FillJob, packing: Packing | None) -> float:
    """Worth of a packing; -1 for none."""
    return -1.0 if packing is None else sum(job.values[int(k)] for k in packing.kinds)


def fill(
    job: FillJob, left: Sequence[int], b: int, effort: int, rng: np.random.Generator
) -> tuple[Packing | None, int]:
    """Put as much value as possible on one sheet: add parts one at a time, then exchange some."""
    packer = job.packer(rng)
    current: Packing | None = None
    order = sorted((k for k in range(len(left)) if left[k]), key=lambda k: (-job.values[k], k))
    closed: set[int] = set()
    stock = list(left)
    share = max(20_000, effort // max(8, 2 * min(sum(left), 40)))
    while packer.evaluations < effort and not job.stop():
        kind = next((k for k in order if stock[k] and k not in closed), None)
        if kind is None:
            break
        got = add(job, packer, current, [kind], b, share)
        if got is None:
            closed.add(kind)
        else:
            current = got
            stock[kind] -= 1
    while current is not None and any(stock) and packer.evaluations < effort and not job.stop():
        # exchange: take some out at random, put dearer ones in
        n = len(current.kinds)
        out = set(rng.choice(n, min(n, 1 + int(rng.random() * 3)), replace=False).tolist())
        lost = sum(job.values[int(current.kinds[i])] for i in out)
        pool = [k for k in order for _ in range(stock[k])] + [int(current.kinds[i]) for i in out]
        rng.shuffle(pool)
        fresh: list[int] = []
        for k in pool:
            if len(fresh) <= len(out) + 1:
                fresh.append(k)
        gain = sum(job.values[k] for k in fresh)
        if gain <= lost * (1 + 1e-9):
            packer.evaluations += 2_000
            continue
        keep = [i for i in range(n) if i not in out]
        base = Packing(
            kinds=current.kinds[keep], shape=current.shape[keep], bin=current.bin[keep], pos=current.pos[keep]
        )
        got = add(job, packer, base, fresh, b, share)
        if got is not None:
            for i in out:
                stock[int(current.kinds[i])] += 1
            for k in fresh:
                stock[k] -= 1
            current = got
    return current, packer.evaluations


def add(
    job: FillJob, packer: Packer, base: Packing | None, kinds: Sequence[int], b: int, effort: int
) -> Packing | None:
    """Pack further parts beside those that lie there; None when they do not go in."""
    have = [] if base is None else [int(k) for k in base.kinds]
    if not job.may_hold((*have, *kinds), b):
        packer.evaluations += 100
        return None
    got = packer.pack([*have, *kinds], [b], effort, base)
    return job.certifier.round_to_grid(job.tab, got, job.boxes) if got is not None else None


def fewer(
    job: FillJob, layouts: list[Packing | None], effort: int, rng: np.random.Generator
) -> tuple[list[Packing | None], int]:
    """Try to do without the last sheet used, again and again."""
    packer = job.packer(rng)
    while packer.evaluations < effort and not job.stop():
        used = [b for b, p in enumerate(layouts) if p is not None]
        if len(used) <= 1:
            break
        kinds = [int(k) for b in used for k in layouts[b].kinds]  # type: ignore[union-attr]
        area = sum(job.area(k) for k in kinds)
        bins = used[:-1]
        if area > sum(
            (job.boxes[b, 2] - job.boxes[b, 0]) * (job.boxes[b, 3] - job.boxes[b, 1]) for b in bins
        ):
            break
        got = packer.pack(kinds, bins, effort - packer.evaluations)
        done = job.certifier.round_to_grid(job.tab, got, job.boxes) if got is not None else None
        if done is None:
            break
        layouts = [part_of(done, b) for b in range(len(layouts))]
    return layouts, packer.evaluations


def part_of(packing: Packing, b: int) -> Packing | None:
    """Return what lies in one bin."""
    own = np.flatnonzero(packing.bin == b)
    if not len(own):
        return None
    return Packing(
        kinds=packing.kinds[own], shape=packing.shape[own], bin=packing.bin[own], pos=packing.pos[own]
    )


def used_length(job: FillJob, packing: Packing | None, b: int) -> int:
    """Distance from the sheet's least x to the greatest x of a part, micrometers."""
    if packing is None or not len(packing.kinds):
        return 0
    ends = [p[0] + job.shapes[int(s)].size[0] for p, s in zip(packing.pos, packing.shape)]
    return int(max(ends) - job.boxes[b, 0])
