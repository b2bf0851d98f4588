"""What to do when the plan's own check rejects something: the least is left out, and the plan says what.

A detail of a blank (setup, screws, tabs, leftovers, play, edges to watch) is replaced or left out. A layout that fails
all the same is taken out of the pool, and the choice is made again. A proof becomes undecided.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

from nestyield.audit.check import Audited, audit_layout
from nestyield.model import Finding, Layout, OrderResult, Plan
from nestyield.model.facts import Detail, DetailRejected, LayoutRejected, PlanCaution, ProofRejected
from nestyield.planning.layouts import passed_over, setups_by_merit, with_rooms, with_work
from nestyield.planning.work.cautions import general_cautions
from nestyield.planning.work.stages import with_stages

#: Findings of the audit that are about a detail of a blank; any other one is about the layout itself.
DETAIL_OF: dict[str, Detail] = {
    "A403": "leftovers",
    "A404": "leftovers",
    "A405": "leftovers",
    "A408": "play",
    "A409": "edges to watch",
    "A518": "leftovers",
    "A532": "tabs",
    **dict.fromkeys(("A510", "A512"), "screws"),
    **dict.fromkeys(
        ("A505", "A506", "A507", "A508", "A509", "A511", "A513", "A514", "A515", "A520", "A521", "A522"),
        "setup",
    ),
    **dict.fromkeys(("A523", "A524", "A525", "A526", "A527", "A528", "A531"), "setup"),
}

Try = tuple[Layout, tuple[str, ...]]


def errors_of(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return what speaks against a plan: everything but notes."""
    return tuple(f for f in findings if f.severity != "note")


def mended_layout(
    plan: Plan, layout: Layout, found: Sequence[Finding]
) -> tuple[Layout, tuple[DetailRejected, ...]] | None:
    """Replace or leave out the details of a blank that its check rejected.

    Parameters
    ----------
    plan : Plan
        Of its shop.
    layout : Layout
    found : sequence of Finding
        Errors of the layout; at least one.

    Returns
    -------
    (Layout, tuple of DetailRejected) or None
        None when the layout itself is at fault, or when no such change lets it pass the check.
    """
    if any(f.code not in DETAIL_OF for f in found):
        return None
    told: list[DetailRejected] = []
    details: tuple[Detail, ...] = ("play", "edges to watch", "leftovers", "screws", "setup", "tabs")
    for detail in details:
        mine = tuple(f for f in found if DETAIL_OF[f.code] == detail)
        if not mine:
            continue
        mended = _least(plan, _TRIES[detail](plan, layout), _codes(detail))
        if mended is None:
            return None
        layout, names = mended
        told.append(DetailRejected(blank=layout.blank.name, detail=detail, names=names, evidence=mine))
    return None if errors_of(audit_layout(plan, layout)) else (layout, tuple(told))


def _codes(detail: Detail) -> set[str]:
    """Return the findings that must be gone when a detail is mended; pins and setups go together."""
    together = {"screws", "setup"}
    wanted = together if detail in together else {detail}
    return {code for code, about in DETAIL_OF.items() if about in wanted}


def _least(plan: Plan, tries: Iterable[Try], codes: set[str]) -> Try | None:
    """Return the first change after which the check finds none of some codes."""
    for layout, names in tries:
        if not any(f.code in codes for f in errors_of(audit_layout(plan, layout))):
            return layout, names
    return None


def _without_play(plan: Plan, layout: Layout) -> list[Try]:
    parts = (p.part for p in layout.placements)
    return [(replace(layout, rooms=()), tuple(dict.fromkeys(parts)))]


def _without_watch(plan: Plan, layout: Layout) -> list[Try]:
    return [(with_work(replace(layout, watch=()), plan.shop), ())]


def _without_leftovers(plan: Plan, layout: Layout) -> Iterable[Try]:
    """Leave out each leftover alone, then all."""
    names = [left.name for left in layout.leftovers]
    for some in (*((name,) for name in names), *([tuple(names)] if len(names) > 1 else [])):
        left = tuple(x for x in layout.leftovers if x.name not in some)
        area = sum(x.area_mm2 for x in left if x.usable)
        yield with_work(replace(layout, leftovers=left, usable_area_mm2=area), plan.shop), some


def _without_screws(plan: Plan, layout: Layout) -> Iterable[Try]:
    """Leave out each screw alone, then all; then take the other setups."""
    held = () if layout.work is None else layout.work.hold_downs
    names = [hold.name for hold in held]
    for some in (*((name,) for name in names), *([tuple(names)] if len(names) > 1 else [])):
        yield _with_rooms(with_work(layout, plan.shop, some), plan), some
    yield from _other_setups(plan, layout)


