"""What planning has to say of a plan, in the shape of a finding, so that both are listed alike."""

from __future__ import annotations

from nestyield.model import Finding, Plan
from nestyield.model.facts import DetailRejected, OrderShort, PlanCaution, ProofRejected
from nestyield.paperwork.cautions import wood_warnings
from nestyield.paperwork.phrases import phrase
from nestyield.words import Words


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
