"""Plans made of pieces that fit without play: dissections and packings whose layout is known."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import pytest

from nestyield.audit.check import audit
from nestyield.model import (
    Bed,
    Blank,
    Finding,
    Member,
    Order,
    OrderResult,
    Outline,
    Part,
    Piece,
    Placement,
    Plan,
    Settings,
    Shape,
    Shop,
)
from nestyield.planning.layouts import make_layout
from nestyield.planning.work.cautions import general_cautions

Polygon = Sequence[tuple[float, float]]

#: No allowances: pieces touch each other and the edge.
BARE = Settings(cutter_diameter_mm=1.0, between_parts_mm=0.0, blank_margin_mm=0.0, planing_mm=0.0)


@dataclass(frozen=True)
class Laid:
    """A part and where it lies."""

    part: Part
    placement: Placement


def lay_polygon(name: str, polygon: Polygon, angle_deg: float, mirrored: bool) -> Laid:
    """Return a part drawn turned (and mirrored) away from where the polygon lies, and its placement."""
    cx, cy = polygon[0]
    turn = math.radians(-angle_deg)
    points = []
    for x, y in polygon:
        u, v = x - cx, y - cy
        u, v = u * math.cos(turn) - v * math.sin(turn), u * math.sin(turn) + v * math.cos(turn)
        points.append((-u if mirrored else u, v))
    return _laid(name, Outline.polygon(points), (cx, cy), angle_deg, mirrored)


def lay_circle(name: str, x: float, y: float, radius: float) -> Laid:
    """Return a round part and its placement."""
    return _laid(name, Outline.circle(0, 0, radius), (x, y), 0.0, False)


def _laid(name: str, outline: Outline, at: tuple[float, float], angle_deg: float, mirrored: bool) -> Laid:
    part = Part(
        name=name,
        drawing="",
        outline=outline,
        thickness_mm=20.0,
        grain_deg=180.0 + angle_deg if mirrored else -angle_deg,
        grain_tolerance_deg=0.0,
        mirrored="only" if mirrored else "no",
    )
    place = Placement(
        part=name,
        order=f"order {name}",
        copy=1,
        angle_deg=angle_deg,
        mirrored=mirrored,
        x_um=round(at[0] * 1000),
        y_um=round(at[1] * 1000),
    )
    return Laid(part, place)


def make_blank(outline: Outline) -> Blank:
    """Return a blank of that outline, grain along X."""
    return Blank(
        name="B",
        members=(Member(piece="B", copy=1),),
        species="sugar maple",
        thickness_mm=20.0,
        shape=Shape(outer=outline),
        grain_deg=0.0,
    )


def make_plan(outline: Outline, laid: Sequence[Laid]) -> Plan:
    """Return a plan with one blank of that outline, and the parts where they lie."""
    blank = make_blank(outline)
    reach = max(v for p in outline.points_mm for v in p) + 100.0
    bed = Bed(
        name="bench",
        travel_x_mm=reach,
        travel_y_mm=reach,
        table_x_mm=(-10.0, reach),
        table_y_mm=(-10.0, reach),
    )
    piece = Piece(name="B", species=blank.species, thickness_mm=20.0, shape=blank.shape, value=0.0, row=2)
    shop = Shop(
        name="Jigsaw",
        units="mm",
        settings=BARE,
        beds=(bed,),
        parts=tuple(item.part for item in laid),
        pieces=(piece,),
        orders=tuple(Order(name=item.placement.order, part=item.part.name) for item in laid),
    )
    layout = make_layout(shop, blank, [item.placement for item in laid], shop.beds, 0.0)
    results = tuple(OrderResult(order=o.name, placed=1, count=o.count) for o in shop.orders)
    general = general_cautions(shop, (layout,))
    return Plan(shop=shop, seed=1, effort=0, layouts=(layout,), orders=results, cautions=general)


def shifted(plan: Plan, index: int, x_um: int, y_um: int) -> Plan:
    """Return the plan with one placement shifted."""
    (layout,) = plan.layouts
    places = list(layout.placements)
    p = places[index]
    places[index] = replace(p, x_um=p.x_um + x_um, y_um=p.y_um + y_um)
    return replace(plan, layouts=(replace(layout, placements=tuple(places)),))


def errors(plan: Plan) -> list[Finding]:
    """Return what the audit refuses."""
    return [f for f in audit(plan) if f.severity == "error"]


@dataclass(frozen=True)
class Jigsaw:
    """The functions above, for tests."""

    lay_polygon: Callable[..., Laid] = lay_polygon
    lay_circle: Callable[..., Laid] = lay_circle
    make_blank: Callable[..., Blank] = make_blank
    make_plan: Callable[..., Plan] = make_plan
    shifted: Callable[..., Plan] = shifted
    errors: Callable[..., list[Finding]] = errors
    settings: Settings = BARE


@pytest.fixture(scope="session")
def jigsaw() -> Jigsaw:
    return Jigsaw()
