"""Facts of the shop's machines: a limit that a board does not reach, what to hold it with, and a safe way."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, ClassVar, Literal

from pydantic import Discriminator

from nestyield.model.facts.sources import SourceKey

Machine = Literal["jointer", "planer", "saw"]
Dimension = Literal["length", "width", "thickness"]


#: A safe way to the same end.
Remedy = Literal[
    "joint while longer",
    "glue first",
    "carrier board",
    "level by hand",
    "two push blocks",
    "rip while longer",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class UnderMachineLimit:
    """A board is too small for a machine: it must not go there as it is.

    Parameters
    ----------
    machine : {"jointer", "planer", "saw"}
    dimension : {"length", "width", "thickness"}
    value_um : int
        Of the board.
    least_um : int
        That the machine asks for.
    remedy : Remedy
        A safe way to the same end.
    source : SourceKey
    """

    code: Literal["under machine limit"] = "under machine limit"
    machine: Machine
    dimension: Dimension
    value_um: int
    least_um: int
    remedy: Remedy
    source: SourceKey = "practice"

    refused: ClassVar[bool] = True


@dataclass(frozen=True, slots=True, kw_only=True)
class OverMachineLimit:
    """A board is too large for a machine: it must not go there as it is.

    Parameters
    ----------
    machine : {"jointer", "planer", "saw"}
    dimension : {"length", "width", "thickness"}
    value_um : int
        Of the board.
    most_um : int
        That the machine takes.
    remedy : Remedy
    source : SourceKey
    """

    code: Literal["over machine limit"] = "over machine limit"
    machine: Machine
    dimension: Dimension
    value_um: int
    most_um: int
    remedy: Remedy
    source: SourceKey = "practice"

    refused: ClassVar[bool] = True


@dataclass(frozen=True, slots=True, kw_only=True)
class TakePushBlocks:
    """A board may go over the jointer with push blocks: it is under one of three limits.

    Parameters
    ----------
    machine : {"jointer"}
    length_um, width_um, thickness_um : int
        The limits of the shop.
    remedy : Remedy
    source : SourceKey
    """

    code: Literal["take push blocks"] = "take push blocks"
    machine: Literal["jointer"] = "jointer"
    length_um: int
    width_um: int
    thickness_um: int
    remedy: Remedy = "two push blocks"
    source: SourceKey = "practice"

    refused: ClassVar[bool] = False


@dataclass(frozen=True, slots=True, kw_only=True)
class TakePushStick:
    """A saw cut is so short that it takes a push stick for all of it.

    Parameters
    ----------
    machine : {"saw"}
    value_um : int
        Length of the cut.
    least_um : int
        Cuts shorter than this take the stick all the way.
    stick_um : int
        Least length of the stick.
    remedy : Remedy
    source : SourceKey
    """

    code: Literal["take a push stick"] = "take a push stick"
    machine: Literal["saw"] = "saw"
    value_um: int
    least_um: int
    stick_um: int
    remedy: Remedy = "rip while longer"
    source: SourceKey = "HSE saw"

    refused: ClassVar[bool] = False


#: What to mind before a board goes to a machine; ``refused`` tells whether it must not go there as it is.
MachineRule = Annotated[
    UnderMachineLimit | OverMachineLimit | TakePushBlocks | TakePushStick, Discriminator("code")
]
