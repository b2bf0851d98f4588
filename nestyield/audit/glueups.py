"""What a plan tells the maker of a glue-up: lines and marks on the pieces, splines and dowels.

Worked out again from pieces, members and seams with shapely; nothing of the glue-up's own code is used.
"""

from __future__ import annotations

import itertools
import math

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from nestyield.audit.curves import TOL_MM, moved, points_of, region
from nestyield.audit.glue_steps import check_cautions, check_steps
from nestyield.audit.glue_told import check_glue_told
from nestyield.audit.hidden import check_hidden
from nestyield.audit.leaves import leaf
from nestyield.audit.machines import check_board
from nestyield.audit.reinforcements import check_key, line_of, on_line, span_of
from nestyield.audit.sheet import CheckedBlank, CheckedPlacement
from nestyield.audit.wood_facts import check_told_wood
from nestyield.audit.worth import left_worth
from nestyield.model import (
    GlueEdge,
    GlueMember,
    GlueSeam,
    GlueUp,
    Member,
    Piece,
    PieceCut,
    RipOffcut,
    Seam,
    Zone,
)

#: Lengths told to the maker are right to this, millimeters.
SAME_MM = 0.05
#: Areas are right to this part, and this many square millimeters.
SAME_AREA = 1e-3
SAME_AREA_MM2 = 5.0
_FAR_MM = 1e5
#: Zones may reach so much farther or less far, and shorter stretches of a seam than this are not told.
_HAIR_MM = 0.01
_STRETCH_MM = 0.05
#: A clamp slips on an edge that slopes more (practice); its pad; slopes that near may count either way.
_SLIPS_DEG = 15.0
_PAD_MM = 20.0
_NEAR_DEG = 1.0
#: First clamp 1 3/4 in from the end of the seam; farthest apart by density, 12, 10 and 8 in (practice).
_CLAMP_END_MM = 1.75 * 25.4
_CLAMP_SPACING_MM = {"soft": 12 * 25.4, "medium": 10 * 25.4, "dense": 8 * 25.4}
#: A number of clamps that is so near to a whole may count either way.
_COUNT = 1e-3


def check_glueups(bench: CheckedBlank) -> None:
    """Check what the plan tells about gluing up one blank."""
    told, blank = bench.layout.glueup, bench.layout.blank
    drawn = {s.name: s for s in blank.seams}
    for under in bench.layout.seams:
        for zone, left in under.wood_left_mm:
            if under.seam in drawn:
                _crossing(bench, under.seam, under.placement, zone, left, drawn[under.seam])
    if told is None:
        return
    pieces = [
        None if (p := bench.sheet.pieces.get(m.piece)) is None else leaf(p, m.layer) for m in blank.members
    ]
    if len(told.members) != len(blank.members) or len(told.seams) != len(blank.seams) or None in pieces:
        bench.say(
            "A119",
            f"tells of {len(told.members)} pieces and {len(told.seams)} seams; it has {len(blank.members)} "
            f"and {len(blank.seams)}",
        )
        return
    seams = {s.name: s for s in blank.seams}
    for mine, member, piece in zip(told.members, blank.members, pieces):
        if piece is not None:
            _member(bench, mine, member, piece, seams)
    for seam in told.seams:
        _seam(bench, told, seam, seams)
    for cut in told.cuts:
        _apart(bench, told, cut)
    _clamps(bench, told, seams)
    for key in told.keys:
        check_key(bench, key, seams)
    known = [p for p in pieces if p is not None]
    for mine, member, piece in zip(told.members, blank.members, known):
        check_board(bench, mine, member, piece, seams)
    check_told_wood(bench, told, known)
    check_glue_told(bench, told, known)
    check_steps(bench, told, known)
    check_cautions(bench, told, known)
    check_hidden(bench, told, seams)


def _wrong(
    bench: CheckedBlank, where: str, what: str, told: float, true: float, tol: float = SAME_MM
) -> None:
    if not abs(told - true) <= tol:
        bench.say("A119", f"{what} is told as {told:.3f}, measured {true:.3f}", where)


