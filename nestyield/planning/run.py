"""From a shop to a checked plan: wants, pool, choice, layouts, reasons, audit."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from nestyield.audit.check import audit
from nestyield.model import AuditError, Blank, Finding, Layout, Order, OrderResult, Placement, Plan, Shop
from nestyield.planning.candidates import Candidate
from nestyield.planning.choice import Choice, choose
from nestyield.planning.clock import Clock
from nestyield.planning.glued import glued_candidates
from nestyield.planning.lay import Bench
from nestyield.planning.layouts import make_layout
from nestyield.planning.pool import grow_pool
from nestyield.planning.remembered import Cache, answered
from nestyield.planning.results import order_results, purchases_for
from nestyield.planning.stock import blank_of
from nestyield.planning.wants import Want, served, wants_of
from nestyield.planning.workers import try_rows

Progress = Callable[[str, int, int], None]


def make_plan(
    shop: Shop,
    findings: Sequence[Finding] = (),
    *,
    seed: int,
    effort: int,
    seconds: float,
    workers: int,
    progress: Progress | None = None,
    cache: Cache | None = None,
) -> Plan:
    """Plan all orders over all stock and check the result.

    Parameters
    ----------
    shop : Shop
    findings : sequence of Finding
        Of intake; they become part of the plan.
    seed : int
        Of every random choice.
    effort : int
        Steps of the search, at least 1.
    seconds : float
        Ceiling; a run that reaches it returns the best so far and says so.
    workers : int
        Processes; they change nothing but the time.
    progress : callable, optional
        Called as ``progress(what, done, of)``.
    cache : Cache, optional
        Answers of earlier runs; the plan is the same with it and without.

    Returns
    -------
    Plan

    Raises
    ------
    AuditError
        When the finished plan fails its independent check.
    """
    tell = progress or (lambda what, done, of: None)
    clock = Clock(seconds=seconds)
    orders, wants = served(shop), wants_of(shop)

    def told(done: int, of: int) -> None:
        tell("trying pieces", done, of)

    grown = grow_pool(
        shop,
        orders,
        wants,
        ask=lambda rows: answered(
            shop,
            wants,
            rows,
            cache,
            effort=effort,
            seed=seed,
            ask=lambda new: try_rows(
                shop, wants, new, effort=effort, seed=seed, workers=workers, clock=clock, told=told
            ),
        ),
        effort=effort,
        seed=seed,
        clock=clock,
    )
    pool = grown.candidates
    tell("choosing", 0, 0)
    choice = choose(shop, orders, wants, pool, effort=effort, seed=seed, clock=clock)
    tell("glueing up", 0, 0)
    glued = glued_candidates(shop, orders, wants, choice, effort=effort, clock=clock)
    if glued:
        pool = [*pool, *glued]
        choice = choose(shop, orders, wants, pool, effort=effort, seed=seed, clock=clock)
    layouts = _layouts(shop, orders, wants, pool, choice)
    tell("checking", 0, 0)
    purchases = purchases_for(shop, orders, choice.placed)
    results = order_results(shop, orders, wants, grown.answers, choice.placed, purchases)
    plan = Plan(
        shop=shop,
        seed=seed,
        effort=effort,
        stopped=clock.stopped,
        layouts=layouts,
        orders=results,
        objectives=choice.objectives,
        purchases=tuple(p for p in purchases.values() if p is not None),
        findings=(*findings, *_own_findings(shop, results, clock)),
        notes={"pool": grown.note},
    )
    rejected = [f for f in audit(plan) if f.severity != "note"]
    if rejected:
        raise AuditError(rejected)
    return plan


def _layouts(
    shop: Shop,
    orders: Sequence[Order],
    wants: Sequence[Want],
    pool: Sequence[Candidate],
    choice: Choice,
) -> tuple[Layout, ...]:
    """Give the chosen candidates their copies of rack rows, and their parts the names of their orders."""
    waiting = [
        [(name, copy) for name, copy in _copies(orders, choice.placed) if name in want.orders]
        for want in wants
    ]
    taken: dict[int, int] = {}
    layouts: list[Layout] = []
    for index, times in sorted(choice.used, key=lambda use: (pool[use[0]].rows, use[0])):
        candidate = pool[index]
        for _ in range(times):
            copies = []
            for row in candidate.rows:
                taken[row] = taken.get(row, 0) + 1
                copies.append(taken[row])
            number = 1 + sum(len(layout.blank.members) > 1 for layout in layouts)
            blank = _blank(shop, candidate, copies, number)
            placements: list[Placement] = []
            for want, placement in candidate.laid:
                order, copy = waiting[want].pop(0)
                placements.append(replace(placement, order=order, copy=copy))
            bench = Bench(shop=shop, wants=tuple(wants), blank=blank)
            beds = bench.beds([want for want, _ in candidate.laid])
            layouts.append(make_layout(shop, blank, placements, beds, candidate.value))
    return tuple(layouts)


def _blank(shop: Shop, candidate: Candidate, copies: Sequence[int], number: int) -> Blank:
    """Return the blank of a candidate, made from these copies of its rows."""
    if candidate.blank is None:
        return blank_of(shop.pieces[candidate.rows[0]], copies[0])
    members = tuple(replace(m, copy=copy) for m, copy in zip(candidate.blank.members, copies))
    return replace(candidate.blank, name=f"glue-up {number}", members=members)


def _copies(orders: Sequence[Order], placed: Sequence[int]) -> list[tuple[str, int]]:
    return [(order.name, copy) for order, n in zip(orders, placed) for copy in range(1, n + 1)]


def _own_findings(shop: Shop, results: Sequence[OrderResult], clock: Clock) -> list[Finding]:
    out: list[Finding] = []
    if clock.stopped:
        why = "Ctrl-C" if clock.stopped == "interrupt" else "the ceiling in seconds"
        out.append(
            Finding(
                code="P001",
                severity="warning",
                message=f"stopped early by {why}: the best plan found so far; run it again for the rest",
            )
        )
    return [*out, *shortfalls(shop, results)]


def shortfalls(shop: Shop, results: Sequence[OrderResult]) -> list[Finding]:
    """Return a warning for each order that is not placed in full."""
    out: list[Finding] = []
    by_name = {order.name: order for order in shop.orders}
    for result in results:
        order = by_name[result.order]
        if not order.hold and result.placed < order.count:
            out.append(
                Finding(
                    code="P010",
                    severity="warning",
                    where=order.name,
                    message=f"{order.count - result.placed} of {order.count} {order.part} not placed: "
                    f"{result.reasons[0]}",
                )
            )
    return out
