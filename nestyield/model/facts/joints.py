"""Facts of a glued joint: how the grain meets it, and how strong it is beside the wood itself."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import Discriminator

from nestyield.model.facts.sources import SourceKey


@dataclass(frozen=True, slots=True, kw_only=True)
class LongGrainJoint:
    """Long grain meets long grain.

    Parameters
    ----------
    strength_pct : float
        Of the wood's own strength.
    source : SourceKey
    """

    code: Literal["long grain joint"] = "long grain joint"
    strength_pct: float
    source: SourceKey


@dataclass(frozen=True, slots=True, kw_only=True)
class SlantedJoint:
    """The seam leaves the grain by 1 in ``run``.

    Parameters
    ----------
    run : int
        Along the grain for one across it.
    strength_pct : float
        Of the wood's own strength.
    source : SourceKey
    """

    code: Literal["slanted joint"] = "slanted joint"
    run: int
    strength_pct: float
    source: SourceKey


@dataclass(frozen=True, slots=True, kw_only=True)
class EndGrainJoint:
    """End grain meets the seam.

    Parameters
    ----------
    strength_pct : float
        Of the wood's own strength, at best.
    source : SourceKey
    """

    code: Literal["end grain joint"] = "end grain joint"
    strength_pct: float
    source: SourceKey


@dataclass(frozen=True, slots=True, kw_only=True)
class CrossedJoint:
    """The grain of the two sides crosses.

    Parameters
    ----------
    crossing_deg : float
        Between the grain of the two sides.
    strength_pct : float
        Of the wood's own strength.
    source : SourceKey
    """

    code: Literal["crossed joint"] = "crossed joint"
    crossing_deg: float
    strength_pct: float
    source: SourceKey


#: How the grain meets a seam.
JointNote = Annotated[LongGrainJoint | SlantedJoint | EndGrainJoint | CrossedJoint, Discriminator("code")]
