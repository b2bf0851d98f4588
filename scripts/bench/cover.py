"""Exact tilings on a square lattice: every way to cover cells with given pieces.

The first empty cell must be covered by some piece; the search goes through the placements that have that cell
first. A branch ends when an enclosed patch of empty cells has a size that no sum of remaining pieces gives.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nestyield.nesting.jit import kernel

Cell = tuple[int, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Tilings:
    """All tilings that were found.

    Parameters
    ----------
    solutions : (m, cells) int
        Index of the piece on each cell, in the order of ``cells``.
    cells : tuple of Cell
    complete : bool
        Whether the search was exhausted.
    nodes : int
    """

    solutions: NDArray[np.int16]
    cells: tuple[Cell, ...]
    complete: bool
    nodes: int

    def distinct(self) -> int:
        """Count of tilings that are no turned or mirrored copies of each other."""
        at = {c: i for i, c in enumerate(self.cells)}
        maps = []
        for turn in range(4):
            for mirror in (False, True):
                moved = [_turn(c, turn, mirror) for c in self.cells]
                dx = min(x for x, _ in moved) - min(x for x, _ in self.cells)
                dy = min(y for _, y in moved) - min(y for _, y in self.cells)
                back = [(x - dx, y - dy) for x, y in moved]
                if all(c in at for c in back):
                    maps.append(np.array([at[c] for c in back]))
        seen = set()
        for row in self.solutions:
            images = []
            for m in maps:
                image = np.empty_like(row)
                image[m] = row
                images.append(image.tobytes())
            seen.add(min(images))
        return len(seen)


def _turn(cell: Cell, quarter: int, mirror: bool) -> Cell:
    x, y = (-cell[0], cell[1]) if mirror else cell
    for _ in range(quarter):
        x, y = -y, x
    return x, y


def _variants(piece: Sequence[Cell], turn: bool, mirror: bool) -> list[tuple[Cell, ...]]:
    out = set()
    for q in range(4 if turn else 1):
        for m in (False, True) if mirror else (False,):
            moved = [_turn(c, q, m) for c in piece]
            x0, y0 = min(x for x, _ in moved), min(y for _, y in moved)
            out.add(tuple(sorted((x - x0, y - y0) for x, y in moved)))
    return sorted(out)


@kernel
def _cover(
    cells: int,
    words: int,
    masks: Any,
    start: Any,
    piece: Any,
    left: Any,
    near: Any,
    sizes: Any,
    out: Any,
    limit: int,
) -> tuple[int, int, bool]:
    """Enumerate covers; returns (solutions kept, nodes, complete)."""
    full = np.zeros((cells + 1, words), dtype=np.int64)
    choice = np.full(cells + 1, -1, dtype=np.int64)
    first = np.zeros(cells + 1, dtype=np.int64)
    cursor = np.zeros(cells + 1, dtype=np.int64)
    stack = np.zeros(cells, dtype=np.int64)
    seen = np.zeros(cells, dtype=np.bool_)
    found = 0
    nodes = 0
    depth = 0
    first[0] = 0
    cursor[0] = start[0]
    while depth >= 0:
        c = first[depth]
        if choice[depth] >= 0:  # take the last choice out
            left[piece[choice[depth]]] += 1
            choice[depth] = -1
        advanced = False
        while cursor[depth] < start[c + 1]:
            p = cursor[depth]
            cursor[depth] += 1
            if left[piece[p]] == 0:
                continue
            clash = False
            for w in range(words):
                if masks[p, w] & full[depth, w]:
                    clash = True
            if clash:
                continue
            nodes += 1
            if nodes > limit:
                return found, nodes, False
            for w in range(words):
                full[depth + 1, w] = full[depth, w] | masks[p, w]
            left[piece[p]] -= 1
            # next empty cell
            k = c + 1
            while k < cells and full[depth + 1, k // 62] >> (k % 62) & 1:
                k += 1
            if k == cells:
                choice[depth] = p
                if found < out.shape[0]:
                    for d in range(depth + 1):
                        for i in range(cells):
                            if masks[choice[d], i // 62] >> (i % 62) & 1:
                                out[found, i] = piece[choice[d]]
                    found += 1
                else:
                    return found, nodes, False
                choice[depth] = -1
                left[piece[p]] += 1
                continue
            # the patch of empty cells around k
            seen[:] = False
            stack[0] = k
            seen[k] = True
            top = 1
            patch = 0
            while top > 0:
                top -= 1
                i = stack[top]
                patch += 1
                for e in range(4):
                    j = near[i, e]
                    if j >= 0 and not seen[j] and not full[depth + 1, j // 62] >> (j % 62) & 1:
                        seen[j] = True
                        stack[top] = j
                        top += 1
            if not sizes[patch]:
                left[piece[p]] += 1
                continue
            choice[depth] = p
            depth += 1
            first[depth] = k
            cursor[depth] = start[k]
            choice[depth] = -1
            advanced = True
            break
        if not advanced:
            depth -= 1
    return found, nodes, True


def tilings(
    cells: Sequence[Cell],
    pieces: Sequence[Sequence[Cell]],
    counts: Sequence[int],
    *,
    turn: bool = True,
    mirror: bool = True,
    most: int = 100_000,
    effort: int = 2_000_000_000,
) -> Tilings:
    """Find every cover of ``cells`` that uses each piece exactly as often as ``counts`` says.

    Parameters
    ----------
    cells : sequence of (column, row)
    pieces : sequence of cells
    counts : sequence of int
    turn, mirror : bool
        Whether pieces may be turned by quarter turns, or turned over.
    most : int
        Most tilings kept.
    effort : int
        Most placements tried.
    """
    order = sorted(cells, key=lambda c: (c[0], c[1]))
    columns, rows = len({x for x, _ in order}), len({y for _, y in order})
    if rows > columns:  # go along the long side
        order = sorted(cells, key=lambda c: (c[1], c[0]))
    at = {c: i for i, c in enumerate(order)}
    n = len(order)
    empty = Tilings(solutions=np.zeros((0, n), np.int16), cells=tuple(order), complete=True, nodes=0)
    if n == 0 or sum(len(p) * c for p, c in zip(pieces, counts)) != n:
        return empty
    words = (n + 61) // 62
    options: list[list[tuple[int, list[int]]]] = [[] for _ in range(n)]
    for k, piece in enumerate(pieces):
        for variant in _variants(piece, turn, mirror) if counts[k] else []:
            for x, y in order:
                covered = [at.get((x + a, y + b), -1) for a, b in variant]
                if min(covered) >= 0:
                    options[min(covered)].append((k, covered))
    flat = [o for row in options for o in row]
    start = np.cumsum([0, *(len(row) for row in options)]).astype(np.int64)
    masks = np.zeros((max(1, len(flat)), words), dtype=np.int64)
    for i, (_, covered) in enumerate(flat):
        for c in covered:
            masks[i, c // 62] |= np.int64(1 << (c % 62))
    piece_of = np.array([k for k, _ in flat] or [0], dtype=np.int64)
    near = np.array(
        [[at.get((x + dx, y + dy), -1) for dx, dy in ((1, 0), (-1, 0), (0, 1), (0, -1))] for x, y in order],
        dtype=np.int64,
    )
    sums = 1
    for p, c in zip(pieces, counts):
        for _ in range(c):
            sums |= sums << len(p)
    sizes = np.array([bool(sums >> s & 1) for s in range(n + 1)])
    out = np.zeros((most, n), dtype=np.int16)
    found, nodes, complete = _cover(
        n, words, masks, start, piece_of, np.array(counts, dtype=np.int64), near, sizes, out, effort
    )
    return Tilings(
        solutions=out[:found].copy(), cells=tuple(order), complete=bool(complete), nodes=int(nodes)
    )
