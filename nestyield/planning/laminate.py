"""Laminated blanks: two or three pieces glued face to face, for parts thicker than they are, or with a cap.

Each layer of the finished part is a part of its own (``slice_of``) that is placed on one piece, exactly; the pieces
are then laid so that these places lie above each other. Only what lies under the part and some room around it is
glued: each piece is sawn to that outline first, and what is left of it goes back on the rack as it is.
"""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Hashable, Iterator, Sequence
from dataclasses import dataclass, field

from nestyield.glueup.laminate import rests_of
from nestyield.model import (
    Part,
    Piece,
    Placement,
    Settings,
    Shop,
    StackLayer,
)
from nestyield.placement.single import place_part
from nestyield.placement.slices import slice_of
from nestyield.placement.stock import blank_of, leaf_of
from nestyield.placement.weight import lightest_kg, weights_of
from nestyield.planning.candidates import Candidate
from nestyield.planning.demand import Demand
from nestyield.planning.diagnose import too_small
from nestyield.planning.laminated_blank import LayerCut, laminated_blank
from nestyield.planning.lay_parts import LayoutContext
from nestyield.planning.layer_depths import MOST_DIVISIONS, Spans, divisions_of, limits_of
from nestyield.planning.workers import Job
from nestyield.planning.worth import board_feet, left_value, value_of

#: Layers are placed so often for one part at the most, and so often more for each copy wanted.
MOST_ASKED, MOST_ASKED_PER_COPY = 400, 50
#: Sets of pieces that are found for one part, and for each copy wanted.
FOUND, FOUND_PER_COPY = 4, 2
#: Layers of a part with a cap where nothing else is laminated.
WITH_CAP = 2


def most_layers(part: Part, settings: Settings) -> int:
    """Return of how many layers a part may be made; 1 where it may not be laminated.

    Parameters
    ----------
    part : Part
    settings : Settings
    """
    if part.grain_deg is None or part.book_match or part.strips == "only" or not part.glue:
        return 1
    most = settings.glueup.most_layers
    return max(most, WITH_CAP) if part.cap else most


@dataclass(slots=True, kw_only=True)
class LayerSearch:
    """What is known about the layers of one want.

    Parameters
    ----------
    job : Job
    want : int
    """

    job: Job
    want: int
    asked: int = 0
    cut_short: bool = False
    known: dict[Hashable, Placement | None] = field(default_factory=dict)

    @property
    def shop(self) -> Shop:
        """Shop of the job."""
        return self.job.shop

    @property
    def part(self) -> Part:
        """Part of the want."""
        return self.shop.part(self.job.demands[self.want].part)

    @property
    def most_asked(self) -> int:
        """How often layers are placed at the most."""
        return MOST_ASKED + MOST_ASKED_PER_COPY * self.job.demands[self.want].count

    def place(self, cut: LayerCut) -> Placement | None:
        """Return where a layer lies on its piece."""
        piece = self.shop.pieces[cut.row]
        layer = StackLayer(top_mm=0.0, bottom_mm=cut.high - cut.low, off_top_mm=cut.first)
        leaf, part = leaf_of(piece, layer.of_piece), slice_of(self.part, cut.low, cut.high)
        if not leaf.defects:
            key: Hashable = cut.row
        elif all(d.depth_mm is None for d in leaf.defects):  # only what goes through takes them away
            key = (cut.row, leaf.defects, tuple(z.goes_through(part.thickness_mm) for z in part.zones))
        else:
            key = (cut.row, leaf.defects, repr(part.zones), part.thickness_mm)
        if key not in self.known:
            if self.asked >= self.most_asked:
                self.cut_short = True
                return None
            self.asked += 1
            self.known[key] = place_part(part, blank_of(leaf), self.shop.settings).placement
        return self.known[key]


def laminated(job: Job) -> tuple[tuple[Candidate, ...], int]:
    """Return laminated blanks for all wants that may have them, and for how many of these not all was tried.

    Parameters
    ----------
    job : Job
    """
    found: list[Candidate] = []
    left = 0
    for want, demand in enumerate(job.demands):
        if most_layers(job.shop.part(demand.part), job.shop.settings) > 1:
            search = LayerSearch(job=job, want=want)
            found += _for_want(search, demand)
            left += search.cut_short
    return tuple(found), left


