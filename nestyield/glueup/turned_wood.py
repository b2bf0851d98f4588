"""The wood of turned pieces: worked out once, however many ways a part is laid."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

import numpy as np

from nestyield.geometry.boolean import to_grid, union
from nestyield.geometry.flatten import flatten
from nestyield.geometry.grid import CONTACT_TOL_UM, Region, area_um2, bounds
from nestyield.geometry.minkowski import is_box, no_fit_subgrid
from nestyield.glueup.turned import TurnedMember, turnings
from nestyield.model import GlueUpRules, Piece
from nestyield.placement.contact import square


class TurnedWood:
    """A turned piece on the grid.

    Parameters
    ----------
    turned : TurnedMember
    error_mm : float
        Of chords.
    """

    def __init__(self, turned: TurnedMember, error_mm: float) -> None:
        self.turned, self._error_mm = turned, error_mm
        # A fit with no play is a fit: the edge gives way by the tolerance of contact.
        self.container: Region = to_grid(
            no_fit_subgrid(flatten(turned.blank.shape.outer, error_mm, "inside"), square(CONTACT_TOL_UM))
        )[:1]
        self.area_um2 = area_um2(self.container)
        x0, y0, x1, y1 = bounds(self.container)
        self.length_um, self.width_um = x1 - x0, y1 - y0
        self.metal = any(d.traits.metal for d in turned.blank.defects)
        self.is_board = is_box(self.container[0]) and not turned.blank.shape.holes and not self.metal

    @cached_property
    def holes(self) -> Region:
        """Holes of the piece."""
        return union(*([flatten(h, self._error_mm, "outside")] for h in self.turned.blank.shape.holes))

    @cached_property
    def looks(self) -> object:
        """A key alike for turnings that are the same wood: plain pieces that look alike when turned."""
        if self.turned.blank.defects or self.turned.blank.shape.holes:
            return (self.turned.mirrored, self.turned.angle_deg)
        ring = self.container[0]
        first = int(np.lexsort((ring[:, 1], ring[:, 0]))[0])
        moved = np.roll(ring, -first, axis=0) - ring[first]
        return moved.tobytes()


class Woods:
    """Every turning of every row, made when first asked for.

    Parameters
    ----------
    pieces : sequence of Piece
    rules : GlueUpRules
    error_mm : float
        Of chords.
    """

    def __init__(self, pieces: Sequence[Piece], rules: GlueUpRules, error_mm: float) -> None:
        self._pieces, self._rules, self._error_mm = pieces, rules, error_mm
        self._turnings: dict[int, list[TurnedMember]] = {}
        self._woods: dict[tuple[int, int], TurnedWood] = {}

    def turnings(self, row: int) -> list[TurnedMember]:
        """Return every way to lay a row's piece."""
        if row not in self._turnings:
            self._turnings[row] = list(turnings(self._pieces[row], row, self._rules))
        return self._turnings[row]

    def wood(self, row: int, turning: int) -> TurnedWood:
        """Return the wood of one of a row's turnings."""
        if (row, turning) not in self._woods:
            self._woods[row, turning] = TurnedWood(self.turnings(row)[turning], self._error_mm)
        return self._woods[row, turning]
