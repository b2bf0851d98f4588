"""The band of a part between two seams: what one member of a glue-up must hold.

The part lies with the wood's grain along X, so seams are lines of equal y. A member holds the outline grown
by the blank's margin inside its band, and along each seam under that, the jointing allowance beyond it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from nestyield.geometry.boolean import clean, components, intersection, union
from nestyield.geometry.grid import UM_PER_MM, IntPoly, Region, bounds, to_grid
from nestyield.geometry.offset import grow
from nestyield.geometry.shape import to_shapely
from nestyield.geometry.transform import place
from nestyield.model import Part, Settings
from nestyield.placement.parts import part_shape

_FAR = 10**9


def rectangle(x0: int, y0: int, x1: int, y1: int) -> IntPoly:
    """Return a rectangle on the grid, counter-clockwise."""
    return np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]], dtype=np.int64)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lying:
    """A part as it lies in the blank to be glued, its grain about along X.

    Parameters
    ----------
    part : Part
    mirrored : bool
    angle_deg : float
    outline : IntPoly
        Micrometres.
    wide : Region
        The outline grown by the blank's margin.
    jointing_um : int
    """

    part: Part
    mirrored: bool
    angle_deg: float
    outline: IntPoly
    wide: Region
    jointing_um: int

    @property
    def span_um(self) -> tuple[int, int]:
        """Lowest and highest y of what the blank must hold."""
        _, y0, _, y1 = bounds(self.wide)
        return y0, y1

    def cut(self, region: Sequence[IntPoly], low: int | None, high: int | None) -> Region:
        """Return what of a region lies between two values of y; None is no limit."""
        strip = rectangle(-_FAR, -_FAR if low is None else low, _FAR, _FAR if high is None else high)
        return intersection(region, [strip])

    def seam_spans(self, y: int) -> list[tuple[int, int]]:
        """Return the stretches in x where a seam at ``y`` runs under the part with its margin."""
        thin = intersection(self.wide, [rectangle(-_FAR, y - 1, _FAR, y + 1)])
        boxes = [bounds([outer]) for outer, _ in components(thin)]
        return sorted((b[0], b[2]) for b in boxes)

    def needed(self, low: int | None, high: int | None) -> Region:
        """Return what a member must hold between two seams, with its jointing allowances.

        Parameters
        ----------
        low, high : int or None
            Seams; None where the member reaches over the part's edge.
        """
        region = self.cut(self.wide, low, high)
        more: Region = []
        for seam, way in ((low, -1), (high, 1)):
            if seam is not None and self.jointing_um > 0:
                a, b = sorted((seam, seam + way * self.jointing_um))
                more += [rectangle(x0, a, x1, b) for x0, x1 in self.seam_spans(seam) if x1 > x0]
        return union(region, more) if more else region


#: How much larger the needed outline may become for the sake of fewer points, micrometres.
THINNING_UM = 30


def thinned(region: Region) -> Region:
    """Return a region with fewer points that holds the given one and is at most ``THINNING_UM`` larger.

    The outline is grown by half of that and simplified by a little less than half.
    """
    simple = to_shapely(grow(region, THINNING_UM / 2)).simplify(THINNING_UM / 2.2 / UM_PER_MM)
    rings = [simple.exterior] if simple.geom_type == "Polygon" else [g.exterior for g in simple.geoms]
    return clean([to_grid(np.array(r.coords)[:-1]) for r in rings])


def lay(part: Part, settings: Settings, angle_deg: float, mirrored: bool) -> Lying:
    """Lay a part with its origin at the blank's.

    Parameters
    ----------
    part : Part
    settings : Settings
        Margin, jointing allowance and chord error.
    angle_deg : float
    mirrored : bool
    """
    outline = place(part_shape(part, settings.chord_error_mm).outline, angle_deg, mirrored)
    return Lying(
        part=part,
        mirrored=mirrored,
        angle_deg=angle_deg,
        outline=outline,
        wide=thinned(grow([outline], settings.blank_margin_mm * UM_PER_MM)),
        jointing_um=round(settings.jointing_mm * UM_PER_MM),
    )
