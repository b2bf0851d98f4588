"""What is safe to put over a jointer, through a planer or past a saw, and what to do instead.

The figures are defaults, common practice without a source unless said otherwise; the machine's manual
decides. OSHA 29 CFR 1910.213 sets no least stock length; it asks for guards and push sticks.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields

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

#: Least length of a push stick (S: HSE, 450 mm).
PUSH_STICK_UM = 450_000


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineLimits:
    """Limits of the shop's machines, millimetres: the keys of ``[machines]`` in the shop file.

    Parameters
    ----------
    jointer_shortest_mm, jointer_narrowest_mm, jointer_thinnest_mm : float
        Least piece over the jointer (P: 12 in; shop manuals say 8 to 12. P: 3/4 in; 1/2 in).
    push_block_length_mm, push_block_width_mm, push_block_thickness_mm : float
        Below any of these a push block belongs in the hands (P: 12, 3, 3 in).
    planer_shortest_mm : float or None
        None: roller spacing + 2 in, or 12 in when that is unknown too (P).
    planer_rollers_mm : float or None
        Distance between infeed and outfeed roller.
    planer_thinnest_mm : float
        (P: 1/4 in).
    planer_widest_mm : float or None
    saw_push_stick_mm : float
        A push stick for the last so many mm of a cut and all shorter cuts (S: HSE, 300 mm).
    """

    jointer_shortest_mm: float = 304.8
    jointer_narrowest_mm: float = 19.0
    jointer_thinnest_mm: float = 12.7
    push_block_length_mm: float = 304.8
    push_block_width_mm: float = 76.2
    push_block_thickness_mm: float = 76.2
    planer_shortest_mm: float | None = None
    planer_rollers_mm: float | None = None
    planer_thinnest_mm: float = 6.35
    planer_widest_mm: float | None = None
    saw_push_stick_mm: float = 300.0

    @classmethod
    def of(cls, machines: Mapping[str, object]) -> MachineLimits:
        """Return the limits that ``Settings.machines`` holds, defaults for the rest."""
        known = {f.name for f in fields(cls)}
        return cls(**{k: v for k, v in machines.items() if k in known})  # type: ignore[arg-type]

    @property
    def planer_least_length_mm(self) -> float:
        """The shortest piece for the planer, millimetres."""
        if self.planer_shortest_mm is not None:
            return self.planer_shortest_mm
        return 304.8 if self.planer_rollers_mm is None else self.planer_rollers_mm + 50.8


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
