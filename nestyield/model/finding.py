"""A finding: something a person should know about an input, a plan or an audit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Severity = Literal["error", "warning", "note"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing to tell a person.

    Parameters
    ----------
    code : str
        Stable code, a room letter and three digits: ``S`` shop file, ``R`` rack,
        ``F`` defects, ``D`` drawings, ``P`` plan, ``B`` bed, ``A`` audit, ``G`` glue-up.
    severity : {"error", "warning", "note"}
        An error stops the run; a warning needs a person (exit code 1); a note does not.
    message : str
        What is wrong, the rule, and what to do, as one line.
    file : str
        File name relative to the shop folder, or ``""``.
    where : str
        Row, key, layer and handle, or blank; ``""`` when the whole file is meant.
    """

    code: str
    severity: Severity
    message: str
    file: str = ""
    where: str = ""

    def __str__(self) -> str:
        place = ", ".join(p for p in (self.file, self.where) if p)
        return f"{self.severity} {self.code}: {place + ': ' if place else ''}{self.message}"
