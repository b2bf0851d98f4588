"""Perfect fits: parts whose area fills their containers to the last square, found by exact search.

In a perfect fit, the part beside an edge of the free region that starts at a corner of less than
180 degrees has a corner of its own there, and an edge along that edge. So the parts that can go
into such a corner are few; the corner with the fewest is filled first, and a corner that nothing
fits ends the branch. All tests are exact, on integers.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import gcd

import numpy as np
from numpy.typing import NDArray

from nestyield.nesting.exact import edge_rows, interiors_meet
from nestyield.nesting.shapes import OrientedShape, ring_area2

Vec = tuple[int, int]
LONGEST_SUM = 50_000
"""Edges up to this many steps are checked for sums of edges that fill them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """Where a part of a perfect fit lies.

    Parameters
    ----------
    kind : int
    shape : int
        Index into the shapes that were given.
    container : int
    x, y : int
        Lower left corner of the shape's bounds, grid units.
    """

    kind: int
    shape: int
    container: int
    x: int
    y: int


@dataclass(frozen=True, slots=True, kw_only=True)
class JigsawAnswer:
    """What the search for a perfect fit found.

    Parameters
    ----------
    fits : tuple of Fit or None
    nodes : int
        Placements tried.
    complete : bool
        With ``fits`` None: whether the search was exhausted, so that no perfect fit exists.
    """

    fits: tuple[Fit, ...] | None
    nodes: int
    complete: bool


@dataclass(frozen=True, slots=True)
class _Corner:
    shape: int
    at: Vec
    back: Vec  # direction of the edge that ends here, reversed
    span: int  # length of the edge that starts here, in primitive steps


class _Line:
    """Edges of the free region on one line, as changes of signed cover along it."""

    __slots__ = ("c", "steps", "u")

    def __init__(self, u: Vec, c: int) -> None:
        self.u = u
        self.c = c
        self.steps: dict[int, int] = {}

    def add(self, t0: int, t1: int, sign: int) -> None:
        for t, d in ((t0, sign), (t1, -sign)):
            v = self.steps.get(t, 0) + d
            if v:
                self.steps[t] = v
            else:
                self.steps.pop(t, None)

    def point(self, t: int) -> Vec:
        ux, uy = self.u
        n = ux * ux + uy * uy
        return (ux * t - uy * self.c) // n, (uy * t + ux * self.c) // n


class _Free:
    """The boundary of a free region, kept up to date as parts are put in and taken out."""

    def __init__(self, rings: Sequence[NDArray[np.int64]]) -> None:
        self.lines: dict[tuple[Vec, int], _Line] = {}
        for ring in rings:
            self.put(_ring_edges(ring), (0, 0), 1)

    def put(self, edges: Sequence[tuple[Vec, Vec, Vec]], at: Vec, sign: int) -> None:
        """Add directed edges shifted by ``at`` (sign +1), or take their reverses out (-1)."""
        ox, oy = at
        for (ax, ay), (bx, by), (ux, uy) in edges:
            c = ux * (ay + oy) - uy * (ax + ox)
            t0 = ux * (ax + ox) + uy * (ay + oy)
            t1 = ux * (bx + ox) + uy * (by + oy)
            if ux < 0 or (ux == 0 and uy < 0):
                key, t0, t1, s = ((-ux, -uy), -c), -t0, -t1, -sign
                t0, t1 = t1, t0
            else:
                key, s = ((ux, uy), c), sign
            line = self.lines.get(key)
            if line is None:
                line = self.lines[key] = _Line(*key)
            line.add(t0, t1, s)
            if not line.steps:
                del self.lines[key]

    def edges(self) -> list[tuple[Vec, Vec, Vec]]:
        """Directed edges (start, end, primitive direction), free region to the left."""
        out = []
        for line in self.lines.values():
            run = 0
            last = 0
            for t in sorted(line.steps):
                if run > 0:
                    out.append((line.point(last), line.point(t), line.u))
                elif run < 0:
                    out.append((line.point(t), line.point(last), (-line.u[0], -line.u[1])))
                run += line.steps[t]
                last = t
        return out


