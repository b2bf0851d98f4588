"""How far a piece reaches: the highest seam it can serve from below, the lowest from above.

With seams along the grain the members of a glue-up are independent once the seams are fixed: each is slid
along and across by itself. What a member must hold, its jointing allowances included, only shrinks as its
seams come closer (``OrientedPart.needed``), so "up to which seam" is one number a piece and turning, found by
bisection over the exact allowed region; and a row of the rack serves as far as its best turning.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from nestyield.geometry.boolean import SubgridPaths, fine, union
from nestyield.geometry.flatten import flatten, flatten_shape
from nestyield.geometry.grid import UM_PER_MM, Region, area_um2, bounds
from nestyield.geometry.minkowski import Window, near_boxes
from nestyield.geometry.offset import grow
from nestyield.glueup.band import OrientedPart, rectangle
from nestyield.glueup.brackets import Nested
from nestyield.glueup.clear_boxes import Box, has_room
from nestyield.glueup.sound import sound
from nestyield.glueup.turned_wood import TurnedWood
from nestyield.model import Settings
from nestyield.placement.constraint import Constraint, constraints_on
from nestyield.placement.depth import thickness_splits
from nestyield.placement.problem import FlattenedInputs
from nestyield.placement.region import region_subgrid

#: Seams are searched to this, micrometers.
RESOLUTION_UM = 1
#: Bounds on how far a piece reaches are found to this, micrometers.
COARSE_UM = 400
# A guess that is off by more than about this is of no use, micrometers.
_MOST_STEP_UM = 64
#: By so much wood may seem shorter than it is, for rounding, micrometers.
LONGER_UM = 4
#: Longer than any piece, micrometers.
_LONG = 10**8


@dataclass(frozen=True, slots=True, kw_only=True)
class SeamFit:
    """Where the needed band may lie in a turned piece.

    Parameters
    ----------
    shifts : list of IntPoly
        Of the part's frame into the turned piece's, on the subgrid.
    """

    shifts: SubgridPaths


class FeasibilityOracle:
    """A turned piece and a lying part: which bands of the part the piece can hold.

    Parameters
    ----------
    lying : OrientedPart
    wood : TurnedWood
    settings : Settings
    filling : bool
        Whether defects may lie where the part lets them be filled.
    constraints : sequence of Constraint
    """

    def __init__(
        self,
        lying: OrientedPart,
        wood: TurnedWood,
        settings: Settings,
        filling: bool = True,
        constraints: Sequence[Constraint] = (),
    ) -> None:
        turned = wood.turned
        self.lying, self.turned, self.filling = lying, turned, filling
        self.constraints = constraints_on(constraints, lying.part.name, turned.blank)
        self.container, self._area = wood.container, wood.area_um2
        self.length_um, self.width_um = wood.length_um, wood.width_um
        self._wood, self._settings = wood, settings
        self._is_board, self._holes = wood.is_board, wood.holes
        self._boxes: list[tuple[Box, Box]] | None = None
        self._kerf = round(settings.machines.saw_kerf_mm * UM_PER_MM)
        self._pairs: list[tuple[Region, Region]] | None = None
        self._nails: tuple[Region, Region] | None = None
        self._known: dict[tuple[int | None, int | None], SeamFit | None] = {}
        self._nested = Nested()
        self.shrinks = (
            lying.margin_um >= lying.jointing_um and not (self._holes and lying.openings) and not wood.metal
        )

    def _obstacles(self) -> list[tuple[Region, Region]]:
        """Return defects and the wood of the lying part that may not hold them; set up when first asked.

        Members are planed to the thinnest of them before gluing, from either face, and the blank to the part
        in halves. Defects are taken to be as deep as in the rough piece, counted from the face of the
        thinnest blank that would serve, which errs on the safe side in every case.
        """
        if self._pairs is None:
            part, settings = self.lying.part, self._settings
            least = part.thickness_mm + max(0.0, 2 * settings.planing_mm - settings.thickness_tolerance_mm)
            others = tuple(d for d in self.turned.blank.defects if not d.traits.metal)
            plain = replace(self.turned.blank, thickness_mm=least, defects=others)
            plain = replace(plain, shape=replace(plain.shape, holes=()))
            problem = FlattenedInputs(part, plain, settings).problem(
                thickness_splits(part, plain, settings.planing_mm, True)[0]
            )
            pairs = [(o.fixed, o.moving) for o in problem.obstacles]
            if not self.filling:
                pairs += [(f.fixed, f.moving) for f in problem.fillings]
            pairs += [
                (
                    flatten_shape(
                        self.turned.pose.shape(c.fixed),
                        settings.chord_error_mm,
                        "outside",
                    ),
                    flatten_shape(c.moving, settings.chord_error_mm, "outside"),
                )
                for c in self.constraints
            ]
            self._pairs = [(f, self.lying.laid(m)) for f, m in pairs]
        return self._pairs

    def _metal(self) -> tuple[Region, Region]:
        """Return metal of the piece, and the part grown by the cutter's diameter."""
        if self._nails is None:
            error = self._settings.chord_error_mm
            nails = [flatten_shape(d.shape, error, "outside") for d in self.turned.blank.defects
                     if d.traits.metal]  # fmt: skip
            cutter = self._settings.cutter_diameter_mm * UM_PER_MM
            self._nails = (union(*nails), grow([self.lying.outline], cutter)) if nails else ([], [])
        return self._nails

    def _clear(self, low: int | None, high: int | None, window: Window) -> list[tuple[Region, Region]]:
        """Return what must stay clear of what when the piece holds the band between two seams.

        A pair that cannot meet at a shift in a window is not cut to the band: it moves nothing.
        """
        near = [(f, m) for f, m in self._obstacles() if _may_meet(f, m, window)]
        far = len(near) < len(self._obstacles())
        out = [(fixed, self.lying.band(moving, low, high)) for fixed, moving in near]
        if self._holes:
            out.append((self._holes, self.lying.solid(low, high)))
        nails, around = self._metal()
        if nails:
            # no saw and no jointer may meet it either
            j, kerf = self.lying.jointing_um, self._kerf
            orientations = [rectangle(-_LONG, low - j - kerf, _LONG, low)] if low is not None else []
            orientations += [rectangle(-_LONG, high, _LONG, high + j + kerf)] if high is not None else []
            out += [(nails, self.lying.cut(around, low, high)), *((nails, [way]) for way in orientations)]
        out = [(f, m) for f, m in out if m]
        return [*out, ([], [])] if far else out

    def _region(self, container: Region, low: int | None, high: int | None) -> SubgridPaths:
        """Return the shifts at which the band between two seams lies in a container, clear of all that it must."""
        needed = self.lying.needed(low, high)
        return region_subgrid(container, needed, lambda window: self._clear(low, high, window), 0.0, False)

    @property
    def looks(self) -> object:
        """A key alike for turnings that are the same wood and must keep clear of the same."""
        if self.constraints:
            return (self.turned.mirrored, self.turned.angle_deg)
        return self._wood.looks

    def fit(self, low: int | None, high: int | None) -> SeamFit | None:
        """Return where the band between two seams may lie, or None; the last answers are kept."""
        key = (low, high)
        if key not in self._known:
            self._known[key] = self._fit(low, high)
        return self._known[key]

    def holds(self, low: int | None, high: int | None) -> bool:
        """Tell whether there is a ``fit``: by the size of the wood needed or by other bands, where they tell."""
        if (low, high) in self._known:
            return self._known[low, high] is not None
        told = self._by_size(low, high)
        if told is not None or not self.shrinks:
            return self.fit(low, high) is not None if told is None else told
        band = (-_LONG if low is None else low, _LONG if high is None else high)
        told = self._nested.told(*band)
        if told is None:
            told = self.fit(low, high) is not None
            self._nested.add(*band, told)
        return told

    def _by_size(self, low: int | None, high: int | None) -> bool | None:
        """Return what boxes alone tell: too long or too wide, or room in a board beside its defects; else None."""
        least = self.lying.extent(low, high, LONGER_UM)
        if least is None:
            return None
        if (
            least[2] - least[0] > self.length_um + LONGER_UM
            or least[3] - least[1] > self.width_um + 2 * LONGER_UM
        ):
            return False
        if not self._is_board:
            return None
        most = self.lying.extent(low, high, 0)
        return True if most is not None and self._has_room(most, low, high) else None

    def _has_room(self, needed: Box, low: int | None, high: int | None) -> bool:
        """Tell whether a board without holes and metal surely holds a band: its box clear of the boxes of defects."""
        if self._boxes is None:
            self._boxes = [(_box(f), _box(m)) for f, m in self._obstacles() if f and m]
        pairs = []
        for fixed, (x0, y0, x1, y1) in self._boxes:
            y0, y1 = y0 if low is None else max(y0, low), y1 if high is None else min(y1, high)
            if y0 < y1:
                pairs.append((fixed, (x0, y0, x1, y1)))
        return has_room(_box(self.container), needed, pairs, LONGER_UM)

    def _fit(self, low: int | None, high: int | None) -> SeamFit | None:
        needed = self.lying.needed(low, high)
        if not needed and self.lying.half_deg:
            return SeamFit(shifts=fine(self.container))  # no wood that all angles need
        if not needed or area_um2(needed) > self._area:
            return None
        x0, y0, x1, y1 = bounds(needed)
        if x1 - x0 > self.length_um or y1 - y0 > self.width_um:
            return None
        shifts = sound(self._region(self.container, low, high), self.container, needed)
        return SeamFit(shifts=shifts) if shifts else None

    def shifts(self, low: int | None, high: int | None) -> SubgridPaths:
        """Return where a band that fits may lie: inside the edge itself, and past it by the tolerance only where it must.

        Where an edge runs nearly along a seam, the tolerance across it is a long way along the seam.
        """
        outer = [flatten(self.turned.blank.shape.outer, self._settings.chord_error_mm, "inside")]
        strict = sound(self._region(outer, low, high), outer, self.lying.needed(low, high))
        fit = self.fit(low, high)
        return strict or (fit.shifts if fit is not None else [])

    def highest(self, above: int | None = None) -> int | None:
        """Return the highest seam up to which the piece serves from below the part.

        Parameters
        ----------
        above : int, optional
            Only a seam higher than this is of use.

        Returns
        -------
        int or None
            Micrometers, never too high and at most ``RESOLUTION_UM`` too low; None when there is none.
        """
        bottom, top = self.lying.span_um
        near = (bottom if above is None else max(bottom, above)) + RESOLUTION_UM
        far = min(top, self.lying.held_um[0] + self.width_um - self.lying.jointing_um)
        return (
            None
            if far < near
            else self._farthest(near, far, lambda c: self.holds(None, c), self._guess(True))
        )

    def lowest(self, below: int | None = None) -> int | None:
        """Return the lowest seam down to which the piece serves from above the part.

        Parameters
        ----------
        below : int, optional
            Only a seam lower than this is of use.
        """
        bottom, top = self.lying.span_um
        near = (top if below is None else min(top, below)) - RESOLUTION_UM
        far = max(bottom, self.lying.held_um[1] - self.width_um + self.lying.jointing_um)
        return (
            None
            if far > near
            else self._farthest(near, far, lambda c: self.holds(c, None), self._guess(False))
        )

    def bound(self, up: bool) -> int | None:
        """Return a seam past which the piece surely does not serve, from below (``up``) or from above; None for nowhere.

        By its width, and by the seam at which the wood needed gets longer than the piece: quick, and never too near.
        """
        (bottom, top), (low, high) = self.lying.span_um, self.lying.held_um
        j = self.lying.jointing_um
        # where the margin is less than the allowance, wood is only needed up to the seam itself
        more = LONGER_UM + (j if self.lying.margin_um < j else 0)
        if up:
            far = min(top, low + self.width_um - j)
            if far < bottom + RESOLUTION_UM:
                return None
            far = min(far, self._seam(self.length_um + LONGER_UM, up) + more)
            return far if far >= bottom + RESOLUTION_UM else None
        far = max(bottom, high - self.width_um + j)
        if far > top - RESOLUTION_UM:
            return None
        far = max(far, self._seam(self.length_um + LONGER_UM, up) - more)
        return far if far <= top - RESOLUTION_UM else None

    def _guess(self, up: bool) -> int:
        """Return the seam at which the wood needed from below, or above, gets as long as the piece."""
        return self._seam(self.length_um, up)

    def _seam(self, length_um: int, up: bool) -> int:
        known = self.lying.guesses
        if (up, length_um) not in known:
            known[up, length_um] = self.lying.seam_of_length(length_um, up)
        return known[up, length_um]

    def reach(self, seam: int, up: bool, least_um: int) -> int | None:
        """Return a seam past which the piece surely does not reach from another, to ``COARSE_UM``.

        Parameters
        ----------
        seam : int
            The nearer seam.
        up : bool
            Whether the piece lies above it.
        least_um : int
            Least width of a member.

        Returns
        -------
        int or None
            Never too near; None when the piece does not hold even the narrowest member.
        """
        way = 1 if up else -1

        def fits(c: int) -> bool:
            return self.holds(*((seam, c) if up else (c, seam)))

        width = self.width_um - 2 * self.lying.jointing_um
        if width < least_um:
            return None
        good, bad = seam + way * max(1, least_um), seam + way * width
        if self._holes and self.lying.openings:
            return bad
        if not fits(good):
            return None
        if fits(bad):
            return bad
        while abs(bad - good) > COARSE_UM:
            middle = (good + bad) // 2
            good, bad = (middle, bad) if fits(middle) else (good, middle)
        return bad

    def _farthest(self, near: int, far: int, fits: Callable[[int], bool], guess: int) -> int | None:
        """Return the value farthest from ``near`` toward ``far`` that fits; None when none is found.

        What fits a band fits a narrower one, except that a hole of the piece may come to lie in an opening of
        the part only when the band holds all of the opening: so each stretch between openings is searched.
        """
        ends = [near, far]
        if self._holes and self.lying.openings:
            edges = {y for ring in self.lying.openings for y in bounds([ring])[1::2]}
            ends += [y for y in edges if min(near, far) < y < max(near, far)]
        ends.sort(reverse=far < near)
        for start, end in reversed(list(pairwise(ends)) or [(near, far)]):
            found = self._bisect(start, end, fits, guess)
            if found is not None:
                return found
        return None

    @staticmethod
    def _bisect(near: int, far: int, fits: Callable[[int], bool], guess: int) -> int | None:
        """Return the value farthest from ``near`` toward ``far`` that fits; None when ``near`` does not.

        First it is looked for about a guess, in steps that grow, then by halving: where to look changes the time
        and not the answer.
        """
        way = 1 if far >= near else -1
        if fits(far):
            return far
        if not fits(near):
            return None
        good, bad, step = near, far, 1
        while way * (guess - good) > 0 and way * (bad - guess) > 0 and step <= _MOST_STEP_UM:
            if fits(guess):
                good, guess = guess, guess + way * step
            else:
                bad, guess = guess, guess - way * step
            step *= 4
        while way * (bad - good) > RESOLUTION_UM:
            middle = (good + bad) // 2
            if fits(middle):
                good = middle
            else:
                bad = middle
        return good


def _box(region: Region) -> Box:
    x0, y0, x1, y1 = bounds(region)
    return float(x0), float(y0), float(x1), float(y1)


def _may_meet(fixed: Region, moving: Region, window: Window) -> bool:
    """Tell whether regions may meet at a shift in a window, as far as the boxes around all of each tell."""
    return bool(fixed and moving) and near_boxes(np.concatenate(fixed), np.concatenate(moving), window)
