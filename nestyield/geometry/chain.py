"""Open strands of lines and arcs, joined end to end into closed outlines."""

from __future__ import annotations

import itertools
import math
from collections import defaultdict
from dataclasses import dataclass

from nestyield.model import Outline, Point

#: Ends closer than this are one point: a tenth of the grid.
WELD_MM = 0.0001


@dataclass(frozen=True, slots=True, kw_only=True)
class Strand:
    """An open run of lines and arcs.

    Parameters
    ----------
    points_mm : tuple of (x, y)
        At least two.
    bulges : tuple of float
        One less than points; at most 1 in size, so that moving an end by a gap moves no arc by more.
    source : int
        Whatever the caller wants to recognize it by.
    """

    points_mm: tuple[Point, ...]
    bulges: tuple[float, ...]
    source: int

    def reversed(self) -> Strand:
        """Return the same strand run the other way."""
        return Strand(
            points_mm=self.points_mm[::-1],
            bulges=tuple(-b for b in reversed(self.bulges)),
            source=self.source,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """A gap that was closed.

    Parameters
    ----------
    at_mm : (x, y)
        Where the ends now meet.
    width_mm : float
    sources : (int, int)
        Of the two strands.
    """

    at_mm: Point
    width_mm: float
    sources: tuple[int, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Chain:
    """Strands joined end to end.

    Parameters
    ----------
    points_mm, bulges : tuple
        As in Strand; a closed chain's last point is its first.
    sources : tuple of int
        In order along the chain.
    closed : bool
    gaps : tuple of Gap
        Gaps wider than ``WELD_MM`` that were closed.
    """

    points_mm: tuple[Point, ...]
    bulges: tuple[float, ...]
    sources: tuple[int, ...]
    closed: bool
    gaps: tuple[Gap, ...] = ()

    def outline(self) -> Outline:
        """Return a closed chain as an outline."""
        return Outline(points_mm=self.points_mm[:-1], bulges=self.bulges)


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenEndRun:
    """A point where more than two ends meet.

    Parameters
    ----------
    at_mm : (x, y)
    sources : tuple of int
    """

    at_mm: Point
    sources: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Chains:
    """Result of ``chain``.

    Parameters
    ----------
    closed, open : tuple of Chain
        In order of their first strand.
    branches : tuple of OpenEndRun
        Where three or more ends meet; nothing is joined there.
    doubled : tuple of (int, int)
        Strands left out because they run exactly over an earlier one: (left out, kept).
    """

    closed: tuple[Chain, ...]
    open: tuple[Chain, ...]
    branches: tuple[OpenEndRun, ...]
    doubled: tuple[tuple[int, int], ...]


End = tuple[int, int]  # strand index, 0 for its beginning and 1 for its end


def chain(strands: list[Strand], tolerance_mm: float) -> Chains:
    """Join strands end to end.

    Ends within ``WELD_MM`` of each other are one point. Of the ends left over, the nearest two within
    the tolerance are joined first, halfway between them. Nothing is joined where more than two ends
    meet, and a run no longer than twice the tolerance is not closed onto itself.

    Parameters
    ----------
    strands : list of Strand
    tolerance_mm : float
        Widest gap that is closed, at least 0.

    Returns
    -------
    Chains
    """
    every = _weld([_at(s, e) for s in strands for e in (0, 1)])
    kept_at, doubled = _without_doubles(strands, every)
    kept = [strands[i] for i in kept_at]
    nodes = [every[2 * i + e] for i in kept_at for e in (0, 1)]
    members: dict[int, list[End]] = defaultdict(list)
    for index, node in enumerate(nodes):
        members[node].append((index // 2, index % 2))
    partner: dict[End, End] = {}
    branches: list[OpenEndRun] = []
    loose: list[End] = []
    for ends in members.values():
        if len(ends) == 2:
            partner[ends[0]], partner[ends[1]] = ends[1], ends[0]
        elif len(ends) == 1:
            loose.append(ends[0])
        else:
            sources = tuple(dict.fromkeys(kept[s].source for s, _ in ends))
            branches.append(OpenEndRun(at_mm=_at(kept[ends[0][0]], ends[0][1]), sources=sources))
    _bridge(kept, loose, partner, tolerance_mm)
    closed, open_ = _walk(kept, partner)
    return Chains(closed=tuple(closed), open=tuple(open_), branches=tuple(branches), doubled=tuple(doubled))


def _at(strand: Strand, end: int) -> Point:
    return strand.points_mm[-1 if end else 0]


def _without_doubles(strands: list[Strand], nodes: list[int]) -> tuple[list[int], list[tuple[int, int]]]:
    """Leave out strands that run over an earlier one, either way round; returns indices of the others."""
    seen: dict[tuple[int, int], list[int]] = defaultdict(list)
    kept: list[int] = []
    doubled: list[tuple[int, int]] = []
    for index, strand in enumerate(strands):
        ends = nodes[2 * index], nodes[2 * index + 1]
        alike = seen[min(ends), max(ends)]
        first = next((k for k in alike if same_run(strands[k], strand)), None)
        if first is None:
            kept.append(index)
            alike.append(index)
        else:
            doubled.append((strand.source, strands[first].source))
    return kept, doubled


def same_run(a: Strand, b: Strand) -> bool:
    """Tell whether two strands run over the same points, either way, within ``WELD_MM``."""
    if len(a.points_mm) != len(b.points_mm):
        return False
    for other in (b, b.reversed()):
        points = all(math.dist(p, q) <= WELD_MM for p, q in zip(a.points_mm, other.points_mm))
        if points and all(abs(p - q) <= 1e-6 for p, q in zip(a.bulges, other.bulges)):
            return True
    return False


def _weld(points: list[Point]) -> list[int]:
    """Number the points so that those within ``WELD_MM`` (also over several steps) share a number."""
    root = list(range(len(points)))

    def find(i: int) -> int:
        while root[i] != i:
            root[i] = root[root[i]]
            i = root[i]
        return i

    for i, j, _ in _near_pairs(points, WELD_MM):
        a, b = find(i), find(j)
        if a != b:
            root[max(a, b)] = min(a, b)
    return [find(i) for i in range(len(points))]


def _near_pairs(points: list[Point], reach: float) -> list[tuple[int, int, float]]:
    """Return pairs ``i < j`` of points at most ``reach`` apart, with their distance."""
    cells: dict[tuple[int, int], list[int]] = defaultdict(list)
    pairs = []
    for j, (x, y) in enumerate(points):
        cx, cy = math.floor(x / reach), math.floor(y / reach)
        for dx in (-1, 0, 1):
            for dy in (-1, 0, 1):
                for i in cells.get((cx + dx, cy + dy), ()):
                    distance = math.dist(points[i], (x, y))
                    if distance <= reach:
                        pairs.append((i, j, distance))
        cells[cx, cy].append(j)
    return pairs


def _bridge(kept: list[Strand], loose: list[End], partner: dict[End, End], tolerance: float) -> None:
    """Join loose ends across gaps, nearest first."""
    if tolerance <= WELD_MM or len(loose) < 2:
        return
    points = [_at(kept[s], e) for s, e in loose]
    far, length = _runs(kept, loose, partner)
    for i, j, distance in sorted(_near_pairs(points, tolerance), key=lambda p: (p[2], p[0], p[1])):
        a, b = loose[i], loose[j]
        if a in partner or b in partner:
            continue
        if far[a] == b:
            if length[a] <= 2.0 * tolerance:
                continue
        else:
            total = length[a] + length[b] + distance
            ends = far[a], far[b]
            far[ends[0]], far[ends[1]] = ends[1], ends[0]
            length[ends[0]] = length[ends[1]] = total
        partner[a], partner[b] = b, a


def _runs(
    kept: list[Strand], loose: list[End], partner: dict[End, End]
) -> tuple[dict[End, End], dict[End, float]]:
    """Return for each loose end the other end of its run, and the run's length."""
    far: dict[End, End] = {}
    length: dict[End, float] = {}
    for end in loose:
        strand, side = end
        total = 0.0
        while True:
            total += _length(kept[strand])
            leave = (strand, 1 - side)
            if leave not in partner:
                break
            strand, side = partner[leave]
        far[end], length[end] = leave, total
    for leave in set(far.values()) - set(far):  # the run ends in a branch
        length.setdefault(leave, 0.0)
    return far, length


def _length(strand: Strand) -> float:
    return sum(math.dist(p, q) for p, q in zip(strand.points_mm, strand.points_mm[1:]))


def _walk(kept: list[Strand], partner: dict[End, End]) -> tuple[list[Chain], list[Chain]]:
    closed: list[Chain] = []
    open_: list[Chain] = []
    used: set[int] = set()
    for first in range(len(kept)):
        if first in used:
            continue
        start: End = (first, 0)
        while start in partner:  # back to the beginning of the run, or once around
            strand, side = partner[start]
            start = (strand, 1 - side)
            if start == (first, 0):
                break
        is_closed = start in partner
        run: list[End] = []
        at: End | None = start
        while at is not None and at[0] not in used:
            used.add(at[0])
            run.append(at)
            at = partner.get((at[0], 1 - at[1]))
        (closed if is_closed else open_).append(_join([_along(kept, end) for end in run], is_closed))
    return closed, open_


def _along(kept: list[Strand], end: End) -> Strand:
    return kept[end[0]] if end[1] == 0 else kept[end[0]].reversed()


def _join(run: list[Strand], closed: bool) -> Chain:
    """Join strands that follow each other; ends that do not touch meet halfway."""
    points: list[Point] = list(run[0].points_mm)
    bulges: list[float] = list(run[0].bulges)
    gaps: list[Gap] = []
    for before, strand in itertools.pairwise(run):
        points[-1] = _meet(points[-1], strand.points_mm[0], before, strand, gaps)
        points += strand.points_mm[1:]
        bulges += strand.bulges
    if closed:
        points[0] = points[-1] = _meet(points[-1], points[0], run[-1], run[0], gaps)
    return Chain(
        points_mm=tuple(points),
        bulges=tuple(bulges),
        sources=tuple(dict.fromkeys(s.source for s in run)),
        closed=closed,
        gaps=tuple(gaps),
    )


def _meet(a: Point, b: Point, before: Strand, after: Strand, gaps: list[Gap]) -> Point:
    width = math.dist(a, b)
    middle = (0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])) if a != b else a
    if width > WELD_MM:
        gaps.append(Gap(at_mm=middle, width_mm=width, sources=(before.source, after.source)))
    return middle
