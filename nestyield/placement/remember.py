"""The last answers about a part or a problem, which is asked about again at every angle."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable
from functools import wraps
from typing import Concatenate, ParamSpec, TypeVar

Of = TypeVar("Of")
More = ParamSpec("More")
Answer = TypeVar("Answer")


def remember(
    keep: int,
) -> Callable[[Callable[Concatenate[Of, More], Answer]], Callable[Concatenate[Of, More], Answer]]:
    """Make a function keep its last answers, told apart by which object they are about, not by what it holds.

    For pure functions of frozen objects alone: parts and problems are large and are not hashed. The
    object is kept with its answer, so that no other one can be taken for it. Answers are never changed.

    Parameters
    ----------
    keep : int
        How many answers; the one that was used longest ago goes first.
    """

    def over(ask: Callable[Concatenate[Of, More], Answer]) -> Callable[Concatenate[Of, More], Answer]:
        kept: OrderedDict[tuple[object, ...], tuple[Of, Answer]] = OrderedDict()

        @wraps(ask)
        def answer(of: Of, /, *more: More.args, **named: More.kwargs) -> Answer:
            key = (id(of), *more, *named.items())
            if key not in kept:
                kept[key] = (of, ask(of, *more, **named))
                if len(kept) > keep:
                    kept.popitem(last=False)
            kept.move_to_end(key)
            return kept[key][1]

        return answer

    return over
