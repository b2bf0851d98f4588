"""What is safe to put over a jointer, through a planer or past a saw, and what to do instead.

Limits are the shop's (``MachineLimits``); the machine's manual decides. OSHA 29 CFR 1910.213 sets no least
stock length; it asks for guards and push sticks.
"""

from __future__ import annotations

from nestyield.model.errors import ModelError
from nestyield.model.facts import (
    Dimension,
    Machine,
    MachineRule,
    OverMachineLimit,
    Remedy,
    TakePushBlocks,
    TakePushStick,
    UnderMachineLimit,
)
from nestyield.model.settings import MachineLimits

#: Least length of a push stick (S: HSE, 450 mm).
PUSH_STICK_UM = 450_000


def machining_rules(
    length_mm: float,
    width_mm: float,
    thickness_mm: float,
    limits: MachineLimits,
    machines: tuple[Machine, ...] = ("jointer", "planer", "saw"),
) -> tuple[MachineRule, ...]:
    """Return what to mind with a piece of that size, by machine; empty when nothing is near a limit.

    Parameters
    ----------
    length_mm : float
        Along the cut.
    width_mm, thickness_mm : float
    limits : MachineLimits
    machines : tuple of {"jointer", "planer", "saw"}
        Those that the work asks for.
    """
    if not min(length_mm, width_mm, thickness_mm) > 0:
        raise ModelError(f"expected sizes > 0, got {length_mm:g} x {width_mm:g} x {thickness_mm:g}")
    found: list[MachineRule] = []

    def under(machine: Machine, what: Dimension, value: float, least: float, remedy: Remedy) -> None:
        if value < least:
            found.append(
                UnderMachineLimit(
                    machine=machine,
                    dimension=what,
                    value_um=_um(value),
                    least_um=_um(least),
                    remedy=remedy,
                )
            )

    if "jointer" in machines:
        under("jointer", "length", length_mm, limits.jointer_shortest_mm, "joint while longer")
        under("jointer", "width", width_mm, limits.jointer_narrowest_mm, "joint while longer")
        under("jointer", "thickness", thickness_mm, limits.jointer_thinnest_mm, "joint while longer")
        if not found and (
            length_mm < limits.push_block_length_mm
            or width_mm < limits.push_block_width_mm
            or thickness_mm < limits.push_block_thickness_mm
        ):
            found.append(
                TakePushBlocks(
                    length_um=_um(limits.push_block_length_mm),
                    width_um=_um(limits.push_block_width_mm),
                    thickness_um=_um(limits.push_block_thickness_mm),
                )
            )
    if "planer" in machines:
        under("planer", "length", length_mm, limits.planer_least_length_mm, "glue first")
        under("planer", "thickness", thickness_mm, limits.planer_thinnest_mm, "carrier board")
        widest = limits.planer_widest_mm
        if widest is not None and width_mm > widest:
            found.append(
                OverMachineLimit(
                    machine="planer",
                    dimension="width",
                    value_um=_um(width_mm),
                    most_um=_um(widest),
                    remedy="level by hand",
                )
            )
    if "saw" in machines and length_mm < limits.saw_push_stick_mm:
        found.append(
            TakePushStick(
                value_um=_um(length_mm), least_um=_um(limits.saw_push_stick_mm), stick_um=PUSH_STICK_UM
            )
        )
    return tuple(found)


def _um(length_mm: float) -> int:
    return round(length_mm * 1000.0)
