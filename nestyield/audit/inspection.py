"""What the wood of a blank asks for, worked out again: sound edges, the cutter's path, leftovers."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from types import MappingProxyType

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from nestyield.audit.curves import region, unit
from nestyield.audit.depth import planed_off
from nestyield.audit.facts import same
from nestyield.audit.sheet import CheckedBlank, CheckedPlacement, cut_through
from nestyield.model import Defect, EdgeCheck, HoldDown, Inspection, Leftover, LeftoverDefects, Pin, Zone
from nestyield.model.axis import BlankEdge
from nestyield.model.facts import AtOutline, CutPlace, InZone, PlaneEvenly, PlaneFaces, PlaneTo, Planing

#: Wood this near reaches an edge of the box, or its corner; stretches no longer than this do not count, mm.
NEAR_EDGE_MM, NEAR_CORNER_MM, SHORT_MM = 0.5, 1.0, 5.0
#: An edge is looked at in such steps, and the ends of a stretch to this, mm.
STEP_MM, END_MM = 0.25, 0.005
#: Stretches along an edge are right to this: chords run off slowly where an arc lies along an edge, mm.
ALONG_TOL_MM = 2.0
#: The cutter surely meets what it goes so far into, and surely does not meet what it stays clear of, mm.
SURELY_MM, CLEAR_MM = 0.08, 0.02
#: A cutter that goes no further into a hole only touches it, mm.
IN_IT_MM = 0.03
#: A leftover surely holds so much of a defect, square millimeters.
HELD_MM2, LEAST_MM2 = 0.1, 0.001

Span = tuple[float, float]
_Cut = tuple[CutPlace, BaseGeometry, Span, Zone | None]
_SIDES: tuple[BlankEdge, ...] = ("lower", "left", "upper", "right")


def check_inspection(bench: CheckedBlank) -> None:
    """Check edges, corner, planing, what is under the cutter, and what leftovers hold."""
    told = bench.layout.inspection
    if told is None:
        bench.say("A516", "has no inspection of its wood")
        return
    _edges(bench, told)
    if told.planing is not None or bench.laid:
        planing = _planing(bench)
        if not (told.planing is None and planing is None) and not same(told.planing, planing):
            bench.say("A516", f"planing is {planing} as worked out, {told.planing} by the plan")
    _under_cutter(bench, told)
    _near_cutter(bench, told)
    _leftovers(bench, told)


def _edges(bench: CheckedBlank, told: Inspection) -> None:
    if tuple(check.edge for check in told.edges) != _SIDES:
        bench.say("A516", f"its edges are not {', '.join(_SIDES)}")
        return
    for check in told.edges:
        _edge(bench, check)
    x0, y0, _, _ = bench.wood.bounds
    whole = bench.layout.blank.thickness_mm
    gone = [
        region(d.shape)
        for d in bench.layout.blank.defects
        if d.traits.wood_missing and (d.depth_mm is None or d.depth_mm >= whole)
    ]
    room = bench.wood.difference(shapely.union_all(gone)).distance(shapely.Point(x0, y0))
    if told.corner != (room <= NEAR_CORNER_MM) and abs(room - NEAR_CORNER_MM) > CLEAR_MM:
        bench.say("A516", f"wood begins {room:.2f} mm from the datum corner; the plan says {told.corner}")


def _edge(bench: CheckedBlank, check: EdgeCheck) -> None:
    """Walk along one edge and look where there is wood and where it is missing."""
    defects = [(d.kind, region(d.shape)) for d in bench.layout.blank.defects if d.traits.wood_missing]
    gaps = [
        (kind, span) for kind, ground in defects for span in _along(bench, ground, check.edge) if _long(span)
    ]
    seen = [(gap.kind, (gap.from_um / 1000, gap.to_um / 1000)) for gap in check.gaps]
    for these, those, what in ((gaps, seen, "leaves out"), (seen, gaps, "has")):
        for kind, span in these:
            if _long(span, ALONG_TOL_MM) and not any(k == kind and _near(span, s) for k, s in those):
                bench.say(
                    "A516", f"its {check.edge} edge {what} {kind} from {span[0]:.1f} to {span[1]:.1f} mm"
                )
    x0, y0, x1, y1 = bench.wood.bounds
    whole = x1 - x0 if check.edge in ("lower", "upper") else y1 - y0
    cells = np.arange(STEP_MM / 2, whole, STEP_MM)
    gone, wood = np.zeros(len(cells), dtype=bool), np.zeros(len(cells), dtype=bool)
    for _, (a, b) in gaps:
        gone |= (cells >= a) & (cells <= b)
    for a, b in _along(bench, bench.wood, check.edge):
        wood |= (cells >= a) & (cells <= b)
    ends = np.flatnonzero(np.diff(np.r_[0, (wood & ~gone).astype(np.int8), 0]))
    runs = [(b - a) * STEP_MM for a, b in zip(ends[::2], ends[1::2])]
    most = sum(run for run in runs if run > SHORT_MM - ALONG_TOL_MM)
    least = sum(run for run in runs if run > SHORT_MM + ALONG_TOL_MM)
    slack = ALONG_TOL_MM * (1 + len(runs))
    if not least - slack <= check.wood_um / 1000 <= most + slack:
        bench.say(
            "A516", f"{most:.1f} mm of its {check.edge} edge are wood, {check.wood_um / 1000:.1f} by the plan"
        )
    missing, share = float(gone.sum()) * STEP_MM, 0.2 * whole
    slack = ALONG_TOL_MM * (1 + len(gaps))
    sure = missing < share - slack and least > min(share, 100.0) + slack
    never = missing > share + slack or most < min(share, 100.0) - slack
    if (sure and not check.sound) or (never and check.sound):
        bench.say(
            "A516",
            f"its {check.edge} edge lacks {missing:.1f} of {whole:.1f} mm and has {most:.1f} mm of wood; "
            f"the plan says that it is {'sound' if check.sound else 'not sound'}",
        )


def _long(span: Span, by_mm: float = 0.0) -> bool:
    return span[1] - span[0] > SHORT_MM + by_mm


def _near(one: Span, other: Span) -> bool:
    return max(abs(one[0] - other[0]), abs(one[1] - other[1])) <= ALONG_TOL_MM


def _along(bench: CheckedBlank, ground: BaseGeometry, edge: BlankEdge) -> list[Span]:
    """Return from where to where a region comes near an edge, looked for with short lines square to it."""
    x0, y0, x1, y1 = bench.wood.bounds
    flat = edge in ("lower", "upper")
    level, inwards = {"lower": (y0, 1.0), "upper": (y1, -1.0), "left": (x0, 1.0), "right": (x1, -1.0)}[edge]
    near, far = level + inwards * NEAR_EDGE_MM, level - inwards
    start, whole = (x0, x1 - x0) if flat else (y0, y1 - y0)
    gx0, gy0, gx1, gy1 = ground.bounds
    low, high = (gy0, gy1) if flat else (gx0, gx1)
    if low > max(near, far) or high < min(near, far):
        return []
    shapely.prepare(ground)

    def meets(at: np.ndarray) -> np.ndarray:
        u = start + at
        ends = (
            [np.column_stack([u, np.full(len(u), v)]) for v in (near, far)]
            if flat
            else [np.column_stack([np.full(len(u), v), u]) for v in (near, far)]
        )
        found: np.ndarray = shapely.intersects(ground, shapely.linestrings(np.stack(ends, axis=1)))
        return found

    spots = np.arange(0.0, whole + STEP_MM, STEP_MM).clip(0.0, whole)
    hit = meets(spots)
    turns = np.flatnonzero(hit[1:] != hit[:-1])
    a, b = spots[turns], spots[turns + 1]
    while len(a) and float((b - a).max()) > END_MM:
        middle = (a + b) / 2
        left = meets(middle) == hit[turns]
        a, b = np.where(left, middle, a), np.where(left, b, middle)
    ends = [*([0.0] if hit[0] else []), *((a + b) / 2).tolist(), *([whole] if hit[-1] else [])]
    return list(zip(ends[::2], ends[1::2]))


def _planing(bench: CheckedBlank) -> Planing | None:
    """Work out what is planed off: solid wood to the thickest part, evenly unless its placement says else."""
    blank = bench.layout.blank
    thick = sorted({laid.part.thickness_mm for laid in bench.laid})
    if blank.grain_deg is None or not thick or blank.thickness_mm - thick[-1] < 0.01:
        return None
    to_um = round(1000 * thick[-1])
    if len(thick) > 1 or len({laid.placement.top_off_mm for laid in bench.laid}) > 1:
        return PlaneTo(to_um=to_um)
    top, bottom = planed_off(bench, bench.laid[0])
    if abs(top - bottom) < 0.01:
        return PlaneEvenly(to_um=to_um, each_um=round(1000 * top))
    return PlaneFaces(to_um=to_um, top_um=round(1000 * top), bottom_um=round(1000 * bottom))


def _under_cutter(bench: CheckedBlank, told: Inspection) -> None:
    """Check each knot, metal and hole of nail or screw against all that is cut, in plan and in depth."""
    said = {one.defect: one for one in told.under_cutter}
    kinds = {d.name: d.kind for d in bench.layout.blank.defects}
    if [name for name in kinds if name in said] != [one.defect for one in told.under_cutter]:
        bench.say("A517", "defects under the cutter are not the blank's, in its order, each once")
    surely: dict[str, list[CutPlace]] = {name: [] for name in kinds}
    maybe: dict[str, list[CutPlace]] = {name: [] for name in kinds}
    watched = [
        d for d in bench.layout.blank.defects if (d.traits.knot or d.traits.may_hold_metal) and bench.laid
    ]
    cuts = list(_all_cuts(bench)) if watched else []
    for defect in watched:
        _meet(bench, defect, cuts, surely[defect.name], maybe[defect.name])
    for name, kind in kinds.items():
        one = said.get(name)
        found = one.places if one is not None else ()
        if one is not None and (one.kind != kind or not found):
            bench.say("A517", f"{name} is a {kind}; the plan says {one.kind} at {len(found)} places")
        for place in surely[name]:
            if place not in found:
                bench.say("A517", f"{kind} ({name}) is under the cutter {_name(place)}: left out")
        for place in found:
            if place not in (*surely[name], *maybe[name]):
                bench.say("A517", f"{kind} ({name}) is not under the cutter {_name(place)}")


def _near_cutter(bench: CheckedBlank, told: Inspection) -> None:
    """Check metal and holes against the clearance that the shop wants, measured from all that is cut."""
    want = bench.sheet.plan.shop.settings.prefer.hole_clearance_mm
    met = {(one.defect, place) for one in told.under_cutter for place in one.places}
    said = {(one.defect, place) for one in told.near_cutter for place in one.places}
    for name, place in sorted(met & said, key=repr):
        bench.say("A517", f"{name} is told both under the cutter and near it {_name(place)}")
    due: set[tuple[str, CutPlace]] = set()
    may: set[tuple[str, CutPlace]] = set()
    holes = [d for d in bench.layout.blank.defects if d.traits.keep_clear and bench.laid]
    cuts = list(_all_cuts(bench)) if holes else []
    for defect in holes:
        ground, spans = region(defect.shape), _of_defect(bench, defect)
        for place, cut, deep, zone in cuts:
            if zone is not None and zone.tolerates.get(defect.kind) == "allowed":
                continue
            share = min(spans[1], deep[1]) - max(spans[0], deep[0])
            room = float(shapely.distance(cut, ground))
            if share > SURELY_MM and room < want - SURELY_MM:
                due.add((defect.name, place))
            if share > CLEAR_MM and room < want - CLEAR_MM:
                may.add((defect.name, place))
    for name, place in sorted(due - met - said, key=repr):
        bench.say("A517", f"{name} is within {want:g} mm of what is cut {_name(place)}: left out")
    for name, place in sorted(said - due - may, key=repr):
        bench.say("A517", f"{name} is not within {want:g} mm of what is cut {_name(place)}")


def room_at_holes(bench: CheckedBlank, index: int) -> dict[str, float]:
    """Return how far metal and holes are from what is cut of one placement at their depths, millimeters.

    Parameters
    ----------
    bench : CheckedBlank
    index : int
        Of the placement.

    Returns
    -------
    dict
        By name of the defect; those that nothing cut reaches in depth are left out, and a name that stands
        for several has the least. -1 where the cutter goes into it.
    """
    out: dict[str, float] = {}
    for defect, cut in cuts_at(bench, index):
        ground = region(defect.shape)
        room = float(shapely.distance(cut, ground))
        if room == 0.0 and cut.buffer(-IN_IT_MM).intersects(ground):
            room = -1.0
        out[defect.name] = min(out.get(defect.name, room), room)
    return out


def cuts_at(bench: CheckedBlank, index: int) -> Iterator[tuple[Defect, BaseGeometry]]:
    """Give metal and holes, each with all that is cut of one placement at its depths and may not meet it."""
    holes = [d for d in bench.layout.blank.defects if d.traits.keep_clear]
    cuts = list(_all_cuts(bench, index)) if holes else []
    for defect in holes:
        spans = _of_defect(bench, defect)
        for _, cut, deep, zone in cuts:
            if zone is not None and zone.tolerates.get(defect.kind) == "allowed":
                continue
            if min(spans[1], deep[1]) - max(spans[0], deep[0]) > SURELY_MM:
                yield defect, cut


def _all_cuts(bench: CheckedBlank, index: int | None = None) -> Iterator[_Cut]:
    """Give all that is cut, or all of one placement, with the heights at which it is cut."""
    reach, slab = bench.sheet.plan.shop.settings.cutter_diameter_mm, _slab(bench)
    for laid in bench.laid:
        if index not in (None, laid.index):
            continue
        for zone in laid.part.zones:
            if zone.shape is not None and zone.does.cuts:
                place = InZone(placement=laid.index, zone=zone.name.partition("#")[0])
                yield place, laid.zone(zone.shape), _of_zone(bench, laid, zone, slab), zone
        rim = laid.outline.buffer(reach, quad_segs=64).difference(laid.outline)
        yield AtOutline(placement=laid.index), rim, slab, None


def _name(place: CutPlace) -> str:
    where = f"in {place.zone}" if isinstance(place, InZone) else "at the outline"
    return f"{where} of placement {place.placement + 1}"


def _meet(
    bench: CheckedBlank,
    defect: Defect,
    cuts: Sequence[_Cut],
    surely: list[CutPlace],
    maybe: list[CutPlace],
) -> None:
    """Note where the cutter surely meets a defect, and where it may: a limit is too near to tell."""
    ground = region(defect.shape)
    spans = _of_defect(bench, defect)

    def note(place: CutPlace, cut: BaseGeometry, deep: Span) -> None:
        by = min(spans[1], deep[1]) - max(spans[0], deep[0])
        if by > SURELY_MM and shapely.intersects(cut.buffer(-SURELY_MM), ground):
            surely.append(place)
        elif by > CLEAR_MM and shapely.dwithin(cut, ground, CLEAR_MM):
            maybe.append(place)

    for place, cut, deep, _ in cuts:
        note(place, cut, deep)


def _slab(bench: CheckedBlank) -> Span:
    """Return what planing leaves of the thickness for all parts, height above the blank's bottom face."""
    if bench.layout.blank.grain_deg is None:
        return 0.0, bench.layout.blank.thickness_mm
    tops, bottoms = zip(*(planed_off(bench, laid) for laid in bench.laid))
    return min(bottoms), bench.layout.blank.thickness_mm - min(tops)


