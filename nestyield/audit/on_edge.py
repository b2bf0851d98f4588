"""Blanks of strips on edge: where each strip was in its board, turned back, and what is told of it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import shapely
from shapely.geometry.base import BaseGeometry

from nestyield.audit.curves import TOL_MM, region, thickness_of
from nestyield.audit.cuts import check_cuts
from nestyield.audit.depth import planed_off
from nestyield.audit.joints import joints_of
from nestyield.audit.laminate_told import PSI, press_wrong
from nestyield.audit.machines import rules_of
from nestyield.audit.seam_rules import check_neighbors, check_rules
from nestyield.audit.sheet import CheckedBlank
from nestyield.model import Defect, EdgeStrip, Member, OnEdge, Piece
from nestyield.model.facts import (
    BlankRefused,
    GlueStrips,
    GuardsInPlace,
    LeaveInClamps,
    LookAtEnds,
    ManualsFirst,
    MoistureDiffers,
    MoistureUnknown,
    OnEdgeCaution,
    PlaneBlank,
    PlanedStrips,
    PlaneStrips,
    PressShort,
    RipNarrow,
    RipStrips,
    ScrapeGlue,
    SearchForMetal,
    StandStrips,
)

#: Depths, widths and places closer than this are the same, millimeters.
SAME_MM = 1e-3
#: Less is not planed off, millimeters.
LEAST_MM = 0.05
#: Less of a flaw at the very edge need not be told, millimeters.
_EDGE_MM = TOL_MM / 4
_LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"

#: A box in the blank: x, y and depth below the top face, each from and to.
Block = tuple[tuple[float, float], tuple[float, float], tuple[float, float]]


def check_on_edge(bench: CheckedBlank) -> None:
    """Check which parts are made of strips, and how strips make a blank.

    Parameters
    ----------
    bench : CheckedBlank
    """
    blank = bench.layout.blank
    for laid in bench.laid:
        if laid.part.strips == ("no" if blank.on_edge else "only"):
            bench.say("A137", f"is made of strips: {blank.on_edge}; asked for: {laid.part.strips}", laid.name)
        if blank.on_edge and (not laid.part.glue or laid.part.cap or laid.part.book_match):
            bench.say("A137", "is of strips, and may not be glued so", laid.name)
    if not blank.on_edge:
        return
    pieces = [p for m in blank.members if (p := bench.sheet.pieces.get(m.piece)) is not None]
    if len(pieces) < len(blank.members):
        return  # told by check_stock
    if blank.stack or blank.measured_mm or len(blank.members) < 2:
        bench.say("A138", "is of strips, and of layers, measured with an error, or of one strip alone")
    blocks = []
    for member, piece in zip(blank.members, pieces):
        wrong = _strip_wrong(bench, member, piece)
        if wrong:
            bench.say("A138", wrong)
            return
        blocks.append(_block(member, piece))
    for what in _side_by_side(bench, blocks):
        bench.say("A138", what)
    check_cuts(bench, blank)
    for member, piece, block in zip(blank.members, pieces, blocks):
        _flaws(bench, member, piece, block)
    joints = joints_of(bench, blank, [shapely.box(*_ground(b)) for b in blocks])
    if joints is not None:
        check_neighbors(bench, blank, joints)
        check_rules(bench, blank, joints)


def _strip_wrong(bench: CheckedBlank, member: Member, piece: Piece) -> str:
    """Return what is wrong with one strip by itself: along the grain, square, planed, turned."""
    settings = bench.sheet.plan.shop.settings
    if member.strip is None or member.cut is None or member.layer is not None:
        return f"{piece.name} is no strip beside strips"
    wood = region(member.cut)
    x0, y0, x1, y1 = wood.bounds
    if abs(wood.area - (x1 - x0) * (y1 - y0)) > 1.0:
        return f"what is ripped off {piece.name} is no strip with square corners"
    grain = piece.grain_deg
    if grain is None or abs((grain + 90.0) % 180.0 - 90.0) > 0.01 or piece.seams or piece.measured_mm:
        return f"{piece.name} has no grain along its length, seams, or a measuring error"
    if member.angle_deg not in (0.0, 180.0):
        return f"a strip of {piece.name} is turned by {member.angle_deg:g} degrees"
    off = (member.strip.top_off_mm, member.strip.bottom_off_mm)
    if min(off) < settings.planing_mm - SAME_MM:
        return f"{off[0]:g} and {off[1]:g} mm come off {piece.name}; at least {settings.planing_mm:g} must"
    left = piece.thickness_mm - sum(off)
    if left < settings.machines.planer_thinnest_mm - SAME_MM:
        return f"a strip of {piece.name} is planed to {left:g} mm, which the planer does not take"
    return ""


def _turned(member: Member, x: float, y: float, deep: float) -> tuple[float, float, float]:
    """Return where a point of a board comes to lie in the blank: x, y and depth below its top face."""
    assert member.cut is not None
    assert member.strip is not None
    ys = [b for _, b in member.cut.outer.points_mm]
    across, down = deep - member.strip.top_off_mm, max(ys) - y
    if member.mirrored:  # bottom up, about the axis across
        x, down = -x, max(ys) - min(ys) - down
    if member.angle_deg == 180.0:
        x, across = -x, -across
    return (x + member.x_um / 1000.0, across + member.y_um / 1000.0, down)


def _block(member: Member, piece: Piece) -> Block:
    """Return what of a blank a strip is: its two far corners, planed, turned."""
    assert member.cut is not None
    assert member.strip is not None
    xs, ys = zip(*member.cut.outer.points_mm)
    top, bottom = member.strip.top_off_mm, piece.thickness_mm - member.strip.bottom_off_mm
    return _spans(_turned(member, min(xs), min(ys), top), _turned(member, max(xs), max(ys), bottom))


def _spans(one: Sequence[float], other: Sequence[float]) -> Block:
    (a, b), (c, d), (e, f) = (sorted(pair) for pair in zip(one, other))
    return ((a, b), (c, d), (e, f))


def _ground(block: Block) -> tuple[float, float, float, float]:
    (x0, x1), (y0, y1), _ = block
    return (x0, y0, x1, y1)


def _side_by_side(bench: CheckedBlank, blocks: Sequence[Block]) -> Iterator[str]:
    """Yield what is wrong with strips beside each other: no gap, one thickness, seams where they meet."""
    blank = bench.layout.blank
    x0, y0, x1, y1 = bench.wood.bounds
    if abs(bench.wood.area - (x1 - x0) * (y1 - y0)) > 1.0:
        yield "is of strips, and no rectangle"
    for (a, b), _, (c, d) in blocks:
        if abs(a - x0) > SAME_MM or abs(b - x1) > SAME_MM:
            yield f"a strip lies from {a:g} to {b:g} mm along it, it is from {x0:g} to {x1:g}"
        if abs(c) > SAME_MM or abs(d - blank.thickness_mm) > SAME_MM:
            yield f"a strip is {d - c:g} mm high, the blank {blank.thickness_mm:g} mm thick"
    meet = [y0, *(block[1][1] for block in blocks)]
    for low, (_, (a, _), _) in zip(meet, blocks):
        if abs(a - low) > SAME_MM:
            yield f"a strip begins at {a:g} mm across, the one before it ends at {low:g}"
    if abs(meet[-1] - y1) > SAME_MM:
        yield f"its strips end at {meet[-1]:g} mm across, it ends at {y1:g}"
    lines = [y for s in blank.seams for _, y in s.line_mm]
    right = [y for y in meet[1:-1] for _ in range(2)]
    if len(lines) != len(right) or any(abs(a - b) > SAME_MM for a, b in zip(lines, right)):
        yield f"its seams lie at {lines}, strips meet at {right[::2]}"


def _span(flaw: Defect, thick: float) -> tuple[float, float]:
    """Return from where to where below the top face a flaw reaches."""
    if flaw.depth_mm is None or flaw.face == "through":
        return (0.0, thick)
    low, high = flaw.start_mm, min(flaw.depth_mm, thick)
    return (low, high) if flaw.face == "top" else (thick - high, thick - low)


def _flaws(bench: CheckedBlank, member: Member, piece: Piece, block: Block) -> None:
    """Every flaw of a board that reaches a strip is in the blank where the turn brings it, as large."""
    assert member.cut is not None
    assert member.strip is not None
    blank = bench.layout.blank
    mine: list[tuple[str, BaseGeometry, tuple[float, float]]] = [
        (d.kind, region(d.shape), _span(d, blank.thickness_mm)) for d in blank.defects
    ]
    for flaw in piece.defects:
        here = region(flaw.shape).intersection(region(member.cut))
        low, high = _span(flaw, piece.thickness_mm)
        low = max(low, member.strip.top_off_mm)
        high = min(high, piece.thickness_mm - member.strip.bottom_off_mm)
        if here.area <= TOL_MM or high - low <= SAME_MM:
            continue
        x0, y0, x1, y1 = here.bounds
        (a, b), (c, d), deep = _spans(_turned(member, x0, y0, low), _turned(member, x1, y1, high))
        if thickness_of(shapely.box(a, c, b, d).difference(shapely.box(*_ground(block)))) > TOL_MM:
            bench.say("A138", f"a flaw of {piece.name} comes to lie beside its strip")
        told = [
            where
            for kind, where, (e, f) in mine
            if kind == flaw.kind and e <= deep[0] + TOL_MM and f >= deep[1] - TOL_MM
        ]
        ground = shapely.box(a, c, b, d)
        if min((thickness_of(ground.difference(w.buffer(_EDGE_MM))) for w in told), default=9.9) > TOL_MM:
            bench.say(
                "A111",
                f"{flaw.kind} of piece {piece.name} ({flaw.name}) is missing, or smaller, {deep[0]:g} to "
                f"{deep[1]:g} mm deep",
            )


def check_on_edge_told(bench: CheckedBlank) -> None:
    """Check what is told of how a blank of strips is made.

    Parameters
    ----------
    bench : CheckedBlank
    """
    blank, told = bench.layout.blank, bench.layout.on_edge
    if (told is None) == blank.on_edge:
        bench.say("A139", "is of strips and does not tell how, or tells it and is not")
    pieces = [p for m in blank.members if (p := bench.sheet.pieces.get(m.piece)) is not None]
    if told is None or not blank.on_edge or len(pieces) < len(blank.members):
        return
    if len(told.strips) != len(blank.members) or any(m.strip is None for m in blank.members):
        bench.say("A139", f"tells of {len(told.strips)} strips, it has {len(blank.members)}")
        return
    for k, (one, member, piece) in enumerate(zip(told.strips, blank.members, pieces)):
        for what in _strip_told(bench, k, one, member, piece):
            bench.say("A139", what)
    x0, _, x1, _ = bench.wood.bounds
    pressed = press_wrong(bench, told.press, pieces, (x1 - x0) * blank.thickness_mm)
    for what in (*pressed, *_planed(bench, told), *_steps(bench, told), *_cautions(bench, told, pieces)):
        bench.say("A139", what)


def _strip_told(bench: CheckedBlank, k: int, one: EdgeStrip, member: Member, piece: Piece) -> Iterator[str]:
    assert member.cut is not None
    assert member.strip is not None
    xs, ys = zip(*member.cut.outer.points_mm)
    left = piece.thickness_mm - member.strip.top_off_mm - member.strip.bottom_off_mm
    size = (max(xs) - min(xs), max(ys) - min(ys))
    figures = (
        (one.length_mm, size[0]),
        (one.ripped_mm, size[1]),
        (one.rough_mm, piece.thickness_mm),
        (one.planed_mm, left),
    )
    if one.letter != _LETTERS[k] or any(abs(a - b) > SAME_MM for a, b in figures):
        yield f"strip {one.letter} is told with other figures than it has: {figures}"
    # where three corners of the strip come to lie
    begin = _turned(member, min(xs), min(ys), 0.0)
    far = _turned(member, min(xs), max(ys), 0.0)
    end = _turned(member, max(xs), min(ys), piece.thickness_mm)
    right = (
        "far" if far[2] < begin[2] else "near",
        begin[0] > end[0],
        "lower" if begin[1] < end[1] else "upper",
    )
    if (one.up, one.end_for_end, one.top_face) != right:
        yield f"strip {one.letter} is told to lie {one.up}, {one.end_for_end}, {one.top_face}; right {right}"
    limits = bench.sheet.plan.shop.settings.machines
    if tuple(one.machine_rules) != rules_of(limits, (*size, left), ("planer", "saw")):
        yield f"strip {one.letter} has other rules at planer and saw than the shop's machines"


def _planed(bench: CheckedBlank, told: OnEdge) -> Iterator[str]:
    blank = bench.layout.blank
    top, bottom = (0.0, 0.0)
    if bench.laid:
        top, bottom = planed_off(bench, max(bench.laid, key=lambda laid: laid.part.thickness_mm))
    for mine, true in (
        (told.thickness_mm, blank.thickness_mm),
        (told.top_off_mm, top),
        (told.bottom_off_mm, bottom),
    ):
        if abs(mine - true) > SAME_MM:
            yield f"thickness and planing are told as {mine:g} mm, worked out {true:g}"


def _steps(bench: CheckedBlank, told: OnEdge) -> Iterator[str]:
    blank = bench.layout.blank
    alike: dict[tuple[int, ...], list[str]] = {}
    for one, member in zip(told.strips, blank.members):
        if member.strip is not None:
            off = (member.strip.top_off_mm, member.strip.bottom_off_mm, one.planed_mm)
            alike.setdefault(tuple(round(1000 * v) for v in off), []).append(one.letter)
    labels = [m.piece if m.copy == 1 else f"{m.piece}/{m.copy}" for m in blank.members]
    right: list[object] = [
        RipStrips(
            strips=len(labels),
            boards=tuple(dict.fromkeys(labels)),
            to_um=round(1000 * blank.thickness_mm),
        ),
        LookAtEnds(),
        PlaneStrips(
            strips=tuple(
                PlanedStrips(boards=tuple(names), top_um=top, bottom_um=bottom, to_um=to)
                for (top, bottom, to), names in alike.items()
            )
        ),
        StandStrips(),
        GlueStrips(seams=len(labels) - 1, clamps=told.press.count),
        LeaveInClamps(),
        ScrapeGlue(),
    ]
    off_mm = told.top_off_mm + told.bottom_off_mm
    if off_mm > LEAST_MM:
        right.append(PlaneBlank(to_um=round(1000 * (told.thickness_mm - off_mm))))
    if list(told.steps) != right:
        yield "its order of work is another one than its strips ask for"


def _cautions(bench: CheckedBlank, told: OnEdge, pieces: Sequence[Piece]) -> Iterator[str]:
    blank, settings, press = bench.layout.blank, bench.sheet.plan.shop.settings, told.press
    right: list[OnEdgeCaution] = []
    if press.count < press.needed:
        right.append(
            PressShort(
                needed=press.needed,
                count=press.count,
                clamp_n=press.clamp_n,
                reached_mpa=round(press.reached_psi * PSI, 6),
                least_mpa=round(press.pressure_psi[0] * PSI, 6),
            )
        )
    known = [p.moisture_pct for p in pieces if p.moisture_pct is not None]
    if len(known) > 1 and max(known) > min(known):
        limit = settings.glueup.moisture_difference
        apart = round(max(known) - min(known), 4)
        right.append(MoistureDiffers(difference_points=apart, limit_points=limit))
    if unknown := tuple(x.letter for x, p in zip(told.strips, pieces) if p.moisture_pct is None):
        right.append(MoistureUnknown(boards=unknown))
    if told.top_off_mm + told.bottom_off_mm > LEAST_MM:
        x0, y0, x1, y1 = bench.wood.bounds
        rules = rules_of(settings.machines, (x1 - x0, y1 - y0, blank.thickness_mm), ("planer",))
        right += [BlankRefused(rule=rule) for rule in rules if rule.refused]
    stick = round(1000 * settings.machines.saw_push_stick_mm)
    right.append(RipNarrow(wide_um=round(1000 * blank.thickness_mm), last_um=stick))
    right += [SearchForMetal(), GuardsInPlace(), ManualsFirst()]
    if list(told.cautions) != right:
        yield f"its cautions are {[c.code for c in told.cautions]}, right are {[c.code for c in right]}"
