"""What planning has to say of a plan, in the shape of a finding, so that both are listed alike."""

from __future__ import annotations

from nestyield.model import Finding, Plan
from nestyield.model.facts import DetailRejected, OrderShort, PlanCaution, ProofRejected
from nestyield.paperwork.cautions import wood_warnings
from nestyield.paperwork.phrases import phrase
from nestyield.words import Words, plural


def notice_finding(notice: PlanCaution, words: Words) -> Finding:
    """Return a notice of the plan with its sentence, and the order it is about."""
    return Finding(
        code=notice.code,
        severity=notice.severity,
        message=phrase(notice, words),
        where=_where(notice),
    )


def _where(notice: PlanCaution) -> str:
    if isinstance(notice, (OrderShort, ProofRejected)):
        return notice.order
    return f"blank {notice.blank}" if isinstance(notice, DetailRejected) else ""


def plan_findings(plan: Plan) -> list[Finding]:
    """Return all that a plan has to say as a whole or that needs a person: of intake, of planning, of blanks.

    A plan needs a person just when one of these is no note.
    """
    words = Words(plan.shop.units)
    return [
        *plan.intake,
        *(notice_finding(n, words) for n in plan.notices),
        *(
            Finding(
                code=fact.code,
                severity=fact.severity,
                message=phrase(fact, words),
                where=f"blank {layout.blank.name}",
            )
            for layout in plan.layouts
            for fact in wood_warnings(layout)
        ),
    ]


def person_lines(plan: Plan, told: str = "") -> list[str]:
    """Return why a plan needs a person: how much there is, then a line for each that is not told yet.

    Parameters
    ----------
    plan : Plan
    told : str
        What was printed of it already, as news: orders that are short and new warnings.

    Returns
    -------
    list of str
        Empty for a plan that needs nobody.
    """
    words = Words(plan.shop.units)
    short = [notice_finding(n, words) for n in plan.notices if isinstance(n, OrderShort)]
    other = [f for f in plan_findings(plan) if f.severity != "note" and f not in short]
    counts = [(len(short), "order", "not filled"), (len(other), "warning", "")]
    first = ", ".join(f"{n} {plural(n, what)} {state}".rstrip() for n, what, state in counts if n)
    if not first:
        return []
    lines = [] if told else [f"{f.where}: {f.message}" for f in short]
    return [first, *lines, *(str(f) for f in other if str(f) not in told)]
