"""Every setup laid on its bed again: travel, table, keep-outs, depth."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache

import numpy as np
import shapely
from shapely.affinity import affine_transform
from shapely.geometry.base import BaseGeometry

from nestyield.audit.curves import TOL_MM, moved, points_of, polygon, thickness_of, unit
from nestyield.audit.sheet import CheckedBlank, CheckedPlacement
from nestyield.model import Bed, Outline, Part, Setup, Shape

#: Spare and needed travel may be off by this, millimeters.
TRAVEL_TOL_MM = 0.01
#: Keep-outs may be touched this deep, millimeters.
KEEP_OUT_TOL_MM = 2 * TOL_MM


def check_beds(bench: CheckedBlank) -> None:
    """Check each setup of a layout, and the chosen one against the orders."""
    layout = bench.layout
    allowed = _allowed(bench)
    for setup in layout.setups:
        bed = bench.sheet.beds.get(setup.bed)
        if bed is None:
            bench.say("A501", f"a setup is on bed {setup.bed!r}, which the shop does not have")
        else:
            _setup(bench, bed, setup)
    tried = {(s.bed, s.along) for s in layout.setups}
    for name in allowed:
        for along in ("x", "y"):
            if (name, along) not in tried:
                bench.say("A502", f"bed {name} along {along.upper()} is not answered")
    _chosen(bench, allowed)
    _preferred(bench, allowed)


def _allowed(bench: CheckedBlank) -> list[str]:
    """Beds that every order on the blank allows."""
    names = [b.name for b in bench.sheet.plan.shop.beds]
    for placement in bench.layout.placements:
        order = bench.sheet.orders.get(placement.order)
        if order is not None and order.beds:
            names = [n for n in names if n in order.beds]
    return names


def _chosen(bench: CheckedBlank, allowed: list[str]) -> None:
    layout = bench.layout
    if layout.chosen is None:
        if bench.sheet.plan.shop.beds and layout.placements:
            bench.say("A503", "no setup is chosen, so no bed cuts it")
        return
    if not 0 <= layout.chosen < len(layout.setups):
        bench.say("A503", f"setup {layout.chosen + 1} is chosen; there are {len(layout.setups)}")
        return
    chosen = layout.setups[layout.chosen]
    if not chosen.fits and not chosen.sections:
        bench.say("A503", f"the chosen setup, bed {chosen.bed} along {chosen.along.upper()}, does not fit")
    if chosen.bed not in allowed:
        bench.say("A504", f"the chosen bed {chosen.bed} is not allowed by every order on the blank")


def _preferred(bench: CheckedBlank, allowed: list[str]) -> None:
    """Check that the first bed of the shop file that serves is chosen, and why those before it are not."""
    layout = bench.layout
    if layout.chosen is None or not 0 <= layout.chosen < len(layout.setups):
        return
    chosen = layout.setups[layout.chosen]
    accepted = layout.blank.name in bench.sheet.kept
    order = list(dict.fromkeys(s.bed for s in layout.setups))
    if not accepted and order != allowed:
        bench.say("A531", f"beds are in the order {', '.join(order)}, not as in the shop file")
    before = order[: order.index(chosen.bed)]
    told = {fact.bed: fact for fact in layout.passed_over}
    if list(told) != before:
        bench.say("A531", f"says why {', '.join(told) or 'no bed'} is not used, not {', '.join(before)}")
    better = [s for s in layout.setups if s.fits and s.bed != chosen.bed]
    if not accepted and not chosen.fits and better:
        bench.say("A531", f"bed {better[0].bed} takes the blank in one go, the chosen one in sections")
    for fact in layout.passed_over:
        of_bed = [s for s in layout.setups if s.bed == fact.bed]
        serves = [s for s in of_bed if s.fits or (not chosen.fits and s.sections)]
        same = [
            s
            for s in of_bed
            if (s.along, s.refusals, s.in_sections) == (fact.along, fact.why, fact.in_sections)
        ]
        if not same or (any(s.fits for s in serves) and fact.why):
            bench.say("A531", f"why bed {fact.bed} is not used is not what its setups say")


def extent(bench: CheckedBlank, turned_deg: float) -> tuple[np.ndarray, np.ndarray]:
    """Least and greatest X and Y of all outlines, blank turned about its origin, mm."""
    turn = unit(turned_deg)
    low, high = np.full(2, np.inf), np.full(2, -np.inf)
    for laid in bench.laid:
        xy = shapely.get_coordinates(laid.outline)
        z = (xy[:, 0] + 1j * xy[:, 1]) * turn
        for i, v in enumerate((z.real, z.imag)):
            low[i], high[i] = min(low[i], v.min()), max(high[i], v.max())
    return low, high


def beyond(bench: CheckedBlank, turned_deg: float) -> tuple[np.ndarray, np.ndarray]:
    """As ``extent``, for where the cutter's center runs: also pockets drawn past the outline."""
    radius = bench.sheet.plan.shop.settings.cutter_diameter_mm / 2.0
    low, high = extent(bench, turned_deg)
    low, high = low - radius, high + radius
    turn = unit(turned_deg)
    for laid in bench.laid:
        for zone in laid.part.zones:
            if zone.shape is None or not zone.does.cuts or not _past(laid.part, zone.shape):
                continue
            xy = moved(points_of(zone.shape.outer), laid.placement)
            z = (xy[:, 0] + 1j * xy[:, 1]) * turn
            if np.ptp(z.real) >= 2 * radius and np.ptp(z.imag) >= 2 * radius:
                low = np.minimum(low, [z.real.min() + radius, z.imag.min() + radius])
                high = np.maximum(high, [z.real.max() - radius, z.imag.max() - radius])
    return low, high


