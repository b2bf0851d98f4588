"""By how much a blank can be off: how it was measured, sawn, glued and turned over, added up."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

#: Where an error comes from: measuring a piece, a saw cut to a line, a seam, a layer that slides in the
#: clamps,
#: turning the blank over, moving it on along the bed or turning it end for end.
OffSource = Literal["measured", "saw cut", "seam", "layer", "turned over", "moved on"]


@dataclass(frozen=True, slots=True, kw_only=True)
class OffTerm:
    """One kind of error.

    Parameters
    ----------
    source : {"measured", "saw cut", "seam", "layer", "turned over", "moved on"}
    count : int
        How often it adds up in this blank.
    each_um : int
        How far off once.
    """

    source: OffSource
    count: int
    each_um: int

    @property
    def total_um(self) -> int:
        """How far off in all."""
        return self.count * self.each_um


@dataclass(frozen=True, slots=True, kw_only=True)
class OffBy:
    """By how much a blank can be off, each error in the worst way.

    Parameters
    ----------
    wood : tuple of OffTerm
        Edges, seams and flaws, to where the plan has them.
    positions : tuple of OffTerm
        What is cut in a later position on the bed, to what is cut in the first.
    edge_um : int or None
        How near to an edge of the blank a part comes; None without a part.
    """

    wood: tuple[OffTerm, ...] = ()
    positions: tuple[OffTerm, ...] = ()
    edge_um: int | None = None

    @property
    def wood_um(self) -> int:
        """How far off edges, seams and flaws can be."""
        return sum(t.total_um for t in self.wood)

    @property
    def positions_um(self) -> int:
        """How far off what is cut later can be."""
        return sum(t.total_um for t in self.positions)
