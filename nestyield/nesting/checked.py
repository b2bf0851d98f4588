"""Places that a search proposes, checked part by part as any other layout is."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from nestyield.model import Blank, Part, Placement, Settings
from nestyield.model.pose import Pose
from nestyield.placement.check import Checker, filled_ml
from nestyield.placement.constraint import Constraint
from nestyield.placement.depth import ThicknessSplit
from nestyield.placement.problem import build

#: (index of the part, where a copy lies), in the order in which they were checked.
Packed = tuple[tuple[int, Placement], ...]
#: Called with what lies there, an index of a part and a placement beside it; false leaves it out.
Accept = Callable[[Packed, int, Placement], bool]


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposed:
    """A place for a copy of a part, as a ``Placement``, with the planing of the blank's faces."""

    part: int
    angle_deg: float
    mirrored: bool
    x_um: int
    y_um: int
    split: ThicknessSplit


def checked(
    proposed: Iterable[Proposed],
    parts: Sequence[Part],
    blank: Blank,
    settings: Settings,
    constraints: Sequence[Constraint],
    accept: Accept | None,
) -> Packed:
    """Return the proposed places that hold beside those before them, each checked against the blank too."""
    laid: Packed = ()
    for place in proposed:
        part = parts[place.part]
        taken = [(parts[i], at) for i, at in laid]
        problem = build(part, blank, settings, place.split, taken, constraints=constraints)
        pose = Pose.of(place)
        if Checker(problem).clash(pose):
            continue
        if part.fill_limit_ml is not None and filled_ml(problem, pose)[0] > part.fill_limit_ml:
            continue
        at = Placement(
            part=part.name,
            order="",
            copy=1,
            angle_deg=place.angle_deg,
            mirrored=place.mirrored,
            x_um=place.x_um,
            y_um=place.y_um,
            front_up=place.split.front_up,
        )
        if accept is None or accept(laid, place.part, at):
            laid = (*laid, (place.part, at))
    return laid
