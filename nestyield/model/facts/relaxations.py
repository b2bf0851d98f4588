"""What would let a part into a piece that has no place for it: one constraint relaxed, all others kept."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import Discriminator


@dataclass(frozen=True, slots=True, kw_only=True)
class NarrowerMargin:
    """The part fits with a narrower margin to the edge of the piece.

    Parameters
    ----------
    code : str
    required_um, reachable_um : int
        Margin of the shop, and the widest found with which the part fits.
    """

    code: Literal["narrower margin"] = "narrower margin"
    required_um: int
    reachable_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class NarrowerGap:
    """The part fits with a narrower gap to the parts beside it.

    Parameters
    ----------
    code : str
    required_um, reachable_um : int
        Gap of the shop, and the widest found with which the part fits.
    """

    code: Literal["narrower gap"] = "narrower gap"
    required_um: int
    reachable_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class WiderGrainTolerance:
    """The part fits when its grain may run farther off that of the piece.

    Parameters
    ----------
    code : str
    allowed_deg, needed_deg : float
        Grain tolerance of the part, and the least found with which it fits.
    """

    code: Literal["wider grain tolerance"] = "wider grain tolerance"
    allowed_deg: float
    needed_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DefectFilled:
    """The part fits when one defect is filled, cut out or allowed.

    Parameters
    ----------
    code : str
    kind, defect : str
        Kind and name of the defect.
    """

    code: Literal["defect filled"] = "defect filled"
    kind: str
    defect: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LongerPiece:
    """The part fits on a piece without defects and holes that is longer along the grain.

    Parameters
    ----------
    code : str
    missing_um : int
    """

    code: Literal["longer piece"] = "longer piece"
    missing_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class WiderPiece:
    """The part fits on a piece without defects and holes that is wider across the grain.

    Parameters
    ----------
    code : str
    missing_um : int
    """

    code: Literal["wider piece"] = "wider piece"
    missing_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class BetterMeasured:
    """The part fits when the piece is measured better: nothing but the measuring error keeps it out.

    Parameters
    ----------
    code : str
    measured_um, needed_um : int
        How far off the outline may be, and with what error the part fits.
    angle_deg, mirrored, x_um, y_um, front_up, top_off_mm
        Where it would lie then, as in a placement.
    """

    code: Literal["better measured"] = "better measured"
    measured_um: int
    needed_um: int
    angle_deg: float = 0.0
    mirrored: bool = False
    x_um: int = 0
    y_um: int = 0
    front_up: bool = True
    top_off_mm: float | None = None


Relaxation = Annotated[
    BetterMeasured
    | NarrowerMargin
    | NarrowerGap
    | WiderGrainTolerance
    | DefectFilled
    | LongerPiece
    | WiderPiece,
    Discriminator("code"),
]
