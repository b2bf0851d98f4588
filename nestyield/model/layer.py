"""A leaf of a piece that is resawn: which of its thickness it is."""

from __future__ import annotations

from dataclasses import dataclass

from nestyield.model.errors import ModelError


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """What stays of a piece between two depths, once the faces that the saw made are planed flat.

    Parameters
    ----------
    top_mm, bottom_mm : float
        Depth of its two faces below the top face of the piece.
    """

    top_mm: float
    bottom_mm: float

    def __post_init__(self) -> None:
        if not 0.0 <= self.top_mm < self.bottom_mm:
            raise ModelError(
                f"expected 0 <= top_mm < bottom_mm of a leaf, got {self.top_mm:g} to {self.bottom_mm:g}"
            )

    @property
    def thickness_mm(self) -> float:
        """Thickness of the leaf, millimeters."""
        return round(self.bottom_mm - self.top_mm, 6)
