"""What parts weigh: the wish of the maker, and the figure of a placed part with how far it can be off."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from nestyield.model.errors import ModelError
from nestyield.model.facts.sources import Mark

#: How the density of wood is known: its piece was weighed, the maker's figure of the wood, the species table.
KnownBy = Literal["weighed", "own", "table", "nothing"]


@dataclass(frozen=True, slots=True, kw_only=True)
class WeightWish:
    """What a finished part is to weigh, in wood alone.

    Parameters
    ----------
    lightest : bool
        As little as can be: an aim of the choice.
    least_kg, most_kg : float or None
        The range that the part must be in: wood with which it would not be is not used for it.
    """

    lightest: bool = False
    least_kg: float | None = None
    most_kg: float | None = None

    def __post_init__(self) -> None:
        ends = [kg for kg in (self.least_kg, self.most_kg) if kg is not None]
        if any(not kg > 0 for kg in ends) or ends != sorted(ends):
            raise ModelError(f"expected 0 < least_kg <= most_kg, got {self.least_kg} and {self.most_kg}")
        if self.lightest == bool(ends):
            raise ModelError("expected either lightest or a range of weight")

    @property
    def is_range(self) -> bool:
        """Whether it is a rule about the wood."""
        return not self.lightest


@dataclass(frozen=True, slots=True, kw_only=True)
class WeighedWood:
    """The wood of one row of the rack in a finished part.

    Parameters
    ----------
    piece, species : str
    volume_mm3 : float
        Of it in the part.
    density_kg_m3 : float or None
        None where it is not known.
    off_pct : float
        Standard deviation of the density, percent.
    known_by : {"weighed", "own", "table", "nothing"}
        The piece was weighed; the maker's figure of the wood; the species table.
    mark : {"S", "M", "D", "P", "O"} or None
        How far the figure can be trusted; None for a piece that was weighed, and where nothing is known.
    moisture_pct : float or None
        Moisture at which it holds; None: as it was when it was weighed.
    """

    piece: str
    species: str
    volume_mm3: float
    density_kg_m3: float | None
    off_pct: float
    known_by: KnownBy
    mark: Mark | None = None
    moisture_pct: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PartWeight:
    """What one placed part weighs when it is finished: its wood, without finish and hardware.

    Parameters
    ----------
    kg : float or None
        None where the density of some of its wood is not known.
    off_kg : float
        Standard deviation: in one case of three it is farther off.
    volume_mm3 : float
        Wood that stays: outline and finished thickness, less all that is cut away.
    woods : tuple of WeighedWood
        One a row of the rack, in the order of the blank's members.
    """

    kg: float | None
    off_kg: float
    volume_mm3: float
    woods: tuple[WeighedWood, ...]
