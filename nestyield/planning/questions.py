"""The small questions of the day, answered without a plan: a part and a piece, a part and the rack, the rack."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace

from nestyield.model import Part, Piece, Placement, Settings, Setup, Shop
from nestyield.model.arcs import box_of
from nestyield.model.facts import BedsRefuse, Reason, Refusal
from nestyield.model.pose import Pose
from nestyield.placement.stock import blank_of, block_of
from nestyield.planning.candidates import Candidate, candidate_of, refused_at_once, sawn_first
from nestyield.planning.demand import Demand
from nestyield.planning.lay_parts import LayoutContext
from nestyield.planning.layouts import setups_by_merit
from nestyield.planning.looks import look_at_row, look_closely, looked_into, worth_a_look
from nestyield.planning.reasons import cause_of, closest_row, reasons_for
from nestyield.planning.workers import Job
from nestyield.planning.worth import board_feet, size_of, value_of


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
        Box around its outline in the blank's own coordinates.
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
    sawn_mm : (x0, y0, x1, y1) or None
        The blank that is sawn off the piece first, from the piece's corner; None for the whole piece.
    """

    pieces: tuple[str, ...]
    placement: Placement
    box_mm: tuple[float, float, float, float]
    setups: tuple[Setup, ...]
    value: float
    back: float
    used_up: float
    seams_mm: float
    status: str = "ready"
    sawn_mm: tuple[float, float, float, float] | None = None


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
    """

    part: str
    piece: str
    maker: Maker | None
    refusal: Refusal | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Makers:
    """What would make a part.

    Parameters
    ----------
    part : str
    makers : tuple of Maker
        The cheapest first: by value less what comes back, then by wood used up, then by name.
    refused : tuple of (cause, int)
        How many of the other rows are refused for what.
    reasons : tuple of fact
        Why none would; empty when one would.
    """

    part: str
    makers: tuple[Maker, ...]
    refused: tuple[tuple[str, int], ...]
    reasons: tuple[Reason, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Holding:
    """What the rack has of one wood.

    Parameters
    ----------
    species : str
    rows, pieces, held : int
        Rows, copies, and of those on hold.
    board_feet, value : float
        Of all copies; the value in the shop's money.
    largest : str
        The piece with the largest face.
    largest_mm : (length, width, thickness)
        Its size; the width of what is no rectangle is its area over its length.
    """

    species: str
    rows: int
    pieces: int
    held: int
    board_feet: float
    value: float
    largest: str
    largest_mm: tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class RackContents:
    """What is in the rack, and what it is worth.

    Parameters
    ----------
    holdings : tuple of Holding
        By value, the most first. Pieces that are taken do not count.
    knows_money : bool
        Whether any value is stated; else no value means anything.
    """

    holdings: tuple[Holding, ...]
    knows_money: bool


def part_on_piece(shop: Shop, part: Part, piece: Piece, beds: tuple[str, ...]) -> Goes:
    """Tell whether a part goes on a piece and on a bed, where, and if not what is in the way.

    Parameters
    ----------
    shop : Shop
    part : Part
    piece : Piece
        Its status does not matter.
    beds : tuple of str
        Beds that may cut it.
    """
    found, refusal = _asked(shop, part, piece, beds)
    if refusal is not None:
        refusal = looked_into(_job(shop, part, beds), 0, shop.pieces.index(piece), refusal)
    return Goes(part=part.name, piece=piece.name, maker=found, refusal=refusal)


def pieces_for(shop: Shop, part: Part, beds: tuple[str, ...]) -> Makers:
    """Find all pieces that would make a part, one copy each.

    Parameters
    ----------
    shop : Shop
    part : Part
    beds : tuple of str
        Beds that may cut it.
    """
    makers: list[Maker] = []
    refusals: list[Refusal] = []
    for piece in shop.pieces:
        if piece.status == "taken" or not piece.count:
            continue
        found, refusal = _asked(shop, part, piece, beds)
        if found is not None:
            makers.append(found)
        elif refusal is not None:
            refusals.append(refusal)
    makers.sort(
        key=lambda m: (m.status != "ready", round(m.value - m.back, 6), round(m.used_up, 6), m.pieces)
    )
    causes = Counter(cause_of(r) for r in refusals)
    if not makers:
        job = _job(shop, part, beds)
        rows = [shop.pieces.index(shop.piece(r.piece)) for r in refusals]
        for i in worth_a_look([shop.pieces[row] for row in rows], refusals):
            refusals[i] = look_at_row(job, 0, rows[i], refusals[i]).refusal
        nearest = closest_row(part, refusals)
        if nearest is not None:
            refusals[nearest] = look_closely(job, 0, rows[nearest], refusals[nearest]).refusal
    return Makers(
        part=part.name,
        makers=tuple(makers),
        refused=tuple(causes.most_common()),
        reasons=() if makers else reasons_for(part, refusals),
    )


def rack_contents(shop: Shop) -> RackContents:
    """Add up the rack by species.

    Parameters
    ----------
    shop : Shop
    """
    by_species: dict[str, list[Piece]] = {}
    for piece in shop.pieces:
        if piece.status != "taken" and piece.count:
            by_species.setdefault(piece.species, []).append(piece)
    holdings = [_holding(name, pieces, shop.settings) for name, pieces in by_species.items()]
    knows_money = bool(shop.settings.value_per_board_foot) or any(p.value is not None for p in shop.pieces)
    by_worth = sorted(holdings, key=lambda h: (-h.value, -h.board_feet, h.species))
    return RackContents(holdings=tuple(by_worth), knows_money=knows_money)


def _holding(species: str, pieces: list[Piece], settings: Settings) -> Holding:
    largest = max(pieces, key=lambda p: (p.shape.area_mm2, p.name))
    length, width = size_of(largest.shape, largest.grain_deg, settings)
    return Holding(
        species=species,
        rows=len(pieces),
        pieces=sum(p.count for p in pieces),
        held=sum(p.count for p in pieces if p.status == "hold"),
        board_feet=sum(p.count * board_feet(p.shape.area_mm2, p.thickness_mm) for p in pieces),
        value=sum(p.count * value_of(p, settings) for p in pieces),
        largest=largest.name,
        largest_mm=(length, width, largest.thickness_mm),
    )


def _asked(
    shop: Shop, part: Part, piece: Piece, beds: tuple[str, ...]
) -> tuple[Maker | None, Refusal | None]:
    refusal = refused_at_once(shop, part, piece)
    if refusal is not None:
        return None, refusal
    want = Demand(part=part.name, beds=beds, orders=(), count=1)
    bench = LayoutContext(shop=shop, demands=(want,), blank=blank_of(piece))
    laid, refusal = bench.add((), 0)
    if laid is None:
        if not isinstance(refusal, BedsRefuse):
            return None, refusal
        sawn = sawn_first(bench, shop.pieces.index(piece), [0], ())
        return (_sawn(bench, piece, sawn[0]), None) if sawn else (None, refusal)
    row = shop.pieces.index(piece)
    return _maker(bench, candidate_of(bench, row, (1,), laid), piece.status), None


def _sawn(bench: LayoutContext, piece: Piece, found: Candidate) -> Maker:
    """Return what would make a part on a blank that is sawn off a piece first."""
    assert found.sawn is not None
    (block,) = found.sawn.blocks
    whole, box = box_of(piece.shape.outer), box_of(block.cut.outer)
    here = replace(bench, blank=block_of(piece, block.cut, name=piece.name))
    maker = _maker(here, replace(found, laid=block.laid), piece.status)
    sawn = (box.x0 - whole.x0, box.y0 - whole.y0, box.x1 - whole.x0, box.y1 - whole.y0)
    return replace(maker, sawn_mm=sawn)


def _job(shop: Shop, part: Part, beds: tuple[str, ...]) -> Job:
    """Return the job of making one copy of a part."""
    return Job(shop=shop, demands=(Demand(part=part.name, beds=beds, orders=(), count=1),), effort=1, seed=0)


def _maker(bench: LayoutContext, found: Candidate, status: str) -> Maker:
    ((_, placement),) = found.laid
    box = box_of(Pose.of(placement).outline(bench.part(0).outline))
    tried = bench.setups(found.laid)
    return Maker(
        pieces=tuple(bench.shop.pieces[row].name for row in found.rows),
        placement=placement,
        box_mm=(box.x0, box.y0, box.x1, box.y1),
        setups=tuple(tried[i] for i in setups_by_merit(tried)),
        value=found.value,
        back=found.back,
        used_up=found.used_up,
        seams_mm=found.seams_mm,
        status=status,
    )
