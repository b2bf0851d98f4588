"""What is cut from a part: which zones, from which face of the wood, and which go right through."""

from __future__ import annotations

from nestyield.model.axis import CutFace
from nestyield.model.part import Zone
from nestyield.model.plan import Placement


def face_of(zone: Zone, placement: Placement) -> CutFace:
    """Return the face of the blank from which a zone of a placed part is cut."""
    if zone.face == "through":
        return "through"
    return "top" if (zone.face == "front") == placement.front_up else "bottom"


def common_name(zone: Zone) -> str:
    """Return the name that alike zones of a drawing share: ``DOTS`` for ``DOTS#2``."""
    return zone.name.split("#")[0]
