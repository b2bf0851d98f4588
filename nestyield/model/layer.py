"""Which of a thickness something is: a leaf of a piece that is resawn, a layer of a laminated blank."""

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


@dataclass(frozen=True, slots=True, kw_only=True)
class StackLayer:
    """A layer of a laminated blank, planed for gluing.

    Parameters
    ----------
    top_mm, bottom_mm : float
        Depth of its two faces below the top face of the blank.
    off_top_mm : float
        Planed off the top face of its piece before gluing; what is more than the layer then comes off the
        bottom face.
    """

    top_mm: float
    bottom_mm: float
    off_top_mm: float

    def __post_init__(self) -> None:
        if not (0.0 <= self.top_mm < self.bottom_mm and self.off_top_mm >= 0.0):
            raise ModelError(
                f"expected 0 <= top_mm < bottom_mm and off_top_mm >= 0 of a layer, got {self.top_mm:g} to "
                f"{self.bottom_mm:g}, {self.off_top_mm:g} off"
            )

    @property
    def thickness_mm(self) -> float:
        """Thickness of the layer when it is glued, millimeters."""
        return round(self.bottom_mm - self.top_mm, 6)

    @property
    def of_piece(self) -> Layer:
        """Which of its piece's thickness it is."""
        return Layer(top_mm=self.off_top_mm, bottom_mm=round(self.off_top_mm + self.thickness_mm, 6))
