"""Outlines in the turns that a benchmark allows, and the grid on which its numbers stay exact."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from nestyield.nesting.shapes import IntPoly, OrientedShape, ring_area2


def turn_ring(ring: IntPoly, angle_deg: float, mirrored: bool) -> IntPoly:
    """Mirror in x, turn about the origin, round; exact for whole quarter turns."""
    out = ring.copy()
    if mirrored:
        out[:, 0] = -out[:, 0]
    quarter = (angle_deg % 360.0) / 90.0
    if quarter == int(quarter):
        for _ in range(int(quarter)):
            out = np.column_stack([-out[:, 1], out[:, 0]])
    else:
        a = math.radians(angle_deg)
        c, s = math.cos(a), math.sin(a)
        x, y = out[:, 0].astype(np.float64), out[:, 1].astype(np.float64)
        out = np.column_stack([np.rint(c * x - s * y), np.rint(s * x + c * y)]).astype(np.int64)
    return np.ascontiguousarray(out[::-1]) if mirrored else out


def turned(kind: int, rings: Sequence[IntPoly], angle_deg: float, mirrored: bool) -> OrientedShape:
    """Make one turn of a part."""
    done = [turn_ring(r, angle_deg, mirrored) for r in rings]
    low = done[0].min(axis=0)
    high = done[0].max(axis=0)
    done = [r - low for r in done]
    return OrientedShape(
        kind=kind,
        angle_deg=angle_deg,
        mirrored=mirrored,
        rings=tuple(done),
        corner=(int(low[0]), int(low[1])),
        size=(int(high[0] - low[0]), int(high[1] - low[1])),
        area=sum(ring_area2(r) for r in done) / 2.0,
    )


def same_outline(a: OrientedShape, b: OrientedShape) -> bool:
    """Whether two turns cover the same points (compares outer rings from a canonical start)."""

    def key(t: OrientedShape) -> tuple[tuple[int, int], ...]:
        out: list[tuple[int, int]] = []
        for r in t.rings:
            pts = [(int(x), int(y)) for x, y in r]
            i = pts.index(min(pts))
            out += pts[i:] + pts[:i]
        return tuple(out)

    return bool(a.size == b.size and key(a) == key(b))


def grid_scale(values: Sequence[float], largest: float) -> int:
    """Choose grid units per unit of length so that given coordinates stay exact.

    A power of ten (as many decimals as the file has, at most 9) times a power of two, so that
    ``largest`` comes to between 2**26 and 2**27 grid units where the decimals leave pos_bounds.
    """
    decimals = 0
    for v in values:
        text = repr(float(v))
        if "e" in text:
            text = f"{v:.12f}"
        if "." in text:
            frac = text.split(".")[1].rstrip("0")
            decimals = max(decimals, len(frac))
    scale = 10 ** min(decimals, 9)
    while scale > 1 and largest * scale > 2**30:
        scale //= 10
    while largest * scale * 2 <= 2**27:
        scale *= 2
    return int(scale)
