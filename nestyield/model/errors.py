"""Exceptions. One root; children are doubled with the builtin they resemble."""

from __future__ import annotations

from collections.abc import Sequence

from nestyield.model.finding import Finding


class NestyieldError(Exception):
    """Root of every error that this library raises on purpose."""


class ModelError(NestyieldError, ValueError):
    """A value breaks a rule of the model; the message states the rule, then the value."""


class InputError(NestyieldError, ValueError):
    """The input files cannot be used. Carries every problem found, not only the first.

    Parameters
    ----------
    findings : sequence of Finding
        At least one finding of severity ``error``.
    """

    def __init__(self, findings: Sequence[Finding]) -> None:
        self.findings = tuple(findings)
        super().__init__("\n".join(str(f) for f in self.findings))


class AuditError(NestyieldError, RuntimeError):
    """A finished plan failed its independent check; it is not written as a plan.

    Parameters
    ----------
    findings : sequence of Finding
        The evidence.
    """

    def __init__(self, findings: Sequence[Finding]) -> None:
        self.findings = tuple(findings)
        super().__init__("\n".join(str(f) for f in self.findings))
