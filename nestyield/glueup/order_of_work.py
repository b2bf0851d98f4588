"""The order of work of a glue-up, step by step, and what to mind."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

from nestyield.geometry.shape import to_shapely
from nestyield.glueup.boards import Board, Frame, shortened
from nestyield.model import Blank, GlueMember, GlueUp, Settings, Shop
from nestyield.model.arcs import box_of
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
    Machine,
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
from nestyield.wood.joints import MPA_PER_PSI
from nestyield.wood.machining import machining_rules

#: Less is not worth a word, millimeters.
_LEAST_MM = 0.05
#: Wood left at a seam is little below this share of the blank's thickness (P).
_THIN_SHARE = 0.25


def steps(made: GlueUp, cut: Sequence[Board], shop: Shop) -> tuple[GlueStep, ...]:
    """Return the order of work.

    Parameters
    ----------
    made : GlueUp
        All but its steps.
    cut : sequence of Board
    shop : Shop
    """
    return (
        *_crosscutting(cut),
        *_sawing_apart(made, shop),
        *_opening(cut),
        LayBoards(),
        LabelBoards(),
        *_planing(made),
        *_ripping(made, shop.settings),
        *_jointing(made),
        SetMarks(),
        *_slots(made),
        DryFit(),
        GlueAndClamp(
            seams=len(made.seams),
            splines=sum(k.kind == "spline" for k in made.keys),
            dowels=sum(k.kind == "dowel" for k in made.keys),
        ),
        LeaveInClamps(),
        ScrapeGlue(),
        *_afterwards(made),
    )


def _um(length_mm: float) -> int:
    return round(length_mm * 1000.0)


def _crosscutting(cut: Sequence[Board]) -> list[GlueStep]:
    """Return which pieces are crosscut because they are too long."""
    return [
        CrosscutFirst(piece=boards[0].member.label, boards=tuple(b.letter for b in boards))
        for boards in shortened(cut).values()
    ]


def _sawing_apart(made: GlueUp, shop: Shop) -> list[GlueStep]:
    sizes = {p.name: box_of(p.shape.outer) for p in shop.pieces}
    out: list[GlueStep] = []
    for cut in made.cuts:
        (ax, ay), (bx, by) = cut.line_mm
        first, last = (ax, bx) if cut.across else (ay, by)
        box = sizes[cut.piece]
        out.append(
            SawApart(
                way="crosscut" if cut.across else "rip",
                piece=cut.piece if cut.copy == 1 else f"{cut.piece}/{cut.copy}",
                length_um=_um(box.width),
                width_um=_um(box.height),
                at_um=_um(first),
                to_um=_um(last) if abs(last - first) > _LEAST_MM else None,
                kerf_um=_um(cut.kerf_mm),
                before=cut.before,
                after=cut.after,
            )
        )
    return out


def _opening(cut: Sequence[Board]) -> list[GlueStep]:
    """Return how the leaves of a book match are made and opened; nothing for other boards."""
    leaves = sorted(
        ((b.member.layer.top_mm, b) for b in cut if b.member.layer is not None), key=lambda leaf: leaf[0]
    )
    if len(leaves) != 2:
        return []
    above, below = leaves[0][1], leaves[1][1]
    return [
        ResawLeaves(piece=above.member.label, upper=above.letter, lower=below.letter),
        OpenBook(board=above.letter if above.member.mirrored else below.letter),
    ]


def _refused(member: GlueMember, machine: Machine) -> bool:
    return any(r.machine == machine and r.refused for r in member.machine_rules)


def _planing(made: GlueUp) -> list[GlueStep]:
    thicker = [m for m in made.members if m.rough_mm - m.planed_mm > _LEAST_MM]
    planed = tuple(
        PlanedBoard(
            board=m.letter,
            off_um=_um(m.rough_mm - m.planed_mm),
            face="upper" if m.planed_from == "up" else "lower",
        )
        for m in thicker
        if not _refused(m, "planer")
    )
    later = tuple(
        ThickBoard(board=m.letter, thickness_um=_um(m.rough_mm)) for m in thicker if _refused(m, "planer")
    )
    to = _um(made.thickness_mm)
    out: list[GlueStep] = []
    if planed:
        out.append(PlaneBoards(to_um=to, boards=planed))
    if later:
        out.append(LevelAfterGluing(to_um=to, boards=later))
    return out


def _ripping(made: GlueUp, settings: Settings) -> list[GlueStep]:
    allowance = settings.jointing_mm
    least = allowance + settings.machines.saw_kerf_mm
    edges = [(BoardEdge(board=m.letter, seam=e.seam), max(e.off_mm)) for m in made.members for e in m.edges]
    keep = tuple(BoardEdge(board=m.letter, seam=s.seam) for m in made.members for s in m.strips if s.usable)
    shaved = tuple(edge for edge, off in edges if off <= least)
    out: list[GlueStep] = []
    if len(shaved) < len(edges):
        out.append(RipBoards(leave_um=_um(allowance) if allowance > _LEAST_MM else 0))
    if shaved:
        out.append(JointOff(edges=shaved))
    if keep:
        out.append(KeepOffcuts(edges=keep))
    return out


def _jointing(made: GlueUp) -> list[GlueStep]:
    out: list[GlueStep] = [JointEdges()]
    for member in made.members:
        refused = [r for r in member.machine_rules if r.machine == "jointer" and r.refused]
        out += [NotOverJointer(board=member.letter, remedy=r.remedy) for r in refused[:1]]
    return out


def _slots(made: GlueUp) -> list[GlueStep]:
    same: dict[tuple[str, int, int, tuple[int, ...]], list[str]] = {}
    for (seam, kind), found in itertools.groupby(made.keys, key=lambda k: (k.seam, k.kind)):
        keys = list(found)
        below = tuple(sorted({_um(k.below_top_mm) for k in keys}))
        same.setdefault((kind, _um(keys[0].thick_mm), _um(keys[0].depth_mm), below), []).append(seam)
    out: list[GlueStep] = []
    for (kind, thick, depth, below), seams in same.items():
        if kind == "spline":
            out.append(CutSlots(seams=tuple(seams), width_um=thick, depth_um=depth, below_um=below))
        else:
            out.append(BoreHoles(seams=tuple(seams), diameter_um=thick, depth_um=depth, below_um=below))
    return out


def _afterwards(made: GlueUp) -> list[GlueStep]:
    if made.top_off_mm + made.bottom_off_mm <= _LEAST_MM:
        return []
    return [PlaneBlank(to_um=_um(made.thickness_mm - made.top_off_mm - made.bottom_off_mm))]


def cautions(made: GlueUp, cut: Sequence[Board], blank: Blank, settings: Settings) -> tuple[GlueCaution, ...]:
    """Return what to mind with this glue-up, the usual last.

    Parameters
    ----------
    made : GlueUp
    cut : sequence of Board
    blank : Blank
    settings : Settings
    """
    out: list[GlueCaution] = [
        ThinAtSeam(seam=seam.seam, zone=c.zone, left_um=_um(c.wood_left_mm))
        for seam in made.seams
        for c in seam.crossings
        if 0 < c.wood_left_mm < blank.thickness_mm * _THIN_SHARE
    ]
    out += [found for board in cut for found in metal_at_edges(board, blank, settings)]
    known = [s.piece.moisture_pct for s in cut if s.piece.moisture_pct is not None]
    if len(known) > 1 and max(known) > min(known):
        out.append(
            MoistureDiffers(
                difference_points=round(max(known) - min(known), 4),
                limit_points=settings.glueup.moisture_difference,
            )
        )
    if unknown := tuple(s.letter for s in cut if s.piece.moisture_pct is None):
        out.append(MoistureUnknown(boards=unknown))
    out += _clamps(made)
    out += _planer(blank, made, settings)
    return (*dict.fromkeys(out), SearchForMetal(), GuardsInPlace(), ManualsFirst())


def metal_at_edges(board: Board, blank: Blank, settings: Settings) -> list[MetalAtEdge]:
    """Return what may hold metal where the saw and the jointer run along the edges of a board.

    Parameters
    ----------
    board : Board
    blank : Blank
    settings : Settings
        The jointing allowance and the kerf of the saw lie beyond the seam.
    """
    doubtful = [
        (d, to_shapely(Pose.of(board.member).shape(d.shape)))
        for d in board.piece.defects
        if d.traits.may_hold_metal
    ]
    seams = {seam.name: seam for seam in blank.seams}
    deep = settings.jointing_mm + settings.machines.saw_kerf_mm
    out = []
    for edge in board.edges:
        band = Frame.of(seams[edge.seam]).band(edge.upper, deep)
        met = [d for d, ground in doubtful if band.intersection(ground).area > _LEAST_MM**2]
        if met:
            kinds = tuple(sorted({d.kind for d in met}))
            names = tuple(d.name for d in met)
            out.append(MetalAtEdge(board=board.letter, seam=edge.seam, kinds=kinds, defects=names))
    return out


def _clamps(made: GlueUp) -> list[GlueCaution]:
    """Return that the clamps do not do for the longest seam."""
    clamps = made.clamps
    if clamps.limit == "none":
        return []
    return [
        ClampsShort(
            seam=clamps.seam,
            needed=clamps.needed,
            count=len(clamps.at_mm),
            limit=clamps.limit,
            clamp_n=clamps.clamp_n,
            spacing_um=_um(clamps.spacing_mm),
            reached_mpa=round(clamps.reached_psi * MPA_PER_PSI, 6),
            least_mpa=round(clamps.pressure_psi[0] * MPA_PER_PSI, 6),
        )
    ]


def _planer(blank: Blank, made: GlueUp, settings: Settings) -> list[GlueCaution]:
    """Return why the planer refuses the whole blank."""
    if made.top_off_mm + made.bottom_off_mm <= _LEAST_MM:
        return []
    box = box_of(blank.shape.outer)
    long, wide = max(box.width, box.height), min(box.width, box.height)
    limits = settings.machines
    found = machining_rules(long, wide, blank.thickness_mm, limits, ("planer",))
    return [BlankRefused(rule=rule) for rule in found if rule.refused]
