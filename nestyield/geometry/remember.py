"""The last answers about regions: they are asked about again while one question changes a little."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Sequence
from functools import wraps
from typing import Concatenate, ParamSpec

from nestyield.geometry.grid import IntPoly, Region

More = ParamSpec("More")


def remember_regions(
    keep: int,
) -> Callable[
    [Callable[Concatenate[Sequence[IntPoly], More], Region]],
    Callable[Concatenate[Sequence[IntPoly], More], Region],
]:
    """Make a function of a region keep its last answers, told apart by every vertex of the region.

    For pure functions alone. Arrays are handed out again and are never changed; the list is the caller's own.

    Parameters
    ----------
    keep : int
        How many answers; the one that was used longest ago goes first.
    """

    def over(
        ask: Callable[Concatenate[Sequence[IntPoly], More], Region],
    ) -> Callable[Concatenate[Sequence[IntPoly], More], Region]:
        kept: OrderedDict[tuple[object, ...], Region] = OrderedDict()

        @wraps(ask)
        def answer(region: Sequence[IntPoly], /, *more: More.args, **named: More.kwargs) -> Region:
            key = (tuple(r.tobytes() for r in region), more, *named.items())
            if key not in kept:
                kept[key] = ask(region, *more, **named)
                if len(kept) > keep:
                    kept.popitem(last=False)
            kept.move_to_end(key)
            return list(kept[key])

        return answer

    return over
