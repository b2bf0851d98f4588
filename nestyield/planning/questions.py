"""The small questions of the day, answered without a plan: a part and a piece, a part and the rack."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace

from nestyield.glueup.chains import Interest
from nestyield.model import Blank, Layout, Outline, Part, Piece, Placement, Setup, Shop
from nestyield.model.arcs import Box, box_of
from nestyield.model.facts import (
    BedsRefuse,
    Caution,
    FrameCutOpen,
    HoleNearCut,
    KnotUnderCutter,
    MetalInWood,
    MetalUnderCutter,
    Reason,
    Refusal,
)
from nestyield.model.pose import Pose
from nestyield.placement.stock import blank_of, block_of
from nestyield.planning.book_match import book_matched
from nestyield.planning.candidates import Candidate, candidate_of, net_value, refused_at_once, sawn_first
from nestyield.planning.demand import Demand
from nestyield.planning.glue_search import GlueRequest, glue_ups_kept, members_of
from nestyield.planning.keep_clear import kept_clear
from nestyield.planning.lay_parts import LayoutContext
from nestyield.planning.layouts import make_layout, setups_by_merit
from nestyield.planning.looks import Diagnosis, look_at_row, look_closely, looked_into, worth_a_look
from nestyield.planning.reasons import cause_of, closest_row, reasons_for
from nestyield.planning.remembered import Cache, remembered, settings_basis
from nestyield.planning.resaw import may_be_resawn
from nestyield.planning.seams import SeamOnPart, seams_on
from nestyield.planning.work.inspect import with_inspection
from nestyield.planning.workers import Job
from nestyield.planning.worth import value_of

#: Glue-ups that are looked for.
MOST_GLUED = 10


#: Looks into why a want is refused by a row.
Look = Callable[[Job, int, int, Refusal], Diagnosis]
#: Cautions of a plan that speak of the place where a part lies.
_OF_THE_PLACE = (MetalUnderCutter, HoleNearCut, KnotUnderCutter, MetalInWood, FrameCutOpen)


@dataclass(frozen=True, slots=True, kw_only=True)
class Maker:
    """A piece, or a glue-up, that would make a part.

    Parameters
    ----------
    pieces : tuple of str
        Rows of the rack; one that is used twice stands twice.
    placement : Placement
        Where the part lies.
    box_mm : (x0, y0, x1, y1)
        Box around its outline, from 0,0 of its piece; on a glue-up or a blank that is sawn off first from the
        blank's lower left corner.
    setups : tuple of Setup
        Ways to lie on the beds asked, the best first.
    value : float
        Of the copies taken: in the shop's money, or board feet when it knows none.
    back : float
        Value of the leftovers worth keeping.
    used_up : float
        Wood taken and not given back as leftovers, board feet.
    seams_mm : float
        Length of seams under the part.
    status : str
        ``ready``, or why not now: ``hold``, ``taken``.
    work : float
        What joints and saw cuts cost, in the choice of a plan too.
    joints, cuts : int
        Joints of a glue-up, saw cuts before the bed.
    blank : Blank
        What goes on the bed.
    sawn_mm : (x0, y0, x1, y1) or None
        The blank that is sawn off the piece first, from the piece's corner; None for the whole piece.
    seams : tuple of SeamOnPart
        Where seams fall on the part, measured as `box_mm` is.
    half_mm : (x0, y0, x1, y1) or None
        What the part takes of each leaf of a book match, from 0,0 of the piece.
    cost : float
        What it costs by the aims of a plan, by which makers are ranked: value less what comes back, as far as
        that counts (``[leftover] worth``), joints and cuts.
    """

    pieces: tuple[str, ...]
    placement: Placement
    box_mm: tuple[float, float, float, float]
    setups: tuple[Setup, ...]
    value: float
    back: float
    used_up: float
    seams_mm: float
    blank: Blank
    work: float = 0.0
    joints: int = 0
    cuts: int = 0
    status: str = "ready"
    sawn_mm: tuple[float, float, float, float] | None = None
    cost: float = 0.0
    seams: tuple[SeamOnPart, ...] = ()
    half_mm: tuple[float, float, float, float] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Goes:
    """Whether a part goes on a piece.

    Parameters
    ----------
    part, piece : str
    maker : Maker or None
        None when it does not go.
    refusal : fact or None
        Why not, with the closest way to a yes where there is one.
    cautions : tuple of fact
        Metal, holes and knots in the cutter's path or near it, and slivers beside it, where the part lies.
    """

    part: str
    piece: str
    maker: Maker | None
    refusal: Refusal | None
    cautions: tuple[Caution, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Makers:
    """What would make a part.

    Parameters
    ----------
    part : str
    makers : tuple of Maker
        Those ready first; the cheapest first: by cost, then by wood used up, then by name.
    refused : tuple of (cause, int)
        How many rows that are in none of the makers are refused for what.
    reasons : tuple of fact
        Why none would; empty when one would.
    """

    part: str
    makers: tuple[Maker, ...]
    refused: tuple[tuple[str, int], ...]
    reasons: tuple[Reason, ...]


def part_on_piece(
    shop: Shop, part: Part, piece: Piece, beds: tuple[str, ...], cache: Cache | None = None
) -> Goes:
    """Tell whether a part goes on a piece and on a bed, where, and if not what is in the way.

    Parameters
    ----------
    shop : Shop
    part : Part
    piece : Piece
        Its status does not matter.
    beds : tuple of str
        Beds that may cut it.
    cache : Cache, optional
        Answers of earlier runs; the answer is the same with it and without.
    """

    def ask(some: Sequence[int]) -> dict[int, Goes]:
        found, refusal = _asked(shop, part, piece, beds)
        if refusal is not None:
            refusal = looked_into(_job(shop, part, beds), 0, shop.pieces.index(piece), refusal)
        cautions = () if found is None else _cautions(shop, found)
        goes = Goes(part=part.name, piece=piece.name, maker=found, refusal=refusal, cautions=cautions)
        return dict.fromkeys(some, goes)

    return remembered(cache, "goes", Goes, {0: _basis(shop, part, piece, beds)}, ask)[0]


def _basis(shop: Shop, part: Part, piece: Piece, beds: tuple[str, ...]) -> object:
    """Return what an answer about one piece rests on."""
    return repr(settings_basis(shop)), part, replace(piece, shelf="", note="", parent="", row=0), beds


def layout_of(shop: Shop, maker: Maker, beds: tuple[str, ...]) -> Layout:
    """Return what would make a part as a plan has it, with room to move and the work on its bed.

    Parameters
    ----------
    shop : Shop
    maker : Maker
    beds : tuple of str
        Beds that may cut it.
    """
    asked = tuple(b for b in shop.beds if b.name in beds)
    return make_layout(shop, maker.blank, [replace(maker.placement, order="", copy=1)], asked, maker.value)


@dataclass(frozen=True, slots=True, kw_only=True)
class _OnRow:
    """What one row gives: what would make the part, or why it does not."""

    maker: Maker | None
    refusal: Refusal | None


def _on_rows(shop: Shop, part: Part, beds: tuple[str, ...], cache: Cache | None) -> list[_OnRow]:
    """Return what each row that is there gives for a part."""
    here = {r: p for r, p in enumerate(shop.pieces) if p.status != "taken" and p.count}
    at_once = {
        r: None if part.book_match and may_be_resawn(shop, part, p) else refused_at_once(shop, part, p)
        for r, p in here.items()
    }

    def ask(some: Sequence[int]) -> dict[int, _OnRow]:
        found = {r: _asked(shop, part, here[r], beds) for r in some}
        return {r: _OnRow(maker=maker, refusal=refusal) for r, (maker, refusal) in found.items()}

    bases = {r: _basis(shop, part, p, beds) for r, p in here.items() if at_once[r] is None}
    found = remembered(cache, "row of pieces", _OnRow, bases, ask)
    return [found[r] if r in found else _OnRow(maker=None, refusal=at_once[r]) for r in here]


def pieces_for(shop: Shop, part: Part, beds: tuple[str, ...], cache: Cache | None = None) -> Makers:
    """Find the pieces, and glue-ups of those that are too small, that would make a part.

    Parameters
    ----------
    shop : Shop
    part : Part
    beds : tuple of str
        Beds that may cut it.
    cache : Cache, optional
        Answers of earlier runs; the answer is the same with it and without.
    """
    rows = _on_rows(shop, part, beds, cache)
    makers = [row.maker for row in rows if row.maker is not None]
    refusals = [row.refusal for row in rows if row.maker is None and row.refusal is not None]
    makers += _glued_up(shop, part, beds, {m.pieces[0] for m in makers}, cache)
    makers.sort(key=lambda m: (m.status != "ready", round(m.cost, 6), round(m.used_up, 6), m.pieces))
    used = {name for m in makers for name in m.pieces}
    causes = Counter(cause_of(r) for r in refusals if r.piece not in used)
    if not makers:
        _look(shop, part, beds, refusals, cache)
    return Makers(
        part=part.name,
        makers=tuple(makers),
        refused=tuple(causes.most_common()),
        reasons=() if makers else reasons_for(part, refusals),
    )


def _look(
    shop: Shop, part: Part, beds: tuple[str, ...], refusals: list[Refusal], cache: Cache | None
) -> None:
    """Put numbers to the refusals of rows that are near, and of the closest one for certain."""
    job = _job(shop, part, beds)
    rows = [shop.pieces.index(shop.piece(r.piece)) for r in refusals]

    def told(name: str, look: Look, some: Sequence[int]) -> None:
        bases = {i: (_basis(shop, part, shop.pieces[rows[i]], beds), refusals[i]) for i in some}
        answers = remembered(
            cache,
            name,
            Diagnosis,
            bases,
            lambda new: {i: look(job, 0, rows[i], refusals[i]) for i in new},
        )
        for i, answer in answers.items():
            refusals[i] = answer.refusal

    here = [shop.pieces[row] for row in rows]
    told("look of pieces", look_at_row, worth_a_look(here, refusals, part, shop.settings))
    nearest = closest_row(part, refusals)
    if nearest is not None:
        told("close look of pieces", look_closely, [nearest])


def _asked(
    shop: Shop, part: Part, piece: Piece, beds: tuple[str, ...]
) -> tuple[Maker | None, Refusal | None]:
    refusal = refused_at_once(shop, part, piece)
    want = Demand(part=part.name, beds=beds, orders=(), count=1)
    bench = LayoutContext(shop=shop, demands=(want,), blank=blank_of(piece))
    if part.book_match and may_be_resawn(shop, part, piece):
        found = book_matched(bench, piece, shop.pieces.index(piece), 0)
        if found is not None and found.blank is not None:
            return _maker(replace(bench, blank=found.blank), found, piece.status), None
    if refusal is not None:
        return None, refusal
    laid, refusal = bench.add((), 0)
    if laid is None:
        if not isinstance(refusal, BedsRefuse):
            return None, refusal
        sawn = sawn_first(bench, shop.pieces.index(piece), [0], ())
        return (_sawn(bench, piece, sawn[0]), None) if sawn else (None, refusal)
    row = shop.pieces.index(piece)
    return _maker(bench, candidate_of(bench, row, (1,), kept_clear(bench, laid)), piece.status), None


def _cautions(shop: Shop, maker: Maker) -> tuple[Caution, ...]:
    """Return what a plan would warn of where the part lies: metal, holes and knots, and slivers."""
    layout = Layout(
        blank=maker.blank,
        placements=(maker.placement,),
        setups=maker.setups,
        chosen=0 if maker.setups else None,
        part_area_mm2=0.0,
        stock_area_mm2=0.0,
        usable_area_mm2=0.0,
        board_feet=0.0,
        value=0.0,
    )
    told = with_inspection(layout, shop).cautions
    return tuple(caution for caution in told if isinstance(caution, _OF_THE_PLACE))


def _sawn(bench: LayoutContext, piece: Piece, found: Candidate) -> Maker:
    """Return what would make a part on a blank that is sawn off a piece first."""
    assert found.sawn is not None
    (block,) = found.sawn.blocks
    whole, box = box_of(piece.shape.outer), box_of(block.cut.outer)
    here = replace(bench, blank=block_of(piece, block.cut, name=piece.name))
    maker = _maker(here, replace(found, laid=block.laid), piece.status)
    sawn = (box.x0 - whole.x0, box.y0 - whole.y0, box.x1 - whole.x0, box.y1 - whole.y0)
    return replace(maker, sawn_mm=sawn)


def _glued_up(
    shop: Shop, part: Part, beds: tuple[str, ...], alone: Collection[str], cache: Cache | None
) -> list[Maker]:
    """Return the cheapest glue-ups of pieces that do not hold the part by themselves.

    Only where there is none, and no piece makes the part, members are sawn from one piece.
    """
    job, rules = _job(shop, part, beds), shop.settings.glueup
    rows = members_of(shop, job.demands[0])
    if not part.glue or rules.most_pieces < 2 or not rows:
        return []
    costs = tuple(
        math.inf if shop.pieces[r].name in alone else value_of(shop.pieces[r], shop.settings) for r in rows
    )
    found: tuple[Candidate, ...] = ()
    for apart in (False,) if alone else (False, True):
        interest = Interest(joint=rules.joint_cost, every=True, apart=apart)
        request = GlueRequest(rows=rows, costs=costs, strict=None, interest=interest)
        found = glue_ups_kept(job, 0, request, cache, MOST_GLUED).candidates
        if found:
            break
    out = []
    for candidate in found:
        assert candidate.blank is not None
        of_shop = replace(candidate, rows=tuple(rows[r] for r in candidate.rows))
        bench = LayoutContext(shop=shop, demands=job.demands, blank=candidate.blank)
        out.append(_maker(bench, of_shop, "ready"))
    return out


def _job(shop: Shop, part: Part, beds: tuple[str, ...]) -> Job:
    """Return the job of making one copy of a part."""
    return Job(shop=shop, demands=(Demand(part=part.name, beds=beds, orders=(), count=1),), effort=1, seed=0)


def _maker(bench: LayoutContext, found: Candidate, status: str) -> Maker:
    ((_, placement),) = found.laid
    part, blank = bench.part(0), bench.blank
    box, whole = (box_of(o) for o in (Pose.of(placement).outline(part.outline), blank.shape.outer))
    corner = (whole.x0, whole.y0) if len(blank.members) > 1 else (0.0, 0.0)
    tried = bench.setups(found.laid)
    settings, cuts = bench.shop.settings, found.saw_cuts
    return Maker(
        pieces=tuple(bench.shop.pieces[row].name for row in found.rows),
        placement=placement,
        box_mm=(box.x0 - corner[0], box.y0 - corner[1], box.x1 - corner[0], box.y1 - corner[1]),
        setups=tuple(tried[i] for i in setups_by_merit(tried)),
        value=float(found.value),
        back=float(found.back),
        used_up=float(found.used_up),
        seams_mm=float(found.seams_mm),
        blank=blank,
        seams=seams_on(blank, part, placement, corner, settings),
        half_mm=_half(blank, box) if part.book_match and len(blank.members) > 1 else None,
        work=float(
            found.joints * settings.glueup.joint_cost
            + cuts * settings.machines.saw_cut_cost
            + found.resaws * settings.machines.resaw_cost
        ),
        joints=found.joints,
        cuts=cuts,
        status=status,
        cost=float(net_value(found, settings)),
    )


def _half(blank: Blank, box: Box) -> tuple[float, float, float, float]:
    """Return where the half of a part below the joint of a book match lies on its piece."""
    leaf, ((_, joint), *_) = blank.members[0], blank.seams[0].line_mm
    half = Outline.rectangle(box.x0, box.y0, box.x1, joint)
    there = box_of(Pose.of(leaf).inverse().outline(half))
    return there.x0, there.y0, there.x1, there.y1
