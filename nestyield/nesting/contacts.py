"""Where convex pieces of moving bodies are near each other, as rows of a linear program in moves and turns.

Two convex pieces are apart when an edge of one has the whole of the other outside. The edge with the
greatest such distance is taken (where they overlap: among edges of the polygons that were cut, so that
nothing is pushed along a cut), and every corner of the other piece near its line gives a row.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from nestyield.nesting.jit import kernel


@kernel
def find_contacts(
    points: Any,
    outer: Any,
    start: Any,
    group: Any,
    center: Any,
    radius: Any,
    body: Any,
    tests: Any,
    reach: float,
    rows: Any,
    apart: Any,
) -> tuple[int, int]:
    """Collect rows for all pairs of pieces that may come to touch.

    Parameters
    ----------
    points : (P, 2) float
        Corners of all pieces where they lie now.
    outer : (P,) bool
        Whether the edge that begins at a corner belongs to the polygon that was cut.
    start : (C + 1,) int
        First corner of each piece.
    group : (G + 1,) int
        First piece of each group.
    center : (C, 2) float
    radius : (C,) float
        Circle around each piece.
    body : (G,) int
        Body that carries a group; -1 for what stands still.
    tests : (T, 2) int
        Groups that must stay apart.
    reach : float
        Pieces farther apart than this are left out, and so are corners farther from the line.
    rows : (R, 8) float
        Out: body of the corner, body of the edge, outward normal of the edge (2), the corner (2), its
        distance from the edge's line, number of the pair.
    apart : (R,) float
        Out: distance of each pair, negative when they overlap.

    Returns
    -------
    (int, int)
        Rows and pairs; -1 rows when there is no room for them.
    """
    count = 0
    pairs = 0
    for t in range(tests.shape[0]):
        ga = tests[t, 0]
        gb = tests[t, 1]
        for p in range(group[ga], group[ga + 1]):
            for q in range(group[gb], group[gb + 1]):
                dx = center[p, 0] - center[q, 0]
                dy = center[p, 1] - center[q, 1]
                far = radius[p] + radius[q] + reach
                if dx * dx + dy * dy > far * far:
                    continue
                best_any = -1.0e300
                best_real = -1.0e300
                edge_any = -1
                edge_real = -1
                for side in range(2):
                    u = p if side == 0 else q
                    v = q if side == 0 else p
                    for e in range(start[u], start[u + 1]):
                        f = e + 1 if e + 1 < start[u + 1] else start[u]
                        ex = points[f, 0] - points[e, 0]
                        ey = points[f, 1] - points[e, 1]
                        size = np.sqrt(ex * ex + ey * ey)
                        if size < 1e-9:
                            continue
                        nx = ey / size
                        ny = -ex / size
                        least = 1.0e300
                        for w in range(start[v], start[v + 1]):
                            d = nx * (points[w, 0] - points[e, 0]) + ny * (points[w, 1] - points[e, 1])
                            if d < least:
                                least = d
                        if least > best_any:
                            best_any = least
                            edge_any = e
                        if outer[e] and least > best_real:
                            best_real = least
                            edge_real = e
                if best_any > reach:
                    continue
                edge = edge_any
                sep = best_any
                if sep < 0.0:
                    if edge_real < 0:
                        continue
                    edge = edge_real
                    sep = best_real
                u = p if start[p] <= edge < start[p + 1] else q
                v = q if u == p else p
                f = edge + 1 if edge + 1 < start[u + 1] else start[u]
                ex = points[f, 0] - points[edge, 0]
                ey = points[f, 1] - points[edge, 1]
                size = np.sqrt(ex * ex + ey * ey)
                nx = ey / size
                ny = -ex / size
                bu = body[ga] if u == p else body[gb]
                bv = body[gb] if u == p else body[ga]
                if pairs >= apart.shape[0]:
                    return -1, pairs
                for w in range(start[v], start[v + 1]):
                    d = nx * (points[w, 0] - points[edge, 0]) + ny * (points[w, 1] - points[edge, 1])
                    if d > max(sep, 0.0) + reach:
                        continue
                    if count >= rows.shape[0]:
                        return -1, pairs
                    rows[count, 0] = bv
                    rows[count, 1] = bu
                    rows[count, 2] = nx
                    rows[count, 3] = ny
                    rows[count, 4] = points[w, 0]
                    rows[count, 5] = points[w, 1]
                    rows[count, 6] = d
                    rows[count, 7] = pairs
                    count += 1
                apart[pairs] = sep
                pairs += 1
    return count, pairs
