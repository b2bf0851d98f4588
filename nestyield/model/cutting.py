"""What is cut from a part: which zones, from which face of the wood, and which go right through."""

from __future__ import annotations

from typing import TypeGuard

from nestyield.model.axis import CutFace
from nestyield.model.facts.work import CutRole
from nestyield.model.part import Part, Zone
from nestyield.model.plan import Placement

#: Roles of zones from which wood is cut.
CUT_ROLES: tuple[CutRole, ...] = ("cutout", "pocket", "contour", "hole")


def is_cut(role: str) -> TypeGuard[CutRole]:
    """Tell whether a zone of this role is cut."""
    return role in CUT_ROLES


def face_of(zone: Zone, placement: Placement) -> CutFace:
    """Return the face of the blank from which a zone of a placed part is cut."""
    if zone.face == "through":
        return "through"
    return "top" if (zone.face == "front") == placement.front_up else "bottom"


def cut_right_through(zone: Zone, part: Part) -> bool:
    """Tell whether a zone is an opening of the part."""
    if zone.shape is None or zone.role not in ("cutout", "hole", "pocket"):
        return False
    if zone.role == "cutout" or zone.face == "through" or zone.depth_mm is None:
        return True
    return zone.depth_mm >= part.thickness_mm


def common_name(zone: Zone) -> str:
    """Return the name that alike zones of a drawing share: ``DOTS`` for ``DOTS#2``."""
    return zone.name.split("#")[0]
