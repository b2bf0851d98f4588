"""What is safe to put over a jointer, through a planer or past a saw, and what to do instead.

The figures are defaults, common practice without a source unless said otherwise; the machine's manual
decides. OSHA 29 CFR 1910.213 sets no least stock length; it asks for guards and push sticks.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from nestyield.model.errors import ModelError
from nestyield.wood.species import Mark

Machine = Literal["jointer", "planer", "saw"]

DEFER = "The machine's manual, local codes and a qualified person come before any figure here."


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineLimits:
    """Limits of the shop's machines, millimetres. Keys of ``[machines]`` in the shop file.

    Parameters
    ----------
    jointer_shortest, jointer_narrowest, jointer_thinnest : float
        Least piece over the jointer (P: 12 in; shop manuals say 8 to 12. P: 3/4 in; 1/2 in).
    push_block_length, push_block_width, push_block_thickness : float
        Below any of these a push block belongs in the hands (P: 12, 3, 3 in).
    planer_shortest : float or None
        None: roller spacing + 2 in, or 12 in when that is unknown too (P).
    planer_rollers : float or None
        Distance between infeed and outfeed roller.
    planer_thinnest : float
        (P: 1/4 in).
    planer_widest : float or None
    saw_push_stick : float
        A push stick for the last so many mm of a cut and all shorter cuts (S: HSE, 300 mm).
    """

    jointer_shortest: float = 304.8
    jointer_narrowest: float = 19.0
    jointer_thinnest: float = 12.7
    push_block_length: float = 304.8
    push_block_width: float = 76.2
    push_block_thickness: float = 76.2
    planer_shortest: float | None = None
    planer_rollers: float | None = None
    planer_thinnest: float = 6.35
    planer_widest: float | None = None
    saw_push_stick: float = 300.0

    @property
    def planer_least_length(self) -> float:
        """The shortest piece for the planer, millimetres."""
        if self.planer_shortest is not None:
            return self.planer_shortest
        return 304.8 if self.planer_rollers is None else self.planer_rollers + 50.8


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
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
) -> tuple[Caution, ...]:
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
        return f"{value:.0f} mm" if unit == "mm" else f"{value / 25.4:.2f} in"

    found: list[Caution] = []

    def under(
        machine: Machine, what: str, value: float, least: float, instead: str, refused: bool = True
    ) -> None:
        if value < least:
            text = f"{what} at least {size(least)} for the {machine}, this is {size(value)}"
            found.append(Caution(machine=machine, refused=refused, text=text, instead=instead))

    def over(machine: Machine, value: float, most: float | None) -> None:
        if most is not None and value > most:
            text = f"width at most {size(most)} for the {machine}, this is {size(value)}"
            found.append(Caution(machine=machine, refused=True, text=text, instead=_WIDE))

    if "jointer" in machines:
        under("jointer", "length", length_mm, limits.jointer_shortest, _LONGER)
        under("jointer", "width", width_mm, limits.jointer_narrowest, _LONGER)
        under("jointer", "thickness", thickness_mm, limits.jointer_thinnest, _LONGER)
        if not any(c.machine == "jointer" for c in found) and (
            length_mm < limits.push_block_length
            or width_mm < limits.push_block_width
            or thickness_mm < limits.push_block_thickness
        ):
            found.append(
                Caution(
                    machine="jointer",
                    refused=False,
                    text=f"push blocks on pieces under {size(limits.push_block_length)} long, "
                    f"{size(limits.push_block_width)} wide or {size(limits.push_block_thickness)} thick",
                    instead="two push blocks, light cuts, guard in place",
                )
            )
    if "planer" in machines:
        under("planer", "length", length_mm, limits.planer_least_length, _GLUE_FIRST)
        under("planer", "thickness", thickness_mm, limits.planer_thinnest, "plane it on a carrier board")
        over("planer", width_mm, limits.planer_widest)
    if "saw" in machines and length_mm < limits.saw_push_stick:
        found.append(
            Caution(
                machine="saw",
                refused=False,
                text=f"a cut of {size(length_mm)} is shorter than {size(limits.saw_push_stick)}: "
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
