"""Glue-ups of one want: what is asked, the search, and what each takes and leaves."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from nestyield.glueup.chains import Interest
from nestyield.glueup.find import sets_of
from nestyield.glueup.search import Search
from nestyield.model import Part, Piece, Placement, Shop
from nestyield.placement.leftovers import usable_shapes
from nestyield.placement.stock import unsuitable
from nestyield.placement.weight import lightest_kg
from nestyield.planning.candidates import Candidate
from nestyield.planning.crosscut import crosscut_for_bed
from nestyield.planning.demand import Demand
from nestyield.planning.lay_parts import LayoutContext
from nestyield.planning.remembered import Cache, plain, remembered, settings_basis
from nestyield.planning.ripped import ripped_off
from nestyield.planning.saw_first import SawnFirst
from nestyield.planning.seams import seams_under
from nestyield.planning.workers import Job
from nestyield.planning.worth import back_value, board_feet, left_thickness_mm, value_of

#: Searches kept in memory, so that a second look at the same wood is quick.
MOST_SEARCHES = 8
#: Other sets are asked for so often where no bed takes any of those found.
MOST_REFUSED = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class GlueRequest:
    """Which glue-ups are asked for.

    Parameters
    ----------
    rows : tuple of int
        Rows whose pieces may be members by species and thickness.
    costs : tuple of float
        What one copy of each costs; a row that is no member is infinite.
    strict : bool or None
        Whether seams must keep their rules; None as the shop says.
    interest : Interest
        Its rows are indices into ``rows``.
    """

    rows: tuple[int, ...]
    costs: tuple[float, ...]
    strict: bool | None
    interest: Interest


@dataclass(frozen=True, slots=True, kw_only=True)
class GlueAnswer:
    """Glue-ups for one want.

    Parameters
    ----------
    candidates : tuple of Candidate
        Their ``rows`` are indices into the rows asked, and the want is their only one.
    cut_short : bool
        Whether there are sets that were not looked at.
    """

    candidates: tuple[Candidate, ...]
    cut_short: bool


def members_of(shop: Shop, want: Demand) -> tuple[int, ...]:
    """Return the rows whose pieces may be members of a glue-up for a want, by wood and thickness."""
    part = shop.part(want.part)
    if part.grain_deg is None or part.book_match or part.cap or part.strips == "only":
        return ()
    return tuple(
        row
        for row, piece in enumerate(shop.pieces)
        if piece.status == "ready" and piece.count > 0 and not piece.seams and piece.grain_deg is not None
        if unsuitable(part, piece, shop.settings) is None
    )


def wood_of(shop: Shop, rows: Sequence[int]) -> list[Piece]:
    """Return the pieces of rows without what no glue-up rests on."""
    boards = shop.settings.glueup.one_board
    pieces = [shop.pieces[r] for r in rows]
    return [replace(plain(p), name=p.name, count=p.count, parent=p.parent if boards else "") for p in pieces]


_searches: OrderedDict[str, Search] = OrderedDict()


def _search(shop: Shop, part: Part, rows: Sequence[int]) -> Search:
    """Return the search of a part in some wood, that of an earlier question where it is the same."""
    pieces = wood_of(shop, rows)
    key = repr((settings_basis(shop), part, pieces))
    if key not in _searches:
        _searches[key] = Search(part, pieces, shop.settings, lambda piece: 0.0, shop.settings.glueup)
        if len(_searches) > MOST_SEARCHES:
            _searches.popitem(last=False)
    _searches.move_to_end(key)
    return _searches[key]


def glue_up_want(job: Job, want: int, request: GlueRequest, most: int | None = None) -> GlueAnswer:
    """Return glue-ups for one want.

    Parameters
    ----------
    job : Job
    want : int
    request : GlueRequest
    most : int, optional
        How many at the most; left out, a few more than copies are wanted.
    """
    shop = job.shop
    part = shop.part(job.demands[want].part)
    pieces = [shop.pieces[row] for row in request.rows]
    search = _search(shop, part, request.rows)
    search.value = np.array(request.costs, dtype=np.float64)
    out: list[Candidate] = []
    interest = request.interest
    for _ in range(1 + MOST_REFUSED):
        found = sets_of(
            search,
            wanted=4 + 2 * job.demands[want].count if most is None else most,
            effort=job.effort,
            strict=request.strict,
            interest=interest,
        )
        for glued in found:
            bench = LayoutContext(shop=shop, demands=(job.demands[want],), blank=glued.blank)
            laid = ((0, glued.placement),)
            if not shop.beds or any(s.is_usable for s in bench.setups(laid)):
                out.append(glued_candidate(shop, part, pieces, bench, laid))
                continue
            shorter = crosscut_for_bed(bench, pieces, glued)
            if shorter is not None:
                out.append(
                    glued_candidate(shop, part, pieces, shorter.bench, shorter.laid, shorter.crosscuts)
                )
        if out or not found:
            break
        # no bed takes any of them: other sets, also of more members, may be shorter
        refused = {tuple(sorted(glued.chain.rows)) for glued in found}
        interest = replace(interest, known=interest.known | refused)
    return GlueAnswer(candidates=tuple(out), cut_short=search.cut_short)


def glue_ups_kept(
    job: Job, want: int, request: GlueRequest, cache: Cache | None, most: int | None = None
) -> GlueAnswer:
    """Return ``glue_up_want``, that of an earlier run where it is kept.

    Parameters
    ----------
    job : Job
    want : int
    request : GlueRequest
    cache : Cache or None
    most : int, optional
    """
    basis = (basis_of(job, want, request), most)
    return remembered(
        cache,
        "glue-ups",
        GlueAnswer,
        {want: basis},
        lambda some: {w: glue_up_want(job, w, request, most) for w in some},
    )[want]


def basis_of(job: Job, want: int, request: GlueRequest) -> object:
    """Return what an answer rests on."""
    shop, demand = job.shop, job.demands[want]
    return (
        repr(settings_basis(shop)),
        shop.part(demand.part),
        demand.beds,
        demand.count,
        wood_of(shop, request.rows),
        request.costs,
        request.strict,
        replace(request.interest, known=frozenset()),
        sorted(request.interest.known),
        job.effort,
    )


def glued_candidate(
    shop: Shop,
    part: Part,
    pieces: Sequence[Piece],
    bench: LayoutContext,
    laid: tuple[tuple[int, Placement], ...],
    crosscuts: tuple[SawnFirst | None, ...] = (),
) -> Candidate:
    """Return a glue-up with what it takes and leaves.

    Parameters
    ----------
    shop : Shop
    part : Part
    pieces : sequence of Piece
        The candidate's rows are indices of these.
    bench : LayoutContext
        Of its blank, the part its only want.
    laid : tuple of (int, Placement)
    crosscuts : tuple of SawnFirst or None
        How each of its copies is crosscut first; empty where none is.
    """
    blank, placements = bench.blank, [(part, p) for _, p in laid]
    row_of = {piece.name: row for row, piece in enumerate(pieces)}
    taken = tuple(row_of[name] for name, _ in blank.copies)
    usable = usable_shapes(blank, placements, shop.settings)
    thickness = left_thickness_mm(blank, [part])
    wood = sum(board_feet(pieces[r].shape.area_mm2, pieces[r].thickness_mm) for r in taken)
    by_name = {piece.name: piece for piece in pieces}
    worth, feet = ripped_off(blank, by_name, shop)
    for r, first in zip(taken, crosscuts):
        rests = () if first is None else first.rests
        worth += sum(rest.value for rest in rests)
        feet += sum(board_feet(rest.area_mm2, pieces[r].thickness_mm) for rest in rests if rest.usable)
    return Candidate(
        rows=taken,
        made=(1,),
        laid=laid,
        value=sum(value_of(pieces[r], shop.settings) for r in taken),
        back=worth + back_value(blank, placements, usable, [pieces[r] for r in taken], shop.settings),
        used_up=wood - feet - board_feet(sum(shape.area_mm2 for shape in usable), thickness),
        seams_mm=sum(s.length_mm for s in seams_under(blank, placements, shop.settings)),
        blank=blank,
        crosscuts=crosscuts,
        lightest_kg=lightest_kg(blank, placements, by_name, shop.settings.own_woods),
    )
