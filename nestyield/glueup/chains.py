"""What a search of glue-ups finds, and which of it is of interest."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from nestyield.glueup.band import OrientedPart
from nestyield.glueup.oracle import FeasibilityOracle, SeamFit
from nestyield.glueup.seams import Seams
from nestyield.model import Shape

#: Glue-ups whose cost is the same to so many digits are ranked by their seams.
COST_DIGITS = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Interest:
    """Which sets of pieces are of interest.

    Parameters
    ----------
    joint : float
        What a joint costs.
    budget : float
        Only sets whose pieces and joints cost less.
    every : bool
        All such sets; otherwise larger ones only while they cost less than the cheapest with fewer pieces.
    known : frozenset of tuple of int
        Rows, rising, of sets that are not looked at again.
    apart : bool or None
        Only sets in which several members are cut from one copy of a piece, or only others; None for both.
    """

    joint: float = 0.0
    budget: float = math.inf
    every: bool = False
    known: frozenset[tuple[int, ...]] = frozenset()
    apart: bool | None = None

    def below(self, size: int, found: Sequence[MemberChain]) -> float:
        """Return what pieces of a set of a size must cost less than, joints aside."""
        cheapest = min((self.cost(c) for c in found), default=math.inf)
        most = self.budget if self.every else min(self.budget, cheapest)
        return most - self.joint * (size - 1)

    def cost(self, chain: MemberChain) -> float:
        """Return what pieces and joints of a glue-up cost."""
        return chain.value + self.joint * (len(chain.places) - 1)

    def enough(self, found: Sequence[MemberChain], wanted: int) -> Interest:
        """Return the interest left once so many sets are found: in what may still come before the last of them.

        One more than wanted is kept, so that it is known whether there are more. Only for whole pieces, every set
        of which costs the same however it is found.
        """
        if not self.every or self.apart is not False or len(found) <= wanted:
            return self
        last = sorted(round(self.cost(c), COST_DIGITS) for c in found)[wanted]
        return replace(self, budget=min(self.budget, last + 2 * 10.0**-COST_DIGITS))


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A member: a piece, how it is turned, and where it may be shifted.

    Parameters
    ----------
    server : FeasibilityOracle
    fit : SeamFit
        Shifts; a single one for a member that is cut from a piece with others.
    copy : int
        Which copy of the row, from 1.
    shift : (int, int) or None
        The only shift, for a member cut from a piece with others.
    cut : Shape or None
        What of the piece it is, in the piece's coordinates; None for all of it.
    """

    server: FeasibilityOracle
    fit: SeamFit
    copy: int
    shift: tuple[int, int] | None = None
    cut: Shape | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MemberChain:
    """A glue-up: members from the lowest to the topmost, and the seams between them.

    Parameters
    ----------
    lying : OrientedPart
    places : tuple of Place
    seams : Seams
        One fewer than members.
    value : float
        Of all copies taken.
    """

    lying: OrientedPart
    places: tuple[Place, ...]
    seams: Seams
    value: float

    @property
    def rows(self) -> tuple[int, ...]:
        """Rows of the members, lowest first."""
        return tuple(p.server.turned.row for p in self.places)
