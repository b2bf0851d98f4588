"""Positions of a blank on its bed in order of work, and the pins of the table that serve in all of them."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence

from nestyield.model import Bed, BedPosition, Pin, Point, Section, Setup, TablePin
from nestyield.model.facts import UpFace
from nestyield.model.pose import Pose

#: Two places on the table closer than this are one, mm.
SAME_MM = 0.05
#: Pins stand this many diameters deep in the table (common practice, no source).
IN_TABLE_DIAMETERS = 2.0


def pose_of(position: BedPosition | Setup | Section) -> Pose:
    """Return the pose from blank to bed coordinates."""
    if isinstance(position, BedPosition):
        return Pose(
            mirrored=position.mirrored, angle_deg=position.angle_deg, x_mm=position.x_mm, y_mm=position.y_mm
        )
    return Pose(angle_deg=position.turned_deg, x_mm=position.x_mm, y_mm=position.y_mm)


def _names() -> Iterator[str]:
    """Yield ``A`` to ``Z``, ``AA``, ``AB`` ..."""
    letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
    for size in itertools.count(1):
        yield from map("".join, itertools.product(letters, repeat=size))


def positions_of(
    setup: Setup, faces: Sequence[UpFace], axis_mm: tuple[Point, Point] | None
) -> tuple[BedPosition, ...]:
    """Return every position of a blank on its bed: a face after the other, each in all its sections.

    Parameters
    ----------
    setup : Setup
    faces : sequence of {"top", "bottom"}
        In order of work.
    axis_mm : (point, point) or None
        Line about which the blank is turned over, blank coordinates.
    """
    places: Sequence[Setup | Section] = setup.sections or (setup,)
    names = _names()
    out = []
    for up in faces:
        for k, place in enumerate(places, start=1):
            pose = pose_of(place)
            if up == "bottom" and axis_mm is not None:
                pose = Pose.reflection(*axis_mm).then(pose)
            out.append(
                BedPosition(
                    name=next(names),
                    up=up,
                    section=k if setup.sections else 0,
                    mirrored=pose.mirrored,
                    angle_deg=pose.angle_deg % 360.0,
                    x_mm=pose.x_mm,
                    y_mm=pose.y_mm,
                )
            )
    return tuple(out)


def table_pins(bed: Bed, positions: Sequence[BedPosition], pins: Sequence[Pin]) -> tuple[TablePin, ...]:
    """Return the pins of the table that carry a hole of the blank in every position.

    All of them when the blank is turned over, two when it is moved on by holes.

    Parameters
    ----------
    bed : Bed
    positions : sequence of BedPosition
    pins : sequence of Pin
        Holes through the blank.
    """
    if not positions:
        return ()
    lying = [[(pin.name, pose_of(p).point((pin.x_mm, pin.y_mm))) for pin in pins] for p in positions]
    out = []
    for pin, (_, at) in zip(pins, lying[0], strict=True):
        taken = [next((name for name, p in holes if math.dist(p, at) < SAME_MM), "") for holes in lying]
        if all(taken):
            beyond = not (0.0 <= at[0] <= bed.travel_x_mm and 0.0 <= at[1] <= bed.travel_y_mm)
            out.append(
                TablePin(
                    name=pin.name,
                    x_mm=at[0],
                    y_mm=at[1],
                    diameter_mm=pin.diameter_mm,
                    depth_mm=IN_TABLE_DIAMETERS * pin.diameter_mm,
                    holes=tuple(taken),
                    by_hand=pin.by_hand if pin.use == "flip" else beyond,
                )
            )
    return tuple(out)
