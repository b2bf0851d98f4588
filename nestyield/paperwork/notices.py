"""What planning has to say of a plan, in the shape of a finding, so that both are listed alike."""

from __future__ import annotations

from nestyield.model import Finding
from nestyield.model.facts import DetailRejected, OrderShort, PlanCaution, ProofRejected
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
