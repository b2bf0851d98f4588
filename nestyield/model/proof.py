"""The proof that a part has no place in a blank, as data that can be checked again."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from nestyield.model.errors import ModelError

IntervalKind = Literal["infeasible", "tight"]


@dataclass(frozen=True, slots=True, kw_only=True)
class AngleInterval:
    """A closed interval of angles without a place.

    Parameters
    ----------
    from_deg, to_deg : float
        Angles of ``Placement``.
    kind : {"infeasible", "tight"}
        Infeasible: what all copies of the part turned within the interval have in common has an empty
        feasible region. Tight: so it has when every margin, gap and defect is wider by the certificate's
        ``within_mm``.
    """

    from_deg: float
    to_deg: float
    kind: IntervalKind = "infeasible"

    def __post_init__(self) -> None:
        if not self.from_deg <= self.to_deg:
            raise ModelError(f"expected from_deg <= to_deg, got {self.from_deg} and {self.to_deg}")


@dataclass(frozen=True, slots=True, kw_only=True)
class ProofBranch:
    """One way to lay the part, and the intervals that cover all its allowed angles.

    Parameters
    ----------
    front_up, mirrored : bool
        As in Placement.
    top_off_mm : float
        Planed off the blank's top face.
    intervals : tuple of AngleInterval
        In order, without gaps, from the least to the greatest allowed angle.
    """

    front_up: bool
    mirrored: bool
    top_off_mm: float
    intervals: tuple[AngleInterval, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Certificate:
    """No placement of the part exists in the blank at any allowed angle, to within a stated distance.

    When every interval is of kind ``infeasible`` there is no placement at all; otherwise there is none that
    keeps ``within_mm`` more than it must from every edge, part and defect.

    Parameters
    ----------
    part, blank : str
        The blank is a single piece by that name, with nothing else on it.
    within_mm : float
    center_um : (float, float)
        Point of the drawing about which the intervals' turns are taken.
    branches : tuple of ProofBranch
        Every way the part may lie that is not at least as bad as another one listed.
    steps : int
        Regions computed to find it.
    """

    part: str
    blank: str
    within_mm: float
    center_um: tuple[float, float]
    branches: tuple[ProofBranch, ...]
    steps: int

    @property
    def outright(self) -> bool:
        """Whether no placement exists at all, however tight."""
        return all(i.kind == "infeasible" for b in self.branches for i in b.intervals)