@lru_cache(maxsize=256)
def _drawn_past(outline: Outline, zone: Outline) -> bool:
    return not polygon(points_of(outline)).covers(polygon(points_of(zone)))


def _past(part: Part, shape: Shape) -> bool:
    """Whether a zone is drawn past the part's outline."""
    return _drawn_past(part.outline, shape.outer)


def _setup(bench: CheckedBlank, bed: Bed, setup: Setup) -> None:
    where = f"bed {bed.name} along {setup.along.upper()}"
    lies = "x" if abs(unit(setup.turned_deg).real) > 0.5 else "y"
    if setup.turned_deg % 90.0 != 0.0 or lies != setup.along:
        bench.say("A505", f"{where} lies turned by {setup.turned_deg:g} degrees", where)
        return
    if not bench.laid:
        return
    low, high = beyond(bench, setup.turned_deg)
    needs = high - low
    travel = np.array([bed.travel_x_mm, bed.travel_y_mm])
    told_needs = np.array([setup.needs_x_mm, setup.needs_y_mm])
    told_spare = np.array([setup.spare_x_mm, setup.spare_y_mm])
    for i, axis in enumerate("XY"):
        if abs(needs[i] - told_needs[i]) > TRAVEL_TOL_MM:
            bench.say(
                "A506", f"needs {needs[i]:.3f} mm along {axis}, the plan says {told_needs[i]:.3f}", where
            )
        if abs(travel[i] - needs[i] - told_spare[i]) > TRAVEL_TOL_MM:
            bench.say(
                "A506",
                f"{travel[i] - needs[i]:.3f} mm of {axis} travel are spare, the plan says "
                f"{told_spare[i]:.3f}",
                where,
            )
    if setup.fits and setup.refusals:
        bench.say("A505", f"fits, and gives a reason why not: {setup.refusals[0].code}", where)
    if not setup.fits and not setup.refusals:
        bench.say("A505", "does not fit, and gives no reason", where)
    if setup.fits:
        _lies(bench, bed, setup.turned_deg, (setup.x_mm, setup.y_mm), where, (low, high))
        _depth(bench, bed, where)


def _depth(bench: CheckedBlank, bed: Bed, where: str) -> None:
    deepest = max(p.part.thickness_mm for p in bench.laid)
    if bed.travel_z_mm is not None and deepest > bed.travel_z_mm + TOL_MM:
        bench.say("A507", f"{deepest:g} mm are cut, the Z travel is {bed.travel_z_mm:g} mm", where)


def _lies(
    bench: CheckedBlank,
    bed: Bed,
    turned_deg: float,
    at: tuple[float, float],
    where: str,
    cut: tuple[np.ndarray, np.ndarray],
) -> None:
    """Check travel, table and keep-outs for a blank that lies at a place; ``cut`` before the shift."""
    shift = np.array(at)
    _within(bench, where, "the cutter's center", cut[0] + shift, cut[1] + shift, _travel(bed), "A507")
    check_on_table(bench, bed, turned_deg, shift, where)
    check_keep_outs(bench, bed, turned_deg, at, where)


