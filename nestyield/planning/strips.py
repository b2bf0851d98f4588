"""Parts from strips on edge: which boards, how many strips of each, and how they stand side by side."""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Hashable, Iterator, Sequence
from dataclasses import dataclass, field, replace

from nestyield.glueup.strip_rules import barred, rules_for
from nestyield.model import (
    Blank,
    Member,
    Outline,
    Part,
    Piece,
    Placement,
    Purchase,
    Settings,
    Shape,
    Shop,
)
from nestyield.model.arcs import box_of
from nestyield.model.pose import Pose
from nestyield.placement.constraint import Constraint
from nestyield.placement.single import place_part
from nestyield.placement.weight import lightest_kg
from nestyield.planning.candidates import Candidate
from nestyield.planning.demand import Demand
from nestyield.planning.laminated_blank import ROOM_MM
from nestyield.planning.lay_parts import BedTaker, LayoutContext
from nestyield.planning.purchases import round_up
from nestyield.planning.saw_first import STEP_UM, SawnFirst
from nestyield.planning.seams import seams_under
from nestyield.planning.strip_blank import Lies, RippedStrip, glued_um, strip_blank
from nestyield.planning.strip_cuts import (
    Corners,
    Saw,
    box_um,
    flaw_um,
    may_be_ripped,
    most_strips,
    sawn_to,
    ways_to_rip,
)
from nestyield.planning.workers import Job
from nestyield.planning.worth import board_feet, value_of

#: Strips in one blank, rows that these are of, and rows that are looked at, the cheapest first.
MOST_STRIPS, MOST_ROWS, MOST_LOOKED_AT = 12, 3, 24
#: Sets of strips that are tried for one part and found for it, and so many more for each copy wanted.
TRIED, FOUND, PER_COPY = 60, 4, 2
#: Ways to stand the same strips that are tried, and places of flawed ones that are looked at for moisture alone.
MOST_STANDS, MOST_PLACES = 48, 2_000
#: Blanks on which one part is laid at the most, and so many more for each copy wanted.
MOST_LAID, MOST_LAID_PER_COPY = 400, 50
#: A seam is so wide for the rules about seams, millimeters.
_SEAM_MM = 0.02
_FAR_MM = 1.0e4


@dataclass(frozen=True, slots=True, kw_only=True)
class StripSet:
    """How many strips of which rows.

    Parameters
    ----------
    strips : tuple of (int, int)
        Row and number, rows in rising order.
    cost : float
        About what it costs.
    """

    strips: tuple[tuple[int, int], ...]
    cost: float


@dataclass(slots=True, kw_only=True)
class StripSearch:
    """What is known about the strips of one want.

    Parameters
    ----------
    job : Job
    want : int
    """

    job: Job
    want: int
    tried: int = 0
    cut_short: bool = False
    known: dict[Hashable, Placement | None] = field(default_factory=dict)
    long_um: int = field(init=False)
    room_um: int = field(init=False)
    across_um: int = field(init=False)
    wide_um: int = field(init=False)

    def __post_init__(self) -> None:
        settings = self.shop.settings
        box = box_of(self.part.outline, Pose(angle_deg=-(self.part.grain_deg or 0.0)))
        around = 2.0 * settings.blank_margin_mm
        self.long_um = math.ceil(1000 * (box.width + around) - 1e-6)
        step = STEP_UM[self.shop.units]
        self.room_um = math.ceil(math.ceil((self.long_um + 2000 * ROOM_MM) / step) * step)
        self.across_um = math.ceil(1000 * (box.height + around) - 1e-6)
        self.wide_um = math.ceil(1000 * (self.part.thickness_mm + 2.0 * settings.planing_mm) - 1e-6)

    @property
    def shop(self) -> Shop:
        """Shop of the job."""
        return self.job.shop

    @property
    def part(self) -> Part:
        """Part of the want."""
        return self.shop.part(self.job.demands[self.want].part)

    def saw(self, long_um: int) -> Saw:
        """Return what is asked of the boards for strips of some length."""
        kerf = math.ceil(1000 * self.shop.settings.machines.saw_kerf_mm - 1e-6)
        return Saw(long_um=long_um, wide_um=self.wide_um, kerf_um=kerf)


