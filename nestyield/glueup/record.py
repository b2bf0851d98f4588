"""The record of a glue-up: everything about how a blank is glued up."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

from nestyield.glueup.boards import Board, Frame, boards_of, joins, shapes
from nestyield.glueup.clamps import clamps_of
from nestyield.glueup.order_of_work import cautions, steps
from nestyield.glueup.rip_offcuts import strips
from nestyield.glueup.sawn import sawn
from nestyield.glueup.splines import asked, seam_keys
from nestyield.glueup.under import LaidPart, crossings, laid
from nestyield.model import (
    Blank,
    BoardFace,
    GlueMember,
    GlueSeam,
    GlueUp,
    JointReinforcement,
    Layout,
    Movement,
    Part,
    Piece,
    Placement,
    Settings,
    Shop,
)
from nestyield.model.facts import Machine, ReinforcementConflict
from nestyield.wood.blank import seam_woods
from nestyield.wood.machining import machining_rules
from nestyield.wood.moisture import season_of
from nestyield.wood.movement import width_change_mm
from nestyield.wood.own import species_of

#: Less is not planed off, millimeters.
LEAST_PLANED_MM = 0.05

Pairs = Sequence[tuple[Part, Placement]]


def glue_up(layout: Layout, shop: Shop) -> GlueUp | None:
    """Return how a layout's blank is glued up; None for a blank that is not glued up from boards.

    Parameters
    ----------
    layout : Layout
        With its seams under parts.
    shop : Shop
    """
    blank, settings = layout.blank, shop.settings
    if blank.on_edge:
        return None
    pieces = {p.name: p for p in shop.pieces}
    cut = boards_of(blank, pieces, settings.jointing_mm, shop.units)
    if not cut:
        return None
    pairs = [(shop.part(p.part), p) for p in layout.placements]
    parts = [laid(k, part, place) for k, (part, place) in enumerate(pairs)]
    top, bottom = planed_after(blank, pairs)
    members = tuple(_member(board, blank, settings) for board in cut)
    seams = _seams(layout, cut, pieces, settings, parts)
    keys, conflicts = _keys(blank, seams, members, parts, settings, top)
    made = GlueUp(
        members=members,
        seams=seams,
        cuts=sawn(cut),
        keys=keys,
        conflicts=conflicts,
        clamps=clamps_of(blank, cut, settings),
        humidity_pct=(settings.wood.humidity_low, settings.wood.humidity_high),
        moisture_pct=season_of(settings.wood),
        temperature_c=settings.wood.temperature,
        movement=_movement(blank, cut, settings),
        thickness_mm=blank.thickness_mm,
        top_off_mm=top,
        bottom_off_mm=bottom,
        steps=(),
    )
    return replace(made, steps=steps(made, cut, shop), cautions=cautions(made, cut, blank, settings))


def planed_after(blank: Blank, pairs: Pairs) -> tuple[float, float]:
    """Return what is planed off the upper and the lower face of a blank, to the thickest part on it.

    Parameters
    ----------
    blank : Blank
    pairs : sequence of (Part, Placement)
    """
    if not pairs:
        return (0.0, 0.0)
    part, placement = max(pairs, key=lambda pair: pair[0].thickness_mm)
    spare = max(0.0, blank.thickness_mm - part.thickness_mm)
    top = spare / 2 if placement.top_off_mm is None else placement.top_off_mm
    return (round(top, 4), round(spare - top, 4))


def _member(board: Board, blank: Blank, settings: Settings) -> GlueMember:
    seams = {s.name: s for s in blank.seams}
    frame = Frame.of(seams[board.edges[0].seam])
    piece, member = board.piece, board.member
    lies = (180.0 if member.mirrored else 0.0) + member.angle_deg
    lies = (lies - math.degrees(math.atan2(frame.along[1], frame.along[0])) + 180.0) % 360.0 - 180.0
    swapped = abs(lies) > 90.0 + 1e-9
    turned = (lies + 90.0) % 180.0 - 90.0
    rough, planed = piece.thickness_mm, blank.thickness_mm
    machines: tuple[Machine, ...] = ("jointer", "saw")
    if rough - planed > LEAST_PLANED_MM:
        machines = ("jointer", "planer", "saw")
    s = (
        [frame.where((x, y)) for x, y in board.whole.exterior.coords]
        if hasattr(board.whole, "exterior")
        else []
    )
    long = max(a for a, _ in s) - min(a for a, _ in s) if s else math.sqrt(board.whole.area)
    wide = max(b for _, b in s) - min(b for _, b in s) if s else long
    limits = settings.machines
    minded = machining_rules(long, wide, rough, limits, machines)
    return GlueMember(
        letter=board.letter,
        top_up=not member.mirrored,
        end_for_end=swapped,
        turned_deg=round(turned, 6) + 0.0,
        corner_mm=_round(board.ruler.corner),
        as_on_rack=board.ruler.on_rack,
        size_mm=board.ruler.size(board.whole),
        wood=shapes(board.used),
        edges=board.edges,
        strips=strips(board, seams, settings),
        loses_mm2=round(board.whole.area - board.used.area, 3),
        rough_mm=rough,
        planed_mm=planed,
        planed_from=_planed_from(board, any(c.machine == "planer" and c.refused for c in minded)),
        machine_rules=minded,
    )


def _planed_from(board: Board, no_planer: bool) -> BoardFace:
    """Return the face that is planed: the one with the larger shallow flaws, else the one that lies down."""
    if no_planer:
        return "down"
    size = {"top": 0.0, "bottom": 0.0}
    for defect in board.piece.defects:
        if defect.face in size and defect.depth_mm is not None and defect.depth_mm < board.piece.thickness_mm:
            size[defect.face] += defect.shape.area_mm2
    if size["top"] == size["bottom"]:
        return "down"
    return "up" if (size["top"] > size["bottom"]) == (not board.member.mirrored) else "down"


def _seams(
    layout: Layout,
    cut: Sequence[Board],
    pieces: Mapping[str, Piece],
    settings: Settings,
    parts: Sequence[LaidPart],
) -> tuple[GlueSeam, ...]:
    blank = layout.blank
    woods = seam_woods(blank, pieces, settings)
    first = Frame.of(blank.seams[0])
    datum = min(first.where(p)[1] for p in blank.shape.outer.points_mm)
    out = []
    for seam, wood, (below_k, above_k) in zip(blank.seams, woods, joins(blank)):
        lower, upper = cut[below_k], cut[above_k]
        ends = sorted(first.where(p) for p in (seam.line_mm[0], seam.line_mm[-1]))
        below = next(e for e in lower.edges if e.seam == seam.name)
        above = next(e for e in upper.edges if e.seam == seam.name)
        seen = {v for s in layout.seams if s.seam == seam.name for v in s.visible}
        faces = [v for v in ("front", "back", "edge") if v in seen]
        out.append(
            GlueSeam(
                seam=seam.name,
                lower=lower.letter,
                upper=upper.letter,
                from_edge_mm=(round(ends[0][1] - datum, 4), round(ends[1][1] - datum, 4)),
                length_mm=round(math.dist(seam.line_mm[0], seam.line_mm[-1]), 4),
                slide_mm=round(below.mark_mm - above.mark_mm, 4) + 0.0,
                joint=wood.joint,
                crossings=crossings(seam, parts),
                visible=tuple(faces),
                step_flatsawn_mm=round(wood.step_flatsawn_mm, 4) + 0.0,
                step_quartersawn_mm=round(wood.step_quartersawn_mm, 4) + 0.0,
                step_unlike_mm=round(wood.step_mm[1], 4) + 0.0,
                mismatch_mm=round(wood.mismatch_mm, 4) + 0.0,
                moisture_points=None if wood.moisture_points is None else round(wood.moisture_points, 4),
            )
        )
    return tuple(out)


def _keys(
    blank: Blank,
    seams: Sequence[GlueSeam],
    members: Sequence[GlueMember],
    parts: Sequence[LaidPart],
    settings: Settings,
    top_off_mm: float,
) -> tuple[tuple[JointReinforcement, ...], tuple[ReinforcementConflict, ...]]:
    rules = settings.glueup
    keys: list[JointReinforcement] = []
    conflicts: list[ReinforcementConflict] = []
    for seam, told, (below, _) in zip(blank.seams, seams, joins(blank)):
        kind = asked(rules, told.joint)
        if kind is None:
            continue
        mark = Frame.of(seam).where(next(e.mark_at_mm for e in members[below].edges if e.seam == seam.name))[
            0
        ]
        found = seam_keys(seam, mark, kind, parts, rules, top_off_mm)
        for key in found.keys:
            number = 1 + sum(k.kind == key.kind for k in keys)
            keys.append(replace(key, name=f"{key.kind} {number}"))
        conflicts += found.conflicts
    return tuple(keys), tuple(conflicts)


def _movement(blank: Blank, cut: Sequence[Board], settings: Settings) -> tuple[Movement, ...]:
    season = season_of(settings.wood)
    frame = Frame.of(blank.seams[0])
    rows: list[Movement] = []
    for board in cut:
        across = [frame.where(p)[1] for shape in shapes(board.used) for p in shape.outer.points_mm]
        width = max(across) - min(across) if across else 0.0
        wood = species_of(board.piece.species, settings.own_woods)
        quarter = flat = None
        if wood is not None and wood.c_radial is not None:
            quarter = width_change_mm(wood, width, *season, 90.0)
            flat = width_change_mm(wood, width, *season, 0.0)
        rows.append(
            Movement(
                what=board.letter,
                species=board.piece.species,
                width_mm=round(width, 4),
                quartersawn_mm=None if quarter is None else round(quarter, 4),
                flatsawn_mm=None if flat is None else round(flat, 4),
                marks=(wood.coefficient_mark,) if wood is not None and flat is not None else (),
            )
        )
    across = [frame.where(p)[1] for p in blank.shape.outer.points_mm]
    return (*rows, _together(rows, blank, max(across) - min(across)))


def _together(rows: Sequence[Movement], blank: Blank, width_mm: float) -> Movement:
    """Return how the whole blank moves: its members' widths, each by its own figures, scaled to its width."""
    total = sum(r.width_mm for r in rows)

    def sums(values: Sequence[float | None]) -> float | None:
        known = [v for v in values if v is not None]
        if len(known) < len(values) or total <= 0:
            return None
        return round(sum(known) * width_mm / total, 4)

    return Movement(
        what="blank",
        species=blank.species,
        width_mm=round(width_mm, 4),
        quartersawn_mm=sums([r.quartersawn_mm for r in rows]),
        flatsawn_mm=sums([r.flatsawn_mm for r in rows]),
        marks=tuple(sorted({m for r in rows for m in r.marks})),
    )


def _round(p: tuple[float, float]) -> tuple[float, float]:
    return (round(p[0], 4) + 0.0, round(p[1], 4) + 0.0)
