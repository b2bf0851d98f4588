"""What a maker should mind about a plan.

A caution of severity ``warning`` needs a person (exit code 1); a ``note`` does not.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import Discriminator

from nestyield.model.errors import ModelError
from nestyield.model.finding import Finding


@dataclass(frozen=True, slots=True, kw_only=True)
class StoppedEarly:
    """The run was stopped: the plan is the best found until then.

    Parameters
    ----------
    code : str
    severity : str
    by : {"seconds", "interrupt"}
        The ceiling in seconds, or Ctrl-C.
    """

    code: Literal["P001"] = "P001"
    severity: Literal["warning"] = "warning"
    by: Literal["seconds", "interrupt"]


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderShort:
    """An order is not placed in full.

    Parameters
    ----------
    code, severity : str
    order, part : str
    missing, count : int
        Copies not placed, and ordered.
    """

    code: Literal["P010"] = "P010"
    severity: Literal["warning"] = "warning"
    order: str
    part: str
    missing: int
    count: int

    def __post_init__(self) -> None:
        if not 0 < self.missing <= self.count:
            raise ModelError(f"expected 0 < missing <= {self.count}, got {self.missing}")


@dataclass(frozen=True, slots=True, kw_only=True)
class BlanksKept:
    """Blanks of an earlier plan that this one keeps as the maker accepted them.

    Parameters
    ----------
    code, severity : str
    blanks : tuple of str
    """

    code: Literal["P091"] = "P091"
    severity: Literal["note"] = "note"
    blanks: tuple[str, ...]


#: What of a blank can be left out without leaving out the blank.
Detail = Literal["setup", "screws", "tabs", "leftovers", "play", "edges to watch"]


@dataclass(frozen=True, slots=True, kw_only=True)
class DetailRejected:
    """The plan's own check rejected a detail of a blank: it is left out, or another one stands in its place.

    Parameters
    ----------
    code, severity : str
    blank : str
    detail : Detail
        The setup first chosen; screws; leftovers; how far parts can move; edges likely to tear out.
    names : tuple of str
        Which of them, where they have names: beds, screws, leftovers.
    evidence : tuple of Finding
        What the check found; never empty.
    """

    code: Literal["P030"] = "P030"
    severity: Literal["warning"] = "warning"
    blank: str
    detail: Detail
    names: tuple[str, ...] = ()
    evidence: tuple[Finding, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LayoutRejected:
    """The plan's own check rejected a layout: the plan was made again without it.

    Parameters
    ----------
    code, severity : str
    pieces, parts : tuple of str
        Rows of the rack that it would use, and parts that lay on it, each once.
    evidence : tuple of Finding
        What the check found; never empty.
    """

    code: Literal["P031"] = "P031"
    severity: Literal["warning"] = "warning"
    pieces: tuple[str, ...]
    parts: tuple[str, ...]
    evidence: tuple[Finding, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ProofRejected:
    """The plan's own check rejected the proof that a piece does not hold a part: it is undecided.

    Parameters
    ----------
    code : str
    severity : str
        A note when the check could not confirm the proof, a warning when it contradicts it.
    order, part, piece : str
    evidence : tuple of Finding
        What the check found; never empty.
    """

    code: Literal["P032"] = "P032"
    severity: Literal["warning", "note"] = "warning"
    order: str
    part: str
    piece: str
    evidence: tuple[Finding, ...]


PlanCaution = Annotated[
    StoppedEarly | OrderShort | BlanksKept | DetailRejected | LayoutRejected | ProofRejected,
    Discriminator("code"),
]
