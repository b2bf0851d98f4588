"""Glue-ups at any angle of the grain tolerance, where none is found at the usual ones.

On an interval of angles the part is replaced by what every turned copy of it covers (``band.turned_by``), the
rules by what they bar at every angle. Orders of pieces that do not hold even that are done with for the whole
interval; the others are tried at its middle, and each half is looked at with those alone. So no order is lost,
down to intervals in which a part moves by ``LEAST_MOVE_UM``, except by the limits on orders and intervals.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Iterator, Sequence
from itertools import islice
from typing import TYPE_CHECKING

from nestyield.glueup.band import OrientedPart, lay, turned_by
from nestyield.glueup.chains import Interest, MemberChain
from nestyield.glueup.feasibility import SeamFeasibility
from nestyield.glueup.seams import optimize_seams
from nestyield.placement.candidates import orientations

if TYPE_CHECKING:
    from nestyield.glueup.search import Search

#: Half of the widest interval, degrees.
WIDEST_HALF_DEG = 0.65
#: Intervals are halved until the part moves no more than this in one, micrometers.
LEAST_MOVE_UM = 12
#: Most intervals for one number of members.
MOST_INTERVALS = 400
#: At the middle of an interval the wood needed is taken to be larger by this at the most, micrometers.
FINE_UM = 6.0

Order = tuple[float, tuple[int, ...]]


def between_angles(
    search: Search,
    most: int,
    tries: int,
    filling: bool,
    interest: Interest,
    known: Sequence[MemberChain] = (),
) -> list[MemberChain]:
    """Return glue-ups with the fewest members that any angle allows, the cheapest found first.

    Parameters
    ----------
    search : Search
    most : int
        Most members.
    tries : int
        Most orders that are looked at closely on an interval.
    filling : bool
        Whether defects may lie where the part lets them be filled.
    interest : Interest
    known : sequence of MemberChain
        Only those that cost less are of interest.
    """
    from nestyield.glueup.search import MOST_MEMBERS

    if search.part.grain_tolerance_deg <= 0:
        return []
    for size in range(2, min(most, MOST_MEMBERS) + 1):
        below = interest.below(size, known)
        found = _of_size(search, size, tries, filling, below, interest.known)
        if found:
            return found
    return []


def _start(search: Search) -> Iterator[tuple[float, float, bool]]:
    """Give (middle, half, mirrored) of the first intervals, those near the drawn grain first."""
    tolerance = search.part.grain_tolerance_deg
    count = max(1, math.ceil(tolerance / WIDEST_HALF_DEG))
    half = tolerance / count
    offs = sorted((half * (2 * k + 1) - tolerance for k in range(count)), key=abs)
    for way in orientations(search.part, 0.0):
        if way.front_up and way.middle_deg < 180.0:
            yield from ((way.middle_deg + off, half, way.mirrored) for off in offs)


def _of_size(
    search: Search,
    size: int,
    tries: int,
    filling: bool,
    below: float,
    known: frozenset[tuple[int, ...]],
) -> list[MemberChain]:
    best: dict[tuple[int, ...], MemberChain] = {}
    queue: deque[tuple[float, float, bool, list[Order] | None]] = deque(
        (middle, half, mirrored, None) for middle, half, mirrored in _start(search)
    )
    for _ in range(MOST_INTERVALS):
        if not queue:
            break
        middle, half, mirrored, orders = queue.popleft()
        wide = turned_by(search.part, search.settings, middle, half, mirrored)
        field = _field(search, wide, filling)
        if orders is None:
            ends = field.ends(search.finite)
            orders = list(islice(search.orders(field, ends, size, below, known), tries))
        cheapest = min((c.value for c in best.values()), default=math.inf)
        orders = [
            (value, rows)
            for value, rows in orders
            if value < cheapest and optimize_seams(field, rows, rough=True) is not None
        ]
        if not orders:
            continue
        exact = _field(search, lay(search.part, search.settings, middle, mirrored, FINE_UM), filling)
        for value, rows in orders:
            key = tuple(sorted(rows))
            if key in best or value >= cheapest:
                continue
            chain = search.chain(exact, rows)
            if chain is not None:
                best[key] = chain
                cheapest = chain.value
        left = [(v, rows) for v, rows in orders if v < cheapest]
        if left and wide.reach_um > LEAST_MOVE_UM:
            queue += [(middle + sign * half / 2, half / 2, mirrored, left) for sign in (-1.0, 1.0)]
    search.cut_short |= bool(queue)
    return list(best.values())


def _field(search: Search, lying: OrientedPart, filling: bool) -> SeamFeasibility:
    return SeamFeasibility(
        lying,
        search.pieces,
        search.settings,
        search.rules,
        True,
        filling,
        search.constraints,
        search.woods,
    )
