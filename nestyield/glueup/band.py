"""The band of a part between two seams: what one member of a glue-up must hold.

The part lies with the wood's grain along X, so seams are lines of equal y. A member holds the outline grown
by the blank's margin inside its band, and along each seam under that, the jointing allowance beyond it. Where
the margin is less than the allowance, the allowance is asked for under the part alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from nestyield.geometry.boolean import clean, difference, intersection, union
from nestyield.geometry.grid import UM_PER_MM, IntPoly, Region, bounds, to_grid
from nestyield.geometry.offset import grow, shrink
from nestyield.geometry.shape import to_shapely
from nestyield.geometry.sweep import SLACK_UM, rotation_intersection, simplified
from nestyield.glueup.clear_boxes import Box
from nestyield.glueup.held_length import HeldLength
from nestyield.model import Part, Settings
from nestyield.model.pose import Pose
from nestyield.placement.parts import part_shape

_FAR = 10**9


def rectangle(x0: int, y0: int, x1: int, y1: int) -> IntPoly:
    """Return a rectangle on the grid, counter-clockwise."""
    return np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]], dtype=np.int64)


@dataclass(frozen=True, slots=True, kw_only=True)
class OrientedPart:
    """A part as it lies in the blank to be glued, its grain about along X.

    Parameters
    ----------
    part : Part
    mirrored : bool
    angle_deg : float
    outline : IntPoly
        Micrometers.
    wide : Region
        The outline grown by the blank's margin.
    openings : Region
        Through cutouts and holes, shrunk by the margin: a hole of a piece may lie in one of these.
    jointing_um : int
        As far beyond a seam as the member must reach under the part.
    margin_um : int
    known : dict
        Bands already cut.
    lain, bands : dict
        What ``laid`` and ``band`` returned.
    guesses : dict
        Seams by length, of ``seam_of_length``.
    extents : dict
        Boxes of bands, of ``extent``.
    wanted : dict
        Seams wanted, by the number of members.
    spans : list
        ``held_um``, once it is asked for.
    half_deg : float
        It stands for the part turned by up to so much more either way: outline and wood needed are what every
        turned copy covers, openings what any does (``turned_by``).
    middle_um : (float, float)
        The center of those turns.
    reach_um : int
        How far any of it moves in them.
    """

    part: Part
    mirrored: bool
    angle_deg: float
    outline: IntPoly
    wide: Region
    openings: Region
    jointing_um: int
    margin_um: int
    known: dict[tuple[int | None, int | None], Region] = field(
        default_factory=dict, compare=False, repr=False
    )
    lain: dict[bytes, Region] = field(default_factory=dict, compare=False, repr=False)
    bands: dict[tuple[int, int | None, int | None], Region] = field(
        default_factory=dict, compare=False, repr=False
    )
    guesses: dict[tuple[bool, int], int] = field(default_factory=dict, compare=False, repr=False)
    extents: dict[tuple[int | None, int | None, int], Box | None] = field(
        default_factory=dict, compare=False, repr=False
    )
    held: dict[bool, HeldLength] = field(default_factory=dict, compare=False, repr=False)
    wanted: dict[int, tuple[int, ...]] = field(default_factory=dict, compare=False, repr=False)
    spans: list[tuple[int, int]] = field(default_factory=list, compare=False, repr=False)
    half_deg: float = 0.0
    middle_um: tuple[float, float] = (0.0, 0.0)
    reach_um: int = 0

    def laid(self, region: Region) -> Region:
        """Return what of the part's own region stays where it is at every angle that this stands for."""
        key = b"|".join(ring.tobytes() for ring in region)
        if key not in self.lain:
            at = self.turn.on_grid(region)
            self.lain[key] = rotation_intersection(at, self.half_deg, self.middle_um) if self.half_deg else at
        return self.lain[key]

    @property
    def turn(self) -> Pose:
        """Mirror and turn of the part, without a shift."""
        return Pose(mirrored=self.mirrored, angle_deg=self.angle_deg)

    @property
    def span_um(self) -> tuple[int, int]:
        """Lowest and highest y of what the blank must hold."""
        y0, y1 = self.held_um
        return y0 - self.reach_um, y1 + self.reach_um

    @property
    def held_um(self) -> tuple[int, int]:
        """Lowest and highest y of what every blank must hold, at whatever angle this stands for."""
        if not self.spans:
            _, y0, _, y1 = bounds(self.wide)
            self.spans.append((y0, y1))
        return self.spans[0]

    def seam_of_length(self, length_um: int, up: bool) -> int:
        """Return about the seam at which the wood needed below it (``up``), or above it, gets longer than so much.

        Beyond the part where it never does.
        """
        sign = 1 if up else -1
        if up not in self.held:
            self.held[up] = HeldLength([ring * np.array([1, sign]) for ring in self.wide])
        found = self.held[up].seam(length_um)
        if found is None:
            return sign * (self.held_um[1 if up else 0] * sign + self.jointing_um + 1)
        return sign * (found - self.jointing_um)

    def cut(self, region: Sequence[IntPoly], low: int | None, high: int | None) -> Region:
        """Return what of a region lies between two values of y; None is no limit."""
        strip = rectangle(-_FAR, -_FAR if low is None else low, _FAR, _FAR if high is None else high)
        return intersection(region, [strip])

    def band(self, laid: Region, low: int | None, high: int | None) -> Region:
        """Return ``cut`` of a region that ``laid`` returned; pieces that are alike ask for the same."""
        key = (id(laid), low, high)
        if key not in self.bands:
            self.bands[key] = self.cut(laid, low, high)
        return self.bands[key]

    def needed(self, low: int | None, high: int | None) -> Region:
        """Return what a member must hold between two seams, with its jointing allowances.

        It shrinks as the seams come closer (as long as the margin is no less than the jointing allowance), so
        what a piece can serve is told by the farthest seam alone.

        Parameters
        ----------
        low, high : int or None
            Seams; None where the member reaches over the part's edge.
        """
        key = (low, high)
        if key not in self.known:
            j = self.jointing_um
            if self.margin_um >= j:
                region = self.cut(
                    self.wide, None if low is None else low - j, None if high is None else high + j
                )
            else:
                region = union(self.cut(self.wide, low, high), *self.allowances(low, high))
            self.known[key] = region
        return self.known[key]

    def extent(self, low: int | None, high: int | None, less_um: int) -> Box | None:
        """Return the box of the wood needed between two seams, without cutting it out.

        Parameters
        ----------
        low, high : int or None
        less_um : int
            Of a band that is narrower by so much at each seam: what lies in it is there however the wood needed is rounded.

        Returns
        -------
        Box or None
            None where this does not tell: no wood in the band, or needed by other rules than the margin's.
        """
        key = (low, high, less_um)
        if key not in self.extents:
            self.extents[key] = self._extent(low, high, less_um)
        return self.extents[key]

    def _extent(self, low: int | None, high: int | None, less_um: int) -> Box | None:
        if self.half_deg or self.margin_um < self.jointing_um or len(self.wide) != 1:
            return None
        tails = self.wide[0]
        x, y = tails[:, 0], tails[:, 1]
        by = self.jointing_um - less_um
        least, most = self.held_um
        least = least if low is None else max(least, low - by)
        most = most if high is None else min(most, high + by)
        if least >= most:
            return None
        inside = (y >= least) & (y <= most)
        found = [x[inside].astype(np.float64)]
        for at in (least, most):
            beyond = y > at
            (crossing,) = np.nonzero(beyond != np.roll(beyond, -1))
            heads = np.where(crossing + 1 < len(x), crossing + 1, 0)
            share = (at - y[crossing]) / (y[heads] - y[crossing])
            found.append(x[crossing] + share * (x[heads] - x[crossing]))
        every = np.concatenate(found)
        return (float(every.min()), float(least), float(every.max()), float(most)) if len(every) else None

    def allowances(self, low: int | None, high: int | None) -> list[Region]:
        """Return the jointing allowances beyond the seams, under the part alone, openings included."""
        out: list[Region] = []
        for at, way in ((low, -1), (high, 1)):
            if at is None or self.jointing_um == 0:
                continue
            for ring in self.cut([self.outline], at - 1, at + 1):
                x0, _, x1, _ = bounds([ring])
                y0, y1 = sorted((at, at + way * self.jointing_um))
                out.append([rectangle(x0, y0, x1, y1)])
        return out

    def solid(self, low: int | None, high: int | None) -> Region:
        """Return what no hole of a piece may touch: the needed wood, but for openings in the band itself."""
        needed = self.needed(low, high)
        if not self.openings:
            return needed
        return union(difference(needed, self.cut(self.openings, low, high)), *self.allowances(low, high))