def check_keep_outs(
    bench: CheckedBlank,
    bed: Bed,
    turned_deg: float,
    at: tuple[float, float],
    where: str,
    strip: BaseGeometry | None = None,
) -> None:
    """Check that neither the blank nor what the cutter sweeps enters a keep-out.

    Keep-outs are brought into the blank's coordinates, where the parts lie. ``strip``, on the bed, limits
    where the cutter runs.
    """
    diameter = bench.sheet.plan.shop.settings.cutter_diameter_mm
    limit = None if strip is None else to_blank(strip, turned_deg, at)
    for keep_out in bed.keep_outs:
        ground = to_blank(polygon(points_of(keep_out.outline)), turned_deg, at)
        if keep_out.blocks in ("blank", "both"):
            _keep_clear(bench, bench.wood, ground, keep_out.name, "blank", where)
        if keep_out.blocks in ("cutter", "both"):
            area = ground if limit is None else ground.intersection(limit)
            for k in sorted(bench.tree.query(area, predicate="dwithin", distance=diameter).tolist()):
                for body in swept(bench.laid[k], diameter):
                    _keep_clear(bench, body, area, keep_out.name, "cutter", where)


def _travel(bed: Bed) -> tuple[np.ndarray, np.ndarray]:
    return np.zeros(2), np.array([bed.travel_x_mm, bed.travel_y_mm])


def _within(
    bench: CheckedBlank,
    where: str,
    what: str,
    low: np.ndarray,
    high: np.ndarray,
    limits: tuple[np.ndarray, np.ndarray],
    code: str,
) -> None:
    for i, axis in enumerate("xy"):
        for past, end in ((limits[0][i] - low[i], "-"), (high[i] - limits[1][i], "+")):
            if past > TOL_MM:
                bench.say(code, f"{what} passes the end {axis}{end} by {past:.3f} mm", where)


def check_on_table(bench: CheckedBlank, bed: Bed, turned_deg: float, shift: np.ndarray, where: str) -> None:
    """Check that the blank lies on the table, except over open ends."""
    xy = points_of(bench.layout.blank.shape.outer)
    z = (xy[:, 0] + 1j * xy[:, 1]) * unit(turned_deg)
    low, high = [], []
    for i, (axis, v, table) in enumerate((("x", z.real, bed.table_x_mm), ("y", z.imag, bed.table_y_mm))):
        low.append(v.min() + shift[i] if f"{axis}-" not in bed.open_ends else table[0])
        high.append(v.max() + shift[i] if f"{axis}+" not in bed.open_ends else table[1])
    limits = (
        np.array([bed.table_x_mm[0], bed.table_y_mm[0]]),
        np.array([bed.table_x_mm[1], bed.table_y_mm[1]]),
    )
    _within(bench, where, "the blank", np.array(low), np.array(high), limits, "A508")


def to_blank(ground: BaseGeometry, turned_deg: float, at: tuple[float, float]) -> BaseGeometry:
    """Bring something of the bed into the coordinates of a blank that lies there."""
    back = unit(turned_deg).conjugate()
    c, s = back.real, back.imag
    return affine_transform(ground, [c, -s, s, c, -c * at[0] + s * at[1], -s * at[0] - c * at[1]])


def swept(laid: CheckedPlacement, diameter: float) -> Iterator[BaseGeometry]:
    """What the cutter sweeps for one part: a diameter around the outline, and all that is cut away."""
    yield laid.outline.buffer(diameter - TOL_MM, quad_segs=32).difference(laid.outline)
    for zone in laid.part.zones:
        if zone.shape is not None and zone.does.cuts:
            yield laid.zone(zone.shape)


def _keep_clear(
    bench: CheckedBlank, body: BaseGeometry, ground: BaseGeometry, name: str, what: str, where: str
) -> None:
    if not body.intersects(ground):
        return
    deep = thickness_of(body.intersection(ground))
    if deep > KEEP_OUT_TOL_MM:
        bench.say("A509", f"the {what} enters keep-out '{name}', {deep:.3f} mm wide", where)
