"""The rules by which an edge is likely to tear out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import Discriminator


@dataclass(frozen=True, slots=True, kw_only=True)
class RisingGrain:
    """The grain rises against the feed: the edge runs off it by an angle in this range.

    Parameters
    ----------
    code : str
    from_deg, to_deg : float
    """

    code: Literal["rising grain"] = "rising grain"
    from_deg: float
    to_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class NarrowPoint:
    """A convex point narrower than a width leans off the grain by more than an angle: its fibers are short.

    Parameters
    ----------
    code : str
    width_um : int
    off_grain_deg : float
    """

    code: Literal["narrow point"] = "narrow point"
    width_um: int
    off_grain_deg: float


TearOutRule = Annotated[RisingGrain | NarrowPoint, Discriminator("code")]