def _member(
    bench: CheckedBlank, told: GlueMember, member: Member, piece: Piece, seams: dict[str, Seam]
) -> None:
    where = f"piece {told.letter}"
    blank = bench.layout.blank
    sawn = piece.shape if member.cut is None else member.cut
    whole = region(sawn, member)
    wood = shapely.union_all([region(s) for s in told.wood])
    off = wood.difference(bench.wood.buffer(SAME_MM)).area + wood.difference(whole.buffer(SAME_MM)).area
    if off > SAME_AREA_MM2:
        bench.say("A119", f"{off:.1f} mm2 of its wood lie outside blank or piece", where)
    lost = whole.area - wood.area
    _wrong(bench, where, "area lost", told.loses_mm2, lost, SAME_AREA_MM2 + SAME_AREA * whole.area)
    _wrong(bench, where, "thickness on the rack", told.rough_mm, piece.thickness_mm)
    _wrong(bench, where, "thickness when glued", told.planed_mm, blank.thickness_mm)
    if told.top_up == member.mirrored:
        bench.say("A119", "the other face lies up", where)
    own = points_of(sawn.outer)
    corner = own.min(axis=0)
    if told.as_on_rack:
        true, sizes = moved(corner[None, :], member)[0], np.ptp(own, axis=0)
    else:
        first, along = line_of(seams[told.edges[0].seam])
        lies = np.array([on_line((x, y), first, along) for x, y in moved(own, member)])
        low = first + along * complex(lies.real.min(), lies.imag.min())
        true, sizes = np.array([low.real, low.imag]), np.array([np.ptp(lies.real), np.ptp(lies.imag)])
    if np.abs(true - np.array(told.corner_mm)).max() > SAME_MM:
        bench.say("A119", "the corner from which it is measured lies elsewhere", where)
    for size, side in zip(told.size_mm, sizes):
        _wrong(bench, where, "size", size, float(side))
    for edge in told.edges:
        _edge(bench, f"{where}, {edge.seam}", edge, (told, member, whole, corner), seams)
    for strip in told.strips:
        area = region(strip.shape)
        stays = area.intersection(wood).area + area.difference(whole.buffer(SAME_MM)).area
        if stays > SAME_AREA_MM2:
            bench.say("A119", f"{stays:.1f} mm2 of what comes off stay, or are not of it", where)
        _strip_worth(bench, where, strip, member, piece)


def _strip_worth(bench: CheckedBlank, where: str, strip: RipOffcut, member: Member, piece: Piece) -> None:
    """Compare area and value of what is ripped off; plans of earlier versions do not tell its value."""
    _wrong(bench, where, "area ripped off", strip.area_mm2, region(strip.shape).area, SAME_AREA_MM2)
    if strip.value is None:
        return
    low = high = 0.0
    if strip.usable:
        turned = piece.grain_deg
        if turned is not None:  # the strip is told as it lies in the blank
            turned = member.angle_deg + (180.0 - turned if member.mirrored else turned)
        low, high = left_worth(piece, strip.shape, bench.sheet.plan.shop.settings, grain_deg=turned)
    if not low * (1 - 1e-5) - 1e-6 <= strip.value <= high * (1 + 1e-5) + 1e-6:
        told = f"what is ripped off is worth {low:.4f} to {high:.4f}, the plan says {strip.value:.4f}"
        bench.say("A407", told, where)


