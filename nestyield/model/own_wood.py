"""Woods that a maker has measured, or that the species table does not have: ``[species]`` of the shop."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from nestyield.model.errors import ModelError
from nestyield.model.ranges import Range, check_fields


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnWood:
    """A wood with the maker's own figures.

    Parameters
    ----------
    name : str
    synonyms : tuple of str
        Other names that are read as it.
    radial_pct, tangential_pct : float or None
        Shrinkage from green to ovendry, percent of the green size; both or neither.
    density_kg_m3 : float or None
        At about 12 % moisture content.
    """

    name: str
    synonyms: tuple[str, ...] = ()
    radial_pct: Annotated[float, Range(low=0.5, high=25.0)] | None = None
    tangential_pct: Annotated[float, Range(low=0.5, high=25.0)] | None = None
    density_kg_m3: Annotated[float, Range(low=50.0, high=1500.0)] | None = None

    def __post_init__(self) -> None:
        check_fields(self)
        if (self.radial_pct is None) != (self.tangential_pct is None):
            raise ModelError("expected radial and tangential shrinkage, got one of them; give both")
