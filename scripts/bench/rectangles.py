"""Rectangles along the axes: perfect packings by exact search, near ones by filling the lowest gap.

The packing grows upwards over a skyline. A valley of the skyline has to be filled from its left end,
so the search branches over what stands there; the valley with the least room is filled
first, and a gap that no sum of remaining sides can fill ends the branch.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from math import gcd
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nestyield.nesting.jit import inlined, kernel

LARGEST_SUM = 4096
"""Widths up to this are checked for sums of sides that fill them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rect:
    """A placed rectangle.

    Parameters
    ----------
    kind : int
    x, y : int
        Lower left corner.
    turned : bool
        Whether length and width are exchanged.
    bin : int
    """

    kind: int
    x: int
    y: int
    turned: bool
    bin: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class RectangleAnswer:
    """What a search found.

    Parameters
    ----------
    rects : tuple of Rect or None
    height : int
        Used height of ``rects``; 0 without one.
    nodes : int
    complete : bool
        With ``rects`` None: whether the search was exhausted, so that there is no perfect packing.
    """

    rects: tuple[Rect, ...] | None
    height: int
    nodes: int
    complete: bool


@inlined
def _valley(seg: Any, count: int, top: int) -> int:
    """Index of the narrowest segment lower than both neighbours."""
    best = -1
    for k in range(count):
        left = top if k == 0 else seg[k - 1, 2]
        right = top if k == count - 1 else seg[k + 1, 2]
        if seg[k, 2] < left and seg[k, 2] < right and (best < 0 or seg[k, 1] < seg[best, 1]):
            best = k
    return best


@inlined
def _put(seg: Any, count: int, k: int, w: int, h: int) -> int:
    """Raise the left part of segment ``k``; merges equal neighbours; returns the new count."""
    x = seg[k, 0]
    y = seg[k, 2] + h
    if w == seg[k, 1]:
        seg[k, 2] = y
    else:
        for j in range(count, k, -1):
            seg[j, 0] = seg[j - 1, 0]
            seg[j, 1] = seg[j - 1, 1]
            seg[j, 2] = seg[j - 1, 2]
        count += 1
        seg[k, 1] = w
        seg[k, 2] = y
        seg[k + 1, 0] = x + w
        seg[k + 1, 1] -= w
    if k + 1 < count and seg[k + 1, 2] == y:
        seg[k, 1] += seg[k + 1, 1]
        for j in range(k + 1, count - 1):
            seg[j, 0] = seg[j + 1, 0]
            seg[j, 1] = seg[j + 1, 1]
            seg[j, 2] = seg[j + 1, 2]
        count -= 1
    if k > 0 and seg[k - 1, 2] == y:
        seg[k - 1, 1] += seg[k, 1]
        for j in range(k, count - 1):
            seg[j, 0] = seg[j + 1, 0]
            seg[j, 1] = seg[j + 1, 1]
            seg[j, 2] = seg[j + 1, 2]
        count -= 1
    return count


@inlined
def _shifted(words: Any, t: int, by: int) -> Any:
    """Word ``t`` of a bit set shifted up by ``by`` bits."""
    skip = by // 64
    bits = np.uint64(by % 64)
    if t < skip:
        return np.uint64(0)
    v = words[t - skip] << bits
    if bits > np.uint64(0) and t > skip:
        v |= words[t - skip - 1] >> (np.uint64(64) - bits)
    return v


@inlined
def _sums(sides: Any, left: Any, turn: bool, axis: int, words: Any) -> None:
    """Mark every sum of sides of the remaining rectangles that the bit set has room for."""
    words[:] = np.uint64(0)
    words[0] = np.uint64(1)
    for k in range(sides.shape[0]):
        for _ in range(left[k]):
            for t in range(words.shape[0] - 1, -1, -1):
                v = words[t] | _shifted(words, t, sides[k, axis])
                if turn:
                    v |= _shifted(words, t, sides[k, 1 - axis])
                words[t] = v


