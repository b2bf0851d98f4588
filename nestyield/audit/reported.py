"""What the plan says about its blanks: seams, leftovers, areas, board feet and value, measured again."""

from __future__ import annotations

import math
from itertools import combinations

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from nestyield.audit.curves import TOL_MM, region, thickness_of, unit
from nestyield.audit.sheet import CheckedBlank
from nestyield.audit.taken import taken
from nestyield.audit.worth import check_value
from nestyield.model import Leftover, Outline, SeamUnderPart

#: A reported length may be off by this, beyond what the chord error moves its ends.
LENGTH_TOL_MM = 0.01
#: Shorter stretches of seam need not be reported.
LEAST_SEAM_MM = 0.1
#: Areas are compared to one part in a million and a square millimeter.
AREA_TOL_MM2 = 1.0
AREA_TOL_REL = 1e-6
#: Volume of a board foot, cubic millimeters: 144 cubic inches.
BOARD_FOOT_MM3 = 144.0 * 25.4**3
#: So many leftovers may have been left out of a blank.
_LEFT_OUT = 100
#: Leftovers on the limit of the least size.
SIZE_TOL_MM = 0.02


def check_seams(bench: CheckedBlank) -> None:
    """Measure each seam under each part again."""
    chord = bench.sheet.plan.shop.settings.chord_error_mm
    told = {(s.seam, s.placement): s for s in bench.layout.seams}
    if len(told) != len(bench.layout.seams):
        bench.say("A401", "a seam is reported twice under one part")
    known = {seam.name: seam for seam in bench.layout.blank.seams}
    for name, index in sorted(told):
        if name not in known:
            bench.say("A401", f"{name} is reported, but the blank has no such seam")
        if not 0 <= index < len(bench.layout.placements):
            bench.say("A401", f"{name} is reported under placement {index + 1}, which does not exist")
    for laid in bench.laid:
        for seam in known.values():
            line = shapely.LineString(seam.line_mm)
            if line.length == 0.0 or not line.intersects(laid.outline.buffer(chord)):
                _length(bench, told.get((seam.name, laid.index)), laid.name, seam.name, (0.0, 0.0))
                continue
            report = told.get((seam.name, laid.index))
            _length(bench, report, laid.name, seam.name, _between(line, laid.outline, chord))
            if report is None:
                continue
            zones = dict(report.zones)
            for zone in laid.part.zones:
                if zone.shape is None:
                    continue
                under = line.intersection(laid.outline.buffer(chord + TOL_MM))
                low, high = _between(under, laid.zone(zone.shape), chord)
                value = zones.pop(zone.name, 0.0)
                if not low - LEAST_SEAM_MM <= value <= high + LENGTH_TOL_MM:
                    bench.say(
                        "A402",
                        f"{seam.name} runs {value:.3f} mm through {zone.name} of {laid.name} by the plan, "
                        f"{0.5 * (low + high):.3f} mm as measured",
                    )
            for left in sorted(zones):
                bench.say("A402", f"{seam.name} is reported in zone {left!r}, which {laid.part.name} lacks")


def _between(line: BaseGeometry, ground: BaseGeometry, by: float) -> tuple[float, float]:
    """Length of a line in a region shrunk, and grown, by what a chord may differ from its arc."""
    by = by + TOL_MM
    return line.intersection(ground.buffer(-by)).length, line.intersection(ground.buffer(by)).length


def _length(
    bench: CheckedBlank, report: SeamUnderPart | None, part: str, seam: str, limits: tuple[float, float]
) -> None:
    value = 0.0 if report is None else report.length_mm
    low, high = limits
    if report is None and low < LEAST_SEAM_MM:
        return
    if not low - LENGTH_TOL_MM <= value <= high + LENGTH_TOL_MM:
        bench.say(
            "A401",
            f"{seam} runs {value:.3f} mm under {part} by the plan, {0.5 * (low + high):.3f} mm as measured",
        )


def check_leftovers(bench: CheckedBlank) -> None:
    """Check that leftovers are wood that is really left, and as large as they say."""
    if not bench.layout.leftovers:
        return
    settings = bench.sheet.plan.shop.settings
    slack = TOL_MM + settings.chord_error_mm
    wood = bench.wood.buffer(TOL_MM)
    cutter = settings.cutter_diameter_mm
    grounds = []
    for left in bench.layout.leftovers:
        ground = region(left.shape)
        grounds.append(ground)
        past = thickness_of(ground.difference(wood))
        if past > TOL_MM:
            bench.say("A403", f"leftover {left.name} reaches {past:.3f} mm past the blank")
        for k in sorted(bench.tree.query(ground, predicate="dwithin", distance=cutter - TOL_MM).tolist()):
            room = float(shapely.distance(ground, bench.laid[k].outline))
            if room < cutter - TOL_MM:
                bench.say(
                    "A404",
                    f"leftover {left.name} lies {room:.3f} mm from {bench.laid[k].name}; "
                    f"the cutter takes {cutter:g} mm",
                )
        _rectangle(bench, left, ground)
        if not _close(left.area_mm2, left.shape.area_mm2):
            bench.say(
                "A406",
                f"leftover {left.name} has {left.shape.area_mm2:.1f} mm2, the plan says {left.area_mm2:.1f}",
            )
    for (i, a), (j, b) in combinations(enumerate(grounds), 2):
        if a.intersects(b) and thickness_of(a.intersection(b)) > slack:
            one, other = bench.layout.leftovers[i].name, bench.layout.leftovers[j].name
            bench.say("A403", f"leftovers {one} and {other} overlap")
    names = [left.name for left in bench.layout.leftovers]
    for name in sorted({n for n in names if names.count(n) > 1}):
        bench.say("A403", f"two leftovers are called {name}")
    # one that the plan's own check rejected leaves its letters unused
    known = [f"{bench.name}-{_letters(k)}" for k in range(len(names) + _LEFT_OUT)]
    order = [known.index(name) if name in known else -1 for name in names]
    if -1 in order or order != sorted(order):
        bench.say("A403", f"its leftovers are called {', '.join(names)}")


