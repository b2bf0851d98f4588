"""What is safe to put over a jointer, through a planer or past a saw, and what to do instead.

The figures are defaults, common practice without a source unless said otherwise; the machine's manual
decides. OSHA 29 CFR 1910.213 sets no least stock length; it asks for guards and push sticks.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Literal

from nestyield.model.errors import ModelError
from nestyield.wood.measure import fraction
from nestyield.wood.species import Mark

Machine = Literal["jointer", "planer", "saw"]

DEFER = "The machine's manual, local codes and a qualified person come before any figure here."


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


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineRule:
    """One thing to mind before a cut.

    Parameters
    ----------
    machine : {"jointer", "planer", "saw"}
    refused : bool
        Whether the piece must not go there as it is; otherwise it may, with care.
    text : str
        The rule, then the value.
    instead : str
        A safe way to the same end.
    mark : {"S", "M", "D", "P"}
    """

    machine: Machine
    refused: bool
    text: str
    instead: str
    mark: Mark = "P"


_LONGER = (
    "joint the edge while the piece is still part of a longer one, or on a carrier sled past the saw, "
    "or with a hand plane on a shooting board"
)
_GLUE_FIRST = "glue up first and plane the blank, or level it with a router sled or hand plane"
_WIDE = "level it with a router sled or hand plane, or plane the pieces before the last seam is glued"


def machining_cautions(
    length_mm: float,
    width_mm: float,
    thickness_mm: float,
    limits: MachineLimits,
    machines: tuple[Machine, ...] = ("jointer", "planer", "saw"),
    unit: Literal["mm", "in"] = "mm",
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
    unit : {"mm", "in"}
        For the texts.
    """
    if not min(length_mm, width_mm, thickness_mm) > 0:
        raise ModelError(f"expected sizes > 0, got {length_mm:g} x {width_mm:g} x {thickness_mm:g}")

    def size(value: float) -> str:
        return f"{value:.0f} mm" if unit == "mm" else f"{fraction(value)} in"

    found: list[MachineRule] = []

    def under(
        machine: Machine, what: str, value: float, least: float, instead: str, refused: bool = True
    ) -> None:
        if value < least:
            text = f"{what} at least {size(least)} for the {machine}, this is {size(value)}"
            found.append(MachineRule(machine=machine, refused=refused, text=text, instead=instead))

    def over(machine: Machine, value: float, most: float | None) -> None:
        if most is not None and value > most:
            text = f"width at most {size(most)} for the {machine}, this is {size(value)}"
            found.append(MachineRule(machine=machine, refused=True, text=text, instead=_WIDE))

    if "jointer" in machines:
        under("jointer", "length", length_mm, limits.jointer_shortest_mm, _LONGER)
        under("jointer", "width", width_mm, limits.jointer_narrowest_mm, _LONGER)
        under("jointer", "thickness", thickness_mm, limits.jointer_thinnest_mm, _LONGER)
        if not any(c.machine == "jointer" for c in found) and (
            length_mm < limits.push_block_length_mm
            or width_mm < limits.push_block_width_mm
            or thickness_mm < limits.push_block_thickness_mm
        ):
            wide = size(limits.push_block_width_mm)
            found.append(
                MachineRule(
                    machine="jointer",
                    refused=False,
                    text=f"push blocks on pieces under {size(limits.push_block_length_mm)} long, {wide} wide "
                    f"or {size(limits.push_block_thickness_mm)} thick",
                    instead="two push blocks, light cuts, guard in place",
                )
            )
    if "planer" in machines:
        under("planer", "length", length_mm, limits.planer_least_length_mm, _GLUE_FIRST)
        under("planer", "thickness", thickness_mm, limits.planer_thinnest_mm, "plane it on a carrier board")
        over("planer", width_mm, limits.planer_widest_mm)
    if "saw" in machines and length_mm < limits.saw_push_stick_mm:
        found.append(
            MachineRule(
                machine="saw",
                refused=False,
                text=f"a cut of {size(length_mm)} is shorter than {size(limits.saw_push_stick_mm)}: "
                "push stick, at least 450 mm long, for the whole cut",
                instead="rip it while still part of a longer piece, then crosscut",
                mark="S",
            )
        )
    return tuple(found)


#: Cautions for every job with solid or reclaimed wood; each with its mark.
GENERAL_CAUTIONS: tuple[tuple[str, Mark], ...] = (
    ("Reclaimed stock: look and test for nails, screws and grit before any cutter touches it.", "P"),
    ("Loose knots and splits come off before machining.", "P"),
    ("Small parts: machine them while still part of a longer piece, or on a carrier.", "P"),
    (
        "Wood dust harms: extraction and a mask. Limits: OSHA 15 mg/m3 total and 5 respirable, "
        "NIOSH 1 mg/m3.",
        "S",
    ),
    ("Push stick for the last 300 mm of every saw cut (HSE).", "S"),
    (DEFER, "P"),
)