def _edge(
    bench: CheckedBlank,
    where: str,
    edge: GlueEdge,
    lies: tuple[GlueMember, Member, BaseGeometry, np.ndarray],
    seams: dict[str, Seam],
) -> None:
    mine, member, whole, corner = lies
    if edge.seam not in seams:
        bench.say("A119", "there is no such seam", where)
        return
    start, along = line_of(seams[edge.seam])
    side = 1.0 if edge.upper else -1.0
    joint = [on_line(p, start, along) for p in edge.line_mm]
    for z in joint:
        _wrong(bench, where, "distance of the joint line from the seam", z.imag, 0.0)
    allowance = side * bench.sheet.plan.shop.settings.jointing_mm
    for told, t in ((edge.on_piece_mm, 0.0), (edge.rip_on_piece_mm, allowance)):
        if mine.as_on_rack:
            laid = [complex(x, y) for x, y in moved(np.array(told) + corner, member)]
        else:
            laid = [complex(*mine.corner_mm) + along * complex(*p) for p in told]
        for p, z in zip(laid, joint):
            found = on_line((p.real, p.imag), start, along)
            _wrong(bench, where, "a line on the piece, along the seam", found.real, z.real)
            _wrong(bench, where, "a line on the piece, across the seam", found.imag, t)
    mark = on_line(edge.mark_at_mm, start, along)
    _wrong(bench, where, "distance of the mark from the seam", mark.imag, 0.0)
    _wrong(bench, where, "left end to mark", edge.mark_mm, mark.real - joint[0].real)
    for s, width in zip(edge.off_at_mm, edge.off_mm):
        at = start + along * (joint[0].real + s)
        far = at + along * 1j * side * _FAR_MM
        ray = shapely.LineString([(at.real, at.imag), (far.real, far.imag)])
        cut = shapely.get_coordinates(whole.buffer(TOL_MM).intersection(ray))
        reach = max((side * on_line((x, y), start, along).imag for x, y in cut), default=0.0)
        _wrong(bench, where, "width that comes off", width, reach)
    near = whole.buffer(SAME_MM / 2)
    for z, inward in ((joint[0], 1.0), (joint[1], -1.0)):
        at = start + along * (z.real + inward * SAME_MM)
        past = start + along * (z.real - inward * SAME_MM * 2)
        if not near.covers(shapely.Point(at.real, at.imag)) or whole.covers(
            shapely.Point(past.real, past.imag)
        ):
            bench.say("A119", "an end of the jointed edge is not where the piece ends", where)


def _seam(bench: CheckedBlank, told: GlueUp, seam: GlueSeam, seams: dict[str, Seam]) -> None:
    where = seam.seam
    if where not in seams:
        bench.say("A119", "there is no such seam", where)
        return
    line = seams[where].line_mm
    _wrong(bench, where, "length", seam.length_mm, math.dist(line[0], line[-1]))
    found: dict[bool, GlueEdge] = {}
    for member in told.members:
        for edge in member.edges:
            if edge.seam == where and member.letter == (seam.lower if edge.upper else seam.upper):
                found[edge.upper] = edge
    if len(found) < 2:
        bench.say("A119", f"{seam.lower} and {seam.upper} have no two edges that meet", where)
        return
    below, above = found[True], found[False]
    apart = math.dist(below.mark_at_mm, above.mark_at_mm)
    _wrong(bench, where, "distance of the two marks", 0.0, apart)
    _wrong(bench, where, "slide", seam.slide_mm, below.mark_mm - above.mark_mm)
    first, along = line_of(seams[told.seams[0].seam])
    low = min(
        on_line((float(x), float(y)), first, along).imag for x, y in points_of(bench.layout.blank.shape.outer)
    )
    ends = sorted((on_line(p, first, along) for p in (line[0], line[-1])), key=lambda z: z.real)
    for mine, z in zip(seam.from_edge_mm, ends):
        _wrong(bench, where, "distance from the datum edge", mine, z.imag - low)
    for crossing in seam.crossings:
        _crossing(bench, where, crossing.placement, crossing.zone, crossing.wood_left_mm, seams[where])


def _crossing(bench: CheckedBlank, where: str, placement: int, name: str, left: float, seam: Seam) -> None:
    """Measure the wood that is left where a seam runs through a zone: at least, and at most.

    Zones that touch the seam, or overlap on a hair of it, may count or not.
    """
    laid = next((p for p in bench.laid if p.index == placement), None)
    zone = next((z for z in laid.part.zones if z.name == name), None) if laid else None
    if laid is None or zone is None or zone.shape is None:
        bench.say("A119", f"runs through {name}, which is not there", where)
        return
    least = _wood_left(laid, zone, seam, _HAIR_MM, 0.8 * _STRETCH_MM)
    most = _wood_left(laid, zone, seam, -_HAIR_MM, 1.2 * _STRETCH_MM)
    if not least - SAME_MM <= left <= most + SAME_MM:
        bench.say(
            "A119", f"wood left at {name} is told as {left:.3f}, measured {least:.3f} to {most:.3f}", where
        )