#: How much larger the needed outline may become for the sake of fewer points, micrometers.
THINNING_UM = 30
#: Outlines of no more points are not thinned.
FEW_POINTS = 80


def thinned(region: Region, by_um: float = THINNING_UM) -> Region:
    """Return a region with fewer points that holds the given one and is at most ``by_um`` larger.

    The outline is grown by half of that and simplified by a little less than half. Where it comes so near to itself
    that this would tear it, it stays as it is.
    """
    if sum(len(r) for r in region) <= FEW_POINTS:
        return region
    simple = to_shapely(grow(region, by_um / 2)).simplify(by_um / 2.2 / UM_PER_MM)
    parts = [simple] if simple.geom_type == "Polygon" else list(simple.geoms)
    if any(g.geom_type != "Polygon" for g in parts):
        return region
    fewer = clean([to_grid(np.array(g.exterior.coords)[:-1]) for g in parts])
    return region if difference(region, fewer) else fewer


def outlined(part: Part, settings: Settings, angle_deg: float, mirrored: bool) -> OrientedPart:
    """Lay a part for its outline and the rules of seams alone: without the wood that a blank must hold."""
    shape = part_shape(part, settings.chord_error_mm)
    return OrientedPart(
        part=part,
        mirrored=mirrored,
        angle_deg=angle_deg,
        outline=Pose(mirrored=mirrored, angle_deg=angle_deg).on_grid(shape.outline),
        wide=[],
        openings=[],
        jointing_um=round(settings.jointing_mm * UM_PER_MM),
        margin_um=round(settings.blank_margin_mm * UM_PER_MM),
    )


