"""Parts moved to the least y that their own x allows: then they take no more of a sheet than they must."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from nestyield.nesting.filling import FillJob
from nestyield.nesting.packer import Packing

#: Each part is moved so often at the most.
ROUNDS = 3


def lowered(job: FillJob, packing: Packing, b: int) -> Packing:
    """Move the parts of one sheet to lower y, lowest first, each past others where there is room below them.

    Parameters
    ----------
    job : FillJob
    packing : Packing
        Whole places, valid.
    b : int
        The sheet.

    Returns
    -------
    Packing
        Passes the exact tests; as it was when nothing gets lower.
    """
    pos = packing.pos.copy()
    for _ in range(ROUNDS):
        before = pos.copy()
        for i in np.lexsort((pos[:, 0], pos[:, 1])).tolist():
            low = _lowest(job, packing, pos, i, b)
            if low < pos[i, 1]:
                pos[i, 1] = low
        if (pos == before).all():
            break
    if (pos == packing.pos).all():
        return packing
    moved = Packing(kinds=packing.kinds, shape=packing.shape, bin=packing.bin, pos=pos)
    done = job.certifier.round_to_grid(job.tab, moved, job.boxes)
    return packing if done is None else done


def _lowest(job: FillJob, packing: Packing, pos: NDArray[np.float64], i: int, b: int) -> float:
    """Return the least whole y at which a part is clear of the others and on the sheet, at its x."""
    tab, shape = job.tab, int(packing.shape[i])
    x, now = pos[i]
    blocked = [(now, np.inf)]
    others = [(int(packing.shape[j]), *pos[j]) for j in range(len(pos)) if j != i]
    for other, ox, oy in [*others, (len(job.shapes) + b, 0.0, 0.0)]:
        region = int(tab.pair_region[other, shape])
        if region >= 0:
            sign = float(tab.pair_sign[other, shape])
            for low, high in _crossed(tab, region, sign * (x - ox)):
                blocked.append((oy + min(sign * low, sign * high), oy + max(sign * low, sign * high)))
    y = float(np.ceil(max(job.boxes[b, 1], tab.pos_bounds[b, shape, 1])))
    for low, high in sorted(blocked):
        if y <= low:
            break
        if high > y:
            y = float(np.ceil(high)) if np.isfinite(high) else now
    return min(y, float(now))


def _crossed(tab: Any, region: int, x: float) -> list[tuple[float, float]]:
    """Return the spans of y in which a vertical line lies within a region, and not just along its edge."""
    left, right = (_spans(tab, region, x + side) for side in (-0.5, 0.5))
    both = [(max(a, c), min(b, d)) for a, b in left for c, d in right]
    return [(low, high) for low, high in both if low < high]


def _spans(tab: Any, region: int, x: float) -> list[tuple[float, float]]:
    first, last = tab.depth.edge_start[region : region + 2]
    edges = tab.depth.edges[first:last]
    x0, x1 = edges[:, 0], edges[:, 0] + edges[:, 2]
    hit = (x0 > x) != (x1 > x)
    y = np.sort(edges[hit, 1] + edges[hit, 3] * ((x - x0[hit]) / edges[hit, 2]))
    return list(zip(y[0::2].tolist(), y[1::2].tolist()))