def _wood_left(laid: CheckedPlacement, zone: Zone, seam: Seam, grow: float, shortest: float) -> float:
    """Return the least wood on stretches of a seam in a zone, all zones grown by so much."""
    cut = [
        (z, s, laid.zone(z.shape).buffer(grow))
        for z in laid.part.zones
        if z.shape and (s := span_of(z, laid))
    ]
    line = shapely.LineString(seam.line_mm)
    stops = {0.0, line.length}
    for area in (laid.outline, *(g for _, _, g in cut)):
        ends = shapely.get_coordinates(line.intersection(area))
        stops.update(line.project(shapely.Point(p)) for p in ends)
    thick = least = laid.part.thickness_mm
    for a, b in itertools.pairwise(sorted(stops)):
        middle = line.interpolate((a + b) / 2)
        if b - a < shortest or not laid.outline.covers(middle):
            continue
        here = [(z, s) for z, s, g in cut if g.covers(middle)]
        if not any(z is zone for z, _ in here):
            continue
        edges = sorted({0.0, thick, *(e for _, s in here for e in s)})
        stays = sum(
            high - low
            for low, high in itertools.pairwise(edges)
            if not any(s[0] <= low and high <= s[1] for _, s in here)
        )
        least = min(least, stays)
    return least


def _apart(bench: CheckedBlank, told: GlueUp, cut: PieceCut) -> None:
    """Check that a saw cut runs right through a piece, clear of what is sawn from it on either side."""
    where = f"cut between {cut.before} and {cut.after}"
    found = {t.letter: m for t, m in zip(told.members, bench.layout.blank.members)}
    piece = bench.sheet.pieces.get(cut.piece)
    sides = [found.get(cut.before), found.get(cut.after)]
    if piece is None or any(m is None or (m.piece, m.copy) != (cut.piece, cut.copy) for m in sides):
        bench.say("A119", f"these are not both of piece {cut.piece}, copy {cut.copy}", where)
        return
    zero = points_of(piece.shape.outer).min(axis=0)
    line = shapely.LineString(np.array(cut.line_mm) + zero)
    parts = [region(m.cut) for m in sides if m is not None and m.cut is not None]
    room = min((p.distance(line) for p in parts), default=0.0)
    _wrong(bench, where, "half of the kerf", cut.kerf_mm / 2, room)
    own = [
        region(m.cut)
        for m in bench.layout.blank.members
        if m.cut and (m.piece, m.copy) == (cut.piece, cut.copy)
    ]
    # what is crosscut off the piece before is gone by then, see check_sawings
    whole = region(piece.shape).intersection(shapely.box(*shapely.union_all(own).bounds))
    left = [p for p in shapely.get_parts(whole.difference(line.buffer(SAME_MM))) if p.area > SAME_AREA_MM2]
    if len(left) < 2:
        bench.say("A119", "it does not run right through the piece", where)
    # square to the cut, away from the corner
    across = np.array(cut.line_mm[1]) - np.array(cut.line_mm[0])
    away = np.array([across[1], -across[0]])
    away = away if away[np.abs(away).argmax()] > 0 else -away
    near = [float(np.array(p.centroid.coords[0]) @ away) for p in parts]
    if len(near) == 2 and near[0] > near[1]:
        bench.say("A119", "the two sides are told the wrong way round", where)


def _clamps(bench: CheckedBlank, told: GlueUp, seams: dict[str, Seam]) -> None:
    seam = seams.get(told.clamps.seam)
    if seam is None:
        bench.say("A119", f"clamps are set for {told.clamps.seam}, which is not there")
        return
    longest = max(math.dist(s.line_mm[0], s.line_mm[-1]) for s in seams.values())
    length = math.dist(seam.line_mm[0], seam.line_mm[-1])
    _wrong(bench, "clamps", "length of the longest seam", length, longest)
    # 1 psi is 4.4482216152605 N on 25.4 mm x 25.4 mm
    psi = 4.4482216152605 / 25.4**2
    for force, pressure in zip(told.clamps.force_n, told.clamps.pressure_psi):
        _wrong(bench, "clamps", "force", force, length * told.thickness_mm * pressure * psi, 1.0)
    _clamp_count(bench, told, length, length * told.thickness_mm * psi)
    _slips(bench, told, seam)


