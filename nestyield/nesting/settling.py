"""A few bodies moved and turned together until they are clear of each other and of what stands still.

Each step is a linear program: near pairs of convex pieces give rows that hold to first order in moves and
turns, what overlaps is let overlap at a price, and no step goes farther than a reach that shrinks where it
promised too much (sequential linear programming; for moves alone: Li, Milenkovic 1995; with turns: Stoyan,
Pankratov, Romanova 2016).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nestyield.nesting.contacts import find_contacts
from nestyield.nesting.convex import ConvexPiece
from nestyield.nesting.linear import solve

#: Overlaps of this in all count as none, millimeters.
CLEAR_MM = 1e-4
#: Room around everything that is asked for at the most, millimeters.
MOST_ROOM_MM = 0.4
#: Steps at most, and least reach, millimeters.
MOST_STEPS, LEAST_REACH_MM = 60, 2e-3
#: What a millimeter of overlap costs against one of room.
OVERLAP_PRICE = 20.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Body:
    """Something that moves as one: its regions, as seen from the middle that it turns about.

    Parameters
    ----------
    groups : tuple of sequence of ConvexPiece
        Regions that must stay clear of some others; millimeters from the middle, at angle 0.
    radius_mm : float
        Farthest point from the middle.
    low_deg, high_deg : float
        Angles that it may have.
    """

    groups: tuple[Sequence[ConvexPiece], ...]
    radius_mm: float
    low_deg: float
    high_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Settled:
    """Where bodies came to lie.

    Parameters
    ----------
    poses : (n, 3) float
        x, y of the middle in millimeters, and the angle in degrees.
    overlap_mm : float
        Sum of what is left of overlaps; 0 up to `CLEAR_MM` when all is clear.
    room_mm : float
        Least distance between what must stay clear of each other, as far as it was looked for.
    """

    poses: NDArray[np.float64]
    overlap_mm: float
    room_mm: float


class Settling:
    """Bodies, what stands still, and what must stay clear of what.

    Parameters
    ----------
    bodies : sequence of Body
    fixed : sequence of sequence of ConvexPiece
        Regions that stand still.
    tests : sequence of ((body, group), (body, group))
        Pairs of regions that must stay clear of each other; body -1 for what stands still, by its index.
    """

    def __init__(
        self,
        bodies: Sequence[Body],
        fixed: Sequence[Sequence[ConvexPiece]],
        tests: Sequence[tuple[tuple[int, int], tuple[int, int]]],
    ) -> None:
        self.bodies = bodies
        groups: list[tuple[int, Sequence[ConvexPiece]]] = []
        index: dict[tuple[int, int], int] = {}
        for k, b in enumerate(bodies):
            for g, pieces in enumerate(b.groups):
                index[k, g] = len(groups)
                groups.append((k, pieces))
        for g, pieces in enumerate(fixed):
            index[-1, g] = len(groups)
            groups.append((-1, pieces))
        pieces_all = [p for _, pieces in groups for p in pieces]
        sizes = [len(p.points) for p in pieces_all]
        self._start = np.concatenate([[0], np.cumsum(sizes)]).astype(np.int64)
        self._group = np.concatenate([[0], np.cumsum([len(p) for _, p in groups])]).astype(np.int64)
        self._body = np.array([k for k, _ in groups], dtype=np.int64)
        self._points = np.concatenate([p.points for p in pieces_all])
        self._outer = np.concatenate([p.outer for p in pieces_all])
        owner = np.repeat(self._body, np.diff(self._group))
        self._of_piece = owner
        self._of_point = np.repeat(owner, sizes)
        self._center = np.array([(p.points.min(axis=0) + p.points.max(axis=0)) / 2 for p in pieces_all])
        self._radius = np.array([np.hypot(*(p.points - c).T).max() for p, c in zip(pieces_all, self._center)])
        self._tests = np.array([(index[a], index[b]) for a, b in tests], dtype=np.int64).reshape(-1, 2)
        self._room_for = 4096

    def _laid(self, poses: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return corners and circles of all pieces where the bodies lie."""
        out = []
        for values, of in ((self._points, self._of_point), (self._center, self._of_piece)):
            moved = values.copy()
            for k, (x, y, deg) in enumerate(poses):
                c, s = math.cos(math.radians(deg)), math.sin(math.radians(deg))
                own = of == k
                v = values[own]
                moved[own] = np.column_stack([c * v[:, 0] - s * v[:, 1] + x, s * v[:, 0] + c * v[:, 1] + y])
            out.append(moved)
        return out[0], out[1]

    def contacts(
        self, poses: NDArray[np.float64], reach_mm: float
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return the rows and the distances of near pairs; see `find_contacts`."""
        points, center = self._laid(poses)
        while True:
            rows, apart = np.empty((self._room_for, 8)), np.empty(self._room_for)
            count, pairs = find_contacts(
                points,
                self._outer,
                self._start,
                self._group,
                center,
                self._radius,
                self._body,
                self._tests,
                reach_mm,
                rows,
                apart,
            )
            if count >= 0:
                return rows[:count], apart[:pairs]
            self._room_for *= 4

    def settle(self, poses: NDArray[np.float64], reach_mm: float) -> Settled:
        """Move and turn the bodies until all is clear, then to where there is most room.

        Parameters
        ----------
        poses : (n, 3) float
            Where they begin.
        reach_mm : float
            How far a corner may move in the first step.
        """
        now = poses.copy()
        rows, apart = self.contacts(now, 2.0 * reach_mm)
        worth = _worth(apart)
        for _ in range(MOST_STEPS):
            if reach_mm < LEAST_REACH_MM:
                break
            step = self._step(now, rows, apart, reach_mm)
            if step is None:
                break
            then = now + step
            for k, b in enumerate(self.bodies):
                then[k, 2] = min(max(then[k, 2], b.low_deg), b.high_deg)
            more_rows, more_apart = self.contacts(then, 2.0 * reach_mm)
            gain = worth - _worth(more_apart)
            if gain <= 1e-6:
                reach_mm *= 0.4
                rows, apart = self.contacts(now, 2.0 * reach_mm)
                continue
            now, rows, apart, worth = then, more_rows, more_apart, worth - gain
            reach_mm *= 1.2
            if _overlap(apart) <= CLEAR_MM and _room(apart) >= MOST_ROOM_MM:
                break
        return Settled(poses=now, overlap_mm=_overlap(apart), room_mm=_room(apart))

    def _step(
        self,
        poses: NDArray[np.float64],
        rows: NDArray[np.float64],
        apart: NDArray[np.float64],
        reach_mm: float,
    ) -> NDArray[np.float64] | None:
        """Return the best step within reach by the linear program."""
        from scipy.sparse import csr_matrix

        n, pairs = len(self.bodies), len(apart)
        width = 3 * n + 1 + pairs  # moves and turns of each body, the room, an overlap a pair
        low, high = np.zeros(width), np.zeros(width)
        for k, b in enumerate(self.bodies):
            turn = math.radians(1.0) * b.radius_mm / reach_mm  # of a degree, in reaches
            low[3 * k : 3 * k + 2], high[3 * k : 3 * k + 2] = -1.0, 1.0
            low[3 * k + 2] = min(0.0, max(-1.0, (b.low_deg - poses[k, 2]) * turn))
            high[3 * k + 2] = max(0.0, min(1.0, (b.high_deg - poses[k, 2]) * turn))
        high[3 * n] = MOST_ROOM_MM / reach_mm
        high[3 * n + 1 :] = math.inf
        goal = np.concatenate([np.zeros(3 * n), [-1.0], np.full(pairs, OVERLAP_PRICE)])
        m = len(rows)
        at: list[NDArray[np.int64]] = []
        column: list[NDArray[np.int64]] = []
        factor: list[NDArray[np.float64]] = []
        every = np.arange(m)
        for side, sign in ((0, 1.0), (1, -1.0)):
            of = rows[:, side].astype(np.int64)
            some = np.flatnonzero(of >= 0)
            own = of[some]
            radius = np.array([b.radius_mm for b in self.bodies])[own]
            rx, ry = rows[some, 4] - poses[own, 0], rows[some, 5] - poses[own, 1]
            nx, ny = sign * rows[some, 2], sign * rows[some, 3]
            at += [some, some, some]
            column += [3 * own, 3 * own + 1, 3 * own + 2]
            factor += [nx, ny, (ny * rx - nx * ry) / radius]
        at += [every, every]
        column += [np.full(m, 3 * n), 3 * n + 1 + rows[:, 7].astype(np.int64)]
        factor += [np.full(m, -1.0), np.ones(m)]
        sides = csr_matrix(
            (np.concatenate(factor), (np.concatenate(at), np.concatenate(column))), shape=(m, width)
        )
        sides.sum_duplicates()
        answer = solve(low, high, goal, -rows[:, 6] / reach_mm, np.full(m, math.inf), sides)
        if answer is None:
            return None
        step = answer[: 3 * n].reshape(n, 3) * reach_mm
        for k, b in enumerate(self.bodies):
            step[k, 2] = math.degrees(step[k, 2] / b.radius_mm)
        return step


def _overlap(apart: NDArray[np.float64]) -> float:
    return float(np.maximum(-apart, 0.0).sum())


def _room(apart: NDArray[np.float64]) -> float:
    return float(max(0.0, apart.min())) if len(apart) else MOST_ROOM_MM


def _worth(apart: NDArray[np.float64]) -> float:
    """What a step makes smaller: overlaps at their price, less the room."""
    return OVERLAP_PRICE * _overlap(apart) - min(MOST_ROOM_MM, _room(apart))
