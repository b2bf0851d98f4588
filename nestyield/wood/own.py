"""Woods with the maker's own figures, before those of the species table."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

from nestyield.model import OwnWood
from nestyield.wood.species import Density, Species, find, key_of

#: Below the first a wood is clamped as a soft one, above the second as a dense one, kg/m3 at 12 % (P):
#: between the densities of the table's woods of those classes.
SOFT_BELOW, DENSE_ABOVE = 500.0, 650.0


def density_class(density_kg_m3: float | None) -> Density:
    """Return the class for clamping pressure of a wood of that density; ``medium`` when it is not known.

    Examples
    --------
    >>> density_class(430), density_class(560), density_class(705), density_class(None)
    ('soft', 'medium', 'dense', 'medium')
    """
    if density_kg_m3 is None:
        return "medium"
    return "soft" if density_kg_m3 < SOFT_BELOW else "dense" if density_kg_m3 > DENSE_ABOVE else "medium"


def coefficient(shrinkage_pct: float | None) -> float | None:
    """Return the change of size a point of moisture content, a fraction, by ``C = S / (3000 - 20 S)``.

    Source: Wood Handbook FPL-GTR-190, chapter 13: shrinkage spread over 30 points, referred to the size at
    10 % (D).
    """
    return None if shrinkage_pct is None else round(shrinkage_pct / (3000.0 - 20.0 * shrinkage_pct), 5)


@cache
def as_species(own: OwnWood) -> Species:
    """Return a maker's wood as one of the table: coefficients from its shrinkage, class from its density."""
    return Species(
        name=own.name,
        aliases=own.synonyms,
        radial_pct=own.radial_pct,
        tangential_pct=own.tangential_pct,
        c_radial=coefficient(own.radial_pct),
        c_tangential=coefficient(own.tangential_pct),
        shrinkage_mark="O",
        coefficient_mark="O",
        density=density_class(own.density_kg_m3),
    )


def own_wood(name: str, own: Sequence[OwnWood]) -> OwnWood | None:
    """Return the maker's wood of that name or synonym, or None; names are compared as the table's are."""
    first, _, last = name.partition(",")
    asked = {key_of(name), key_of(f"{last} {first}")}
    return next((w for w in own if asked & {key_of(text) for text in (w.name, *w.synonyms)}), None)


def species_of(name: str, own: Sequence[OwnWood]) -> Species | None:
    """Return the figures of a wood: the maker's own, else the table's, or None where there are none.

    Parameters
    ----------
    name : str
    own : sequence of OwnWood
        ``own_woods`` of the settings.
    """
    mine = own_wood(name, own) if own else None
    return find(name) if mine is None else as_species(mine)