def _other_setups(plan: Plan, layout: Layout) -> Iterable[Try]:
    """Take the next setups that serve, best first."""
    if layout.chosen is None:
        return
    was = layout.setups[layout.chosen]
    for k in setups_by_merit(layout.setups):
        if k != layout.chosen:
            over = passed_over(layout.setups, k)
            again = with_work(replace(layout, chosen=k, passed_over=over), plan.shop)
            yield _with_rooms(again, plan), (was.bed,)


def _with_rooms(layout: Layout, plan: Plan) -> Layout:
    """Return a layout with its rooms made again for other pins and screws, unless they were left out."""
    return with_rooms(layout, plan.shop) if layout.rooms else layout


def _without_tabs(plan: Plan, layout: Layout) -> list[Try]:
    """Leave out all tabs: one of them alone would change the names of the others."""
    if layout.work is None:
        return []
    names = tuple(tab.name for tab in layout.work.tabs)
    return [(with_stages(replace(layout, work=replace(layout.work, tabs=())), plan.shop), names)]


_TRIES: dict[Detail, Callable[[Plan, Layout], Iterable[Try]]] = {
    "play": _without_play,
    "edges to watch": _without_watch,
    "leftovers": _without_leftovers,
    "screws": _without_screws,
    "setup": _other_setups,
    "tabs": _without_tabs,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Mending:
    """What is left of a plan when all that its check rejected is taken out.

    Parameters
    ----------
    plan : Plan
        With its details mended and proofs that are not confirmed left out.
    rejected : dict of int to tuple of Finding
        Layouts that cannot be mended, by index, with the evidence.
    contradicted : dict of (str, str) to tuple of Finding
        Order and piece of proofs that the check contradicts, with the evidence.
    """

    plan: Plan
    rejected: dict[int, tuple[Finding, ...]]
    contradicted: dict[tuple[str, str], tuple[Finding, ...]]


def mended(plan: Plan, found: Audited) -> Mending:
    """Mend each layout, and leave out each proof, that the check of a plan rejected.

    Parameters
    ----------
    plan : Plan
    found : Audited
        Of that plan.
    """
    layouts = list(plan.layouts)
    told: list[PlanCaution] = []
    rejected = {}
    for k, findings in enumerate(found.layouts):
        errors = errors_of(findings)
        if not errors:
            continue
        again = mended_layout(plan, layouts[k], errors)
        if again is None:
            rejected[k] = errors
        else:
            layouts[k] = again[0]
            told += again[1]
    results, unsure, contradicted = _without_proofs(plan, found)
    changed = {plan.layouts[k].blank.name for k, f in enumerate(found.layouts) if errors_of(f)}
    ways = tuple(
        way
        for way, findings in zip(plan.other_ways, found.ways, strict=True)
        if not errors_of(findings) and way.instead_of not in changed
    )
    if not told and not unsure and ways == plan.other_ways:
        return Mending(plan=plan, rejected=rejected, contradicted=contradicted)
    plan = replace(
        plan,
        layouts=tuple(layouts),
        orders=results,
        other_ways=ways,
        notices=(*plan.notices, *told, *unsure),
        cautions=general_cautions(plan.shop, layouts),
    )
    return Mending(plan=plan, rejected=rejected, contradicted=contradicted)


def _without_proofs(
    plan: Plan, found: Audited
) -> tuple[tuple[OrderResult, ...], list[ProofRejected], dict[tuple[str, str], tuple[Finding, ...]]]:
    """Leave out proofs that are not confirmed, with a note; find those that are contradicted."""
    results = []
    unsure = []
    contradicted = {}
    for result in plan.orders:
        for k, certificate in enumerate(result.certificates):
            findings = found.proofs.get((result.order, k), ())
            wrong = errors_of(findings)
            if wrong:
                contradicted[result.order, certificate.blank] = wrong
            elif findings:
                unsure.append(rejected_proof(plan, result.order, certificate.blank, findings))
        proofs = tuple(c for k, c in enumerate(result.certificates) if (result.order, k) not in found.proofs)
        results.append(replace(result, certificates=proofs))
    return tuple(results), unsure, contradicted


def rejected_proof(plan: Plan, order: str, piece: str, found: Sequence[Finding]) -> ProofRejected:
    """Return the notice of a proof that was left out: a note unless the check contradicts it."""
    part = next(o.part for o in plan.shop.orders if o.name == order)
    return ProofRejected(
        severity="warning" if errors_of(found) else "note",
        order=order,
        part=part,
        piece=piece,
        evidence=tuple(found),
    )


def rejected_layout(layout: Layout, found: Sequence[Finding]) -> LayoutRejected:
    """Return the notice of a layout that was left out."""
    return LayoutRejected(
        pieces=tuple(dict.fromkeys(m.piece for m in layout.blank.members)),
        parts=tuple(dict.fromkeys(p.part for p in layout.placements)),
        evidence=tuple(found),
    )