def _of_zone(bench: CheckedBlank, laid: CheckedPlacement, zone: Zone, slab: Span) -> Span:
    """Return at which heights above the blank's bottom face a zone is cut; sheets are not planed."""
    if cut_through(zone, laid.part) or zone.face == "through":
        return slab
    depth = min(laid.part.thickness_mm, zone.depth_mm or laid.part.thickness_mm)
    top, bottom = (0.0, 0.0) if bench.layout.blank.grain_deg is None else planed_off(bench, laid)
    if (zone.face == "front") == laid.placement.front_up:
        return bench.layout.blank.thickness_mm - top - depth, slab[1]
    return slab[0], bottom + depth


def _of_defect(bench: CheckedBlank, defect: Defect) -> Span:
    """Return at which heights above the blank's bottom face a defect is."""
    whole = bench.layout.blank.thickness_mm
    if defect.depth_mm is None or defect.face == "through":
        return 0.0, whole
    low, high = defect.start_mm, defect.depth_mm
    return (whole - high, whole - low) if defect.face == "top" else (low, high)


def _leftovers(bench: CheckedBlank, told: Inspection) -> None:
    """Check what each leftover to keep holds; what is no deeper than the planing allowance is gone."""
    blank = bench.layout.blank
    off = bench.sheet.plan.shop.settings.planing_mm if blank.grain_deg is not None else 0.0
    lasting = [d for d in blank.defects if d.face == "through" or d.depth_mm is None or d.depth_mm > off]
    holes: dict[str, list[shapely.Polygon]] = {}
    work = bench.layout.work
    held: list[Pin | HoldDown] = [*work.pins, *work.hold_downs] if work is not None else []
    for each in held:
        # a screw is taken for half as thick as its head (common practice, no source)
        share = 0.5 if isinstance(each, Pin) else 0.25
        hole = shapely.Point(each.x_mm, each.y_mm).buffer(share * each.diameter_mm)
        holes.setdefault(each.leftover, []).append(hole)
    for what in held_wrong(bench.layout.leftovers, told.leftovers, lasting, blank.grain_deg, holes):
        bench.say("A518", what)


