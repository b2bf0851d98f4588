"""Two boards glued edge to edge, with every figure worked by hand.

A is 500 x 100 mm and lies as on the rack. B is 480 x 120 mm, 2 mm thicker, turned end for end: its right end
lies at x = 30, and its lower edge 3 mm below the seam, which runs at y = 95. A loses 5 mm, B loses 3 mm. The
boards lie side by side from x = 30 to x = 500: a seam of 470 mm with its mark in the middle, at 265.
"""

from __future__ import annotations

from dataclasses import replace

from nestyield.model import (
    Blank,
    Layout,
    Member,
    Order,
    Outline,
    Part,
    Piece,
    Placement,
    Plan,
    Seam,
    Settings,
    Shape,
    Shop,
    Zone,
)
from nestyield.planning.layouts import make_layout

A = Piece(
    name="K-1",
    species="sugar maple",
    thickness_mm=44.5,
    moisture_pct=8.0,
    shape=Shape(outer=Outline.rectangle(0, 0, 500, 100)),
)
B = Piece(
    name="K-2",
    species="sugar maple",
    thickness_mm=46.5,
    moisture_pct=10.0,
    shape=Shape(outer=Outline.rectangle(0, 0, 480, 120)),
)
PART = Part(name="plate", drawing="", outline=Outline.rectangle(0, 0, 400, 160), thickness_mm=40.0)
MEMBERS = (
    Member(piece="K-1", copy=1),
    Member(piece="K-2", copy=1, angle_deg=180.0, x_um=510_000, y_um=212_000),
)
SEAM = Seam(name="seam 1", line_mm=((30.0, 95.0), (500.0, 95.0)))
BLANK = Blank(
    name="glue-up 1",
    members=MEMBERS,
    species="sugar maple",
    thickness_mm=44.5,
    shape=Shape(
        outer=Outline.polygon(
            [(0, 0), (500, 0), (500, 95), (510, 95), (510, 212), (30, 212), (30, 95), (0, 95)]
        )
    ),
    grain_deg=0.0,
    seams=(SEAM,),
)
AT = Placement(
    part="plate", order="o", copy=1, angle_deg=0.0, mirrored=False, x_um=60_000, y_um=20_000, top_off_mm=2.5
)


def pocket(name: str, box: tuple[float, float, float, float], depth_mm: float | None, **more) -> Zone:
    """A pocket in drawing coordinates; the part lies 60 mm right of the blank's corner and 20 mm above it."""
    return Zone(**{"name": name, "role": "pocket", "shape": Shape(outer=Outline.rectangle(*box)), **more,
                   "depth_mm": depth_mm})  # fmt: skip


def shop(*zones: Zone, pieces=(A, B), units="mm", part=PART, **settings) -> Shop:
    """A shop with nothing but these boards and one part."""
    return Shop(
        name="Millrace Shared Workshop",
        units=units,
        settings=Settings(**{"cutter_diameter_mm": 6.35, **settings}),
        beds=(),
        parts=(replace(part, zones=zones),),
        pieces=tuple(pieces),
        orders=(Order(name="o", part=part.name),),
    )


def layout(*zones: Zone, blank: Blank = BLANK, at: Placement = AT, **more) -> Layout:
    """The layout that planning makes of it."""
    return make_layout(shop(*zones, **more), blank, [at], (), 0.0)


def plan(*zones: Zone, blank: Blank = BLANK, at: Placement = AT, **more) -> Plan:
    """A plan with this one blank."""
    made = shop(*zones, **more)
    return Plan(shop=made, seed=1, effort=1, layouts=(make_layout(made, blank, [at], (), 0.0),), orders=())
