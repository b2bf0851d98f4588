"""Where saw cuts are useful on a piece, and the best sequences of them.

What lies between two cuts can be pushed to the nearer one, so a cut is useful only where some parts in a row, with
their gaps and the margins, end. Sequences of such cuts are gone through by what they make: of two that make the
same, the one that ends nearer has all the room of the other.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Protocol, TypeVar

#: Cuts that are tried after one another; where there are more, some evenly spread ones of them.
MOST_ENDS = 12
#: Pieces between two cuts that are looked at, for one piece and direction.
MOST_LOOKED_AT = 200
#: Blanks within them that are looked at, where these are sawn along too, for one piece and direction.
MOST_BANDS = 600


class Cutoff(Protocol):
    """What one more cut gives."""

    @property
    def high(self) -> float:
        """Where it ends."""
        ...

    @property
    def wants(self) -> tuple[int, ...]:
        """The parts on it."""
        ...


T = TypeVar("T", bound=Cutoff)


def row_lengths(sizes: Sequence[float], gap: float, margins: float, most: float) -> list[float]:
    """Return how long rows of parts are, with gaps and margins, up to a length.

    Parameters
    ----------
    sizes : sequence of float
        Of parts along the row, each as often as one likes.
    gap, margins : float
        Between parts; at both ends together.
    most : float
        Longer rows are left out.

    Returns
    -------
    list of float
        In rising order, `MOST_ENDS` at the most, the longest among them.
    """
    found: set[float] = set()
    fresh = {round(margins + size, 3) for size in sizes}
    while fresh := {length for length in fresh if length <= most} - found:
        found |= fresh
        fresh = {round(length + gap + size, 3) for length in fresh for size in sizes}
    rows = sorted(found)
    if len(rows) <= MOST_ENDS:
        return rows
    return [rows[round(k * (len(rows) - 1) / (MOST_ENDS - 1))] for k in range(MOST_ENDS)]


def best_chains(
    start: float,
    items: Sequence[int],
    kerf: float,
    options: Callable[[float, Sequence[int]], Iterable[T | None]],
) -> Iterator[tuple[T, ...]]:
    """Give, for every mixture of parts that is reached, the sequence of cuts that ends nearest.

    Parameters
    ----------
    start : float
    items : sequence of int
        Parts wanted.
    kerf : float
        What the saw takes behind each.
    options : callable
        What may come off from a place on, with the parts still wanted.
    """
    best: dict[tuple[int, ...], tuple[float, tuple[T, ...]]] = {(): (start, ())}
    waiting: list[tuple[int, ...]] = [()]
    while waiting:
        made = min(waiting, key=lambda m: (best[m][0], m))
        waiting.remove(made)
        at, chain = best[made]
        left = list((Counter(items) - Counter(made)).elements())
        for one in options(at, left) if left else ():
            if one is None:
                continue
            both = tuple(sorted((*made, *one.wants)))
            end = one.high + kerf
            if both not in best or end < best[both][0] - 1.0:
                best[both] = (end, (*chain, one))
                if both not in waiting:
                    waiting.append(both)
    yield from (chain for _, chain in best.values() if chain)