def held_wrong(
    leftovers: Iterable[Leftover],
    told: Sequence[LeftoverDefects],
    defects: Sequence[Defect],
    grain_deg: float | None,
    holes: Mapping[str, Sequence[shapely.Polygon]] = MappingProxyType({}),
) -> Iterator[str]:
    """Yield what is wrong with what leftovers to keep are said to hold of defects, and to have clear."""
    kept = [left for left in leftovers if left.usable]
    if [left.name for left in kept] != [one.leftover for one in told]:
        yield "what leftovers hold is not told of each leftover to keep"
        return
    for left, one in zip(kept, told):
        ground = region(left.shape)
        areas: dict[str, float] = {}
        for d in defects:  # members of a glue-up from one row have the defects of one name
            areas[d.name] = max(areas.get(d.name, 0.0), region(d.shape).intersection(ground).area)
        for name in [n for n, area in areas.items() if area > HELD_MM2 and n not in one.defects]:
            yield f"leftover {left.name} holds {name}, which the plan leaves out"
        for name in [n for n in one.defects if areas.get(n, 0.0) < LEAST_MM2]:
            yield f"leftover {left.name} does not hold {name}"
        yield from _clear(left, one, defects, grain_deg, holes.get(left.name, ()))
        if len(set(one.defects)) < len(one.defects):
            yield f"leftover {left.name} holds a defect twice"


def _clear(
    left: Leftover,
    one: LeftoverDefects,
    defects: Sequence[Defect],
    grain_deg: float | None,
    holes: Sequence[shapely.Polygon],
) -> Iterator[str]:
    """Check that the clear rectangle lies in the leftover, and holds no defect that stays in it."""
    x, y, length, width = one.clear_mm
    plain = not one.defects and not holes
    if plain and one.clear_mm != left.rectangle_mm:
        yield f"leftover {left.name} has no defects, and not all of it is said to be clear"
    if plain or not min(length, width) > 2 * SURELY_MM:
        return
    corners = [(x, y), (x + length, y), (x + length, y + width), (x, y + width)]
    z = np.array([complex(*c) for c in corners]) * unit(grain_deg or 0.0)
    box = shapely.Polygon([(v.real, v.imag) for v in z]).buffer(-SURELY_MM)
    if not region(left.shape).covers(box):
        yield f"the clear rectangle of leftover {left.name} does not lie in it"
    for d in defects:
        if d.name in one.defects and region(d.shape).intersects(box):
            yield f"the clear rectangle of leftover {left.name} holds {d.name}"
    if any(hole.intersects(box) for hole in holes):
        yield f"the clear rectangle of leftover {left.name} holds a hole of a pin or screw"
