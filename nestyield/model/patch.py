"""A repair of a part: the straight cut that takes a damaged place away, and what is glued on in its place."""

from __future__ import annotations

from dataclasses import dataclass

from nestyield.model.arc import Point
from nestyield.model.facts.joints import JointNote
from nestyield.model.outline import Shape


@dataclass(frozen=True, slots=True, kw_only=True)
class PatchCut:
    """A straight cut through a part, drawing coordinates, front face up.

    Parameters
    ----------
    line_mm : (point, point)
        Where it enters and leaves the part's outline; what comes off lies on its left.
    off_grain_deg : float or None
        Angle between the cut and the part's grain, 0 to 90; None for a part without grain.
    joint : JointNote or None
        How strong the glued joint is along it, patch and part with their grain alike; None without grain.
    removed : Shape
        What comes off.
    area_mm2 : float
        Of it.
    """

    line_mm: tuple[Point, Point]
    off_grain_deg: float | None
    joint: JointNote | None
    removed: Shape
    area_mm2: float

    @property
    def length_mm(self) -> float:
        """Length of the cut."""
        (ax, ay), (bx, by) = self.line_mm
        return float(((bx - ax) ** 2 + (by - ay) ** 2) ** 0.5)