def on_edge(job: Job) -> tuple[tuple[Candidate, ...], int]:
    """Return blanks of strips for all wants that may have them, and for how many of these not all was tried.

    Parameters
    ----------
    job : Job
    """
    found: list[Candidate] = []
    left = 0
    for want, demand in enumerate(job.demands):
        if may_be_strips(job.shop.part(demand.part)):
            search = StripSearch(job=job, want=want)
            found += _for_want(search, demand)
            left += search.cut_short
    return tuple(found), left


def may_be_strips(part: Part) -> bool:
    """Tell whether a part may be cut from strips on edge."""
    return part.strips != "no" and part.glue and part.grain_deg is not None


def _for_want(search: StripSearch, demand: Demand) -> list[Candidate]:
    found: dict[tuple[int, ...], Candidate] = {}
    most = FOUND + PER_COPY * demand.count
    for some in _with_own_rows_first(_sets(search)):
        if len(found) >= most or search.tried >= TRIED + PER_COPY * demand.count:
            search.cut_short |= len(found) < most
            break
        search.tried += 1
        made = _made(search, some)
        if made is not None:
            found.setdefault(made.rows, made)
    return list(found.values())


def _sets(search: StripSearch) -> list[StripSet]:
    """Return the sets of strips that are wide enough together, no more than one more than needed, cheapest first."""
    shop, settings = search.shop, search.shop.settings
    saw = search.saw(search.long_um)
    rows = [
        (row, n)
        for row, piece in enumerate(shop.pieces)
        if may_be_ripped(search.part, piece, settings) and (n := most_strips(piece, saw)) > 0
    ]
    rows.sort(key=lambda r: (value_of(shop.pieces[r[0]], settings), r[0]))
    search.cut_short |= len(rows) > MOST_LOOKED_AT
    each = dict(rows[:MOST_LOOKED_AT])
    out = []
    for k in range(1, MOST_ROWS + 1):
        for some in itertools.combinations(sorted(each), k):
            if _go_together(shop, search.part, some):
                for counts in _counts(search, some, each):
                    out.append(_costed(search, tuple(zip(some, counts, strict=True)), each, saw))
    return sorted(out, key=lambda s: (s.cost, s.strips))


def _go_together(shop: Shop, part: Part, rows: Sequence[int]) -> bool:
    rules, pieces = shop.settings.glueup, [shop.pieces[r] for r in rows]
    if len({p.species for p in pieces}) > 1 and not rules.mixed_species:
        return False
    if rules.one_board and len({p.board for p in pieces}) > 1:
        return False
    return _moisture_joins(pieces, rules.moisture_difference)


def _moisture_joins(pieces: Sequence[Piece], most: float) -> bool:
    """Tell whether the boards of a set may stand in some row, each near enough in moisture to those beside it."""
    joined, left = list(pieces[:1]), list(pieces[1:])
    while left:
        near = [p for p in left if any(_moisture_allows((p, other), most) for other in joined)]
        if not near:
            return False
        joined += near
        left = [p for p in left if p not in near]
    return True


def _counts(search: StripSearch, rows: Sequence[int], each: dict[int, int]) -> Iterator[tuple[int, ...]]:
    """Give numbers of strips of each row that are wide enough together; without any one but the last they are not."""
    shop = search.shop
    thick = [glued_um(shop.pieces[r], shop.settings) for r in rows]
    single = shop.settings.glueup.one_board
    most = [min(MOST_STRIPS, each[r] * (1 if single else shop.pieces[r].count)) for r in rows]
    for first in itertools.product(*(range(1, n + 1) for n in most[:-1])):
        short = search.across_um - sum(n * t for n, t in zip(first, thick))
        if short <= 0:
            continue
        needed = max(1, math.ceil(short / thick[-1]), 2 - sum(first))
        over = needed * thick[-1] - short
        if any(over >= t for t in thick[:-1]):
            continue
        for last in (needed, needed + 1):
            if last <= most[-1] and sum(first) + last <= MOST_STRIPS:
                yield (*first, last)


