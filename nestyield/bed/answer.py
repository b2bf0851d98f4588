"""The answer of the command ``fit``, as data."""

from __future__ import annotations

from dataclasses import dataclass

from nestyield.bed.tilt import Tilt
from nestyield.model import Bed, Part, Setup
from nestyield.model.facts import BlankNote, NoSections


@dataclass(frozen=True, slots=True, kw_only=True)
class BedFit:
    """What one bed says to a part.

    Parameters
    ----------
    bed : Bed
    along_x, along_y : Setup
    tilt : Tilt or None
        Angles at which the travel takes it; None when there is none.
    askew : Setup or None
        A place at an angle, asked only when neither straight way does.
    least_x_mm, least_y_mm : (travel, turn) or None
        Least travel along this axis that would do at any angle, the other axis staying as it is.
    notes : tuple of BlankNote
    sectioned : Setup or None
        A way in sections, asked only when there is none in one go.
    board_mm : (length, width) or None
        Board on which those sections find room for their index pins, along and across the grain.
    no_sections : NoSections or None
        Why there is no way in sections either; None when there is one, or none was asked for.
    """

    bed: Bed
    along_x: Setup
    along_y: Setup
    tilt: Tilt | None
    askew: Setup | None
    least_x_mm: tuple[float, float] | None
    least_y_mm: tuple[float, float] | None
    notes: tuple[BlankNote, ...] = ()
    sectioned: Setup | None = None
    board_mm: tuple[float, float] | None = None
    no_sections: NoSections | None = None

    @property
    def fits(self) -> bool:
        """Whether the bed takes the part in any way."""
        return any((self.along_x.is_usable, self.along_y.is_usable, self.askew, self.sectioned))


@dataclass(frozen=True, slots=True, kw_only=True)
class FitAnswer:
    """The answer of the command ``fit``.

    Parameters
    ----------
    part : Part
    cutter_diameter_mm : float
    length_mm, width_mm : float
        Extent along the part's grain (or the drawing's X) and across it.
    beds : tuple of BedFit
    """

    part: Part
    cutter_diameter_mm: float
    length_mm: float
    width_mm: float
    beds: tuple[BedFit, ...]

    @property
    def fits(self) -> bool:
        """Whether any bed takes the part."""
        return any(b.fits for b in self.beds)
