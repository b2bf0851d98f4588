"""Many parts on one blank by the search of ``nesting``, each asked of the beds."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from nestyield.model import Placement
from nestyield.nesting.checked import Packed
from nestyield.nesting.on_blank import pack_alike, pack_blank
from nestyield.nesting.sheet import Goal
from nestyield.planning.keep_clear import unkept_of
from nestyield.planning.lay_parts import BedTaker, Laid, LayoutContext


def pack(
    context: LayoutContext,
    counts: Mapping[int, int],
    effort: int,
    seed: int,
    *,
    goal: Goal = "value",
    workers: int = 1,
    stop: Callable[[], bool] | None = None,
    begun: Laid = (),
) -> tuple[Laid, str]:
    """Lay as much as will go of some demands on an empty blank, or all of them on the least length.

    Parameters
    ----------
    context : LayoutContext
    counts : mapping of int to int
        Copies of each demand, all of one thickness.
    effort, seed : int
    goal : {"value", "length"}
    workers : int
        Threads; the answer does not depend on them.
    stop : callable, optional
        Ends the search early.
    begun : tuple of (int, Placement)
        A layout of all of them, to push together.

    Returns
    -------
    (Laid, str)
        Every placement has been checked against the blank, the parts before it and the beds; those that do
        not pass are left out. And why the search ended: ``"bound"``, ``"effort"`` or ``"seconds"``.
    """
    demands = [w for w, n in counts.items() if n > 0]

    def named(packed: Packed) -> Laid:
        return tuple((demands[k], at) for k, at in packed)

    def taken(packed: Packed, k: int, at: Placement) -> bool:
        return BedTaker(bench=context, laid=named(packed), want=demands[k]).takes(at)

    found = pack_blank(
        [(context.part(w), counts[w]) for w in demands],
        context.blank,
        context.shop.settings,
        effort,
        seed,
        goal=goal,
        accept=taken if context.shop.beds else None,
        workers=workers,
        stop=stop,
        begun=tuple((demands.index(w), at) for w, at in begun),
    )
    if found.turned and unkept_of(context, named(found.turned)) < unkept_of(context, named(found.packed)):
        return named(found.turned), found.stopped
    return named(found.packed), found.stopped


def pack_on_alike(
    context: LayoutContext,
    counts: Mapping[int, int],
    most: int,
    effort: int,
    seed: int,
    *,
    workers: int = 1,
    stop: Callable[[], bool] | None = None,
) -> tuple[Laid, ...]:
    """Lay all copies of some demands on as few alike blanks as the effort finds.

    Parameters
    ----------
    context : LayoutContext
        Of one of the blanks.
    counts, effort, seed, workers, stop
        As of `pack`.
    most : int
        How many blanks there are.

    Returns
    -------
    tuple of Laid
        By blank, each checked as by `pack`; empty when not all were laid.
    """
    demands = [w for w, n in counts.items() if n > 0]

    def named(packed: Packed) -> Laid:
        return tuple((demands[k], at) for k, at in packed)

    def taken(packed: Packed, k: int, at: Placement) -> bool:
        return BedTaker(bench=context, laid=named(packed), want=demands[k]).takes(at)

    found = pack_alike(
        [(context.part(w), counts[w]) for w in demands],
        context.blank,
        context.shop.settings,
        most,
        effort,
        seed,
        accept=taken if context.shop.beds else None,
        workers=workers,
        stop=stop,
    )
    return tuple(named(packed) for packed in found if packed)
