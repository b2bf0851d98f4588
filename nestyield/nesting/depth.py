"""How deep a point lies inside a no-fit region: kernels on one flat table.

The table keeps every no-fit region of a problem as edges, cut into a grid of cells. A cell
knows whether it lies outside, inside or across the boundary, and which edges can be the
nearest one for a point in it, so that a query looks at a few edges however long the
boundary is. The answer is exact up to double rounding; no field is interpolated.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from nestyield.nesting.jit import inlined, kernel

OUTSIDE, ACROSS, INSIDE = 0, 1, 2
#: Cells a side of the blocks in which a table is made.
BLOCK = 4
#: Cells of one region, about, at the most.
MOST_CELLS = 4096


class DepthTable(NamedTuple):
    """No-fit regions as flat arrays. ``K`` regions, ``E`` edges, ``C`` cells, ``R`` rows.

    Parameters
    ----------
    edges : (E, 5) float
        Start, direction vector and one over its squared length.
    edge_start : (K + 1,) int
    boxes : (K, 4) float
        Least x, least y, greatest x, greatest y.
    grid : (K, 4) int
        Columns, rows, first cell, first row.
    cell_inv : (K, 2) float
        One over the cell's size along x and y.
    cell_state : (C,) int
    cell_start : (C + 1,) int
    cell_edges, row_edges : int
    row_start : (R + 1,) int
    """

    edges: NDArray[np.float64]
    edge_start: NDArray[np.int32]
    boxes: NDArray[np.float64]
    grid: NDArray[np.int32]
    cell_inv: NDArray[np.float64]
    cell_state: NDArray[np.int8]
    cell_start: NDArray[np.int32]
    cell_edges: NDArray[np.int32]
    row_start: NDArray[np.int32]
    row_edges: NDArray[np.int32]


@inlined
def _inside(edges: Any, row_edges: Any, first: int, last: int, x: float, y: float) -> bool:
    odd = False
    for e in range(first, last):
        k = row_edges[e]
        ay = edges[k, 1]
        by = ay + edges[k, 3]
        if (ay > y) != (by > y) and x < edges[k, 0] + edges[k, 2] * ((y - ay) / edges[k, 3]):
            odd = not odd
    return odd


@inlined
def depth_at(tab: Any, k: int, x: float, y: float) -> tuple[float, int]:
    """Return how deep (x, y) lies inside region ``k``, and the nearest edge; (0, -1) outside.

    Lengths are grid units.
    """
    boxes = tab.boxes
    if x <= boxes[k, 0] or y <= boxes[k, 1] or x >= boxes[k, 2] or y >= boxes[k, 3]:
        return 0.0, -1
    grid = tab.grid
    nx = grid[k, 0]
    ny = grid[k, 1]
    cx = min(int((x - boxes[k, 0]) * tab.cell_inv[k, 0]), nx - 1)
    cy = min(int((y - boxes[k, 1]) * tab.cell_inv[k, 1]), ny - 1)
    cell = grid[k, 2] + cy * nx + cx
    state = tab.cell_state[cell]
    if state == OUTSIDE:
        return 0.0, -1
    edges = tab.edges
    if state == ACROSS:
        row = grid[k, 3] + cy
        if not _inside(edges, tab.row_edges, tab.row_start[row], tab.row_start[row + 1], x, y):
            return 0.0, -1
    best = 1.0e300
    which = -1
    for c in range(tab.cell_start[cell], tab.cell_start[cell + 1]):
        e = tab.cell_edges[c]
        px = x - edges[e, 0]
        py = y - edges[e, 1]
        dx = edges[e, 2]
        dy = edges[e, 3]
        t = (px * dx + py * dy) * edges[e, 4]
        t = min(max(t, 0.0), 1.0)
        px -= t * dx
        py -= t * dy
        d = px * px + py * py
        if d < best:
            best = d
            which = e
    return math.sqrt(best), which


@inlined
def _distance(edges: Any, e: int, x: float, y: float) -> float:
    dx = edges[e, 2]
    dy = edges[e, 3]
    px = x - edges[e, 0]
    py = y - edges[e, 1]
    t = min(max((px * dx + py * dy) * edges[e, 4], 0.0), 1.0)
    px -= t * dx
    py -= t * dy
    return math.sqrt(px * px + py * py)


@kernel
def _near_block(edges: Any, first: int, last: int, box: Any, reach: float, dist: Any, near: Any) -> int:
    """List the edges that can be the nearest one, or almost, within ``reach`` of a box's middle."""
    x, y = 0.5 * (box[0] + box[2]), 0.5 * (box[1] + box[3])
    best = 1.0e300
    for i in range(last - first):
        dist[i] = _distance(edges, first + i, x, y)
        best = min(best, dist[i])
    n = 0
    for i in range(last - first):
        if dist[i] <= best + 2.0 * reach:
            near[n] = i
            n += 1
    return n