def _letters(k: int) -> str:
    """Return a to z, then aa, ab and so on."""
    text = ""
    while k >= 0:
        k, letter = divmod(k, 26)
        text, k = chr(97 + letter) + text, k - 1
    return text


def _rectangle(bench: CheckedBlank, left: Leftover, ground: BaseGeometry) -> None:
    settings = bench.sheet.plan.shop.settings
    x, y, length, width = left.rectangle_mm
    turn = unit(bench.layout.blank.grain_deg or 0.0)
    corners = np.array([x + 1j * y, x + length + 1j * y, x + length + 1j * (y + width), x + 1j * (y + width)])
    if length > 0 and width > 0:
        z = corners * turn
        rectangle = shapely.polygons(np.column_stack([z.real, z.imag]))
        past = thickness_of(rectangle.difference(ground))
        if past > 2 * TOL_MM:
            bench.say("A405", f"the rectangle of leftover {left.name} reaches {past:.3f} mm past it")
    if left.usable and settings.leftover_cut == "saw" and not _close(length * width, left.area_mm2):
        bench.say(
            "A405",
            f"saw lines cut {length * width:.1f} mm2 off for leftover {left.name}, which has "
            f"{left.area_mm2:.1f} mm2",
        )
    sizes = [(length, width)]
    if bench.layout.blank.grain_deg is None:
        sizes.append((width, length))
    large = any(
        a >= settings.leftover_shortest_mm - SIZE_TOL_MM and b >= settings.leftover_narrowest_mm - SIZE_TOL_MM
        for a, b in sizes
    )
    if left.usable and not large:
        bench.say(
            "A405",
            f"leftover {left.name} is called usable with {length:.1f} x {width:.1f} mm; the least is "
            f"{settings.leftover_shortest_mm:g} x {settings.leftover_narrowest_mm:g} mm",
        )


def _close(a: float, b: float) -> bool:
    return math.isclose(a, b, rel_tol=AREA_TOL_REL, abs_tol=AREA_TOL_MM2)


def check_measures(bench: CheckedBlank) -> None:
    """Add areas, board feet and value up again."""
    layout = bench.layout
    parts = sum(_area(p.part.outline) for p in bench.laid)
    stock_of = [p for p in taken(layout.blank, bench.sheet.pieces) if p is not None]
    areas = [_area(p.shape.outer) - sum(_area(h) for h in p.shape.holes) for p in stock_of]
    stock = sum(areas)
    usable = sum(left.area_mm2 for left in layout.leftovers if left.usable)
    if layout.glueup is not None:
        usable += sum(s.area_mm2 for m in layout.glueup.members for s in m.strips if s.usable)
    if layout.laminate is not None:
        usable += sum(r.area_mm2 for x in layout.laminate.layers for r in x.rests)
    for what, told, found in (
        ("area of its parts", layout.part_area_mm2, parts),
        ("area of the pieces taken", layout.stock_area_mm2, stock),
        ("area of usable leftovers and strips", layout.usable_area_mm2, usable),
    ):
        if not _close(told, found):
            bench.say("A406", f"the {what} is {found:.1f} mm2, the plan says {told:.1f}")
    # a strip on edge shows its board's thickness from above
    if not layout.blank.on_edge and parts + usable > stock * (1.0 + 1e-6) + AREA_TOL_MM2:
        bench.say(
            "A406", f"parts and usable leftovers have {parts + usable:.1f} mm2, the stock only {stock:.1f}"
        )
    feet = sum(a * p.thickness_mm for a, p in zip(areas, stock_of)) / BOARD_FOOT_MM3
    if not math.isclose(layout.board_feet, feet, rel_tol=1e-5, abs_tol=1e-6):
        bench.say("A407", f"its stock is {feet:.4f} board feet, the plan says {layout.board_feet:.4f}")
    check_value(bench)


def _area(outline: Outline) -> float:
    """Exact area of lines and arcs: each arc adds the segment between it and its chord."""
    z = [complex(x, y) for x, y in outline.points_mm]
    total = 0.0
    for k, bulge in enumerate(outline.bulges):
        start, end = z[k] - z[0], z[(k + 1) % len(z)] - z[0]
        total += 0.5 * (start.conjugate() * end).imag
        if bulge != 0.0:
            half = 2.0 * math.atan(bulge)  # half of the included angle
            chord = abs(end - start)
            radius = chord / (2.0 * math.sin(abs(half)))
            total += math.copysign(radius * radius * (abs(half) - 0.5 * math.sin(2.0 * abs(half))), bulge)
    return abs(total)
