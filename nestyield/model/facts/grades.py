"""Facts of a board's face: what it misses for a better grade. Inches and feet are those of the rules."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import Discriminator

from nestyield.model.errors import ModelError


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardTooSmall:
    """The board is too small for a grade.

    Parameters
    ----------
    grade : str
    width_in : int
        Least width of such a board, inches.
    length_ft : int
        Its least length, feet.
    """

    code: Literal["board too small for grade"] = "board too small for grade"
    grade: str
    width_in: int
    length_ft: int


@dataclass(frozen=True, slots=True, kw_only=True)
class KnotTooLarge:
    """A knot is larger than a grade allows: a third of the surface measure, in inches.

    Parameters
    ----------
    grade : str
    knot : str
        As the rack's table names it.
    size_um, most_um : int
        Average diameter of the knot, and the most that the grade allows.
    surface_measure : int
        Square feet.
    """

    code: Literal["knot too large for grade"] = "knot too large for grade"
    grade: str
    knot: str
    size_um: int
    most_um: int
    surface_measure: int


@dataclass(frozen=True, slots=True, kw_only=True)
class NoCuttingAllowed:
    """A grade allows no cutting on a board of so small a surface measure.

    Parameters
    ----------
    grade : str
    surface_measure : int
        Square feet.
    """

    code: Literal["no cutting allowed"] = "no cutting allowed"
    grade: str
    surface_measure: int


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitsShort:
    """One way to make a grade: clear cutting units in some cuttings.

    Parameters
    ----------
    needed : int
    cuttings : int or None
        Most that are allowed; None for any number.
    found : float
        The most units in so many cuttings.
    """

    code: Literal["units short"] = "units short"
    needed: int
    cuttings: int | None
    found: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TooFewUnits:
    """The clear cuttings hold too few units for a grade, each way that it allows.

    Parameters
    ----------
    grade : str
    ways : tuple of UnitsShort
    """

    code: Literal["too few units for grade"] = "too few units for grade"
    grade: str
    ways: tuple[UnitsShort, ...]

    def __post_init__(self) -> None:
        if not self.ways:
            raise ModelError(f"expected a way to make {self.grade}, got none")


#: What keeps a face from the next better grade.
GradeMiss = Annotated[BoardTooSmall | KnotTooLarge | NoCuttingAllowed | TooFewUnits, Discriminator("code")]
