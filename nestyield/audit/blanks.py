"""Every blank against the rack it is said to come from, and the rack against what is spent."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from nestyield.audit.book_match import check_book
from nestyield.audit.curves import TOL_MM, moved, region, thickness_of
from nestyield.audit.cuts import check_cuts, sure_region
from nestyield.audit.depth import planed_off
from nestyield.audit.joints import cells_of, check_joints, joints_of
from nestyield.audit.laminates import check_laminated
from nestyield.audit.leaves import leaf
from nestyield.audit.on_edge import check_on_edge
from nestyield.audit.seam_rules import check_neighbors, check_rules
from nestyield.audit.sheet import CheckedBlank, CheckedSheet, polygon_union
from nestyield.audit.taken import sawn_off
from nestyield.audit.woods import sheet_for_wood
from nestyield.model import Blank, Defect, Member, Piece, PieceFace

#: Two thicknesses closer than this are the same, millimeters.
SAME_MM = 1e-6


def check_stock(sheet: CheckedSheet) -> None:
    """Check that no row is spent more often than the rack has it, and no copy twice."""
    used: Counter[tuple[str, int]] = Counter()
    blanks = [layout.blank for layout in sheet.plan.layouts]
    # all that is sawn off one copy before the bed spends it once, see check_sawings
    used.update({(m.piece, m.copy) for s in map(sawn_off, blanks) if s is not None for m in s[:1]})
    for blank in blanks:
        if sawn_off(blank) is not None:
            continue
        # members that are cut from one copy spend it once, see check_cuts
        used.update({(m.piece, m.copy) for m in blank.members if m.cut is not None})
        used.update((m.piece, m.copy) for m in blank.members if m.cut is None)
    rows = Counter(name for name, _ in used)
    for (name, copy), times in sorted(used.items()):
        piece = sheet.pieces.get(name)
        if piece is None:
            sheet.say("A101", f"piece {name}", "is spent, but the rack does not have it")
            continue
        if times > 1:
            sheet.say(
                "A102", f"piece {name}", f"copy {copy} is spent {times} times; a copy can be spent once"
            )
        if not 1 <= copy <= piece.count:
            sheet.say("A102", f"piece {name}", f"copy {copy} is spent; the rack has {piece.count}")
    for name, times in sorted(rows.items()):
        piece = sheet.pieces.get(name)
        if piece is not None and piece.status != "ready":
            sheet.say("A103", f"piece {name}", f"is spent, but its status is {piece.status!r}, not ready")
        if piece is not None and times > piece.count:
            sheet.say("A102", f"piece {name}", f"{times} copies are spent; the rack has {piece.count}")
    doubled = Counter(layout.blank.name for layout in sheet.plan.layouts)
    for name, times in sorted(doubled.items()):
        if times > 1:
            sheet.say("A104", f"blank {name}", f"the name stands for {times} blanks; it must be unique")


def check_blank(bench: CheckedBlank) -> None:
    """Check one blank: what it is made of, and whether its parts may be made of that."""
    blank = bench.layout.blank
    if not blank.members:
        bench.say("A105", "is made of no piece at all")
    if len(blank.members) == 1:
        _single(bench, blank)
    elif len(blank.members) > 1 and not blank.stack and not blank.on_edge:
        _glued(bench, blank)
    check_laminated(bench)
    check_on_edge(bench)
    _suits(bench, blank)
    _planed(bench, blank)


def _suits(bench: CheckedBlank, blank: Blank) -> None:
    settings = bench.sheet.plan.shop.settings
    away = 0.0 if blank.grain_deg is None else 2.0 * settings.planing_mm
    woods = [bench.sheet.pieces[m.piece].species for m in blank.members if m.piece in bench.sheet.pieces]
    named = " + ".join(dict.fromkeys(woods))
    if len(blank.members) > 1 and blank.species != named:
        bench.say("A110", f"its species is {blank.species}; its pieces are {named}")
    for part in {each.part.name: each.part for each in bench.laid}.values():
        for species in dict.fromkeys([blank.species] if len(woods) < 2 else woods) if not blank.stack else ():
            if part.species and species not in part.species:
                bench.say("A106", f"is {species}; {part.name} may be made of {', '.join(part.species)}")
            if sheet_for_wood(part, species):
                bench.say("A106", f"is {species}, a sheet; {part.name} has a grain and names no species")
        short = part.thickness_mm - (blank.thickness_mm - away) - settings.thickness_tolerance_mm
        if short > SAME_MM:
            bench.say(
                "A107",
                f"is {blank.thickness_mm - away:g} mm thick after planing, {part.name} needs "
                f"{part.thickness_mm:g} mm: {short:.2f} mm too thin",
            )
        sheet = blank.grain_deg is None
        most = settings.thickness_tolerance_mm if sheet else settings.most_planed_away_mm
        over = blank.thickness_mm - part.thickness_mm - most
        if over > SAME_MM:
            bench.say(
                "A108",
                f"is {blank.thickness_mm:g} mm thick, {over:.2f} mm more than may be planed away for "
                f"{part.name}",
            )


def _planed(bench: CheckedBlank, blank: Blank) -> None:
    """What a placement says is planed off each face is possible, and enough."""
    settings = bench.sheet.plan.shop.settings
    least = 0.0 if blank.grain_deg is None else settings.planing_mm - settings.thickness_tolerance_mm
    tops: dict[float, float] = {}
    for each in bench.laid:
        mine = planed_off(bench, each)[0]
        first = tops.setdefault(each.part.thickness_mm, mine)
        if abs(mine - first) > SAME_MM:
            bench.say("A114", f"{each.name} takes {mine:g} mm off the top, another part {first:g} mm")
        top = each.placement.top_off_mm
        spare = max(0.0, blank.thickness_mm - each.part.thickness_mm)
        if top is not None and not max(0.0, least) - SAME_MM <= top <= spare - max(0.0, least) + SAME_MM:
            bench.say(
                "A114",
                f"{each.name} takes {top:g} mm off the top and {spare - top:g} mm off the bottom; "
                f"{settings.planing_mm:g} mm must come off each face",
            )


def _single(bench: CheckedBlank, blank: Blank) -> None:
    member = blank.members[0]
    piece = bench.sheet.pieces.get(member.piece)
    if piece is None:
        return  # told by check_stock
    piece = leaf(piece, member.layer)
    differs = thickness_of(bench.wood.symmetric_difference(region(member.cut or piece.shape, member)))
    check_cuts(bench, blank)
    check_book(bench)
    if differs > TOL_MM:
        bench.say("A109", f"its shape differs from that of piece {piece.name} by {differs:.3f} mm")
    for what, mine, theirs in (
        ("species", blank.species, piece.species),
        ("thickness", blank.thickness_mm, piece.thickness_mm),
        ("measuring error", blank.measured_mm, piece.measured_mm),
    ):
        if mine != theirs:
            bench.say("A110", f"its {what} is {mine}; that of piece {piece.name} is {theirs}")
    _grain(bench, blank, member, piece)
    _defects(bench, blank, [bench.wood])
    _seams(bench, blank, member, piece)


def _grain(bench: CheckedBlank, blank: Blank, member: Member, piece: Piece) -> None:
    if (blank.grain_deg is None) != (piece.grain_deg is None):
        bench.say("A110", f"its grain is {blank.grain_deg}; that of piece {piece.name} is {piece.grain_deg}")
    elif blank.grain_deg is not None and piece.grain_deg is not None and len(blank.members) == 1:
        lies = (180.0 - piece.grain_deg if member.mirrored else piece.grain_deg) + member.angle_deg
        off = abs((lies - blank.grain_deg + 90.0) % 180.0 - 90.0)
        if off > 1e-6:
            bench.say(
                "A110", f"its grain is {blank.grain_deg:g} degrees; that of piece {piece.name} is {lies:g}"
            )


def _face(face: PieceFace, mirrored: bool) -> PieceFace:
    if not mirrored or face == "through":
        return face
    return "bottom" if face == "top" else "top"


def _defects(bench: CheckedBlank, blank: Blank, cells: Sequence[BaseGeometry]) -> None:
    """Every defect of the rack's pieces must be in the blank where its piece is, as deep and as wide."""
    mine = [(d, region(d.shape)) for d in blank.defects]
    for member, cell in zip(blank.members, cells):
        piece = bench.sheet.pieces.get(member.piece)
        if piece is None:
            continue
        for defect in leaf(piece, member.layer).defects:
            ground = region(defect.shape, member)
            if len(blank.members) > 1 and piece.measured_mm:  # a glue-up has them as large as they may be
                ground = ground.buffer(piece.measured_mm)
            ground = ground.intersection(cell)
            face = _face(defect.face, member.mirrored)
            alike = [
                g
                for d, g in mine
                if d.kind == defect.kind
                and (d.face == "through" or d.depth_mm is None or (d.face == face and _as_deep(d, defect)))
            ]
            missing = thickness_of(ground.difference(polygon_union(alike).buffer(TOL_MM / 4)))
            if missing > TOL_MM:
                bench.say(
                    "A111",
                    f"{defect.kind} of piece {piece.name} ({defect.name}) is missing, or smaller",
                )