@kernel
def _cells(
    edges: Any, first: int, last: int, box: Any, nx: int, ny: int, state: Any, counts: Any, out: Any
) -> int:
    """Classify the cells of one region; returns how many edge entries they need (``out`` may be short).

    Cells are looked at in blocks: an edge too far from a block's middle is too far from all of its cells.
    """
    sx = (box[2] - box[0]) / nx
    sy = (box[3] - box[1]) / ny
    radius = 0.5 * math.sqrt(sx * sx + sy * sy) * (1.0 + 1e-9)
    m = last - first
    blocks = (nx + BLOCK - 1) // BLOCK
    near = np.empty((blocks, m), dtype=np.int32)
    nears = np.empty(blocks, dtype=np.int32)
    dist, crossing, around = np.empty(m), np.empty(m), np.empty(4)
    total = 0
    for cy in range(ny):
        y = box[1] + (cy + 0.5) * sy
        if cy % BLOCK == 0:
            around[1] = box[1] + cy * sy
            around[3] = box[1] + min(cy + BLOCK, ny) * sy
            for b in range(blocks):
                around[0] = box[0] + b * BLOCK * sx
                around[2] = box[0] + min((b + 1) * BLOCK, nx) * sx
                half_x, half_y = 0.5 * (around[2] - around[0]), 0.5 * (around[3] - around[1])
                reach = math.sqrt(half_x * half_x + half_y * half_y) * (1.0 + 1e-6)
                nears[b] = _near_block(edges, first, last, around, reach, dist, near[b])
        crossings = 0
        for e in range(first, last):
            ay = edges[e, 1]
            if (ay > y) != (ay + edges[e, 3] > y):
                crossing[crossings] = edges[e, 0] + edges[e, 2] * ((y - ay) / edges[e, 3])
                crossings += 1
        for cx in range(nx):
            x = box[0] + (cx + 0.5) * sx
            odd = False
            for k in range(crossings):
                if x < crossing[k]:
                    odd = not odd
            b = cx // BLOCK
            best = 1.0e300
            for k in range(nears[b]):
                dist[k] = _distance(edges, first + near[b, k], x, y)
                best = min(best, dist[k])
            cell = cy * nx + cx
            counts[cell] = 0
            if best > radius and not odd:
                state[cell] = OUTSIDE
                continue
            state[cell] = INSIDE if best > radius else ACROSS
            for k in range(nears[b]):
                if dist[k] <= best + 2.0 * radius:
                    if total < out.shape[0]:
                        out[total] = first + near[b, k]
                    total += 1
                    counts[cell] += 1
    return total


def _grid_size(box: NDArray[np.float64], edges: int, most: int) -> tuple[int, int]:
    """Choose columns and rows: near-square cells, more of them for long boundaries."""
    w, h = box[2] - box[0], box[3] - box[1]
    target = float(min(max(24 * edges, 256), most))
    side = math.sqrt(w * h / target)
    return int(np.clip(round(w / side), 4, 256)), int(np.clip(round(h / side), 4, 256))


