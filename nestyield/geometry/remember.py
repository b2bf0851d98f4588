"""The last answers about regions: they are asked about again while one question changes a little."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Sequence
from functools import wraps
from typing import Concatenate, ParamSpec, TypeVar

from nestyield.geometry.grid import IntPoly, Region

More = ParamSpec("More")
Answer = TypeVar("Answer")
Rules = TypeVar("Rules")


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


def remember_by_rules(
    keep: int,
) -> Callable[
    [Callable[[Sequence[IntPoly], float | None, Rules], Answer]],
    Callable[[Sequence[IntPoly], float | None, Rules], Answer],
]:
    """Make a function of a region, the grain and the rules of a shop keep its last answers.

    As ``remember_regions``; rules are told apart as objects, and answers must not change.

    Parameters
    ----------
    keep : int
        How many answers; the one that was used longest ago goes first.
    """

    def over(
        ask: Callable[[Sequence[IntPoly], float | None, Rules], Answer],
    ) -> Callable[[Sequence[IntPoly], float | None, Rules], Answer]:
        # The rules stay with the answer: as long as they are there no others have their identity.
        kept: OrderedDict[tuple[object, ...], tuple[Rules, Answer]] = OrderedDict()

        @wraps(ask)
        def answer(region: Sequence[IntPoly], grain_deg: float | None, rules: Rules) -> Answer:
            key = (tuple(r.tobytes() for r in region), grain_deg, id(rules))
            if key not in kept:
                kept[key] = rules, ask(region, grain_deg, rules)
                if len(kept) > keep:
                    kept.popitem(last=False)
            kept.move_to_end(key)
            return kept[key][1]

        return answer

    return over
