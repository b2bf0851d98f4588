"""Which woods a part may be made of."""

from __future__ import annotations

from nestyield.model import Part
from nestyield.wood.species import find


def sheet_for_wood(part: Part, species: str) -> bool:
    """Tell whether a wood is a sheet, and the part, which has a grain, does not ask for it by name."""
    found = find(species)
    return not part.species and part.grain_deg is not None and found is not None and found.sheet
