"""Wood beside the cutter's path and how far it works beyond the screws, measured again."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from typing import Any

import shapely

from nestyield.audit.held import window
from nestyield.audit.sheet import CheckedBlank, CheckedPlacement
from nestyield.model.facts import Caution, FarFromScrews, FrameCutOpen

#: Narrower wood beside the cutter's path comes off; the cutter may work so far beyond the screws, mm.
FRAME_MM, BEYOND_MM = 3.0, 200.0
#: An edge that is longer than this near a part is surely told, mm; one nearly aslant may face either way.
END_MM, SLANT = 1.0, 0.95
#: Distances nearer than this to a limit may count either way, mm.
NEAR_MM = 0.06


def check_frame(bench: CheckedBlank, sure: list[Caution], maybe: list[Caution]) -> None:
    """Add the cautions of a frame that is cut open and of ends that no screw holds."""
    cutter = bench.sheet.plan.shop.settings.cutter_diameter_mm
    edges = bench.wood.boundary
    left = {
        laid.index: max(0.0, float(laid.outline.distance(edges)) - cutter)
        if bench.wood.covers(laid.outline)
        else 0.0
        for laid in bench.laid
    }
    _add(
        sure,
        maybe,
        [{k for k, d in left.items() if d < FRAME_MM + by} for by in (-NEAR_MM, NEAR_MM)],
        lambda found: FrameCutOpen(placements=tuple(sorted(found)), under_um=round(1000 * FRAME_MM)),
    )
    _ends(bench, cutter + FRAME_MM)
    layout, work = bench.layout, bench.layout.work
    if work is None or layout.chosen is None or not 0 <= layout.chosen < len(layout.setups):
        return
    if not work.hold_downs:
        return
    setup = layout.setups[layout.chosen]
    every = shapely.union_all([laid.outline for laid in bench.laid])
    far: dict[str, float] = {}
    for position in work.positions:
        driven = [
            (h.x_mm, h.y_mm) for h in work.hold_downs if position.section in h.sections or not h.sections
        ]
        if not driven:
            continue
        screws = shapely.MultiPoint(driven).convex_hull
        cut = every.intersection(window(bench, setup, position)).convex_hull
        far[position.name] = max(
            (float(screws.distance(shapely.Point(at))) for at in shapely.get_coordinates(cut)), default=0.0
        )
    names = [p.name for p in work.positions]
    _add(
        sure,
        maybe,
        [{n for n, d in far.items() if d > BEYOND_MM + by} for by in (NEAR_MM, -NEAR_MM)],
        lambda found: FarFromScrews(
            positions=tuple(n for n in names if n in found), beyond_um=round(1000 * BEYOND_MM)
        ),
    )


def _ends(bench: CheckedBlank, near_mm: float) -> None:
    """Check at which ends of the wood slivers are told: by the way that the edge faces near each part."""
    by_index = {laid.index: laid for laid in bench.laid}
    for told in bench.layout.cautions:
        if not isinstance(told, FrameCutOpen) or not told.ends:
            continue
        if len(told.ends) != len(told.placements):
            bench.say("A519", "slivers beside parts are told without where")
            continue
        for k, ends in zip(told.placements, told.ends):
            if k in by_index:
                _ends_of(bench, by_index[k], ends, near_mm)


def _ends_of(bench: CheckedBlank, laid: CheckedPlacement, told: Sequence[str], near_mm: float) -> None:
    surely: dict[str, float] = {}
    perhaps: set[str] = set()
    for part in shapely.get_parts(bench.wood):
        for number, ring in enumerate((part.exterior, *part.interiors)):
            way = 1.0 if shapely.is_ccw(ring) else -1.0
            xy = shapely.get_coordinates(ring)
            for a, b in itertools.pairwise(xy):
                line = shapely.LineString([a, b])
                if line.distance(laid.outline) > near_mm + NEAR_MM:
                    continue
                x, y = way * (b - a)[1], -way * (b - a)[0]
                names = {"hole"} if number else _named(x, y)
                perhaps |= names
                long = line.intersection(laid.outline.buffer(near_mm - NEAR_MM)).length
                for name in names if len(names) == 1 else ():
                    surely[name] = surely.get(name, 0.0) + long
    missing = [name for name, long in surely.items() if long > END_MM and name not in told]
    for name in [*missing, *(set(told) - perhaps)]:
        bench.say("A519", f"whether slivers come off {laid.name} at the {name} edge is told wrong")


def _named(x: float, y: float) -> set[str]:
    """Ways in which an edge may be said to face, both where it is nearly aslant."""
    found = {"right" if x > 0 else "left"} if abs(x) > SLANT * abs(y) else set()
    return found | ({"upper" if y > 0 else "lower"} if abs(y) > SLANT * abs(x) else set())


def _add(
    sure: list[Caution], maybe: list[Caution], found: Sequence[set[Any]], made: Callable[[set[Any]], Caution]
) -> None:
    """Add one caution: sure where the limits leave no doubt, else each as it may be."""
    surely, perhaps = found
    if surely == perhaps:
        sure += [made(surely)] if surely else []
        return
    maybe += [made(one) for one in (surely, perhaps) if one]
