"""Parts laid on one blank, one after the other, each exactly."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import shapely

from nestyield.bed.extents import TurnedBoxes, blank_box
from nestyield.bed.fit import setup, setups, takes
from nestyield.bed.shifts import shifts_taken
from nestyield.bed.sweep import rings_um
from nestyield.bed.tilt import hull_of, tilt
from nestyield.geometry.boolean import SubgridPaths, fine
from nestyield.model import Axis, Bed, Blank, Part, Placement, Setup, Shop
from nestyield.model.facts import BedsRefuse, NoAllowedBed, NoPlaceLeft, Refusal
from nestyield.model.micrometers import up_um
from nestyield.placement.remember import remember
from nestyield.placement.single import place_part
from nestyield.planning.demand import Demand
from nestyield.planning.room import room_left

#: A blank is not refused unasked for less than this over the length of a table, millimeters.
TABLE_SLACK_MM = 0.05
#: Placements of one part in one blank for which sections are looked for.
MOST_ASKED_IN_SECTIONS = 4
#: Beds that take a part at no angle are not asked when their travel is short by more than this, millimeters.
TRAVEL_SLACK_MM = 0.01

Laid = tuple[tuple[int, Placement], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LayoutContext:
    """What laying parts on one blank needs to know.

    Parameters
    ----------
    shop : Shop
    wants : tuple of Demand
        Items of a layout are indices into these.
    blank : Blank
    """

    shop: Shop
    demands: tuple[Demand, ...]
    blank: Blank

    def part(self, want: int) -> Part:
        """Return the part of a want."""
        return self.shop.part(self.demands[want].part)

    def beds(self, items: Sequence[int]) -> tuple[Bed, ...]:
        """Return the beds that every one of the wants allows, in file order: the preferred first."""
        allowed = [set(self.demands[i].beds) for i in items]
        return tuple(b for b in self.shop.beds if all(b.name in names for names in allowed))

    def setups(self, laid: Laid) -> tuple[Setup, ...]:
        """Return how the blank lies on each allowed bed, along X and along Y."""
        placements = [(self.part(i), p) for i, p in laid]
        beds = self.beds([i for i, _ in laid])
        return setups(self.blank, placements, beds, self.shop.settings, self.shop.units)

    def add(self, laid: Laid, want: int) -> tuple[Laid | None, Refusal | None]:
        """Lay one more part beside those that lie there.

        Parameters
        ----------
        laid : tuple of (want, Placement)
        want : int
            Index of the want to lay.

        Returns
        -------
        (Laid or None, Refusal or None)
            All placements with the new one last, or why there is no place for it.
        """
        part = self.part(want)
        taken = [(self.part(i), p) for i, p in laid]
        settings = self.shop.settings
        if laid and not room_left(part, self.blank, taken, settings):
            return None, NoPlaceLeft(piece=self.blank.name)
        if self.shop.beds:
            taker = BedTaker(bench=self, laid=laid, want=want)
            if taker.live:
                for accept, allowed in (
                    (taker.takes, taker.allowed),
                    (taker.takes_in_sections, taker.allowed_in_sections),
                ):
                    if accept == taker.takes and not taker.in_one_go:
                        if not taker.sectioned:
                            break
                        continue
                    answer = place_part(
                        part, self.blank, settings, taken=taken, accept=accept, allowed=allowed
                    )
                    if answer.placement is not None:
                        found = _with(laid, want, answer.placement)
                        return self._on_earlier_bed(laid, want, found), None
                    if not taker.refused:
                        return None, answer.refusal
                    if not taker.sectioned:
                        break
        answer = place_part(part, self.blank, settings, taken=taken)
        if answer.placement is None:
            return None, answer.refusal
        if not self.shop.beds:
            return _with(laid, want, answer.placement), None
        return None, self._no_bed(_with(laid, want, answer.placement))

    def _on_earlier_bed(self, laid: Laid, want: int, found: Laid) -> Laid:
        """Return a layout with one more part where the earliest bed that can take it does, else as found."""
        placed: Placement | None = found[-1][1]
        while placed is not None:
            found = _with(laid, want, placed)
            earlier = self.beds_up_to(found)[:-1]
            taker = BedTaker(bench=self, laid=laid, want=want, beds=earlier)
            if not taker.in_one_go:
                break
            taken = [(self.part(i), p) for i, p in laid]
            placed = place_part(
                self.part(want),
                self.blank,
                self.shop.settings,
                taken=taken,
                accept=taker.takes,
                allowed=taker.allowed,
                limit=0,
            ).placement
        return found

    def beds_up_to(self, laid: Laid) -> tuple[Bed, ...]:
        """Return the allowed beds, in the shop's order of preference, up to the first that takes a layout in one go.

        All of them when none does.
        """
        beds = self.beds([i for i, _ in laid])
        for k, bed in enumerate(beds):
            if self._takes_in_one_go(bed, laid):
                return beds[: k + 1]
        return beds

    def in_one_go(self, laid: Laid) -> bool:
        """Tell whether any allowed bed takes a layout without sections."""
        beds = self.beds([i for i, _ in laid])
        if not any(bed.open_ends and bed.pin_diameter_mm > 0 for bed in beds):
            return True  # no bed cuts in sections
        return any(self._takes_in_one_go(bed, laid) for bed in beds)

    def _takes_in_one_go(self, bed: Bed, laid: Laid) -> bool:
        placements = [(self.part(i), p) for i, p in laid]
        axes: tuple[Axis, ...] = ("x", "y")
        return any(
            table_takes(self.blank, bed, along)
            and takes(self.blank, placements, bed, along, self.shop.settings)[0]
            for along in axes
        )

    def _no_bed(self, laid: Laid) -> NoAllowedBed | BedsRefuse:
        """Return what the closest bed has against a blank on which there is a place for the part."""
        tried = self.setups(laid)
        if not tried:
            return NoAllowedBed(piece=self.blank.name)
        near = max(tried, key=lambda s: min(s.spare_x_mm, s.spare_y_mm))
        bed = next(b for b in self.shop.beds if b.name == near.bed)
        too_big = min(near.spare_x_mm, near.spare_y_mm) >= 0 and not table_takes(self.blank, bed, near.along)
        return BedsRefuse(
            piece=self.blank.name,
            bed=near.bed,
            along=near.along,
            why=near.refusals,
            in_sections=near.in_sections,
            sawn_first=too_big and bool(self.blank.seams),
            far_um=max(0, up_um(-min(near.spare_x_mm, near.spare_y_mm))),
        )


def _with(laid: Laid, want: int, placement: Placement) -> Laid:
    return (*laid, (want, replace(placement, order="", copy=1)))


class BedTaker:
    """Asks the beds about placements, and remembers what cannot change from one to the next.

    A blank longer than a table without open ends never lies on it that way; travel that is too short
    for a part at one angle is too short wherever the part lies at that angle, when it lies alone.

    Parameters
    ----------
    bench : LayoutContext
    laid : tuple of (int, Placement)
        What lies there already.
    want : int
        What is to be laid.
    beds : sequence of Bed, optional
        Those to ask; by default all that the orders allow.
    """

    def __init__(
        self, *, bench: LayoutContext, laid: Laid, want: int, beds: Sequence[Bed] | None = None
    ) -> None:
        self.bench, self.laid, self.want = bench, laid, want
        self._boxes = TurnedBoxes()
        self._short: set[tuple[str, Axis, float, bool]] = set()
        if beds is None:
            beds = bench.beds([*(i for i, _ in laid), want])
        axes: tuple[Axis, ...] = ("x", "y")
        self.live = [(bed, along) for bed in beds for along in axes if table_takes(bench.blank, bed, along)]
        self.sectioned = [(b, along) for b, along in self.live if b.open_ends and b.pin_diameter_mm > 0]
        part, diameter = bench.part(want), bench.shop.settings.cutter_diameter_mm
        self.in_one_go = [(b, along) for b, along in self.live if _within_travel(part, b, diameter)]
        self.refused = not self.in_one_go
        self._asked = 0

    def takes(self, placement: Placement) -> bool:
        """Tell whether any bed takes the blank in one go with the part lying so."""
        laid = self._all(placement)
        for bed, along in self.in_one_go:
            key = (bed.name, along, placement.angle_deg, placement.mirrored)
            if key in self._short:
                continue
            fits, too_short = takes(self.bench.blank, laid, bed, along, self.bench.shop.settings, self._boxes)
            if fits:
                return True
            if not self.laid and too_short:
                self._short.add(key)
        self.refused = True
        return False

    def allowed(self, placement: Placement) -> SubgridPaths:
        """Return the shifts at a placement's angle and face at which a bed may take the blank in one go.

        Asked about when it took none of the first places at that angle; an empty region when none does.
        """
        bench = self.bench
        others = [(bench.part(i), p) for i, p in self.laid]
        part = bench.part(self.want)
        found = [
            shifts_taken(bench.blank, others, part, placement, bed, along, bench.shop.settings, self._boxes)
            for bed, along in self.in_one_go
            if (bed.name, along, placement.angle_deg, placement.mirrored) not in self._short
        ]
        return fine(rings_um(shapely.union_all(found)))

    def allowed_in_sections(self, _placement: Placement) -> SubgridPaths | None:
        """Return that no shift is allowed once as many placements as may be were asked about; else it is not known."""
        return [] if self._asked >= MOST_ASKED_IN_SECTIONS else None

    def takes_in_sections(self, placement: Placement) -> bool:
        """Tell whether any bed with an open end takes it in sections; the first few placements are asked."""
        self._asked += 1
        if self._asked > MOST_ASKED_IN_SECTIONS:
            return False
        laid = self._all(placement)
        return any(
            setup(self.bench.blank, laid, bed, along, self.bench.shop.settings).is_usable
            for bed, along in self.sectioned
        )

    def _all(self, placement: Placement) -> list[tuple[Part, Placement]]:
        return [(self.bench.part(i), p) for i, p in (*self.laid, (self.want, placement))]


def table_takes(blank: Blank, bed: Bed, along: Axis) -> bool:
    """Tell whether a blank can lie on a table along one axis, as far as its length and width say."""
    box = blank_box(blank.shape, 0.0)
    size = (box.width, box.height) if along == "x" else (box.height, box.width)
    for name, extent, (low, high) in zip("xy", size, (bed.table_x_mm, bed.table_y_mm)):
        if not {f"{name}-", f"{name}+"} & set(bed.open_ends) and extent > high - low + TABLE_SLACK_MM:
            return False
    return True


@remember(64)
def _within_travel(part: Part, bed: Bed, diameter_mm: float) -> bool:
    """Tell whether the cutter's way around a part keeps within a bed's travel at any angle at all."""
    extra_mm = diameter_mm - TRAVEL_SLACK_MM
    return tilt(hull_of(part.outline), extra_mm, bed.travel_x_mm, bed.travel_y_mm) is not None
