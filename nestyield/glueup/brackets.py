"""How far rows serve, known only as closely as a question needs: whether a lowest and a topmost row come near enough.

How far a row serves is one number, found to a micrometer by many looks (``oracle``). Whether the lowest row of an
order comes as near to the topmost as those between can bridge is a question of two such numbers, and mostly told by
a few looks: at a seam between what is known of the two, which halves what is not known. What is known of a row stays
known for all orders that it is in.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from nestyield.glueup.feasibility import SeamFeasibility

#: Looks for one order before both rows are found exactly.
_MOST_LOOKS = 24


@dataclass(slots=True)
class _Known:
    """A row serves as far as ``good`` and no farther than ``most``; heights of rows that lie above count down."""

    good: float
    most: float


class Nested:
    """Bands that a piece holds, and such as it does not: it holds each narrower one, and none that is wider."""

    def __init__(self) -> None:
        self._held: list[tuple[float, float]] = []
        self._not: list[tuple[float, float]] = []

    def told(self, low: float, high: float) -> bool | None:
        """Tell whether a band is held, as far as those known tell."""
        for a, b in self._held:
            if a <= low and high <= b:
                return True
        for a, b in self._not:
            if low <= a and b <= high:
                return False
        return None

    def add(self, low: float, high: float, held: bool) -> None:
        """Keep what was found of a band, and forget what follows from it."""
        if held:
            self._held = [(a, b) for a, b in self._held if not (low <= a and b <= high)]
            self._held.append((low, high))
        else:
            self._not = [(a, b) for a, b in self._not if not (a <= low and high <= b)]
            self._not.append((low, high))


class Brackets:
    """What is known of how far the rows of a field serve, without the rules of seams.

    Parameters
    ----------
    field : SeamFeasibility
    """

    def __init__(self, field: SeamFeasibility) -> None:
        self._field = field
        self._known: dict[tuple[int, bool], _Known] = {}
        self._served: dict[tuple[int, bool], int] = {}

    def meet(self, first: int, last: int, most: float) -> bool | None:
        """Tell whether a lowest and a topmost row come within a gap of each other; None where only a closer look tells.

        Parameters
        ----------
        first, last : int
            Rows.
        most : float
            Widest gap, micrometers.
        """
        field = self._field
        if not (field.shrinks(first) and field.shrinks(last)):
            return None
        low, high = self._of(first, True), self._of(last, False)
        bottom, top = (float(y) for y in field.lying.span_um)
        for _ in range(_MOST_LOOKS):
            up = field.free_up(low.good), field.free_up(low.most)
            down = field.free_down(-high.good), field.free_down(-high.most)
            if down[0] - up[0] <= most:
                return True
            if not down[1] - up[1] <= most:
                return False
            # the least that either must serve, if the other serves as far as is not ruled out
            if not self._serves(first, True, math.ceil(max(down[1] - most, bottom)), low):
                continue
            if not self._serves(last, False, math.floor(min(up[1] + most, top)), high):
                continue
            known = low.good, low.most, high.good, high.most
            at = (max(up[0], down[1] - most, bottom) + min(up[1], down[0] - most, top)) / 2
            if self._serves(first, True, math.floor(at), low):
                self._serves(last, False, math.ceil(math.floor(at) + most), high)
            if known == (low.good, low.most, high.good, high.most):
                return None
        return None

    def farthest(self, row: int, up: bool) -> float:
        """Return a seam past which a row is known not to serve, from below (``up``) or from above the part."""
        most = self._of(row, up).most
        return most if up else -most

    def _serves(self, row: int, up: bool, at: int, known: _Known) -> bool:
        """Tell whether a row serves a seam; a look where that is not known."""
        height = at if up else -at
        if known.good < height <= known.most:
            self._look(row, up, at, known)
        return height <= known.good

    def _of(self, row: int, up: bool) -> _Known:
        if (row, up) not in self._known:
            bounds = [b for s in self._field.servers(row) if (b := s.bound(up)) is not None]
            most = max((b if up else -b for b in bounds), default=-math.inf)
            self._known[row, up] = _Known(good=-math.inf, most=most)
        return self._known[row, up]

    def _look(self, row: int, up: bool, at: int, known: _Known) -> None:
        band = (None, at) if up else (at, None)
        servers = self._field.servers(row)
        held = self._served.get((row, up), 0)  # the turning that served farthest so far is asked first
        order = (held, *(k for k in range(len(servers)) if k != held))
        found = next((k for k in order if servers[k].holds(*band)), None)
        height = at if up else -at
        if found is not None:
            self._served[row, up] = found
            known.good = height
        else:
            known.most = height - 1
