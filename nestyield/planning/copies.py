"""As many copies as a rack makes: the search of a plan, for copies alone, without its papers."""

from __future__ import annotations

from collections.abc import Sequence

from nestyield.model import Order, Shop
from nestyield.planning.candidates import Candidate
from nestyield.planning.choice import Choice
from nestyield.planning.clock import Clock
from nestyield.planning.demand import demands_of
from nestyield.planning.glued import GlueUps
from nestyield.planning.laminate import laminated
from nestyield.planning.pool import generate_columns
from nestyield.planning.remembered import Cache
from nestyield.planning.run import chosen, searched, tried
from nestyield.planning.strips import on_edge
from nestyield.planning.workers import Job, WorkerPool


def most_copies_of(
    shop: Shop,
    orders: Sequence[Order],
    cache: Cache | None,
    *,
    clock: Clock,
    effort: int | None = None,
    glue: bool = True,
) -> tuple[list[Candidate], Choice]:
    """Return the ways to use the rack that were found for orders, and the choice among them for the most copies.

    Parameters
    ----------
    shop : Shop
        Its orders are those to be served.
    orders : sequence of Order
        As served.
    cache : Cache or None
        Answers of earlier runs; the answer is the same with it and without.
    clock : Clock
        Tells afterwards whether the search was stopped early.
    effort : int, optional
        Of the searches for more parts on one piece; left out, that of the shop.
    glue : bool
        Whether glue-ups are looked for.
    """
    settings = shop.settings
    job = Job(
        shop=shop,
        demands=demands_of(shop),
        effort=max(1, settings.effort) if effort is None else effort,
        seed=settings.seed,
    )
    with clock.minding_ctrl_c(), WorkerPool(job, workers=settings.workers, clock=clock) as crew:
        glue_ups = GlueUps(crew, orders, cache, copies_only=True)
        grown = generate_columns(
            shop,
            orders,
            job.demands,
            ask=lambda rows: tried(crew, rows, cache, _silent),
            search=lambda asked, depth: searched(crew, asked, depth, cache, _silent),
            chosen=lambda candidates, rough: chosen(crew, orders, candidates, cache, rough=rough),
            glue=glue_ups.more if glue else None,
            effort=job.effort,
            seed=job.seed,
            clock=clock,
            copies_only=True,
            laminated=(*laminated(job)[0], *on_edge(job)[0]),
        )
        sets = any(order.set for order in orders)
        return grown.candidates, chosen(crew, orders, grown.candidates, cache, rough=not sets)


def _silent(what: str, done: int, of: int) -> None:
    """Tell nothing of how far it is."""