def _clamp_count(bench: CheckedBlank, told: GlueUp, length: float, newton_a_psi: float) -> None:
    """Check how many clamps there are, how hard each presses, and how many more it would take."""
    c, rules = told.clamps, bench.sheet.plan.shop.settings.glueup
    count, give = len(c.at_mm), rules.clamp_force_n
    between = length - 2 * _CLAMP_END_MM
    least = c.pressure_psi[0] * newton_a_psi / give
    spaces = max(1.0, between / _CLAMP_SPACING_MM[c.density]) if between > 0 else 0.0
    needed = [max(math.ceil(least + d), 1 + math.ceil(spaces + d)) for d in (-_COUNT, _COUNT)]
    places = 1 + between / rules.clamp_spacing_mm if between > 0 else length / rules.clamp_spacing_mm
    room = [max(1, math.floor(places + d)) for d in (-_COUNT, _COUNT)]
    if c.needed not in needed:
        bench.say("A119", f"takes {c.needed} clamps, worked out {needed[0]}", "clamps")
    have = rules.clamps if rules.clamps is not None else c.needed
    if count not in [min(c.needed, have, r) for r in room]:
        bench.say("A119", f"{count} clamps stand, worked out {min(c.needed, have, room[0])}", "clamps")
    short = {"none": c.needed, "owned": have, "room": room[count == room[1]]}[c.limit]
    if count != short or (count < c.needed) != (c.limit != "none"):
        bench.say("A119", f"the number of clamps is said to be limited by {c.limit}", "clamps")
    _wrong(bench, "clamps", "force of a clamp", c.clamp_n, give)
    for mine, psi in zip(c.each_n, c.pressure_psi):
        _wrong(bench, "clamps", "force of each", mine, min(give, psi * newton_a_psi / count), 1.0)
    reached = min(c.pressure_psi[1], count * give / newton_a_psi)
    _wrong(bench, "clamps", "pressure", c.reached_psi, reached)
    run = 2 * c.first_mm + (count - 1) * c.spacing_mm
    _wrong(bench, "clamps", "run from end to end", run, length)


def _slips(bench: CheckedBlank, told: GlueUp, seam: Seam) -> None:
    """Check the places of clamps, and where one slips: the edge is measured under both ends of its pad."""
    start, along = line_of(seam)
    edge = [on_line((x, y), start, along) for x, y in points_of(bench.layout.blank.shape.outer)]
    left = min(z.real for z in edge)
    begins = min(on_line(p, start, along).real for p in (seam.line_mm[0], seam.line_mm[-1]))
    for k, at in enumerate(told.clamps.at_mm):
        true = begins - left + told.clamps.first_mm + k * told.clamps.spacing_mm
        _wrong(bench, "clamps", f"place of clamp {k + 1}", at, true)
        ends = [left + at - _PAD_MM / 2, left + at + _PAD_MM / 2]
        if ends[0] < left + _PAD_MM or ends[1] > max(z.real for z in edge) - _PAD_MM:
            continue
        reach = [_reach(edge, u) for u in ends]
        slope = max(abs(b - a) / _PAD_MM for a, b in zip(*reach))
        angle = math.degrees(math.atan(slope))
        if abs(angle - _SLIPS_DEG) > _NEAR_DEG and (at in told.clamps.slips_mm) != (angle > _SLIPS_DEG):
            bench.say("A119", f"at {at:g} mm the edge runs at {angle:.1f} degrees to the seam", "clamps")
    if extra := set(told.clamps.slips_mm) - set(told.clamps.at_mm):
        bench.say("A119", f"no clamp stands at {sorted(extra)}", "clamps")


def _reach(edge: list[complex], u: float) -> tuple[float, float]:
    """Return from where to where a closed line goes at that place along a seam."""
    found = []
    for a, b in zip(edge, [*edge[1:], edge[0]]):
        if (a.real - u) * (b.real - u) <= 0 and a.real != b.real:
            found.append(a.imag + (b.imag - a.imag) * (u - a.real) / (b.real - a.real))
    return min(found, default=0.0), max(found, default=0.0)
