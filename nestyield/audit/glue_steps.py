"""Order of work and cautions of a glue-up, worked out again from boards, seams and settings."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np

from nestyield.audit.curves import points_of
from nestyield.audit.facts import compare, same
from nestyield.audit.machines import PLANED_MM, blank_rules
from nestyield.audit.reinforcements import line_of, on_line
from nestyield.audit.sheet import CheckedBlank
from nestyield.audit.taken import shortened_copies
from nestyield.model import GlueMember, GlueUp, Piece
from nestyield.model.facts import (
    BlankRefused,
    BoardEdge,
    BoreHoles,
    ClampsShort,
    CrosscutFirst,
    CutSlots,
    DryFit,
    GlueAndClamp,
    GlueCaution,
    GlueStep,
    GuardsInPlace,
    JointEdges,
    JointOff,
    KeepOffcuts,
    LabelBoards,
    LayBoards,
    LeaveInClamps,
    LevelAfterGluing,
    ManualsFirst,
    MetalAtEdge,
    MoistureDiffers,
    MoistureUnknown,
    NotOverJointer,
    OpenBook,
    PlaneBlank,
    PlaneBoards,
    PlanedBoard,
    ResawLeaves,
    RipBoards,
    SawApart,
    ScrapeGlue,
    SearchForMetal,
    SetMarks,
    ThickBoard,
    ThinAtSeam,
)
from nestyield.model.pose import Pose

#: A seam has little wood left below this share of the blank's thickness (practice).
THIN = 0.25
_NEAR_MM = 0.05
#: Sizes of offcuts are rounded to a micrometer.
_ROUNDED_MM = 6e-4
#: Flaws of two faces that differ by less are alike, square millimeters.
_ALIKE_MM2 = 1.0


def check_steps(bench: CheckedBlank, told: GlueUp, pieces: Sequence[Piece]) -> None:
    """Check that the order of work asks for what the boards need, step by step."""
    _faces(bench, told, pieces)
    true = _steps(bench, told, pieces)
    for k, (mine, right) in enumerate(itertools.zip_longest(told.steps, true), start=1):
        if mine is None or right is None or not same(mine, right):
            bench.say("A123", f"step {k} is {mine}, worked out {right}")
            return


def _um(mm: float) -> int:
    return round(1000 * mm)


def _refused(member: GlueMember, machine: str) -> bool:
    return any(r.machine == machine and r.refused for r in member.machine_rules)


def _faces(bench: CheckedBlank, told: GlueUp, pieces: Sequence[Piece]) -> None:
    """Check that the face with the larger shallow flaws is planed, the lower one where they are alike."""
    for mine, piece in zip(told.members, pieces):
        top = bottom = 0.0
        for flaw in piece.defects:
            if flaw.depth_mm is not None and flaw.depth_mm < piece.thickness_mm:
                top += flaw.shape.area_mm2 if flaw.face == "top" else 0.0
                bottom += flaw.shape.area_mm2 if flaw.face == "bottom" else 0.0
        if 0 < abs(top - bottom) < _ALIKE_MM2:
            continue
        up = top > bottom if mine.top_up else bottom > top
        face = "up" if up and not _refused(mine, "planer") else "down"
        if mine.planed_from != face:
            bench.say(
                "A123", f"planed from the face {mine.planed_from}, worked out {face}", f"board {mine.letter}"
            )


def _crosscut(bench: CheckedBlank, told: GlueUp) -> list[GlueStep]:
    """Return the steps that shorten pieces, by the first board of each."""
    blank = bench.layout.blank
    return [
        CrosscutFirst(
            piece=name if copy == 1 else f"{name}/{copy}",
            boards=tuple(
                t.letter for t, m in zip(told.members, blank.members) if (m.piece, m.copy) == (name, copy)
            ),
        )
        for name, copy in shortened_copies(blank, bench.sheet.pieces)
    ]


def _steps(bench: CheckedBlank, told: GlueUp, pieces: Sequence[Piece]) -> list[GlueStep]:
    settings, blank = bench.sheet.plan.shop.settings, bench.layout.blank
    out: list[GlueStep] = _crosscut(bench, told)
    for cut in told.cuts:
        piece = bench.sheet.pieces.get(cut.piece)
        if piece is None:
            continue
        long, wide = np.ptp(points_of(piece.shape.outer), axis=0)
        first, last = (p[0 if cut.across else 1] for p in cut.line_mm)
        out.append(
            SawApart(
                way="crosscut" if cut.across else "rip",
                piece=cut.piece if cut.copy == 1 else f"{cut.piece}/{cut.copy}",
                length_um=_um(float(long)),
                width_um=_um(float(wide)),
                at_um=_um(first),
                to_um=None if abs(first - last) <= _NEAR_MM else _um(last),
                kerf_um=_um(cut.kerf_mm),
                before=cut.before,
                after=cut.after,
            )
        )
    depth = {m.letter: b.layer for m, b in zip(told.members, blank.members) if b.layer is not None}
    if len(depth) == 2:
        above, below = sorted(depth, key=lambda letter: depth[letter].top_mm)
        out.append(ResawLeaves(piece=blank.members[0].label, upper=above, lower=below))
        turned = [m.letter for m in told.members if not m.top_up]
        out.append(OpenBook(board="".join(turned)))
    out += [LayBoards(), LabelBoards()]
    thick = [(m, p) for m, p in zip(told.members, pieces) if p.thickness_mm - blank.thickness_mm > PLANED_MM]
    to = _um(blank.thickness_mm)
    planed = tuple(
        PlanedBoard(
            board=m.letter,
            off_um=_um(p.thickness_mm) - to,
            face="upper" if m.planed_from == "up" else "lower",
        )
        for m, p in thick
        if not _refused(m, "planer")
    )
    if planed:
        out.append(PlaneBoards(to_um=to, boards=planed))
    later = tuple(
        ThickBoard(board=m.letter, thickness_um=_um(p.thickness_mm))
        for m, p in thick
        if _refused(m, "planer")
    )
    if later:
        out.append(LevelAfterGluing(to_um=to, boards=later))
    least = settings.jointing_mm + settings.machines.saw_kerf_mm
    off = [(BoardEdge(board=m.letter, seam=e.seam), max(e.off_mm)) for m in told.members for e in m.edges]
    if any(mm > least for _, mm in off):
        out.append(RipBoards(leave_um=_um(settings.jointing_mm) if settings.jointing_mm > _NEAR_MM else 0))
    shaved = tuple(edge for edge, mm in off if mm <= least)
    if shaved:
        out.append(JointOff(edges=shaved))
    keep = tuple(
        BoardEdge(board=m.letter, seam=s.seam)
        for m in told.members
        for s in m.strips
        if s.length_mm > settings.leftover_shortest_mm - _ROUNDED_MM
        and s.width_mm > settings.leftover_narrowest_mm - _ROUNDED_MM
    )
    if keep:
        out.append(KeepOffcuts(edges=keep))
    out.append(JointEdges())
    for m in told.members:
        if _refused(m, "jointer"):
            out.append(NotOverJointer(board=m.letter, remedy="joint while longer"))
    out += [SetMarks(), *_slots(told), DryFit()]
    count = {kind: sum(k.kind == kind for k in told.keys) for kind in ("spline", "dowel")}
    out.append(GlueAndClamp(seams=len(blank.seams), splines=count["spline"], dowels=count["dowel"]))
    out += [LeaveInClamps(), ScrapeGlue()]
    if told.top_off_mm + told.bottom_off_mm > _NEAR_MM:
        finished = max((laid.part.thickness_mm for laid in bench.laid), default=blank.thickness_mm)
        out.append(PlaneBlank(to_um=_um(finished)))
    return out


def _slots(told: GlueUp) -> list[GlueStep]:
    """Return slots and holes, seams with the same ones together."""
    levels: dict[tuple[str, str, int, int], set[int]] = {}
    for key in told.keys:
        levels.setdefault((key.seam, key.kind, _um(key.thick_mm), _um(key.depth_mm)), set()).add(
            _um(key.below_top_mm)
        )
    alike: dict[tuple[str, int, int, tuple[int, ...]], list[str]] = {}
    for (seam, kind, thick, deep), below in levels.items():
        alike.setdefault((kind, thick, deep, tuple(sorted(below))), []).append(seam)
    return [
        CutSlots(seams=tuple(seams), width_um=thick, depth_um=deep, below_um=below)
        if kind == "spline"
        else BoreHoles(seams=tuple(seams), diameter_um=thick, depth_um=deep, below_um=below)
        for (kind, thick, deep, below), seams in alike.items()
    ]


def check_cautions(bench: CheckedBlank, told: GlueUp, pieces: Sequence[Piece]) -> None:
    """Check the cautions: thin wood, moisture, a blank that the planer refuses, and the usual."""
    thick = bench.layout.blank.thickness_mm
    surely: list[GlueCaution] = [SearchForMetal(), GuardsInPlace(), ManualsFirst()]
    maybe: list[GlueCaution] = []
    for seam in told.seams:
        for c in seam.crossings:
            if 0 < c.wood_left_mm < thick * THIN + _NEAR_MM:
                thin = ThinAtSeam(seam=seam.seam, zone=c.zone, left_um=_um(c.wood_left_mm))
                (surely if c.wood_left_mm < thick * THIN - _NEAR_MM else maybe).append(thin)
    _metal(bench, told, pieces, surely, maybe)
    known = [p.moisture_pct for p in pieces if p.moisture_pct is not None]
    if len(set(known)) > 1:
        limit = bench.sheet.plan.shop.settings.glueup.moisture_difference
        surely.append(MoistureDiffers(difference_points=max(known) - min(known), limit_points=limit))
    unknown = tuple(m.letter for m, p in zip(told.members, pieces) if p.moisture_pct is None)
    if unknown:
        surely.append(MoistureUnknown(boards=unknown))
    clamps = told.clamps
    if len(clamps.at_mm) < clamps.needed and clamps.limit != "none":
        mpa = 6894.757293168e-6
        surely.append(
            ClampsShort(
                seam=clamps.seam,
                needed=clamps.needed,
                count=len(clamps.at_mm),
                limit=clamps.limit,
                clamp_n=clamps.clamp_n,
                spacing_um=_um(clamps.spacing_mm),
                reached_mpa=clamps.reached_psi * mpa,
                least_mpa=clamps.pressure_psi[0] * mpa,
            )
        )
    if told.top_off_mm + told.bottom_off_mm > _NEAR_MM:
        refused, near = blank_rules(bench)
        surely += [BlankRefused(rule=r) for r in refused]
        maybe += [BlankRefused(rule=r) for r in near]
    compare(bench, "A124", told.cautions, surely, maybe)


def _metal(
    bench: CheckedBlank,
    told: GlueUp,
    pieces: Sequence[Piece],
    surely: list[GlueCaution],
    maybe: list[GlueCaution],
) -> None:
    """Look for what may hold metal between each jointed edge and the far side of the saw's kerf beyond it."""
    settings = bench.sheet.plan.shop.settings
    deep = settings.jointing_mm + settings.machines.saw_kerf_mm
    seams = {s.name: line_of(s) for s in bench.layout.blank.seams}
    for mine, member, piece in zip(told.members, bench.layout.blank.members, pieces):
        doubtful = [d for d in piece.defects if d.traits.may_hold_metal]
        spots = {d.name: points_of(Pose.of(member).shape(d.shape).outer) for d in doubtful}
        for edge in mine.edges:
            if edge.seam not in seams:
                continue
            sign = 1.0 if edge.upper else -1.0
            beyond = {
                name: [sign * on_line((float(x), float(y)), *seams[edge.seam]).imag for x, y in some]
                for name, some in spots.items()
            }
            for into, by in ((surely, _NEAR_MM), (maybe, -_NEAR_MM)):
                met = [d for d in doubtful if max(beyond[d.name]) > by and min(beyond[d.name]) < deep - by]
                if met:
                    kinds = tuple(sorted({d.kind for d in met}))
                    names = tuple(d.name for d in met)
                    into.append(MetalAtEdge(board=mine.letter, seam=edge.seam, kinds=kinds, defects=names))
