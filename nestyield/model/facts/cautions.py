"""What a maker should mind about a plan.

A caution of severity ``warning`` needs a person (exit code 1); a ``note`` does not.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import Discriminator

from nestyield.model.errors import ModelError


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


PlanCaution = Annotated[StoppedEarly | OrderShort | BlanksKept, Discriminator("code")]