def _as_deep(mine: Defect, theirs: Defect) -> bool:
    return mine.depth_mm is None or (
        theirs.depth_mm is not None and mine.depth_mm >= theirs.depth_mm - SAME_MM
    )


def _seams(bench: CheckedBlank, blank: Blank, member: Member, piece: Piece) -> None:
    theirs = [shapely.LineString(moved(np.array(s.line_mm, dtype=np.float64), member)) for s in piece.seams]
    mine = [shapely.LineString(s.line_mm) for s in blank.seams]
    for seam, line in zip(piece.seams, theirs):
        if not mine or min(float(shapely.hausdorff_distance(line, m)) for m in mine) > TOL_MM:
            bench.say("A112", f"{seam.name} of piece {piece.name} is not in the blank")
    if len(mine) != len(theirs):
        bench.say("A112", f"has {len(mine)} seams; piece {piece.name} has {len(theirs)}")


def _glued(bench: CheckedBlank, blank: Blank) -> None:
    """A glue-up must lie wholly on its members, each of which reaches its joint lines."""
    if blank.measured_mm:
        bench.say("A110", f"its measuring error is {blank.measured_mm:g} mm; that of a glue-up is 0")
    where = []
    for member in blank.members:
        piece = bench.sheet.pieces.get(member.piece)
        if piece is None:
            continue
        piece = leaf(piece, member.layer)
        where.append((piece, region(member.cut, member) if member.cut else sure_region(piece, member)))
        if blank.thickness_mm > piece.thickness_mm + SAME_MM:
            bench.say(
                "A110",
                f"is {blank.thickness_mm:g} mm thick; its piece {piece.name} only {piece.thickness_mm:g} mm",
            )
    check_cuts(bench, blank)
    check_book(bench)
    bare = thickness_of(bench.wood.difference(polygon_union([g for _, g in where])))
    if bare > TOL_MM:
        bench.say("A109", f"has a place {bare:.3f} mm wide that none of its pieces covers")
    if len(where) < len(blank.members):
        return  # told by check_stock
    joints = joints_of(bench, blank, [wood for _, wood in where])
    if joints is None:
        _defects(bench, blank, [bench.wood] * len(where))
        return
    check_neighbors(bench, blank, joints)
    check_rules(bench, blank, joints)
    cells = cells_of(bench, joints, len(where))
    _defects(bench, blank, cells)
    check_joints(bench, joints, cells, where)
