"""What the maker may still change by hand, and where the edge may tear, for each placement."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from nestyield.model.arc import Point
from nestyield.model.facts.tearout import TearOutRule
from nestyield.model.outline import Shape

TearOutKind = Literal["rising grain", "narrow point"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Slack:
    """How far a placement may be shifted and turned, all other parts of the blank left where they lie.

    Margins, gaps, defects and the grain tolerance hold throughout; the bed, seams and the limit of filler
    are left aside.

    Parameters
    ----------
    placement : int
        Index in the layout's placements.
    along_mm, across_mm : float
        Size of ``slide`` along and across the blank's grain (X and Y of a blank without grain); 0 when
        there is no play.
    slide : Shape or None
        Shifts through which the part can slide from where it lies, without turning, millimeters, as
        differences to the placement's own; None when there is no play.
    from_deg, to_deg : float
        Angles (as ``Placement.angle_deg``) to which the part can be turned, sliding as it needs. At most
        10 degrees either way are looked at.
    """

    placement: int
    along_mm: float
    across_mm: float
    slide: Shape | None
    from_deg: float
    to_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TearOutRisk:
    """A stretch of a part's outline where the cutter may tear the edge: a caution, not a limit.

    Parameters
    ----------
    placement : int
        Index in the layout's placements.
    line_mm : tuple of points
        At least two points along the outline, blank coordinates, millimeters.
    length_mm : float
    angle_deg : float
        Largest angle between outline (of a point: its axis) and grain on the stretch, 0 to 90.
    rule : TearOutRule
        The rule by which it is named.
    """

    placement: int
    line_mm: tuple[Point, ...]
    length_mm: float
    angle_deg: float
    rule: TearOutRule

    @property
    def kind(self) -> TearOutKind:
        """Rising grain, or a narrow point that leans off the grain, so that its fibers are short."""
        return self.rule.code


@dataclass(frozen=True, slots=True, kw_only=True)
class Fill:
    """A defect that stays in a part and is filled.

    Parameters
    ----------
    placement : int
        Index in the layout's placements.
    defect : str
        Name of the blank's defect.
    volume_ml : float
        Filler for the wood of the part that stays, millilitres.
    """

    placement: int
    defect: str
    volume_ml: float
