"""Leftovers: in the blank, apart, clear of the cutter, as large as told; nothing worth keeping is called waste."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from . import shapes
from .shapes import TOL
from .told import Findings, Laid

#: No more rectangles are sawn off one blank; what is over is waste (schema, ``Leftover.usable``).
MOST_SAWN = 8
#: A leftover short of the least size by no more is kept all the same, mm.
LEAST_TOL = 0.031


def check(laid: Laid, out: Findings) -> None:
    """Check the leftovers of one layout."""
    told = laid.layout.get("leftovers", [])
    grain = laid.blank["grain_deg"] or 0.0
    kept: list[BaseGeometry] = []
    names = [x["name"] for x in told]
    out.expect(len(set(names)) == len(names), "leftovers", laid.name, f"names twice: {names}")
    for x in told:
        where, shape = f"{laid.name} {x['name']}", shapes.region(x["shape"])
        out.expect(x["name"].startswith(laid.name + "-"), "leftovers", where, "is not named for its blank")
        out.expect(laid.wood.buffer(TOL).contains(shape), "leftovers", where, "is not in the blank")
        near = min((p.distance(shape) for p in laid.parts), default=1e9)
        c = laid.told.cutter
        out.expect(near >= c - 0.05, "leftovers", where, f"{near:.3f} mm to a part, the cutter takes {c}")
        # chords of curved grooves lie on either side of a saw line by hundredths of a millimeter
        shared = max((k.intersection(shape).buffer(-0.02).area for k in kept), default=0.0)
        out.expect(shared == 0.0, "leftovers", where, f"{shared:.3f} mm2 of another one")
        kept.append(shape)
        right = abs(shape.area - x["area_mm2"]) <= 0.5 + 1e-4 * shape.area
        out.expect(right, "leftovers", where, f"told {x['area_mm2']:.1f} mm2, it is {shape.area:.1f}")
        size(laid, x, shape, grain, where, out)
    used = sum(x["area_mm2"] for x in told if x["usable"])
    right = laid.layout["usable_area_mm2"] >= used - 1.0
    out.expect(
        right, "usable area", laid.name, f"{laid.layout['usable_area_mm2']} told, leftovers {used:.1f}"
    )


def size(laid: Laid, x: dict, shape: BaseGeometry, grain: float, where: str, out: Findings) -> None:
    """The rectangle lies in it, and decides what is usable; none that is much larger does."""
    s = laid.told.settings
    long, narrow = s.get("leftover_shortest_mm", 200.0), s.get("leftover_narrowest_mm", 50.0)
    length, width = x["rectangle_mm"][2:]
    box = shapes.rectangle(x["rectangle_mm"], grain)
    if length > 0 and width > 0:
        missing = box.difference(shape.buffer(TOL)).area
        out.expect(missing < 0.05, "rectangle", where, f"{missing:.3f} mm2 of it are outside")
    # what the saw takes around leftovers is counted with the scraps
    saw = 0.0 if x["usable"] else 2 * laid.told.rule("machines", "saw_kerf_mm", 3.2)
    a, b = length - saw + LEAST_TOL, width - saw + LEAST_TOL
    enough = a >= long and b >= narrow and min(length, width) > saw
    if laid.is_sheet:
        enough = enough or (b >= long and a >= narrow and min(length, width) > saw)
    full = sum(y["usable"] for y in laid.layout["leftovers"]) >= MOST_SAWN and not x["usable"]
    full = full or bool(laid.blank.get("stack"))  # of a laminated blank nothing goes back
    out.expect(x["usable"] == enough or full, "usable", where, f"usable {x['usable']}, {length} x {width} mm")
    if s.get("leftover_cut", "saw") == "saw" and x["usable"]:
        off = shape.area - box.area
        out.expect(
            abs(off) < 0.1 + 1e-4 * shape.area, "rectangle", where, f"a saw leaves {off:.2f} mm2 beside it"
        )
    sizes = [(length, width), (width, length)] if laid.is_sheet else [(length, width)]
    near = any(p + LEAST_TOL >= long and q + LEAST_TOL >= narrow for p, q in sizes)
    best = largest(shape, grain)
    right = best <= length * width * 1.03 + 20.0 or near  # one worth keeping goes before a larger one
    out.expect(right, "rectangle", where, f"told {length} x {width} mm, one of {best:.0f} mm2 is in it")


def largest(shape: BaseGeometry, grain: float, n: int = 70) -> float:
    """Return the area of the largest rectangle along the grain that is made of cells wholly inside: a lower bound."""
    c, s = shapes.turn(-grain)
    flat = affinity.affine_transform(shape, [c, -s, s, c, 0, 0])
    x0, y0, x1, y1 = flat.bounds
    if x1 - x0 < 1e-3 or y1 - y0 < 1e-3:
        return 0.0
    xs, ys = np.linspace(x0, x1, n + 1), np.linspace(y0, y1, n + 1)
    shapely.prepare(flat)
    gx, gy = np.meshgrid(xs[:-1], ys[:-1])
    cells = shapely.box(gx, gy, gx + (xs[1] - xs[0]), gy + (ys[1] - ys[0]))
    inside = shapely.contains(flat, cells)
    best, tall = 0, np.zeros(n, dtype=int)
    for row in inside:
        tall = np.where(row, tall + 1, 0)
        stack: list[tuple[int, int]] = []
        for k, h in enumerate([*tall.tolist(), 0]):
            start = k
            while stack and stack[-1][1] >= h:
                start, high = stack.pop()
                best = max(best, high * (k - start))
            stack.append((start, h))
    return best * (xs[1] - xs[0]) * (ys[1] - ys[0])
