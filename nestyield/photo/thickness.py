"""What is said of the thickness that a person gave: whether the picture bears it out, and what it does to outlines."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from nestyield.model import Finding
from nestyield.photo.request import PhotoRequest
from nestyield.photo.scene import Seen
from nestyield.photo.told import tell
from nestyield.words import Words


def thickness_findings(seen: Sequence[Seen], request: PhotoRequest) -> list[Finding]:
    """Return an error for a picture whose pieces look thicker or thinner than said, a note where none tells."""
    words = Words(request.units)
    said = words.length(request.thickness_mm, style="fine")
    out, told = [], False
    for s in seen if not request.scan else ():
        if s.height is None:
            continue
        told = True
        if abs(s.height.thickness_mm - request.thickness_mm) > s.height.within_mm:
            looks, within = (words.length(v) for v in (s.height.thickness_mm, s.height.within_mm))
            message = (
                f"the sides of the pieces look {looks} high (within {within}), not {said} as --thickness says, so that "
                f"the outlines would be wrong; nothing is written. Measure the pieces with a caliper and enter what it "
                f"reads. If it reads {said}, see that nothing covers or shades the sides and take another picture. "
                f"{effect(seen, request)}"
            )
            out.append(tell("error", "V016", message, s.name))
    if not told and not request.scan:
        message = (
            f"no picture shows whether the pieces are {said} thick: measure them. {effect(seen, request)}"
        )
        out.append(tell("note", "V017", message, ", ".join(s.name for s in seen)))
    return out


def effect(seen: Sequence[Seen], request: PhotoRequest) -> str:
    """Return what an error of the thickness does to outlines, as a sentence."""
    words = Words(request.units)
    step = {"mm": 1.0, "in": 25.4 / 32}[request.units]
    most = max((moved_mm(s, request.thickness_mm, step) for s in seen), default=0.0)
    return (
        f"A thickness wrong by {words.length(step)} moves edges on the far side by up to "
        f"{words.length(most, style='fine', rounding='up')}."
    )


def moved_mm(seen: Seen, thickness_mm: float, step_mm: float) -> float:
    """Return by how much a thickness that is so much more moves the edge that is farthest from the camera, mm."""
    height = float(seen.camera.eye[2])
    places = shapely.get_coordinates(seen.wood)
    far = float(np.hypot(*(places - seen.tower.foot).T).max())
    return far * step_mm / max(height - thickness_mm, 1.0)