def _for_want(search: LayerSearch, demand: Demand) -> list[Candidate]:
    """Return blanks of the cheapest sets of rows: all with the usual depths of glue lines first, then with others."""
    found: dict[tuple[int, ...], Candidate] = {}
    sets, most = _sets(search), FOUND + FOUND_PER_COPY * demand.count
    for divisions in (1, MOST_DIVISIONS):
        here = 0
        for k, rows in enumerate(sets):
            if search.cut_short or here >= most:
                # with other depths only what is cheaper than all that was found is of interest
                sets = sets[:k] if divisions == 1 else sets
                break
            if rows in found:
                continue
            made = _made(search, rows, divisions)
            if made is not None:
                found[rows] = made
                here += 1
    return list(found.values())


def _sets(search: LayerSearch) -> list[tuple[int, ...]]:
    """Return the rows of the layers of a part, top first, that wood and thickness allow, the cheapest first."""
    shop, part = search.shop, search.part
    settings = shop.settings
    cost = {row: value_of(piece, settings) for row, piece in enumerate(shop.pieces)}
    caps = [r for r in cost if part.cap and may_be_layer(shop, part, r, part.cap)]
    cores = [r for r in cost if may_be_layer(shop, part, r, part.species)]
    out: list[tuple[int, ...]] = []
    for n in range(2, most_layers(part, settings) + 1):
        if part.cap:
            under = itertools.combinations_with_replacement(cores, n - 1)
            some: Iterator[tuple[int, ...]] = ((cap, *rest) for rest in under for cap in caps)
        else:
            some = itertools.combinations_with_replacement(cores, n)
        out += [rows for rows in some if _go_together(shop, part, rows)]
    rules = settings.glueup
    return sorted(out, key=lambda rows: (sum(cost[r] for r in rows) + rules.layer_cost * len(rows), rows))


def may_be_layer(shop: Shop, part: Part, row: int, woods: Sequence[str]) -> bool:
    """Tell whether a row may be a layer of a part, as far as wood, thickness and size tell.

    Parameters
    ----------
    shop : Shop
    part : Part
    row : int
    woods : sequence of str
        Any of these serve; empty: any.
    """
    piece, settings = shop.pieces[row], shop.settings
    if piece.status != "ready" or piece.count < 1 or piece.grain_deg is None:
        return False
    if piece.seams or piece.measured_mm or (woods and piece.species not in woods):
        return False
    alone = (
        piece.thickness_mm - 2 * settings.planing_mm >= part.thickness_mm - settings.thickness_tolerance_mm
    )
    if alone and not part.cap:
        return False
    return too_small(part, blank_of(piece), settings) is None


def _go_together(shop: Shop, part: Part, rows: Sequence[int]) -> bool:
    """Tell whether there is a copy for each layer, and thickness, wood and moisture allow it in some order."""
    rules = shop.settings.glueup
    pieces = [shop.pieces[r] for r in rows]
    if any(n > shop.pieces[r].count for r, n in Counter(rows).items()):
        return False
    if not part.cap:
        if len({p.species for p in pieces}) > 1 and not rules.mixed_species:
            return False
        if rules.one_board and len({p.board for p in pieces}) > 1:
            return False
    elif len({p.species for p in pieces[1:]}) > 1 and not rules.mixed_species:
        return False
    if limits_of(part, pieces, shop.settings) is None:
        return False
    return any(_moisture_allows(some, rules.moisture_difference) for some in _orders(part, pieces))


def _orders(part: Part, pieces: Sequence[Piece]) -> Iterator[tuple[Piece, ...]]:
    """Give the ways to stack pieces; a cap stays on top."""
    if part.cap:
        yield from ((pieces[0], *rest) for rest in itertools.permutations(pieces[1:]))
    else:
        yield from itertools.permutations(pieces)


