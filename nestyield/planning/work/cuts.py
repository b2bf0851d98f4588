"""What is cut from each placed part, where and how deep in the blank."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from nestyield.model import Blank, Defect, Part, Zone

#: From where to where in the blank's thickness, from its top face before planing, mm.
Depths = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Lies:
    """Which face of a part is up, and what is planed off the blank for it.

    Parameters
    ----------
    front_up : bool
    top_mm, bottom_mm : float
        Planed off the blank's top and bottom.
    """

    front_up: bool
    top_mm: float
    bottom_mm: float

    @classmethod
    def of(cls, part: Part, blank: Blank, front_up: bool, top_off_mm: float | None) -> Lies:
        """Return how a part lies in a blank; nothing is planed off sheets."""
        if blank.grain_deg is None:
            return cls(front_up=front_up, top_mm=0.0, bottom_mm=0.0)
        spare = max(0.0, blank.thickness_mm - part.thickness_mm)
        top = spare / 2.0 if top_off_mm is None else top_off_mm
        return cls(front_up=front_up, top_mm=top, bottom_mm=spare - top)

    def slab(self, blank: Blank) -> Depths:
        """Return the depths that planing leaves."""
        return self.top_mm, blank.thickness_mm - self.bottom_mm


def cut_depths(part: Part, blank: Blank, lies: Lies, whole: Depths) -> Iterator[tuple[Zone, Depths]]:
    """Yield the zones from which wood is cut, with the depths in the blank that are cut there.

    Parameters
    ----------
    part : Part
    blank : Blank
    lies : Lies
    whole : (float, float)
        Depths that planing leaves for all parts of the blank.
    """
    for zone in part.zones:
        if zone.shape is None or not zone.does.cuts:
            continue
        if zone.goes_through(part.thickness_mm):
            yield zone, whole
            continue
        depth = part.thickness_mm if zone.depth_mm is None else min(zone.depth_mm, part.thickness_mm)
        if (zone.face == "front") == lies.front_up:
            yield zone, (whole[0], lies.top_mm + depth)
        else:
            yield zone, (blank.thickness_mm - lies.bottom_mm - depth, whole[1])


def defect_depths(defect: Defect, thickness_mm: float) -> Depths:
    """Return the depths of a blank that a defect reaches."""
    return defect.span_mm(thickness_mm)


def swallows(zone: Zone, defect: Defect) -> bool:
    """Tell whether a zone is where defects of this kind belong, by its own word."""
    return zone.tolerates.get(defect.kind) == "allowed"


def share_mm(one: Depths, other: Depths) -> float:
    """Return by how much two spans of depth overlap, millimeters; negative where they are apart."""
    return min(one[1], other[1]) - max(one[0], other[0])
