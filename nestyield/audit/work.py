"""Pins, screws and sections checked again."""

from __future__ import annotations

import numpy as np
import shapely

from nestyield.audit.beds import check_keep_outs, check_on_table, extent
from nestyield.audit.curves import TOL_MM, region, unit
from nestyield.audit.places import clearance_inside
from nestyield.audit.sheet import CheckedBlank, CheckedPlacement
from nestyield.audit.stands import check_stands
from nestyield.model import Bed, HoldDown, Pin, Section, Settings, Setup

#: A pin's edge stays this far outside an outline, beyond the cutter's radius, and so far from the groove,
#: millimeters.
BESIDE_PIN_MM, BESIDE_GROOVE_MM = 6.0, 3.0
#: So much nearer to pins and screws a part may come in its play, as plans of earlier versions have it, mm.
PLAY_TOL_MM = 0.06
#: A hole may be this far off its pin, millimeters.
HOLE_TOL_MM = 0.01
#: Beyond any bed, millimeters.
FAR = 1e6


def check_work(bench: CheckedBlank) -> None:
    """Check pins and screws against parts and cutter, and sections against the travel."""
    layout = bench.layout
    for setup in layout.setups:
        bed = bench.sheet.beds.get(setup.bed)
        if setup.sections and bed is not None and bench.laid:
            _sections(bench, bed, setup)
    work = layout.work
    if work is None:
        return
    for pin in work.pins:
        _clear(bench, pin, pin.diameter_mm / 2.0)
    for hold in work.hold_downs:
        _clear(bench, hold, hold.diameter_mm / 2.0)
    points = np.array([complex(p.x_mm, p.y_mm) for p in work.pins])
    if work.flip_axis_mm is not None and any(p.use == "flip" for p in work.pins):
        a, b = (complex(*p) for p in work.flip_axis_mm)
        turn = (b - a) / abs(b - a)
        over = a + turn * ((points - a) / turn).conjugate()
        worst = float(np.abs(over[:, None] - points[None, :]).min(axis=1).max())
        if worst > HOLE_TOL_MM:
            bench.say("A510", f"turned over about the flip axis a hole lies {worst:.3f} mm off its pin")
    if 0 < len(points) < 2:
        bench.say("A510", "has one pin; at least two are needed")
    check_stands(bench)
    chosen = layout.chosen
    if chosen is not None and 0 <= chosen < len(layout.setups) and layout.setups[chosen].sections:
        _on_pins(bench, points, layout.setups[chosen])


def check_beside(bench: CheckedBlank) -> None:
    """Check that pins and screws of a blank are clear of what is cut of its parts, where these lie now."""
    work = bench.layout.work
    if work is None:
        return
    held: list[Pin | HoldDown] = [*work.pins, *work.hold_downs]
    for one in held:
        _clear_of_parts(bench, one, one.diameter_mm / 2.0, PLAY_TOL_MM)


def _clear(bench: CheckedBlank, held: Pin | HoldDown, radius: float) -> None:
    spot = shapely.Point(held.x_mm, held.y_mm)
    edge = float(spot.distance(bench.wood.boundary)) - radius
    if edge < 0.0 or not bench.wood.covers(spot):
        bench.say("A510", f"{held.name} does not lie wholly in the blank")
    settings = bench.sheet.plan.shop.settings
    if edge < settings.holding.edge_clearance_mm - TOL_MM:
        bench.say(
            "A510",
            f"{held.name} lies {edge:.3f} mm from the edge of the blank; "
            f"{settings.holding.edge_clearance_mm:g} mm must stay",
        )
    for defect in bench.layout.blank.defects:
        beside = 1.0 if defect.kind in ("stain", "sapwood") else settings.holding.defect_clearance_mm
        room = float(region(defect.shape).distance(spot)) - radius
        if room < beside - TOL_MM:
            bench.say("A510", f"{held.name} lies {room:.3f} mm from {defect.name}; {beside:g} mm must stay")
    _clear_of_parts(bench, held, radius)


