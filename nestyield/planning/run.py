"""From a shop to a checked plan: wants, pool, choice, layouts, reasons, audit."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Literal, TypeVar

from nestyield.audit.check import audit, audit_layout, audited
from nestyield.model import AuditError, Finding, Order, OrderResult, Plan, Shop
from nestyield.model.facts import GlueUpsLeft, OrderShort, PlanCaution, StoppedEarly
from nestyield.planning.candidates import Candidate, RowAnswer, TimedAnswer, try_row
from nestyield.planning.choice import Choice, choose
from nestyield.planning.clock import Clock
from nestyield.planning.demand import demands_of, served
from nestyield.planning.denser import PackingRequest, pack_alike_rows, pack_row
from nestyield.planning.fill_up import AlikeRequest
from nestyield.planning.glued import GlueUps
from nestyield.planning.laminate import laminated
from nestyield.planning.lay_parts import Laid
from nestyield.planning.layouts import copies_spent
from nestyield.planning.mend import Mending, errors_of, mended, rejected_layout, rejected_proof
from nestyield.planning.more_left import LEAST_TO_SHORTEN, more_left, rather
from nestyield.planning.other_ways import other_ways
from nestyield.planning.pool import Pool, generate_columns
from nestyield.planning.remembered import Cache, Question, answered, plain, remembered, settings_basis
from nestyield.planning.results import Doubt, order_results, purchases_for
from nestyield.planning.strips import on_edge
from nestyield.planning.work.cautions import general_cautions
from nestyield.planning.workers import ROWS_TO_COMPILE, Job, WorkerPool
from nestyield.planning.write_up import sawings_of, used_in_order, write_up

#: Searches for several parts are made in other processes from so many on.
LEAST_SEARCHES_TO_SHARE = 2
#: Layouts are checked in other processes from so many on.
LEAST_CHECKS_TO_SHARE = 4
#: Chosen layouts are shifted, and the choice made again, so often at the most.
LEFT_ROUNDS = 4
#: Searches for several parts end when so much of the ceiling has passed; glue-ups and the choice come after them.
SEARCH_SHARE = 0.85
#: The choice is made again so often when layouts are rejected; then only layouts that passed are left to choose from.
MOST_ATTEMPTS = 6

Progress = Callable[[str, int, int], None]
K = TypeVar("K")


def make_plan(
    shop: Shop,
    findings: Sequence[Finding] = (),
    *,
    seed: int,
    effort: int,
    seconds: float,
    workers: int,
    cluster: str = "",
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
    cluster : str
        Address of a Dask cluster that works in their place; ``""`` for none. It changes nothing else.
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
    job = Job(shop=shop, demands=demands_of(shop), effort=effort, seed=seed)
    with clock.minding_ctrl_c(), WorkerPool(job, workers=workers, clock=clock, cluster=cluster) as crew:
        return _planned(crew, findings, cache, tell)


def _planned(crew: WorkerPool, findings: Sequence[Finding], cache: Cache | None, tell: Progress) -> Plan:
    job, clock = crew.job, crew.clock
    shop, demands, effort, seed = job.shop, job.demands, job.effort, job.seed
    orders = served(shop)
    glue_ups = GlueUps(crew, orders, cache)
    if len(shop.pieces) > ROWS_TO_COMPILE and not clock.over():
        _compiled(clock, tell)

    def glue(candidates: Sequence[Candidate], choice: Choice, missing: set[int]) -> list[Candidate]:
        tell("glueing up", 0, 0)
        return glue_ups.more(candidates, choice, missing)

    stacked, stacks_left = laminated(job)
    strips, strips_left = on_edge(job)
    grown = generate_columns(
        shop,
        orders,
        demands,
        ask=lambda rows: tried(crew, rows, cache, tell),
        search=lambda asked, depth: searched(crew, asked, depth, cache, tell),
        alike=lambda asked, depth: on_alike(crew, asked, depth, cache, tell),
        chosen=lambda candidates, rough: chosen(crew, orders, candidates, cache, rough=rough),
        glue=glue,
        effort=effort,
        seed=seed,
        clock=clock,
        laminated=(*stacked, *strips),
    )
    pool: Sequence[Candidate] = grown.candidates
    tell("choosing", 0, 0)
    choice = chosen(crew, orders, pool, cache)
    pool, choice = _shortened(crew, orders, pool, choice, cache, tell)
    pool, choice = _most_left(crew, orders, pool, choice, cache, tell)
    left = glue_ups.left + stacks_left + strips_left
    if left:
        grown = replace(grown, untried=(*grown.untried, GlueUpsLeft(parts=left)))
    trial = _Trial(crew, findings, orders, grown, cache, tell)
    return trial.settled(pool, choice)


class _Trial:
    """The plan of a choice, checked; what fails is mended or left out, and the choice made again."""

    def __init__(
        self,
        crew: WorkerPool,
        findings: Sequence[Finding],
        orders: Sequence[Order],
        grown: Pool,
        cache: Cache | None,
        tell: Progress,
    ) -> None:
        self.crew, self.findings, self.orders, self.grown = crew, findings, orders, grown
        self.cache, self.tell = cache, tell
        self.told: list[PlanCaution] = []
        self.doubts: dict[tuple[str, str], Doubt] = {}

    def settled(self, pool: Sequence[Candidate], choice: Choice) -> Plan:
        """Return a plan that passes its check.

        Parameters
        ----------
        pool : sequence of Candidate
        choice : Choice
            From that pool.

        Raises
        ------
        AuditError
            When the plan fails as a whole, or still fails when all that was rejected is left out.
        """
        attempt = 0
        while True:
            plan = self._plan(pool, choice)
            self.tell("checking", 0, 0)
            found = audited(plan, self._each)
            if not found.findings:
                return plan
            if errors_of(found.whole):
                raise AuditError(errors_of(found.findings))
            mending = mended(plan, found)
            if not mending.rejected and not mending.contradicted:
                return passed(mending.plan)
            attempt += 1
            if attempt > 2 * MOST_ATTEMPTS:
                raise AuditError(errors_of(found.findings))
            self._note(plan, mending)
            if mending.rejected:
                used = used_in_order(pool, choice)
                out = {used[k] for k in mending.rejected}
                stay = set(range(len(pool))) if attempt < MOST_ATTEMPTS else set(used)
                pool = [c for i, c in enumerate(pool) if i in stay - out]
                self.tell("choosing", 0, 0)
                choice = chosen(self.crew, self.orders, pool, self.cache)

    def _each(self, plan: Plan) -> list[tuple[Finding, ...]]:
        """Return what the check finds in each layout."""
        checked = self.crew.run(
            _check_layout,
            {k: (plan, k) for k in range(len(plan.layouts))},
            what=lambda k: f"checking blank {plan.layouts[k].blank.name}",
            share_from=LEAST_CHECKS_TO_SHARE,
            needed=True,
        )
        return list(checked.values())

    def _note(self, plan: Plan, mending: Mending) -> None:
        """Remember what was rejected, for the plan that is made next."""
        for k, evidence in mending.rejected.items():
            layout = plan.layouts[k]
            self.told.append(rejected_layout(layout, evidence))
            if len(layout.blank.members) == 1 or any(m.layer for m in layout.blank.members):
                parts = {p.part for p in layout.placements}
                self.doubts.update({(part, layout.blank.members[0].piece): "layout" for part in parts})
        for (order, piece), evidence in mending.contradicted.items():
            notice = rejected_proof(plan, order, piece, evidence)
            self.told.append(notice)
            self.doubts[notice.part, piece] = "proof"

    def _plan(self, pool: Sequence[Candidate], choice: Choice) -> Plan:
        crew, grown = self.crew, self.grown
        job, clock = crew.job, crew.clock
        self.tell("writing up", 0, 0)
        layouts = write_up(crew, self.orders, pool, choice, self.cache)
        self.tell("looking into what is missing", 0, 0)
        purchases = purchases_for(
            job.shop,
            self.orders,
            choice.placed,
            choice.lacking,
            dict(choice.lacking_species),
            copies_spent(layouts),
        )
        used = {m.piece for layout in layouts for m in layout.blank.members}
        doubts = {
            (part, piece): why
            for (part, piece), why in self.doubts.items()
            if why == "proof" or piece not in used
        }
        copies = copies_spent(layouts)
        spent = {p.name for p in job.shop.pieces if 0 < p.count <= copies[p.name]}
        results = order_results(
            crew, self.orders, grown.answers, choice, purchases, self.cache, doubts, spent
        )
        return Plan(
            shop=job.shop,
            seed=job.seed,
            effort=job.effort,
            stopped=clock.reason,
            layouts=layouts,
            orders=results,
            objectives=choice.objectives,
            # what a stopped run has not tried may be on the rack: nothing is told to buy
            purchases=() if clock.stopped else tuple(p for some in purchases.values() for p in some),
            intake=tuple(self.findings),
            notices=(*_stopped(clock), *shortfalls(job.shop, results), *self.told),
            cautions=general_cautions(job.shop, layouts),
            sawings=sawings_of(job.shop, pool, choice),
            other_ways=other_ways(job.shop, pool, choice, layouts),
            tried=grown.tried,
            untried=grown.untried,
        )


def _check_layout(_: Job, plan: Plan, k: int) -> tuple[Finding, ...]:
    return audit_layout(plan, plan.layouts[k])


def passed(plan: Plan) -> Plan:
    """Return a mended plan when it passes its check."""
    rejected = errors_of(audit(plan))
    if rejected:
        raise AuditError(rejected)
    return plan


def chosen(
    crew: WorkerPool,
    orders: Sequence[Order],
    pool: Sequence[Candidate],
    cache: Cache | None,
    *,
    rough: bool = False,
) -> Choice:
    """Return the best set of candidates; one that the clock cut short is not remembered."""
    job, clock = crew.job, crew.clock

    def ask(some: Sequence[int]) -> dict[int, Choice]:
        chosen = choose(
            job.shop,
            orders,
            job.demands,
            pool,
            effort=job.effort,
            seed=job.seed,
            clock=clock,
            rough=rough,
        )
        return dict.fromkeys(some, chosen)

    if clock.over() or cache is None:
        return ask([0])[0]
    basis = (
        [(o.count, o.priority, o.due, o.name, o.set, o.per_set, o.match) for o in orders],
        [(o.set, o.hold, o.cut_from) for o in job.shop.orders if o.cut_from],
        [(want.orders, want.count) for want in job.demands],
        [
            (c.rows, c.made, c.value, c.back, c.used_up, c.seams_mm, c.joints, c.sawn_apart, c.lightest_kg)
            for c in pool
        ],
        [job.shop.pieces[row].count for row in sorted({row for c in pool for row in c.rows})],
        (
            job.shop.settings.leftover_worth,
            job.shop.settings.glueup.joint_cost,
            job.shop.settings.glueup.layer_cost,
            [c.faces for c in pool],
            job.shop.settings.machines.saw_cut_cost,
            [c.saw_cuts for c in pool],
            job.shop.settings.machines.resaw_cost,
            [c.resaws for c in pool],
            _woods(job.shop, orders, pool),
            job.effort,
            job.seed,
            rough,
        ),
    )
    return remembered(cache, "choice", Choice, {0: basis}, ask, keep=lambda: not clock.over())[0]


def _woods(shop: Shop, orders: Sequence[Order], pool: Sequence[Candidate]) -> object:
    """Return what matching wood is told by, where orders of a set match."""
    if not any(order.match for order in orders):
        return None
    rows = sorted({row for c in pool for row in c.rows})
    return [(row, shop.pieces[row].species, shop.pieces[row].name, shop.pieces[row].board) for row in rows]


def _shortened(
    crew: WorkerPool,
    orders: Sequence[Order],
    pool: Sequence[Candidate],
    choice: Choice,
    cache: Cache | None,
    tell: Progress,
) -> tuple[Sequence[Candidate], Choice]:
    """Push all parts of chosen layouts together to one end of the piece, so that the rest is one, and choose again."""
    shop = crew.job.shop
    if shop.settings.prefer.largest_leftover <= 0.0:
        return pool, choice
    asked = {
        (c.rows[0], tuple((w, n) for w, n in enumerate(c.made) if n)): c
        for c in (pool[k] for k, _ in choice.used)
        if c.blank is None
        and c.sawn is None
        and len(c.laid) >= LEAST_TO_SHORTEN
        and not shop.pieces[c.rows[0]].seams
    }
    if not asked:
        return pool, choice
    found = searched(
        crew,
        sorted(asked),
        crew.job.effort,
        cache,
        tell,
        goal="length",
        begun={key: c.laid for key, c in asked.items()},
    )
    shorter = [c for key, answer in found.items() for c in answer.candidates if c.made == asked[key].made]
    if not shorter:
        return pool, choice
    pushed = {(c.rows, c.made): c for c in shorter}
    stay = [c for c in pool if not _given_up(crew, c, pushed.get((c.rows, c.made)))]
    pool = [*stay, *shorter]
    return pool, chosen(crew, orders, pool, cache)


def _given_up(crew: WorkerPool, candidate: Candidate, pushed: Candidate | None) -> bool:
    """Tell whether a layout goes out of the pool for one pushed to one end."""
    plain = candidate.blank is None and candidate.sawn is None and len(candidate.rows) == 1
    return plain and pushed is not None and rather(crew.job, pushed, candidate)


def _most_left(
    crew: WorkerPool,
    orders: Sequence[Order],
    pool: Sequence[Candidate],
    choice: Choice,
    cache: Cache | None,
    tell: Progress,
) -> tuple[Sequence[Candidate], Choice]:
    """Shift the parts of chosen layouts so that more is left, and off the edges; choose again while it changes."""
    job, clock = crew.job, crew.clock
    settings = repr(settings_basis(job.shop))
    seen: set[int] = set()
    for _ in range(LEFT_ROUNDS):
        fresh = {k for k, _ in choice.used} - seen
        if not fresh or clock.over():
            break
        tell("leaving more", 0, 0)
        asked = {k: pool[k] for k in sorted(fresh)}
        found = remembered(
            cache,
            "more left",
            Candidate,
            {k: (settings, c, _stock_and_parts(job, c)) for k, c in asked.items()},
            lambda some, asked=asked: crew.run(  # type: ignore[misc]
                more_left,
                {k: (asked[k],) for k in some},
                what=lambda k: "leaving more of a piece",
                share_from=LEAST_SEARCHES_TO_SHARE,
            ),
            keep=lambda: not clock.over(),
        )
        seen |= fresh
        changed = {k: c for k, c in found.items() if c != pool[k]}
        if not changed:
            break
        pool = [changed.get(k, c) for k, c in enumerate(pool)]
        choice = chosen(crew, orders, pool, cache)
    return pool, choice


def _stock_and_parts(job: Job, candidate: Candidate) -> object:
    """Return what shifting the parts of a layout rests on beside the settings."""
    pieces = [plain(job.shop.pieces[row]) for row in candidate.rows]
    parts = [(job.shop.part(job.demands[w].part), job.demands[w].beds) for w, _ in candidate.laid]
    return pieces, parts


def tried(
    crew: WorkerPool, rows: Mapping[int, tuple[int, ...]], cache: Cache | None, tell: Progress
) -> dict[int, RowAnswer]:
    """Return what rows could carry, laid one after the other."""
    clock = crew.clock

    def ask(new: Sequence[int]) -> dict[int, RowAnswer]:
        found = crew.run(
            try_row,
            {row: (row, rows[row], clock.share_until(1.0)) for row in new},
            what=lambda row: f"trying piece {crew.job.shop.pieces[row].name}",
            told=lambda done, of: tell("trying pieces", done, of),
        )
        return _untimed(clock, found)

    return answered(
        crew.job,
        "row",
        {row: Question(row=row, asked=asked) for row, asked in rows.items()},
        cache,
        ask,
        keep=lambda: not clock.reason,
    )


def _untimed(clock: Clock, found: Mapping[K, TimedAnswer]) -> dict[K, RowAnswer]:
    """Return the answers, and note whether the time cut any of them short."""
    if any(f.stopped == "seconds" for f in found.values()):
        clock.shortened = True
    return {key: f.answer for key, f in found.items()}


def searched(
    crew: WorkerPool,
    asked: Sequence[tuple[int, PackingRequest]],
    effort: int,
    cache: Cache | None,
    tell: Progress,
    goal: Literal["value", "length"] = "value",
    begun: Mapping[tuple[int, PackingRequest], Laid] | None = None,
) -> dict[tuple[int, PackingRequest], RowAnswer]:
    """Return what rows could carry, by search; one search alone uses all the processors."""
    clock, begun = crew.clock, begun or {}
    until = clock.share_until(SEARCH_SHARE)

    def search(new: Sequence[tuple[int, PackingRequest]]) -> dict[tuple[int, PackingRequest], RowAnswer]:
        if new and not clock.over():
            _compiled(clock, tell)
        if len(new) < LEAST_SEARCHES_TO_SHARE or crew.workers == 1:
            found = {}
            for k, (row, load) in enumerate(new):
                tell("laying several parts", k, len(new))
                if clock.over():
                    break
                found[row, load] = pack_row(
                    crew.job,
                    row,
                    load,
                    effort,
                    until,
                    workers=crew.workers,
                    stop=clock.over,
                    goal=goal,
                    begun=begun.get((row, load), ()),
                )
        else:
            found = crew.run(
                pack_row,
                {
                    (row, load): (row, load, effort, until, 1, None, goal, begun.get((row, load), ()))
                    for row, load in new
                },
                what=lambda s: f"laying several parts on piece {crew.job.shop.pieces[s[0]].name}",
                told=lambda done, of: tell("laying several parts", done, of),
                share_from=LEAST_SEARCHES_TO_SHARE,
                minds_clock=True,
            )
        return _untimed(clock, found)

    return answered(
        crew.job,
        f"several {effort}" if goal == "value" else f"shortest {effort}",
        {
            (row, load): Question(
                row=row,
                asked=tuple(w for w, _ in load),
                copies=tuple(n for _, n in load),
                begun=begun.get((row, load), ()),
            )
            for row, load in asked
        },
        cache,
        search,
        keep=lambda: not clock.reason,
    )


def on_alike(
    crew: WorkerPool, asked: AlikeRequest, effort: int, cache: Cache | None, tell: Progress
) -> RowAnswer:
    """Return layouts of a load on as few copies of a row as one search over all of them finds."""
    clock, (row, load, most) = crew.clock, asked

    def search(some: Sequence[int]) -> dict[int, RowAnswer]:
        if not clock.over():
            _compiled(clock, tell)
        tell("laying parts on alike pieces", 0, 0)
        until = clock.share_until(SEARCH_SHARE)
        found = pack_alike_rows(
            crew.job, row, load, most, effort, until, workers=crew.workers, stop=clock.over
        )
        return _untimed(clock, dict.fromkeys(some, found))

    return answered(
        crew.job,
        f"on {most} alike {effort}",
        {0: Question(row=row, asked=tuple(w for w, _ in load), copies=tuple(n for _, n in load))},
        cache,
        search,
        keep=lambda: not clock.reason,
    )[0]


def _compiled(clock: Clock, tell: Progress) -> None:
    """Compile the search where that has not been done, before several processes each do it for themselves."""
    from nestyield.nesting.compiling import (  # imports the compiler: only where it is needed
        compile_kernels,
        needs_compiling,
    )
    from nestyield.nesting.kernel_folder import goes_with_run, user_folder

    if needs_compiling():
        again = f"for this run alone, because {user_folder()} cannot be written"
        often = again if goes_with_run() else "once for this version"
        tell(f"compiling the search, {often}: some ten seconds", 0, 0)
        with clock.may_break():
            compile_kernels()


def _stopped(clock: Clock) -> tuple[PlanCaution, ...]:
    if not clock.reason:
        return ()
    return (StoppedEarly(by="interrupt" if clock.reason == "interrupt" else "seconds"),)


def shortfalls(shop: Shop, results: Sequence[OrderResult]) -> tuple[OrderShort, ...]:
    """Return a warning for each order that is not placed in full, those on hold left out."""
    orders = {order.name: order for order in shop.orders}
    return tuple(
        OrderShort(
            order=r.order,
            part=orders[r.order].part,
            missing=orders[r.order].count - r.placed,
            count=orders[r.order].count,
        )
        for r in results
        if not orders[r.order].hold and r.placed < orders[r.order].count
    )