def lay(
    part: Part, settings: Settings, angle_deg: float, mirrored: bool, thinning_um: float = THINNING_UM
) -> OrientedPart:
    """Lay a part with its origin at the blank's.

    Parameters
    ----------
    part : Part
    settings : Settings
        Margin, jointing allowance and chord error.
    angle_deg : float
    mirrored : bool
    thinning_um : float
        How much larger the wood needed may be taken to be.
    """
    at = outlined(part, settings, angle_deg, mirrored)
    openings = at.turn.on_grid(part_shape(part, settings.chord_error_mm).openings)
    margin = settings.blank_margin_mm * UM_PER_MM
    return replace(
        at,
        wide=thinned(grow([at.outline], margin), thinning_um),
        openings=shrink(openings, margin) if openings else [],
    )


#: What turned copies share is made coarse by this part of what they move, and by so much at the least.
_COARSE, _LEAST_COARSE_UM = 1 / 8, 4.0


def turned_by(
    part: Part, settings: Settings, middle_deg: float, half_deg: float, mirrored: bool
) -> OrientedPart:
    """Return what stands for a part at every angle of an interval: what does not hold it holds no such part.

    Parameters
    ----------
    part : Part
    settings : Settings
    middle_deg, half_deg : float
        The interval; half of it below 45 degrees.
    mirrored : bool
    """
    at = lay(part, settings, middle_deg, mirrored)
    x0, y0, x1, y1 = bounds([at.outline])
    middle = ((x0 + x1) / 2, (y0 + y1) / 2)
    far = float(np.hypot(*(at.outline - np.array(middle)).T).max()) + at.margin_um
    move = far * np.radians(half_deg)
    coarse = max(_LEAST_COARSE_UM, _COARSE * move)

    def kept(region: Region) -> Region:
        return simplified(rotation_intersection(region, half_deg, middle, SLACK_UM + coarse), coarse)

    outline = max(kept([at.outline]), key=lambda r: bounds([r])[2] - bounds([r])[0], default=at.outline[:0])
    return replace(
        at,
        outline=outline,
        wide=kept(grow([at.outline], float(at.margin_um))),
        openings=grow(at.openings, move) if at.openings else [],
        half_deg=half_deg,
        middle_um=middle,
        reach_um=round(move) + 1,
        known={},
        guesses={},
        extents={},
        lain={},
        bands={},
        wanted={},
        spans=[],
    )
