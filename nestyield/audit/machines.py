"""What each board of a glue-up may not do at the shop's machines, worked out again from ``[machines]``."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from nestyield.audit.curves import points_of, region
from nestyield.audit.facts import compare
from nestyield.audit.reinforcements import line_of, on_line
from nestyield.audit.sheet import CheckedBlank
from nestyield.model import GlueMember, MachineLimits, Member, Piece, Seam
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

#: Least length of a push stick: HSE guidance.
STICK_UM = 450_000
#: A board is planed before gluing when more than this comes off, millimeters.
PLANED_MM = 0.05
#: Sizes nearer than this to a limit may count either way, millimeters.
_NEAR_MM = 0.02

Size = tuple[float, float, float]
_SIDES: tuple[Dimension, Dimension, Dimension] = ("length", "width", "thickness")


def shortest_planed(machines: MachineLimits) -> float:
    """Return the least length for the planer: as set, 2 in more than between its rollers, or 12 in."""
    if machines.planer_shortest_mm is not None:
        return machines.planer_shortest_mm
    return 304.8 if machines.planer_rollers_mm is None else machines.planer_rollers_mm + 50.8


def rules_of(machines: MachineLimits, size: Size, asked: Sequence[Machine]) -> tuple[MachineRule, ...]:
    """Return what a board of that length, width and thickness asks for at those machines."""
    um = tuple(round(1000 * v) for v in size)
    out: list[MachineRule] = []
    least: list[tuple[Machine, Dimension, float | None, Remedy]] = [
        ("jointer", "length", machines.jointer_shortest_mm, "joint while longer"),
        ("jointer", "width", machines.jointer_narrowest_mm, "joint while longer"),
        ("jointer", "thickness", machines.jointer_thinnest_mm, "joint while longer"),
        ("planer", "length", shortest_planed(machines), "glue first"),
        ("planer", "thickness", machines.planer_thinnest_mm, "carrier board"),
    ]
    for machine, side, at_least, remedy in least:
        value = size[_SIDES.index(side)]
        if machine in asked and at_least is not None and value < at_least:
            out.append(
                UnderMachineLimit(
                    machine=machine,
                    dimension=side,
                    value_um=round(1000 * value),
                    least_um=round(1000 * at_least),
                    remedy=remedy,
                )
            )
    widest = machines.planer_widest_mm
    if "planer" in asked and widest is not None and size[1] > widest:
        out.append(
            OverMachineLimit(
                machine="planer",
                dimension="width",
                value_um=um[1],
                most_um=round(1000 * widest),
                remedy="level by hand",
            )
        )
    blocks = [machines.push_block_length_mm, machines.push_block_width_mm, machines.push_block_thickness_mm]
    if (
        "jointer" in asked
        and not any(r.machine == "jointer" for r in out)
        and any(v < b for v, b in zip(size, blocks))
    ):
        a, b, c = (round(1000 * v) for v in blocks)
        out.append(TakePushBlocks(length_um=a, width_um=b, thickness_um=c))
    stick = machines.saw_push_stick_mm
    if "saw" in asked and size[0] < stick:
        out.append(TakePushStick(value_um=um[0], least_um=round(1000 * stick), stick_um=STICK_UM))
    return tuple(out)


def either_side(
    machines: MachineLimits, size: Size, asked: Sequence[Machine]
) -> tuple[list[MachineRule], list[MachineRule]]:
    """Return rules that hold for certain, and those that hold if a size is a hair off."""
    small = rules_of(machines, (size[0] - _NEAR_MM, size[1] - _NEAR_MM, size[2] - _NEAR_MM), asked)
    large = rules_of(machines, (size[0] + _NEAR_MM, size[1] + _NEAR_MM, size[2] + _NEAR_MM), asked)
    true = rules_of(machines, size, asked)
    kinds = [{_kind(r) for r in found} for found in (small, large)]
    return [r for r in true if _kind(r) in kinds[0] & kinds[1]], [*small, *large]


def _kind(rule: MachineRule) -> tuple[str, str, str]:
    side = rule.dimension if isinstance(rule, UnderMachineLimit | OverMachineLimit) else ""
    return rule.code, rule.machine, side


def check_board(
    bench: CheckedBlank, told: GlueMember, member: Member, piece: Piece, seams: dict[str, Seam]
) -> None:
    """Check what a board asks for at jointer, planer and saw; its length runs along its joint."""
    if not told.edges or told.edges[0].seam not in seams:
        return
    start, along = line_of(seams[told.edges[0].seam])
    whole = region(piece.shape if member.cut is None else member.cut, member)
    z = np.array([on_line((x, y), start, along) for x, y in shapely.get_coordinates(whole)])
    thick = piece.thickness_mm
    size = (float(np.ptp(z.real)), float(np.ptp(z.imag)), thick)
    asked: list[Machine] = ["jointer", "saw"]
    if thick - bench.layout.blank.thickness_mm > PLANED_MM:
        asked.append("planer")
    machines = bench.sheet.plan.shop.settings.machines
    surely, maybe = either_side(machines, size, asked)
    compare(bench, "A122", told.machine_rules, surely, maybe, f"board {told.letter}")


def blank_rules(bench: CheckedBlank) -> tuple[list[MachineRule], list[MachineRule]]:
    """Return why the planer refuses the glued blank: for certain, and if its size is a hair off."""
    blank = bench.layout.blank
    points = points_of(blank.shape.outer)
    wide, long = sorted(float(v) for v in np.ptp(points, axis=0))
    machines = bench.sheet.plan.shop.settings.machines
    surely, maybe = either_side(machines, (long, wide, blank.thickness_mm), ["planer"])
    return [r for r in surely if r.refused], [r for r in maybe if r.refused]