def _moisture_allows(pieces: Sequence[Piece], most: float) -> bool:
    return all(
        a.moisture_pct is None or b.moisture_pct is None or abs(a.moisture_pct - b.moisture_pct) <= most
        for a, b in itertools.pairwise(pieces)
    )


def _made(search: LayerSearch, rows: Sequence[int], divisions: int) -> Candidate | None:
    """Return a blank of these rows in the first order, and the first of some divisions, in which all layers hold theirs."""
    shop, part = search.shop, search.part
    rules = shop.settings.glueup
    tops = rows[:1] if part.cap else ()
    rest = rows[len(tops) :]
    for order in dict.fromkeys(itertools.permutations(rest)):
        stack = (*tops, *order)
        pieces = [shop.pieces[r] for r in stack]
        if not _moisture_allows(pieces, rules.moisture_difference):
            continue
        for spans in itertools.islice(divisions_of(part, pieces, shop.settings), divisions):
            layers = _placed(search, stack, spans)
            made = None if layers is None else _candidate(search, stack, layers)
            if made is not None:
                return made
    return None


def _placed(
    search: LayerSearch, rows: Sequence[int], depths: Spans
) -> list[tuple[LayerCut, Placement]] | None:
    """Return how each layer is cut from its piece and where the part lies on it; None where one has no place."""
    out = []
    for k, (row, (low, high)) in enumerate(zip(rows, depths, strict=True)):
        firsts = _firsts(search.shop.pieces[row], high - low, search.shop.settings, k, len(rows))
        cuts = (LayerCut(row=row, low=low, high=high, first=first) for first in firsts)
        found = next(((cut, at) for cut in cuts if (at := search.place(cut)) is not None), None)
        if found is None:
            return None
        out.append(found)
    return out


def _firsts(piece: Piece, thick: float, settings: Settings, k: int, count: int) -> list[float]:
    """Return how deep in a piece the finished wood of a layer may begin: what is over comes off glued faces first."""
    low = settings.planing_mm
    high = max(low, piece.thickness_mm - settings.planing_mm - thick)
    middle = (low + high) / 2
    order = (low, high) if k == 0 else (high, low) if k == count - 1 else (middle, low, high)
    return list(dict.fromkeys(round(v, 6) for v in order))


def _candidate(
    search: LayerSearch, rows: Sequence[int], layers: Sequence[tuple[LayerCut, Placement]]
) -> Candidate | None:
    shop, want = search.shop, search.want
    settings, part = shop.settings, search.part
    pieces = [shop.pieces[r] for r in rows]
    made = laminated_blank(pieces, layers, part, settings)
    if made is None:
        return None
    blank, placement = made
    laid = ((want, placement),)
    bench = LayoutContext(shop=shop, demands=search.job.demands, blank=blank)
    if shop.beds and not any(s.is_usable for s in bench.setups(laid)):
        return None
    by_name = {p.name: p for p in pieces}
    pairs = [(part, placement)]
    if part.weight is not None and part.weight.is_range:
        kg = weights_of(blank, pairs, by_name, settings.own_woods)[0].kg
        low, high = part.weight.least_kg, part.weight.most_kg
        if kg is None or (low is not None and kg < low) or (high is not None and kg > high):
            return None
    back = feet = 0.0
    for member, piece in zip(blank.members, pieces, strict=True):
        for rest in rests_of(blank, member, piece, settings):
            back += left_value(blank_of(piece), rest.shape, piece.thickness_mm, [piece], settings)
            feet += board_feet(rest.area_mm2, piece.thickness_mm)
    return Candidate(
        rows=tuple(rows),
        made=tuple(int(w == want) for w in range(len(search.job.demands))),
        laid=laid,
        value=sum(value_of(p, settings) for p in pieces),
        back=back,
        used_up=sum(board_feet(p.shape.area_mm2, p.thickness_mm) for p in pieces) - feet,
        seams_mm=0.0,
        blank=blank,
        lightest_kg=lightest_kg(blank, pairs, by_name, settings.own_woods),
    )