def _ring_edges(ring: NDArray[np.int64]) -> list[tuple[Vec, Vec, Vec]]:
    points = [(int(x), int(y)) for x, y in ring]
    out = []
    for i, a in enumerate(points):
        b = points[(i + 1) % len(points)]
        dx, dy = b[0] - a[0], b[1] - a[1]
        g = gcd(dx, dy)
        out.append((a, b, (dx // g, dy // g)))
    return out


def _span(a: Vec, b: Vec, u: Vec) -> int:
    return abs(b[0] - a[0]) // abs(u[0]) if u[0] else abs(b[1] - a[1]) // abs(u[1])


def _cross(a: Vec, b: Vec) -> int:
    return a[0] * b[1] - a[1] * b[0]


def _within(d: Vec, back: Vec, r: Vec) -> bool:
    """Whether ``back`` lies in the sector of less than 180 degrees from d to r (r included)."""
    return _cross(d, back) > 0 and _cross(back, r) >= 0


class _Search:
    def __init__(
        self,
        shapes: Sequence[OrientedShape],
        counts: Sequence[int],
        containers: Sequence[Sequence[NDArray[np.int64]]],
        rng: np.random.Generator,
        stop: Callable[[], bool],
    ) -> None:
        self.shapes = shapes
        self.left = list(counts)
        self.containers = containers
        self.rng = rng
        self.stop = stop
        self.rows = [edge_rows(s.rings) for s in shapes]
        self.edges = [[e for r in s.rings for e in _ring_edges(r)] for s in shapes]
        self.corners: dict[Vec, list[_Corner]] = {}
        for k, s in enumerate(shapes):
            for ring in s.rings:
                own = _ring_edges(ring)
                for i, (a, b, u) in enumerate(own):
                    v = own[i - 1][2]
                    back = (-v[0], -v[1])
                    if _cross(u, back) > 0:
                        self.corners.setdefault(u, []).append(_Corner(k, a, back, _span(a, b, u)))
        self.lengths: dict[Vec, dict[int, list[int]]] = {}
        for k, s in enumerate(shapes):
            for a, b, u in self.edges[k]:
                self.lengths.setdefault(u, {}).setdefault(s.kind, []).append(_span(a, b, u))
        self.fits: list[Fit] = []
        self.bounds = [
            (int(c[0][:, 0].min()), int(c[0][:, 1].min()), int(c[0][:, 0].max()), int(c[0][:, 1].max()))
            for c in containers
        ]
        self.walls = [self._walls(c, b) for c, b in zip(containers, self.bounds)]
        self.nodes = 0
        self.limit = 0
        self.weight = self.rng.random(len(shapes))

    @staticmethod
    def _walls(rings: Sequence[NDArray[np.int64]], b: tuple[int, int, int, int]) -> list[NDArray[np.int64]]:
        """Outside of a container within a frame, as rows; none for a rectangle along the axes."""
        if len(rings) == 1 and abs(ring_area2(rings[0])) == 2 * (b[2] - b[0]) * (b[3] - b[1]):
            return []
        frame = np.array(
            [[b[0] - 1, b[1] - 1], [b[2] + 1, b[1] - 1], [b[2] + 1, b[3] + 1], [b[0] - 1, b[3] + 1]]
        )
        return [edge_rows([frame, *(np.ascontiguousarray(r[::-1]) for r in rings)])]

    def _clear(self, bin_: int, k: int, x: int, y: int) -> bool:
        b = self.bounds[bin_]
        w, h = self.shapes[k].size
        if x < b[0] or y < b[1] or x + w > b[2] or y + h > b[3]:
            return False
        for wall in self.walls[bin_]:
            if interiors_meet(wall, self.rows[k], x, y):
                return False
        for f in self.fits:
            if f.container != bin_:
                continue
            w2, h2 = self.shapes[f.shape].size
            boxes_meet = x < f.x + w2 and f.x < x + w and y < f.y + h2 and f.y < y + h
            if boxes_meet and interiors_meet(self.rows[f.shape], self.rows[k], x - f.x, y - f.y):
                return False
        return True

    def _sums(self, d: Vec) -> int:
        """Bit set of all sums of edges in direction d that the remaining parts could lay end to end."""
        reach = 1
        for kind, spans in self.lengths.get(d, {}).items():
            for _ in range(self.left[kind]):
                for span in spans:
                    reach |= reach << span
        return reach

    def _options(self, free: _Free, bin_: int) -> list[tuple[int, int, int]] | None:
        """Placements into the tightest corner; empty when a corner takes nothing; None when full."""
        edges = free.edges()
        if not edges:
            return None
        ends: dict[Vec, list[Vec]] = {}
        for _, b, u in edges:
            ends.setdefault(b, []).append((-u[0], -u[1]))
        starts: dict[Vec, list[Vec]] = {}
        for a, _, d in edges:
            starts.setdefault(a, []).append(d)
        sums: dict[Vec, int] = {}
        best: list[tuple[int, int, int]] | None = None
        for a, b, d in edges:
            sector: Vec | None = None
            wide = False
            for r in ends.get(a, ()):
                side = _cross(d, r)
                if side > 0:
                    if sector is None or _cross(r, sector) > 0:
                        sector = r
                else:
                    wide = True
            if sector is None:
                if not wide:
                    return []
                continue
            # an edge with a corner of less than 180 degrees at both ends is filled by edges end to end
            span = _span(a, b, d)
            closed = span <= LONGEST_SUM and all(_cross(d, e) > 0 for e in starts.get(b, ()))
            if closed:
                if d not in sums:
                    sums[d] = self._sums(d)
                if not sums[d] >> span & 1:
                    return []
            options = []
            seen = set()
            for corner in self.corners.get(d, ()):
                s = self.shapes[corner.shape]
                if not self.left[s.kind] or not _within(d, corner.back, sector):
                    continue
                if closed and (corner.span > span or not sums[d] >> (span - corner.span) & 1):
                    continue
                x, y = a[0] - corner.at[0], a[1] - corner.at[1]
                if (corner.shape, x, y) in seen or not self._clear(bin_, corner.shape, x, y):
                    continue
                seen.add((corner.shape, x, y))
                options.append((corner.shape, x, y))
            if best is None or len(options) < len(best):
                best = options
                if len(best) <= 1:
                    break
        return best if best is not None else []

    def run(self, bin_: int, free: _Free) -> bool:
        options = self._options(free, bin_)
        if options is None:
            if bin_ + 1 == len(self.containers) or not any(self.left):
                return not any(self.left)
            return self.run(bin_ + 1, _Free(self.containers[bin_ + 1]))
        if len(options) > 1:
            options.sort(key=lambda o: self.weight[o[0]])
        for k, x, y in options:
            self.nodes += 1
            if self.nodes >= self.limit or self.stop():
                raise TimeoutError
            kind = self.shapes[k].kind
            self.left[kind] -= 1
            self.fits.append(Fit(kind=kind, shape=k, container=bin_, x=x, y=y))
            free.put(self.edges[k], (x, y), -1)
            if self.run(bin_, free):
                return True
            free.put(self.edges[k], (x, y), 1)
            self.fits.pop()
            self.left[kind] += 1
        return False


def perfect_fit(
    shapes: Sequence[OrientedShape],
    counts: Sequence[int],
    containers: Sequence[Sequence[NDArray[np.int64]]],
    *,
    rng: np.random.Generator,
    effort: int = 200_000,
    stop: Callable[[], bool] = lambda: False,
) -> JigsawAnswer:
    """Look for a layout in which the parts fill the containers completely.

    Parameters
    ----------
    shapes : sequence of OrientedShape
    counts : sequence of int
        Copies of each kind of part.
    containers : sequence of regions
        Each a list of rings ``(n, 2)`` int64, outer counter-clockwise first.
    rng : numpy.random.Generator
        Orders equal choices; a search that runs long starts again in another order.
    effort : int
        Most placements tried.
    stop : callable
        Ends the search early when it returns True.
    """
    total = sum(
        counts[k] * next(s.area for s in shapes if s.kind == k) for k in range(len(counts)) if counts[k]
    )
    room = sum(sum(ring_area2(r) for r in c) for c in containers) / 2
    if total != room:
        return JigsawAnswer(fits=None, nodes=0, complete=True)
    unit = int(
        np.gcd.reduce(
            np.concatenate(
                [r.ravel() for s in shapes for r in s.rings] + [r.ravel() for c in containers for r in c]
            )
        )
    )
    if unit > 1:
        shapes = [
            replace(s, rings=tuple(r // unit for r in s.rings), size=(s.size[0] // unit, s.size[1] // unit))
            for s in shapes
        ]
        containers = [[r // unit for r in c] for c in containers]
    nodes = 0
    turn = 0
    limit = 500
    while nodes < effort and not stop():
        search = _Search(shapes, counts, containers, rng, stop)
        areas = np.array([s.area for s in shapes])
        if turn == 0:
            search.weight = -areas
        else:
            search.weight = -areas * (0.3 + search.weight)
        search.limit = min(limit, effort - nodes)
        try:
            found = search.run(0, _Free(containers[0]))
        except TimeoutError:
            nodes += search.nodes
            turn += 1
            limit = int(limit * 1.15)
            continue
        nodes += search.nodes
        return JigsawAnswer(
            fits=tuple(replace(f, x=f.x * unit, y=f.y * unit) for f in search.fits) if found else None,
            nodes=nodes,
            complete=not found,
        )
    return JigsawAnswer(fits=None, nodes=nodes, complete=False)
