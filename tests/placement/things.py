"""Small parts and pieces for the tests of this room."""

from __future__ import annotations

from typing import Any

from nestyield.model import Blank, Defect, Member, Outline, Part, Placement, Settings, Shape, Zone

BARE = Settings(cutter_diameter_mm=6.0, blank_margin_mm=0.0, planing_mm=0.8)


def rect(x0: float, y0: float, x1: float, y1: float) -> Shape:
    return Shape(outer=Outline.rectangle(x0, y0, x1, y1))


def disc(x: float, y: float, r: float) -> Shape:
    return Shape(outer=Outline.circle(x, y, r))


def block(length: float = 200.0, width: float = 80.0, **more: Any) -> Part:
    more.setdefault("thickness_mm", 40.0)
    return Part(name="block", drawing="", outline=Outline.rectangle(0, 0, length, width), **more)


def plank(length: float = 210.0, width: float = 90.0, **more: Any) -> Blank:
    shape = Shape(outer=Outline.rectangle(0, 0, length, width), holes=more.pop("holes", ()))
    more.setdefault("grain_deg", 0.0)
    more.setdefault("thickness_mm", 44.0)
    return Blank(
        name="plank", members=(Member(piece="plank", copy=1),), species="sugar maple", shape=shape, **more
    )


def knot(shape: Shape, face: Any = "through", depth_mm: float | None = None, kind: str = "knot") -> Defect:
    return Defect(name=f"{kind} 1", kind=kind, shape=shape, face=face, depth_mm=depth_mm)


def pocket(shape: Shape, depth_mm: float, face: Any = "front", **more: Any) -> Zone:
    return Zone(name=more.pop("name", "P"), role="pocket", shape=shape, depth_mm=depth_mm, face=face, **more)


def at(x_mm: float, y_mm: float, angle_deg: float = 0.0, **more: Any) -> Placement:
    return Placement(
        part="block",
        order="o",
        copy=1,
        angle_deg=angle_deg,
        mirrored=more.pop("mirrored", False),
        x_um=round(x_mm * 1000),
        y_um=round(y_mm * 1000),
        **more,
    )