def _costed(
    search: StripSearch, strips: tuple[tuple[int, int], ...], each: dict[int, int], saw: Saw
) -> StripSet:
    """Return a set with about what it costs: stock less what is left of it, joints, saw cuts."""
    settings = search.shop.settings
    cost = -settings.glueup.joint_cost
    for row, n in strips:
        piece = search.shop.pieces[row]
        copies = -(-n // each[row])
        used = n * saw.long_um * (saw.wide_um + saw.kerf_um) / (1e6 * piece.shape.area_mm2)
        value = value_of(piece, settings)
        cost += copies * value - settings.leftover_worth * value * max(0.0, copies - used)
        cost += settings.glueup.joint_cost * n + settings.machines.saw_cut_cost * (n + copies)
    return StripSet(strips=strips, cost=cost)


def _with_own_rows_first(sets: Sequence[StripSet]) -> list[StripSet]:
    """Return sets with those before all others that share no row with a cheaper one of these."""
    used: set[int] = set()
    own = []
    for one in sets:
        rows = {r for r, _ in one.strips}
        if not rows & used:
            own.append(one)
            used |= rows
    return [*own, *(s for s in sets if s not in own)]


def _made(search: StripSearch, some: StripSet) -> Candidate | None:
    """Return a blank of a set in the first way in which its strips hold the part, with room for pins where there is."""
    pieces = search.shop.pieces
    boxes = [box_um(pieces[r]) for r, _ in some.strips]
    longest = min(search.room_um, *(b[2] - b[0] for b in boxes))
    # chords of round edges lie outside: a little more wood than the part is long may be needed
    chords = min(longest, search.long_um + math.ceil(2000 * search.shop.settings.chord_error_mm))
    for long_um in dict.fromkeys((longest, chords, search.long_um)):
        saw = search.saw(long_um)
        for ways in _ripped(search, some, saw):
            strips = [s for board in ways for s in _strips_of(board, saw)]
            for k, (order, lies) in enumerate(_stands(search, strips)):
                if k == MOST_STANDS:
                    search.cut_short = True
                    break
                made = _candidate(search, ways, order, lies, saw)
                if made is not None:
                    return made
    return None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Board:
    """One copy of a row, and where its strips are ripped."""

    row: int
    copy: int
    corners: Corners


def _ripped(search: StripSearch, some: StripSet, saw: Saw) -> Iterator[list[_Board]]:
    """Give ways to rip the boards of a set: the best of each board, then the next ones of all."""
    options: list[list[list[_Board]]] = []
    for row, n in some.strips:
        piece = search.shop.pieces[row]
        most = most_strips(piece, saw)
        if most == 0:
            return
        counts = [most] * (n // most) + ([n % most] if n % most else [])
        each = []
        for count in counts:
            ways = ways_to_rip(piece, saw, count)
            if not ways:
                return
            each.append(ways)
        options.append(
            [
                [
                    _Board(row=row, copy=k + 1, corners=ways[min(rank, len(ways) - 1)][0])
                    for k, ways in enumerate(each)
                ]
                for rank in range(max(len(w) for w in each))
            ]
        )
    for rank in range(min(6, max(len(o) for o in options))):
        yield [board for o in options for board in o[min(rank, len(o) - 1)]]


def _strips_of(board: _Board, saw: Saw) -> list[RippedStrip]:
    return [
        RippedStrip(row=board.row, copy=board.copy, low_um=c, long_um=saw.long_um, wide_um=saw.wide_um)
        for c in board.corners
    ]


def _stands(
    search: StripSearch, strips: Sequence[RippedStrip]
) -> Iterator[tuple[tuple[RippedStrip, ...], tuple[Lies, ...]]]:
    """Give orders of strips from the lower edge up, and how each lies: alike about the middle first.

    A strip with a defect stands in every place and lies in all four ways; the others all lie one way.
    """
    pieces = search.shop.pieces
    flawed = {s: bool(_flaws(pieces[s.row], s)) for s in strips}
    clean = [s for s in strips if not flawed[s]]
    marked = [s for s in strips if flawed[s]]
    limit = search.shop.settings.glueup.moisture_difference
    ways: list[Lies] = [(False, False), (False, True), (True, False), (True, True)]
    for rows in _row_orders(clean):
        bases = _taken_in(rows, clean)
        every = itertools.permutations(range(len(strips)), len(marked))
        for k, places in enumerate(every):
            if k == MOST_PLACES:
                search.cut_short = True
                break
            order: list[RippedStrip] = list(bases)
            for place, strip in sorted(zip(places, marked), key=lambda p: p[0]):
                order.insert(place, strip)
            if not _moisture_allows([pieces[s.row] for s in order], limit):
                continue
            for lies in itertools.product(ways, repeat=len(marked)):
                how = dict(zip(marked, lies))
                yield tuple(order), tuple(how.get(s, (False, False)) for s in order)


def _flaws(piece: Piece, strip: RippedStrip) -> list[str]:
    (x, y), boxes = strip.low_um, [(d.name, flaw_um(d.shape)) for d in piece.defects]
    end, edge = x + strip.long_um, y + strip.wide_um
    return [name for name, b in boxes if b[2] > x and b[0] < end and b[3] > y and b[1] < edge]


def _row_orders(strips: Sequence[RippedStrip]) -> list[tuple[int, ...]]:
    """Return orders of the rows of strips: alike about the middle, then others."""
    counts = Counter(s.row for s in strips)
    half = [row for row, n in counts.items() for _ in range(n // 2)]
    odd = [row for row, n in counts.items() if n % 2]
    first = (*half, *odd, *reversed(half))
    plain = tuple(s.row for s in strips)
    more = itertools.islice(itertools.permutations(plain), 24) if len(counts) > 1 else iter(())
    return list(dict.fromkeys((first, plain, tuple(reversed(plain)), *more)))


def _taken_in(rows: Sequence[int], strips: Sequence[RippedStrip]) -> list[RippedStrip]:
    left = list(strips)
    out = []
    for row in rows:
        strip = next(s for s in left if s.row == row)
        left.remove(strip)
        out.append(strip)
    return out


def _moisture_allows(pieces: Sequence[Piece], most: float) -> bool:
    return all(
        a.moisture_pct is None or b.moisture_pct is None or abs(a.moisture_pct - b.moisture_pct) <= most
        for a, b in itertools.pairwise(pieces)
    )


def _laid(bench: LayoutContext, want: int) -> Placement | None:
    """Return where the part lies, its grain along the strips, seams where they may run, on a bed that takes it."""
    part, settings = bench.part(want), bench.shop.settings
    alone = replace(bench.blank, members=(Member(piece="strips", copy=1),), seams=())
    taker = BedTaker(bench=bench, laid=(), want=want) if bench.shop.beds else None
    if taker is not None and not taker.in_one_go:
        return None
    half = _SEAM_MM / 2.0
    seams = [
        Shape(outer=Outline.rectangle(-_FAR_MM, y - half, _FAR_MM, y + half))
        for seam in bench.blank.seams
        for y in (seam.line_mm[0][1],)
    ]
    constraints = [
        Constraint(name=name, piece="strips", part=part.name, fixed=fixed, moving=moving)
        for name, moving in barred(part, rules_for(bench.blank, settings))
        for fixed in seams
    ]
    return place_part(
        replace(part, grain_tolerance_deg=0.0),
        alone,
        settings,
        accept=None if taker is None else taker.takes,
        allowed=None if taker is None else taker.allowed,
        limit=0,
        constraints=constraints,
    ).placement


def _candidate(
    search: StripSearch,
    boards: Sequence[_Board],
    strips: Sequence[RippedStrip],
    lies: Sequence[Lies],
    saw: Saw,
) -> Candidate | None:
    shop, settings = search.shop, search.shop.settings
    blank = strip_blank(shop.pieces, strips, lies, settings)
    bench = LayoutContext(shop=shop, demands=search.job.demands, blank=blank)
    key = (blank.shape, blank.seams, blank.defects)
    if key not in search.known:
        if len(search.known) >= MOST_LAID + MOST_LAID_PER_COPY * search.job.demands[search.want].count:
            search.cut_short = True
            return None
        search.known[key] = _laid(bench, search.want)
    at = search.known[key]
    if at is None:
        return None
    at = replace(at, order="", copy=1)
    laid = ((search.want, at),)
    if shop.beds and not any(s.is_usable for s in bench.setups(laid)):
        return None
    return _costs(search, blank, boards, at, saw)


def _costs(search: StripSearch, blank: Blank, boards: Sequence[_Board], at: Placement, saw: Saw) -> Candidate:
    """Return a blank of strips with what it takes, and what of its boards comes back."""
    shop, settings = search.shop, search.shop.settings
    of_copy = {(shop.pieces[b.row].name, b.copy): b for b in boards}
    in_order = [of_copy[copy] for copy in blank.copies]
    sawn: list[SawnFirst | None] = []
    back = feet = 0.0
    for board in in_order:
        piece = shop.pieces[board.row]
        first = sawn_to(piece, board.corners, saw, settings)
        sawn.append(first)
        back += sum(r.value for r in first.rests)
        feet += sum(board_feet(r.area_mm2, piece.thickness_mm) for r in first.rests if r.usable)
    taken = [shop.pieces[b.row] for b in in_order]
    pairs = [(search.part, at)]
    return Candidate(
        rows=tuple(b.row for b in in_order),
        made=tuple(int(w == search.want) for w in range(len(search.job.demands))),
        laid=((search.want, at),),
        value=sum(value_of(p, settings) for p in taken),
        back=back,
        used_up=sum(board_feet(p.shape.area_mm2, p.thickness_mm) for p in taken) - feet,
        seams_mm=sum(s.length_mm for s in seams_under(blank, pairs, settings)),
        blank=blank,
        crosscuts=tuple(sawn),
        lightest_kg=lightest_kg(blank, pairs, {p.name: p for p in taken}, settings.own_woods),
    )


def board_for_strips(
    shop: Shop, demands: tuple[Demand, ...], want: int, missing: int, order: str
) -> Purchase | None:
    """Return a board, one for each missing copy, that a part is made of in strips; None where none helps.

    It is as thick as the strips are wide, so that they are square, and is tried.

    Parameters
    ----------
    shop : Shop
    demands : tuple of Demand
    want : int
    missing : int
        Copies.
    order : str
        Its name.
    """
    job = Job(shop=shop, demands=demands, effort=0, seed=0)
    search = StripSearch(job=job, want=want)
    part, settings = search.part, shop.settings
    thick = round_up(search.wide_um / 1000, shop.units)
    planed = round(1000 * (thick - 2.0 * settings.planing_mm))
    if planed <= 0 or not may_be_strips(part):
        return None
    least = max(2, math.ceil(search.across_um / planed))
    saw = search.saw(search.long_um)
    for n in (least, least + 1):
        wide = (n * saw.wide_um + (n - 1) * saw.kerf_um) / 1000
        size = (round_up(saw.long_um / 1000, shop.units), round_up(wide, shop.units))
        piece = Piece(
            name="board to buy",
            species=part.species[0] if part.species else "",
            thickness_mm=thick,
            shape=Shape(outer=Outline.rectangle(0.0, 0.0, *size)),
        )
        bare: Settings = replace(settings, glueup=replace(settings.glueup, one_board=False))
        alone = StripSearch(job=replace(job, shop=replace(shop, pieces=(piece,), settings=bare)), want=want)
        if any(_made(alone, some) is not None for some in _sets(alone)):
            return Purchase(
                order=order,
                count=missing,
                species=part.species,
                thickness_mm=thick,
                length_mm=size[0],
                width_mm=size[1],
                board_feet=missing * board_feet(size[0] * size[1], thick),
            )
    return None