def _clear_of_parts(bench: CheckedBlank, held: Pin | HoldDown, radius: float, tol_mm: float = TOL_MM) -> None:
    spot = shapely.Point(held.x_mm, held.y_mm)
    body = spot.buffer(radius, quad_segs=32)
    least = beside_mm(bench.sheet.plan.shop.settings)
    if held.place == "cutout":
        if not any(_in_core(bench, laid, body) for laid in bench.laid):
            bench.say(
                "A510", f"{held.name} is said to stand in an opening, clear of the cutter, and does not"
            )
        return
    for laid in bench.laid:
        room = float(shapely.distance(spot, laid.outline)) - radius
        if room < least - tol_mm:
            bench.say(
                "A510",
                f"{held.name} lies {room:.3f} mm from {laid.name}; at least {least:g} mm must stay",
            )


def beside_mm(settings: Settings) -> float:
    """Return how far the edge of a pin or screw must stay outside an outline, millimeters."""
    diameter = settings.cutter_diameter_mm
    return max(diameter / 2.0 + BESIDE_PIN_MM, diameter + BESIDE_GROOVE_MM)


def _in_core(bench: CheckedBlank, laid: CheckedPlacement, body: shapely.Polygon) -> bool:
    """Whether something round stands in an opening, farther from its edge than the cutter is wide."""
    diameter = bench.sheet.plan.shop.settings.cutter_diameter_mm
    return any(clearance_inside(body, o) >= diameter - TOL_MM for o in shapely.get_parts(laid.openings))


def _sections(bench: CheckedBlank, bed: Bed, setup: Setup) -> None:
    """All that is cut falls in some section, within reach, with the blank on the table."""
    where = f"bed {bed.name} along {setup.along.upper()}"
    radius = bench.sheet.plan.shop.settings.cutter_diameter_mm / 2.0
    low, high = extent(bench, setup.turned_deg)
    travel = np.array([bed.travel_x_mm, bed.travel_y_mm])
    long = int(np.argmax(high - low + 2 * radius - travel))
    base = unit(setup.turned_deg)
    cut: list[tuple[float, float]] = []
    for k, section in enumerate(setup.sections):
        here = f"{where}, section {k + 1}"
        turn = unit(section.turned_deg) / base
        if section.turned_deg % 90.0 != 0.0 or abs(turn.imag) > 1e-9:
            bench.say("A511", f"lies turned by {section.turned_deg:g} degrees", here)
            continue
        sign = round(turn.real)
        shift = np.array([section.x_mm, section.y_mm])
        check_on_table(bench, bed, section.turned_deg, shift, here)
        if section.from_mm < radius - TOL_MM or section.to_mm > travel[long] - radius + TOL_MM:
            bench.say("A511", "cuts beyond the travel", here)
        side = 1 - long
        across = sorted((sign * low[side] + shift[side], sign * high[side] + shift[side]))
        if across[0] < radius - TOL_MM or across[1] > travel[side] - radius + TOL_MM:
            bench.say("A511", f"needs more than the travel along {'XY'[side]}", here)
        ends = section.from_mm - 2 * radius, section.to_mm + 2 * radius
        strip = shapely.box(*((ends[0], -FAR, ends[1], FAR) if long == 0 else (-FAR, ends[0], FAR, ends[1])))
        check_keep_outs(bench, bed, section.turned_deg, (section.x_mm, section.y_mm), here, strip)
        cut.append(_of_blank(section, sign, float(shift[long])))
    reached = low[long]
    for start, end in sorted(cut):
        if start > reached + TOL_MM:
            break
        reached = max(reached, end)
    if reached < high[long] - 2 * TOL_MM:
        bench.say(
            "A511", f"leaves {high[long] - reached:.3f} mm of outline between or past its sections", where
        )


def _of_blank(section: Section, sign: int, shift: float) -> tuple[float, float]:
    """From where to where a section cuts, in the coordinates of the blank as the setup turns it."""
    ends = sorted((sign * (section.from_mm - shift), sign * (section.to_mm - shift)))
    return ends[0], ends[1]


def _on_pins(bench: CheckedBlank, points: np.ndarray, setup: Setup) -> None:
    """The same two places of the bed must carry holes in every section."""
    shared: list[complex] | None = None
    for section in setup.sections:
        lie = [p * unit(section.turned_deg) + complex(section.x_mm, section.y_mm) for p in points]
        if shared is None:
            shared = lie
        else:
            shared = [s for s in shared if any(abs(s - p) <= HOLE_TOL_MM for p in lie)]
    if len(shared or []) < 2:
        bench.say("A511", "no two places on the bed carry index holes in every section")