@inlined
def _reached(words: Any, v: int) -> bool:
    """Whether a sum can be made; what is too large to know counts as yes."""
    if v >= 64 * words.shape[0]:
        return True
    return bool((words[v // 64] >> np.uint64(v % 64)) & np.uint64(1) != np.uint64(0))


@kernel
def _fill(
    sides: Any,
    left: Any,
    turn: bool,
    width: int,
    height: int,
    order: Any,
    limit: int,
    out: Any,
    rng: Any,
    noise: float,
) -> tuple[int, int]:
    """Depth-first search; returns (1 found, 0 exhausted, -1 limit; nodes). Bins are stacked."""
    kinds = sides.shape[0]
    total = 0
    for k in range(kinds):
        total += left[k]
    segs = np.zeros((total + 1, total + 2, 3), dtype=np.int64)
    counts = np.zeros(total + 1, dtype=np.int64)
    segs[0, 0, 1] = width
    counts[0] = 1
    choice = np.zeros((total + 1, 2 * kinds), dtype=np.int64)
    choices = np.zeros(total + 1, dtype=np.int64)
    cursor = np.zeros(total + 1, dtype=np.int64)
    valley = np.zeros(total + 1, dtype=np.int64)
    score = np.zeros(2 * kinds)
    span = min(max(width, height), LARGEST_SUM) + 1
    words = np.zeros((span + 63) // 64, dtype=np.uint64)
    upward = words if turn else words.copy()
    nodes = 0
    depth = 0
    fresh = True
    while True:
        if depth == total:
            return 1, nodes
        seg = segs[depth]
        count = counts[depth]
        if fresh:
            nodes += 1
            if nodes >= limit:
                return -1, nodes
            low = seg[0, 2]
            for c in range(1, count):
                low = min(low, seg[c, 2])
            top = (low // height + 1) * height  # of the bin that is being filled
            k = _valley(seg, count, top)
            valley[depth] = k
            gap = seg[k, 1]
            y = seg[k, 2]
            lstep = (top if k == 0 else seg[k - 1, 2]) - y
            rstep = (top if k == count - 1 else seg[k + 1, 2]) - y
            _sums(sides, left, turn, 0, words)
            if not turn:
                _sums(sides, left, turn, 1, upward)
            m = 0
            if _reached(words, gap):
                for a in range(kinds):
                    if left[a] == 0:
                        continue
                    for o in range(2):
                        if o == 1 and (not turn or sides[a, 0] == sides[a, 1]):
                            continue
                        w = sides[a, o]
                        h = sides[a, 1 - o]
                        if w > gap or y + h > top:
                            continue
                        if not _reached(words, gap - w):
                            continue
                        if not _reached(upward, top - y - h):
                            continue
                        v = 0.0
                        if w == gap:
                            v += 2.0
                            if h in (lstep, rstep):
                                v += 2.0
                        elif h == lstep:
                            v += 1.5
                        v += order[a] + noise * rng.random()
                        at = m
                        while at > 0 and score[at - 1] < v:
                            score[at] = score[at - 1]
                            choice[depth, at] = choice[depth, at - 1]
                            at -= 1
                        score[at] = v
                        choice[depth, at] = 2 * a + o
                        m += 1
            choices[depth] = m
            cursor[depth] = 0
        if cursor[depth] >= choices[depth]:
            if depth == 0:
                return 0, nodes
            depth -= 1
            left[choice[depth, cursor[depth] - 1] // 2] += 1
            fresh = False
            continue
        c = choice[depth, cursor[depth]]
        cursor[depth] += 1
        a = c // 2
        o = c % 2
        left[a] -= 1
        k = valley[depth]
        out[depth, 0] = a
        out[depth, 1] = seg[k, 0]
        out[depth, 2] = seg[k, 2]
        out[depth, 3] = o
        nxt = segs[depth + 1]
        nxt[:count] = seg[:count]
        counts[depth + 1] = _put(nxt, count, k, sides[a, o], sides[a, 1 - o])
        depth += 1
        fresh = True


def _reduce(values: Sequence[int]) -> int:
    g = 0
    for v in values:
        g = gcd(g, int(v))
    return max(g, 1)


def perfect_rectangles(
    sides: Sequence[tuple[int, int]],
    counts: Sequence[int],
    width: int,
    height: int,
    *,
    turn: bool,
    rng: np.random.Generator,
    bins: int = 1,
    workers: int = 1,
    effort: int = 100_000_000,
    stop: Callable[[], bool] = lambda: False,
) -> RectangleAnswer:
    """Look for a packing that fills ``bins`` boxes of ``width`` x ``height`` completely.

    Parameters
    ----------
    sides : sequence of (int, int)
        Length along x and y of each kind, any whole unit.
    counts : sequence of int
    width, height : int
    turn : bool
        Whether a rectangle may be turned by 90 degrees.
    rng : numpy.random.Generator
        Orders choices; the search starts again in another order when it runs long.
    bins : int
    workers : int
        Threads; the answer does not depend on them.
    effort : int
        Most nodes.
    stop : callable
        Asked between starts.
    """
    if sum(w * h * c for (w, h), c in zip(sides, counts)) != width * height * bins:
        return RectangleAnswer(rects=None, height=0, nodes=0, complete=True)
    gx = _reduce([width, height, *(v for s in sides for v in s)])
    table = np.array(sides, dtype=np.int64) // gx
    area = table[:, 0] * table[:, 1]
    base = area / area.max()
    nodes = 0
    limit = 20_000
    total = int(sum(counts))
    lines = rng.spawn(2)

    def start(line: int, limit: int) -> tuple[int, int, NDArray[np.int64]]:
        """One start: upright in the first line, lying in the second."""
        own = lines[line]
        out = np.zeros((total, 4), dtype=np.int64)
        sides_now = table[:, ::-1].copy() if line else table
        w, h = (height, width) if line else (width, height)
        code, used = _fill(
            sides_now, np.array(counts, dtype=np.int64), turn, w // gx, h // gx,
            base * (0.5 + own.random()), limit, out, own, 0.5 + own.random(),
        )  # fmt: skip
        return int(code), int(used), out

    with ThreadPoolExecutor(max_workers=max(1, min(workers, 2))) as pool:
        while nodes < effort and not stop():
            now = min(limit, effort - nodes)
            results = list(pool.map(lambda line, now=now: start(line, now), range(2)))
            for line, (code, used, out) in enumerate(results):
                nodes += used
                if code == 1:
                    rects = _placed(out, line == 1, (width if line else height) // gx, gx)
                    return RectangleAnswer(rects=rects, height=height, nodes=nodes, complete=False)
                if code == 0:
                    return RectangleAnswer(rects=None, height=0, nodes=nodes, complete=True)
            limit = int(limit * 1.1)
    return RectangleAnswer(rects=None, height=0, nodes=nodes, complete=False)


def _placed(out: NDArray[np.int64], lying: bool, top: int, unit: int) -> tuple[Rect, ...]:
    rects = []
    for a, u, v, o in out.tolist():
        x, y = (v % top, u) if lying else (u, v % top)
        rects.append(Rect(kind=a, x=x * unit, y=y * unit, turned=bool(o), bin=v // top))
    return tuple(rects)
