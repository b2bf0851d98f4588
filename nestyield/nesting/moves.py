"""Kernels that find a better place for one part while all others stand still.

The cost of a position is the weighted sum of penetration depths. Inside a convex no-fit region
the depth is concave, so the sum has its least values where boundaries of no-fit regions
cross each other or the edge of the container; :func:`_refine` therefore walks over such
crossings, and reaches exact contact instead of approaching it.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from nestyield.nesting.depth import DepthTable, depth_at
from nestyield.nesting.jit import helper, inlined

LINES = 12
"""Boundary lines remembered while a place is refined."""

#: One type of integer for shapes and containers: a helper called with two types is compiled twice.
_whole: Any = np.int64


class Tables(NamedTuple):
    """What stays fixed during a search. ``S`` shapes (a part in one turn), ``T`` part kinds.

    Shapes from ``S_moving`` on are obstacles. A place is the lower left corner of a shape's bounds.

    Parameters
    ----------
    depth : DepthTable
    pair_region : (S, S) int
        No-fit region of (standing, moving), -1 when they never meet.
    pair_sign : (S, S) float
        +1, or -1 when the region is kept for the exchanged pair.
    pair_scale : (S, S) float
        Factor from depth to overlap measure.
    size : (S, 2) float
    pos_bounds : (B, S, 4) float
        Bounds of the places of a shape in a container; least above greatest when it cannot lie there.
    shapes_start, shapes : int
        Shapes of each kind of part, as compressed rows.
    """

    depth: DepthTable
    pair_region: NDArray[np.int32]
    pair_sign: NDArray[np.float64]
    pair_scale: NDArray[np.float64]
    size: NDArray[np.float64]
    pos_bounds: NDArray[np.float64]
    shapes_start: NDArray[np.int32]
    shapes: NDArray[np.int32]


class State(NamedTuple):
    """One arrangement under way: ``N`` bodies, the first ``n`` of them parts, then obstacles.

    Parameters
    ----------
    pos : (N, 2) float
    shape, bin : (N,) int
    kind : (n,) int
    weight, overlap : (N, N) float
    bin_box : (B, 4) float
        Bounds of each container.
    """

    pos: NDArray[np.float64]
    shape: NDArray[np.int32]
    bin: NDArray[np.int32]
    kind: NDArray[np.int32]
    weight: NDArray[np.float64]
    overlap: NDArray[np.float64]
    bin_box: NDArray[np.float64]


def fresh_state(kinds: NDArray[np.int32], others: int, bin_box: NDArray[np.float64]) -> State:
    """Return a state with every body at the origin and all weights 1.

    Parameters
    ----------
    kinds : (n,) int
        One a part.
    others : int
        Bodies beside the parts: obstacles.
    bin_box : (B, 4) float
        Kept as it is, not copied.
    """
    bodies = len(kinds) + others
    return State(
        pos=np.zeros((bodies, 2)),
        shape=np.zeros(bodies, dtype=np.int32),
        bin=np.zeros(bodies, dtype=np.int32),
        kind=kinds,
        weight=np.ones((bodies, bodies)),
        overlap=np.zeros((bodies, bodies)),
        bin_box=bin_box,
    )


class Scratch(NamedTuple):
    """Work space of one thread; made by :func:`make_scratch`."""

    region: NDArray[np.int32]
    body: NDArray[np.int32]
    near: NDArray[np.float64]
    flag: NDArray[np.uint8]
    hit: NDArray[np.float64]
    line: NDArray[np.float64]
    seed: NDArray[np.float64]
    tally: NDArray[np.int64]
    box: NDArray[np.float64]


def make_scratch(bodies: int) -> Scratch:
    """Make work space for one thread and up to that many bodies."""
    return Scratch(
        region=np.zeros(bodies, dtype=np.int32),
        body=np.zeros(bodies, dtype=np.int32),
        near=np.zeros((8, bodies)),
        flag=np.zeros(bodies, dtype=np.uint8),
        hit=np.zeros((bodies, 5)),
        line=np.zeros((2 * LINES + 8, 5)),
        seed=np.zeros((8, 5)),
        tally=np.zeros(4, dtype=np.int64),
        box=np.zeros(4),
    )


@helper
def gather(tab: Any, st: Any, ws: Any, i: int, s: int, b: int) -> int:
    """Collect the bodies that part ``i`` as shape ``s`` could meet in bin ``b``; returns how many."""
    n = 0
    boxes = tab.depth.boxes
    for j in range(st.pos.shape[0]):
        if j == i or st.bin[j] != b:
            continue
        f = st.shape[j]
        k = tab.pair_region[f, s]
        if k < 0:
            continue
        sgn = tab.pair_sign[f, s]
        x = st.pos[j, 0]
        y = st.pos[j, 1]
        ws.region[n] = k
        ws.body[n] = j
        near = ws.near
        if sgn > 0:
            near[0, n] = x + boxes[k, 0]
            near[1, n] = y + boxes[k, 1]
            near[2, n] = x + boxes[k, 2]
            near[3, n] = y + boxes[k, 3]
        else:
            near[0, n] = x - boxes[k, 2]
            near[1, n] = y - boxes[k, 3]
            near[2, n] = x - boxes[k, 0]
            near[3, n] = y - boxes[k, 1]
        near[4, n] = x
        near[5, n] = y
        near[6, n] = sgn
        near[7, n] = st.weight[i, j] * tab.pair_scale[f, s]
        n += 1
    return n


@inlined
def overlap_cost(tab: Any, ws: Any, n: int, x: float, y: float, bound: float) -> float:
    """Weighted overlap at (x, y) with the gathered bodies; stops once it reaches ``bound``."""
    total: float = 0.0
    near = ws.near
    flag = ws.flag
    for a in range(n):  # apart from the rest, so that it runs on vectors
        flag[a] = (x > near[0, a]) & (x < near[2, a]) & (y > near[1, a]) & (y < near[3, a])
    for a in range(n):
        if not flag[a]:
            continue
        sgn = near[6, a]
        d, _ = depth_at(tab.depth, ws.region[a], sgn * (x - near[4, a]), sgn * (y - near[5, a]))
        total += near[7, a] * d
        if total >= bound:
            break
    return float(total)


@helper
def _hits(tab: Any, ws: Any, n: int, x: float, y: float, tol: float) -> int:
    """List overlapped bodies at (x, y): nearest free point on each boundary and its edge direction."""
    m = 0
    near = ws.near
    edges = tab.depth.edges
    for a in range(n):
        if x <= near[0, a] or x >= near[2, a] or y <= near[1, a] or y >= near[3, a]:
            continue
        sgn = near[6, a]
        qx = sgn * (x - near[4, a])
        qy = sgn * (y - near[5, a])
        d, e = depth_at(tab.depth, ws.region[a], qx, qy)
        if d <= tol:
            continue
        dx = edges[e, 2]
        dy = edges[e, 3]
        t = ((qx - edges[e, 0]) * dx + (qy - edges[e, 1]) * dy) * edges[e, 4]
        t = min(max(t, 0.0), 1.0)
        ws.hit[m, 0] = sgn * (edges[e, 0] + t * dx) + near[4, a]
        ws.hit[m, 1] = sgn * (edges[e, 1] + t * dy) + near[5, a]
        ws.hit[m, 2] = dx
        ws.hit[m, 3] = dy
        ws.hit[m, 4] = d * near[7, a]
        m += 1
    return m


@helper
def _refine(
    tab: Any, ws: Any, n: int, x: float, y: float, value: float, box: Any, reach: float, tol: float
) -> tuple[float, float, float]:
    """Walk from (x, y) to a crossing of boundaries with less overlap; box bounds the place."""
    line = ws.line
    kept = 0
    for _ in range(12):
        m = _hits(tab, ws, n, x, y, tol)
        if m == 0:
            break
        while m > 6:  # forget the least of them
            low = 0
            for a in range(1, m):
                if ws.hit[a, 4] < ws.hit[low, 4]:
                    low = a
            m -= 1
            for c in range(5):
                ws.hit[low, c] = ws.hit[m, c]
        bx = x
        by = y
        best = value
        for a in range(m):
            px = min(max(ws.hit[a, 0], box[0]), box[2])
            py = min(max(ws.hit[a, 1], box[1]), box[3])
            v = overlap_cost(tab, ws, n, px, py, best)
            ws.tally[0] += 1
            if v < best:
                best, bx, by = v, px, py
        for a in range(m):
            ax = ws.hit[a, 0]
            ay = ws.hit[a, 1]
            dx = ws.hit[a, 2]
            dy = ws.hit[a, 3]
            for c in range(a + 1, m + kept + 4):
                if c < m:
                    ex, ey, fx, fy = ws.hit[c, 0], ws.hit[c, 1], ws.hit[c, 2], ws.hit[c, 3]
                elif c < m + kept:
                    k = c - m
                    ex, ey, fx, fy = line[k, 0], line[k, 1], line[k, 2], line[k, 3]
                else:
                    w = c - m - kept
                    if w == 0:
                        ex, ey, fx, fy = box[0], 0.0, 0.0, 1.0
                    elif w == 1:
                        ex, ey, fx, fy = box[2], 0.0, 0.0, 1.0
                    elif w == 2:
                        ex, ey, fx, fy = 0.0, box[1], 1.0, 0.0
                    else:
                        ex, ey, fx, fy = 0.0, box[3], 1.0, 0.0
                det = dx * fy - dy * fx
                if abs(det) <= 1e-9 * (abs(dx) + abs(dy)) * (abs(fx) + abs(fy)):
                    continue
                t = ((ex - ax) * fy - (ey - ay) * fx) / det
                px = ax + t * dx
                py = ay + t * dy
                if abs(px - x) > reach or abs(py - y) > reach:
                    continue
                slack = 1e-6
                if px < box[0] - slack or px > box[2] + slack or py < box[1] - slack or py > box[3] + slack:
                    continue
                px = min(max(px, box[0]), box[2])
                py = min(max(py, box[1]), box[3])
                v = overlap_cost(tab, ws, n, px, py, best)
                ws.tally[0] += 1
                if v < best:
                    best, bx, by = v, px, py
        if best >= value * (1.0 - 1e-9):
            break
        for a in range(m):  # newest lines first
            if kept < LINES:
                kept += 1
            for k in range(kept - 1, 0, -1):
                for c in range(4):
                    line[k, c] = line[k - 1, c]
            for c in range(4):
                line[0, c] = ws.hit[a, c]
        x, y, value = bx, by, best
        if value <= 0.0:
            break
    return x, y, value


@inlined
def place_box(tab: Any, st: Any, s: int, b: int, out: Any) -> bool:
    """Bounds of the place of shape ``s`` in bin ``b``; False when it cannot fit."""
    pos_bounds = tab.pos_bounds
    out[0] = max(st.bin_box[b, 0], pos_bounds[b, s, 0])
    out[1] = max(st.bin_box[b, 1], pos_bounds[b, s, 1])
    out[2] = min(st.bin_box[b, 2] - tab.size[s, 0], pos_bounds[b, s, 2])
    out[3] = min(st.bin_box[b, 3] - tab.size[s, 1], pos_bounds[b, s, 3])
    return bool(out[2] >= out[0] and out[3] >= out[1])


@helper
def measure(tab: Any, st: Any, i: int) -> float:
    """Recompute the unweighted overlaps of part ``i``; returns their sum."""
    total = 0.0
    s = st.shape[i]
    for j in range(st.pos.shape[0]):
        v = 0.0
        if j != i and st.bin[j] == st.bin[i]:
            f = st.shape[j]
            k = tab.pair_region[f, s]
            if k >= 0:
                sgn = tab.pair_sign[f, s]
                d, _ = depth_at(
                    tab.depth,
                    k,
                    sgn * (st.pos[i, 0] - st.pos[j, 0]),
                    sgn * (st.pos[i, 1] - st.pos[j, 1]),
                )
                v = d * tab.pair_scale[f, s]
        st.overlap[i, j] = v
        st.overlap[j, i] = v
        total += v
    return total


@helper
def move(tab: Any, st: Any, ws: Any, rng: Any, i: int, samples: Any, tol: float) -> bool:
    """Move part ``i`` to the best place found; False when it stays.

    ``samples``: wide, near and vertex samples a shape, places refined, most shapes tried. Of more than two
    shapes each gets less, so that a part that may be turned often costs no more.
    """
    here = 0.0
    for j in range(st.pos.shape[0]):
        here += st.weight[i, j] * st.overlap[i, j]
    seed = ws.seed
    keep = samples[3]
    for a in range(keep):
        seed[a, 0] = 1.0e300
    box = ws.box
    kind = st.kind[i]
    first = tab.shapes_start[kind]
    turns = tab.shapes_start[kind + 1] - first
    bins = st.bin_box.shape[0]
    s0 = _whole(st.shape[i])
    b0 = _whole(st.bin[i])
    tries = turns * bins
    limited = tries > samples[4]
    if limited:
        tries = samples[4]
    shared = max(2, tries)
    for trial in range(tries):
        if limited:
            if trial == 0:
                s, b = s0, b0
            else:
                s = _whole(tab.shapes[first + int(rng.random() * turns)])
                b = _whole(rng.random() * bins)
        else:
            s = _whole(tab.shapes[first + trial % turns])
            b = trial // turns
        if not place_box(tab, st, s, b, box):
            continue
        n = gather(tab, st, ws, i, s, b)
        local = b == b0
        cx = st.pos[i, 0] + 0.5 * (tab.size[s0, 0] - tab.size[s, 0])
        cy = st.pos[i, 1] + 0.5 * (tab.size[s0, 1] - tab.size[s, 1])
        wide = 2 * samples[0] // shared
        close = 2 * samples[1] // shared if local else 0
        corner = 2 * samples[2] // shared if n > 0 else 0
        for a in range(wide + close + corner):
            if a < close:
                if a == 0 and s == s0:
                    x, y = st.pos[i, 0], st.pos[i, 1]
                else:
                    x = cx + (rng.random() - 0.5) * tab.size[s, 0] * 0.5
                    y = cy + (rng.random() - 0.5) * tab.size[s, 1] * 0.5
                    x = min(max(x, box[0]), box[2])
                    y = min(max(y, box[1]), box[3])
            elif a < close + wide:
                x = box[0] + rng.random() * (box[2] - box[0])
                y = box[1] + rng.random() * (box[3] - box[1])
            else:
                c = int(rng.random() * n)
                k = ws.region[c]
                e0 = tab.depth.edge_start[k]
                e = e0 + int(rng.random() * (tab.depth.edge_start[k + 1] - e0))
                x = ws.near[6, c] * tab.depth.edges[e, 0] + ws.near[4, c]
                y = ws.near[6, c] * tab.depth.edges[e, 1] + ws.near[5, c]
                if x < box[0] or x > box[2] or y < box[1] or y > box[3]:
                    continue
            v = overlap_cost(tab, ws, n, x, y, seed[keep - 1, 0])
            ws.tally[0] += 1
            if v >= seed[keep - 1, 0]:
                continue
            a2 = keep - 1
            while a2 > 0 and seed[a2 - 1, 0] > v:
                for c in range(5):
                    seed[a2, c] = seed[a2 - 1, c]
                a2 -= 1
            seed[a2, 0] = v
            seed[a2, 1] = x
            seed[a2, 2] = y
            seed[a2, 3] = s
            seed[a2, 4] = b
            if v <= 0.0:
                break
        if seed[0, 0] <= 0.0:
            break
    best = here
    bx, by, bs, bb = st.pos[i, 0], st.pos[i, 1], s0, b0
    last_s, last_b, n = -1, -1, 0
    for a in range(keep):
        if seed[a, 0] >= 1.0e300:
            break
        s = _whole(seed[a, 3])
        b = _whole(seed[a, 4])
        place_box(tab, st, s, b, box)
        if s != last_s or b != last_b:
            n = gather(tab, st, ws, i, s, b)
            last_s, last_b = s, b
        reach = 0.5 * max(tab.size[s, 0], tab.size[s, 1])
        x, y, v = _refine(tab, ws, n, seed[a, 1], seed[a, 2], seed[a, 0], box, reach, tol)
        if v < best:
            best, bx, by, bs, bb = v, x, y, s, b
            if v <= 0.0:
                break
    if best >= here * (1.0 - 1e-12):
        return False
    st.pos[i, 0] = bx
    st.pos[i, 1] = by
    st.shape[i] = bs
    st.bin[i] = bb
    measure(tab, st, i)
    return True
