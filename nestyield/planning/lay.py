"""Parts laid on one blank, one after the other, each exactly."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from nestyield.bed.fit import setups
from nestyield.model import Bed, Blank, Part, Placement, Setup, Shop
from nestyield.placement.single import place_part
from nestyield.planning.stock import Refusal
from nestyield.planning.wants import Want

Laid = tuple[tuple[int, Placement], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Bench:
    """What laying parts on one blank needs to know.

    Parameters
    ----------
    shop : Shop
    wants : tuple of Want
        Items of a layout are indices into these.
    blank : Blank
    """

    shop: Shop
    wants: tuple[Want, ...]
    blank: Blank

    def part(self, want: int) -> Part:
        """Return the part of a want."""
        return self.shop.part(self.wants[want].part)

    def beds(self, items: Sequence[int]) -> tuple[Bed, ...]:
        """Return the beds that every one of the wants allows, in file order."""
        allowed = [set(self.wants[i].beds) for i in items]
        return tuple(b for b in self.shop.beds if all(b.name in names for names in allowed))

    def setups(self, laid: Laid) -> tuple[Setup, ...]:
        """Return how the blank lies on each allowed bed, along X and along Y."""
        placements = [(self.part(i), p) for i, p in laid]
        return setups(self.blank, placements, self.beds([i for i, _ in laid]), self.shop.settings)

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

        def accept(placement: Placement) -> bool:
            return any(s.fits for s in self.setups((*laid, (want, placement))))

        answer = place_part(
            part, self.blank, self.shop.settings, taken=taken, accept=accept if self.shop.beds else None
        )
        if answer.placement is not None:
            return (*laid, (want, replace(answer.placement, order="", copy=1))), None
        return None, self._refusal(part, want, laid, answer.reason)

    def _refusal(self, part: Part, want: int, laid: Laid, reason: str) -> Refusal:
        """Tell whether it was the wood or the bed that refused."""
        taken = [(self.part(i), p) for i, p in laid]
        if self.shop.beds:
            free = place_part(part, self.blank, self.shop.settings, taken=taken)
            if free.placement is not None:
                tried = self.setups((*laid, (want, free.placement)))
                if not tried:
                    return Refusal(
                        piece=self.blank.name, cause="bed", text="no bed may cut all that lies on it"
                    )
                near = max(tried, key=lambda s: min(s.spare_x_mm, s.spare_y_mm))
                return Refusal(
                    piece=self.blank.name,
                    cause="bed",
                    text=f"has room for it, but lies on no bed: bed {near.bed} along {near.along.upper()}: "
                    f"{near.reason}",
                    short_mm=max(0.0, -min(near.spare_x_mm, near.spare_y_mm)),
                )
        return Refusal(piece=self.blank.name, cause="shape", text=reason)