def build_table(regions: list[list[NDArray[np.float64]]], most_cells: int = MOST_CELLS) -> DepthTable:
    """Lay out no-fit regions for :func:`depth_at`.

    Parameters
    ----------
    regions : list of regions
        Each a list of rings ``(n, 2)``; even-odd filled.
    most_cells : int
        Of one region. Answers are the same with any number: fewer are made sooner and asked more slowly.
    """
    edge_blocks, boxes, grids, inverses, states = [], [], [], [], []
    cell_counts, cell_blocks, row_counts, row_blocks = [], [], [], []
    edge_start = [0]
    cells = rows = 0
    for rings in regions:
        block = []
        for ring in rings:
            a = np.asarray(ring, dtype=np.float64)
            d = np.roll(a, -1, axis=0) - a
            keep = (d != 0).any(axis=1)
            a, d = a[keep], d[keep]
            block.append(np.column_stack([a, d, 1.0 / (d * d).sum(axis=1)]))
        edges = np.concatenate(block)
        xs, ys = edges[:, 0], edges[:, 1]
        box = np.array([xs.min(), ys.min(), xs.max(), ys.max()])
        nx, ny = _grid_size(box, len(edges), most_cells)
        state = np.zeros(nx * ny, dtype=np.int8)
        counts = np.zeros(nx * ny, dtype=np.int32)
        out = np.empty(max(16 * nx * ny, 1024), dtype=np.int32)
        need = _cells(edges, 0, len(edges), box, nx, ny, state, counts, out)
        if need > len(out):
            out = np.empty(need, dtype=np.int32)
            _cells(edges, 0, len(edges), box, nx, ny, state, counts, out)
        low = np.minimum(edges[:, 1], edges[:, 1] + edges[:, 3])
        high = np.maximum(edges[:, 1], edges[:, 1] + edges[:, 3])
        step = (box[3] - box[1]) / ny
        r = np.arange(ny)[:, None]
        y0, y1 = box[1] + (r - 1e-6) * step, box[1] + (r + 1 + 1e-6) * step
        of_row, hit = np.nonzero((low <= y1) & (high >= y0) & (edges[:, 3] != 0))
        row_counts.append(np.bincount(of_row, minlength=ny))
        row_blocks.append(hit + edge_start[-1])
        edge_blocks.append(edges)
        boxes.append(box)
        grids.append((nx, ny, cells, rows))
        inverses.append((nx / (box[2] - box[0]), ny / (box[3] - box[1])))
        states.append(state)
        cell_counts.append(counts)
        cell_blocks.append(out[:need] + edge_start[-1])
        edge_start.append(edge_start[-1] + len(edges))
        cells += nx * ny
        rows += ny

    def cumulate(counts: Any) -> NDArray[np.int32]:
        return np.concatenate([[0], np.cumsum(counts)]).astype(np.int32)

    if not regions:
        edge_blocks, boxes, grids, inverses = [np.zeros((0, 5))], [], [], []
        none = np.zeros(0, dtype=np.int32)
        states, cell_counts, cell_blocks, row_blocks = (
            [none.astype(np.int8)],
            [none],
            [none],
            [none.astype(np.int64)],
        )
        row_counts = [none.astype(np.int64)]
    return DepthTable(
        edges=np.ascontiguousarray(np.concatenate(edge_blocks)),
        edge_start=np.array(edge_start, dtype=np.int32),
        boxes=np.array(boxes, dtype=np.float64).reshape(-1, 4),
        grid=np.array(grids, dtype=np.int32).reshape(-1, 4),
        cell_inv=np.array(inverses, dtype=np.float64).reshape(-1, 2),
        cell_state=np.concatenate(states).astype(np.int8),
        cell_start=cumulate(np.concatenate(cell_counts)),
        cell_edges=np.concatenate(cell_blocks).astype(np.int32),
        row_start=cumulate(np.concatenate(row_counts)),
        row_edges=np.concatenate(row_blocks).astype(np.int32),
    )
