"""How a blank is laminated: layers face to face, what is planed, pressed and minded."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from nestyield.model.facts.laminate import LaminateCaution, LaminateStep
from nestyield.model.facts.machines import MachineRule
from nestyield.model.facts.sources import SourceKey
from nestyield.model.glueup import Movement
from nestyield.model.leftover import Leftover


@dataclass(frozen=True, slots=True, kw_only=True)
class LaminateLayer:
    """One piece as it goes into a laminated blank; they stand in the order of the blank's members, top first.

    Parameters
    ----------
    letter : str
        What the maker writes on it, ``A`` is on top.
    rough_mm, planed_mm : float
        Thickness on the rack and when it is glued.
    top_off_mm, bottom_off_mm : float
        Planed off its two faces before gluing.
    rests : tuple of Leftover
        What is sawn off its piece first and goes back on the rack, rough: piece coordinates, all usable.
    machine_rules : tuple of MachineRule
        What to mind before it goes to a machine.
    """

    letter: str
    rough_mm: float
    planed_mm: float
    top_off_mm: float
    bottom_off_mm: float
    rests: tuple[Leftover, ...] = ()
    machine_rules: tuple[MachineRule, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceJoint:
    """The glue line between a layer and the one under it; they stand in their order, top first.

    Parameters
    ----------
    name : str
        ``face 1``, ``face 2`` ...
    upper, lower : str
        Letters of the layers.
    below_front_mm : float
        Its depth below the upper face of the blank, once that is planed.
    crossing_deg : float
        Between the grain of the two.
    moisture_points : float or None
        Between the two pieces; None when one is not known.
    mismatch_mm : float or None
        By how much they would differ in width over the season at the most, if they were free; None where a
        species has no figures.
    """

    name: str
    upper: str
    lower: str
    below_front_mm: float
    crossing_deg: float
    moisture_points: float | None = None
    mismatch_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Press:
    """Clamps over the faces of a laminated blank; every glue line bears the same force.

    Parameters
    ----------
    area_mm2 : float
        Of the blank.
    pressure_psi : (float, float)
        Least and most, pounds-force a square inch.
    force_n : (float, float)
        Of all clamps together, newtons.
    clamp_n : float
        What one clamp of the shop gives, newtons.
    needed : int
        How many of them the least pressure asks for.
    count : int
        How many there are of these: all, or as many as the shop has.
    reached_psi : float
        Pressure when each of those gives all it can, at most the highest that is asked for.
    density : {"soft", "medium", "dense"}
        Of the softest wood in the blank.
    source : SourceKey
    """

    area_mm2: float
    pressure_psi: tuple[float, float]
    force_n: tuple[float, float]
    clamp_n: float
    needed: int
    count: int
    reached_psi: float
    density: Literal["soft", "medium", "dense"]
    source: SourceKey


@dataclass(frozen=True, slots=True, kw_only=True)
class Laminate:
    """All that it takes to laminate a blank from pieces of the rack.

    Parameters
    ----------
    layers : tuple of LaminateLayer
    faces : tuple of FaceJoint
    press : Press
    humidity_pct, moisture_pct : (float, float)
        The season: driest and dampest air, and the moisture that wood comes to in it.
    temperature_c : float
        Of that air, degrees Celsius.
    movement : tuple of Movement
        Across the grain, of each layer.
    thickness_mm : float
        When glued.
    top_off_mm, bottom_off_mm : float
        Planed off the blank afterwards, to the finished thickness.
    steps : tuple of LaminateStep
        Order of work.
    cautions : tuple of LaminateCaution
        In addition to the rules of the layers' machines.
    """

    layers: tuple[LaminateLayer, ...]
    faces: tuple[FaceJoint, ...]
    press: Press
    humidity_pct: tuple[float, float]
    moisture_pct: tuple[float, float]
    temperature_c: float
    movement: tuple[Movement, ...]
    thickness_mm: float
    top_off_mm: float
    bottom_off_mm: float
    steps: tuple[LaminateStep, ...]
    cautions: tuple[LaminateCaution, ...] = ()
