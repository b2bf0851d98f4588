"""The pool: for each row of the rack, layouts that it could carry."""

from __future__ import annotations

import math
import time
import zlib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import permutations, product

import numpy as np

from nestyield.model import Blank, Part, Piece, Placement, Settings, Shop
from nestyield.model.facts import NotBookMatched, NotLaminated, NotOnEdge, Refusal, WrongSpecies
from nestyield.placement.leftovers import usable_shapes
from nestyield.placement.stock import blank_of, block_of, unsuitable
from nestyield.placement.weight import lightest_kg
from nestyield.planning.demand import Demand
from nestyield.planning.diagnose import too_small
from nestyield.planning.keep_clear import kept_clear
from nestyield.planning.lay_parts import Laid, LayoutContext
from nestyield.planning.resaw import OnLeaf, may_be_resawn, resawn
from nestyield.planning.saw_first import SawnFirst, mixtures, out_of_reach, sawn_layouts
from nestyield.planning.seams import seams_under
from nestyield.planning.workers import Job
from nestyield.planning.worth import back_value, board_feet, left_thickness_mm, share_of, value_of

#: Parts are laid in so many random orders at the most beside the fixed ones: the search of ``denser`` is better.
MOST_RANDOM_ORDERS = 3
#: So many parts, not all alike, are laid in every order: one may fit only beside where another comes to lie.
MOST_ALL_ORDERS = 3
#: So much of the time that is left one row may take.
ROW_SHARE = 0.3
#: A full layout gives all its subsets as candidates up to this many, else only its beginnings.
MOST_SUBSETS = 48


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """One way to use one copy of a rack row, or of several that are glued up.

    Parameters
    ----------
    rows : tuple of int
        Indices of the pieces in the shop, one for each copy used; a row that is used twice stands twice.
    made : tuple of int
        Copies of each want that it makes.
    laid : tuple of (int, Placement)
        Wants and where they lie, names of order and copy not yet given.
    value : float
        Of the copies taken.
    back : float
        Of the usable leftovers.
    used_up : float
        Wood taken and not given back as usable leftovers, board feet.
    seams_mm : float
        Length of seams under the parts.
    blank : Blank or None
        A glue-up, its members in the order of ``rows`` and numbered as copies 1; None for the piece itself.
    sawn : SawnFirst or None
        The piece is sawn into blanks first, and ``laid`` is empty: each blank has its own.
    lightest_kg : float
        What the parts weigh together that are to be as light as can be.
    leaves : SawnFirst or None
        How the piece is resawn into the two leaves that the blank is book matched of.
    crosscuts : tuple of SawnFirst or None
        How each of ``rows`` is crosscut before gluing, its block being what the members are of; None for a copy that
        goes in whole. Empty where none is crosscut.
    sections : bool
        No bed takes the piece, or a blank sawn off it, with its parts in one go, only in sections.
    """

    rows: tuple[int, ...]
    made: tuple[int, ...]
    laid: Laid
    value: float
    back: float = 0.0
    used_up: float
    seams_mm: float
    blank: Blank | None = None
    sawn: SawnFirst | None = None
    lightest_kg: float = 0.0
    leaves: SawnFirst | None = None
    crosscuts: tuple[SawnFirst | None, ...] = ()
    sections: bool = False

    @property
    def resaws(self) -> int:
        """Cuts at the resaw."""
        first = self.sawn or self.leaves
        return 0 if first is None or first.resaw is None else len(first.resaw.cuts)

    @property
    def saw_cuts(self) -> int:
        """Cuts at the saw before the bed, those between members of a glue-up left out."""
        return sum(len(first.cuts) for first in (self.sawn, *self.crosscuts) if first is not None)

    @property
    def whole(self) -> bool:
        """Whether its parts lie on the piece as it stands on the rack."""
        return self.blank is None and self.sawn is None

    @property
    def joints(self) -> int:
        """Joints that are made for it."""
        return 0 if self.blank is None else len(self.blank.seams)

    @property
    def faces(self) -> int:
        """Glue lines between the layers of a laminated blank."""
        return 0 if self.blank is None or not self.blank.stack else len(self.blank.stack) - 1

    @property
    def sawn_apart(self) -> int:
        """Members beyond the first out of each copy: wood that is sawn apart to be glued to itself."""
        if self.blank is None or self.leaves is not None or self.blank.on_edge:
            return 0
        return len(self.blank.members) - len(self.blank.copies)


def net_value(candidate: Candidate, settings: Settings) -> float:
    """Return what a candidate costs: what it takes less what comes back, as far as that counts, joints and cuts."""
    rules = settings.glueup
    joints = rules.joint_cost * candidate.joints + rules.layer_cost * candidate.faces
    machines = settings.machines
    work = joints + machines.saw_cut_cost * candidate.saw_cuts + machines.resaw_cost * candidate.resaws
    return candidate.value - settings.leftover_worth * candidate.back + work


@dataclass(frozen=True, slots=True, kw_only=True)
class RowAnswer:
    """All that was found for one row.

    Parameters
    ----------
    candidates : tuple of Candidate
    refusals : tuple of (int, Refusal)
        Demand and reason, for each want that does not go on the row even alone.
    """

    candidates: tuple[Candidate, ...]
    refusals: tuple[tuple[int, Refusal], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TimedAnswer:
    """An answer about a row, and why no more was looked for.

    Parameters
    ----------
    answer : RowAnswer
    stopped : {"bound", "effort", "seconds"}
        Nothing better can be; the effort was spent; the time was.
    """

    answer: RowAnswer
    stopped: str


def try_row(job: Job, row: int, asked: Sequence[int], end: float = math.inf) -> TimedAnswer:
    """Return the layouts that one row could carry, and why it refuses what it refuses.

    Parameters
    ----------
    job : Job
        Its effort is the number of random orders tried, up to a few, beside the fixed ones when several parts
        go on the piece; the answer depends on its seed and on the piece, not on the piece's name, row or process.
    row : int
        Index into the shop's pieces.
    asked : sequence of int
        The wants to try, see `may_serve`.
    end : float
        When the run ends at the latest, on the monotonic clock. A row takes only a share of the time until then;
        each want by itself is always tried.
    """
    now = time.monotonic()
    until = now + ROW_SHARE * (end - now)

    shop, demands = job.shop, job.demands
    piece = shop.pieces[row]
    bench = LayoutContext(shop=shop, demands=demands, blank=blank_of(piece))
    refusals: list[tuple[int, Refusal]] = []
    alone: dict[int, Laid] = {}
    for index in asked:
        laid, refusal = None, refused_at_once(shop, bench.part(index), piece)
        if refusal is None:
            laid, refusal = bench.add((), index)
        if laid is not None:
            alone[index] = laid
        if refusal is not None:
            refusals.append((index, refusal))
    rng = np.random.default_rng(seed_of(job, piece))
    found = candidates_of(bench, row, full_layouts(bench, alone, rng, job.effort, until))
    sawn = sawn_first(bench, row, asked, found) if time.monotonic() < until else ()
    sawn = (*sawn, *resawn_candidates(job, bench, row, asked, until))
    if any(bench.part(w).book_match for w in asked):
        from nestyield.planning.book_match import book_matches  # its candidates are made here

        sawn = (*sawn, *book_matches(bench, piece, row, asked))
    served = {w for c in sawn for w, n in enumerate(c.made) if n}
    refusals = [(w, why) for w, why in refusals if w not in served]
    found = (*found, *sawn)
    late = time.monotonic() >= until
    answer = RowAnswer(candidates=found, refusals=tuple(refusals))
    return TimedAnswer(answer=answer, stopped="seconds" if late else "effort")


def candidates_of(bench: LayoutContext, row: int, layouts: Iterable[Laid]) -> tuple[Candidate, ...]:
    """Return layouts of a row, and what is left of each when parts are taken off, one for each mixture."""
    found: dict[tuple[int, ...], Laid] = {}
    for full in layouts:
        for laid in subsets(full):
            made = tuple(sum(i == w for i, _ in laid) for w in range(len(bench.demands)))
            found.setdefault(made, laid)
    return tuple(
        candidate_of(bench, row, made, kept_clear(bench, laid)) for made, laid in sorted(found.items())
    )


def sawn_first(
    bench: LayoutContext, row: int, asked: Sequence[int], whole: Sequence[Candidate]
) -> tuple[Candidate, ...]:
    """Return what a row could carry sawn into blanks first, where the whole of it carries less of some want in one go."""
    at_once = [c for c in whole if not c.sections]
    most = {w: max((c.made[w] for c in at_once), default=0) for w in asked}
    more = [
        w
        for w in asked
        if refused_at_once(bench.shop, bench.part(w), bench.shop.pieces[row]) is None
        if most[w] < min(bench.demands[w].count, most_copies(bench.shop, bench.demands[w], row))
        if out_of_reach(bench, w)
    ]
    if not more:
        return ()
    have = {c.made for c in at_once}
    in_sections = {c.made for c in whole if c.sections}
    best: dict[tuple[int, ...], Candidate] = {}
    wanted = {tuple(some.count(w) for w in range(len(bench.demands))) for some in mixtures(bench, more)}
    for framed in (True, False):
        if not framed:
            have |= in_sections  # sections rather than a blank with no wood beside the cutter's path
        if wanted <= have | best.keys():
            break  # without wood all around, nothing would be better
        for sawn in sawn_layouts(bench, bench.shop.pieces[row], more, framed):
            made = tuple(sawn.wants.count(w) for w in range(len(bench.demands)))
            if made in have:
                continue
            found = _sawn_candidate(bench, row, made, sawn)
            if found.sections and made in in_sections:
                continue
            if made not in best or _net(found) < _net(best[made]):
                best[made] = found
    return tuple(best[made] for made in sorted(best))


def _net(candidate: Candidate) -> tuple[bool, bool, float, int]:
    assert candidate.sawn is not None
    cost = round(candidate.value - candidate.back, 6)
    return (candidate.sections, not candidate.sawn.framed, cost, len(candidate.sawn.cuts))


def _sawn_candidate(bench: LayoutContext, row: int, made: tuple[int, ...], sawn: SawnFirst) -> Candidate:
    """Return a piece sawn into blanks with what it takes and leaves."""
    shop = bench.shop
    piece, settings = shop.pieces[row], shop.settings
    blocks = []
    light = 0.0
    sections = False
    back = sum(rest.value for rest in sawn.rests)
    left = sum(board_feet(r.area_mm2, piece.thickness_mm) for r in sawn.rests if r.usable)
    for block in sawn.blocks:
        blank = block_of(piece, block.cut, name=piece.name)
        here = replace(bench, blank=blank)
        laid = kept_clear(here, block.laid)
        sections = sections or not here.in_one_go(laid)
        blocks.append(replace(block, laid=laid))
        placements = [(bench.part(w), p) for w, p in laid]
        light += lightest_kg(blank, placements, {piece.name: piece}, settings.own_woods)
        usable = usable_shapes(blank, placements, settings)
        back += back_value(blank, placements, usable, [share_of(piece, block.cut)], settings)
        thickness = left_thickness_mm(blank, [part for part, _ in placements])
        left += board_feet(sum(shape.area_mm2 for shape in usable), thickness)
    return Candidate(
        rows=(row,),
        made=made,
        laid=(),
        value=value_of(piece, settings),
        back=back,
        used_up=board_feet(piece.shape.area_mm2, piece.thickness_mm) - left,
        seams_mm=0.0,
        sawn=replace(sawn, blocks=tuple(blocks)),
        lightest_kg=light,
        sections=sections,
    )


def resawn_candidates(
    job: Job, bench: LayoutContext, row: int, asked: Sequence[int], until: float
) -> tuple[Candidate, ...]:
    """Return what a row could carry sawn into leaves, the cheapest way for each mixture of wants."""
    shop = job.shop
    piece = shop.pieces[row]
    wants = [w for w in asked if not bench.part(w).book_match and may_be_resawn(shop, bench.part(w), piece)]

    def on_leaf(leaf: Piece) -> list[OnLeaf]:
        here = replace(bench, shop=replace(shop, pieces=(leaf,)), blank=blank_of(leaf))
        alone: dict[int, Laid] = {}
        for w in wants:
            if refused_at_once(shop, bench.part(w), leaf) is None:
                laid, _ = here.add((), w)
                if laid is not None:
                    alone[w] = laid
        rng = np.random.default_rng(seed_of(job, leaf))
        feet = board_feet(leaf.shape.area_mm2, leaf.thickness_mm)
        return [
            OnLeaf(made=c.made, laid=c.laid, back=c.back, left=feet - c.used_up, lightest_kg=c.lightest_kg)
            for c in candidates_of(here, 0, full_layouts(here, alone, rng, job.effort, until))
        ]

    if time.monotonic() >= until:
        return ()
    feet = board_feet(piece.shape.area_mm2, piece.thickness_mm)
    return tuple(
        Candidate(
            rows=(row,),
            made=found.made,
            laid=(),
            value=value_of(piece, shop.settings),
            back=found.back,
            used_up=feet - found.left,
            seams_mm=0.0,
            sawn=found.sawn,
            lightest_kg=found.lightest_kg,
        )
        for found in resawn(bench, piece, wants, on_leaf)
    )


def seed_of(job: Job, piece: Piece, *more: int) -> list[int]:
    """Return what random choices about a piece start from: the job's seed and what the piece is."""
    wood = (piece.species, piece.thickness_mm, piece.shape, piece.grain_deg, piece.defects, piece.seams)
    told = repr(wood).replace(", start_mm=0.0", "")  # pieces of the rack have no other
    return [job.seed, zlib.crc32(told.encode()), *more]


def refused_at_once(shop: Shop, part: Part, piece: Piece) -> Refusal | None:
    """Return why a piece cannot serve a part, as far as wood, thickness, length and width tell."""
    unfit = unsuitable(part, piece, shop.settings)
    if part.book_match:
        return unfit if isinstance(unfit, WrongSpecies) else NotBookMatched(piece=piece.name)
    if part.strips == "only":
        wrong = part.species and piece.species not in part.species
        return WrongSpecies(piece=piece.name, species=piece.species) if wrong else NotOnEdge(piece=piece.name)
    if part.cap:
        if part.species and piece.species not in (*part.species, *part.cap):
            return WrongSpecies(piece=piece.name, species=piece.species)
        return NotLaminated(piece=piece.name)
    return unfit or too_small(part, blank_of(piece), shop.settings)


def may_serve(shop: Shop, demands: Sequence[Demand], row: int) -> tuple[int, ...]:
    """Return the wants that a row is not refused for at once."""
    piece = shop.pieces[row]
    parts = [shop.part(want.part) for want in demands]
    return tuple(
        i
        for i, part in enumerate(parts)
        if refused_at_once(shop, part, piece) is None
        or (may_be_resawn(shop, part, piece) and (part.book_match or _large_enough(part, piece, shop)))
    )


def _large_enough(part: Part, piece: Piece, shop: Shop) -> bool:
    return too_small(part, blank_of(piece), shop.settings) is None


def most_copies(shop: Shop, want: Demand, row: int) -> int:
    """Return how many copies of a want one copy of a row can carry at the very most, by area."""
    part = shop.part(want.part)
    area = abs(part.outline.signed_area_mm2) / (2.0 if part.book_match else 1.0)
    return min(want.count, int(shop.pieces[row].shape.area_mm2 // area))


def without_sections(candidates: Sequence[Candidate]) -> list[Candidate]:
    """Return the candidates of a row without those in sections that sawing first makes as well in one go."""
    sawn = {c.made for c in candidates if c.sawn is not None and c.sawn.resaw is None and not c.sections}
    return [c for c in candidates if not (c.whole and c.sections and c.made in sawn)]


def candidate_of(bench: LayoutContext, row: int, made: tuple[int, ...], laid: Laid) -> Candidate:
    """Return a layout on a row with what it takes and leaves."""
    shop = bench.shop
    piece = shop.pieces[row]
    placements = [(bench.part(i), p) for i, p in laid]
    usable = usable_shapes(bench.blank, placements, shop.settings)
    thickness = left_thickness_mm(bench.blank, [part for part, _ in placements])
    return Candidate(
        rows=(row,),
        made=made,
        laid=laid,
        value=value_of(piece, shop.settings),
        back=back_value(bench.blank, placements, usable, [piece], shop.settings),
        used_up=board_feet(piece.shape.area_mm2, piece.thickness_mm)
        - board_feet(sum(shape.area_mm2 for shape in usable), thickness),
        seams_mm=sum(s.length_mm for s in seams_under(bench.blank, placements, shop.settings)),
        lightest_kg=lightest_kg(bench.blank, placements, {piece.name: piece}, shop.settings.own_woods),
        sections=not bench.in_one_go(laid),
    )


def full_layouts(
    bench: LayoutContext, alone: dict[int, Laid], rng: np.random.Generator, effort: int, until: float
) -> Iterator[Laid]:
    """Lay as many parts as will go, one after the other: each want alone, then all that may share it.

    Together as served, largest first, and at random; a few in every order, until all of them lie.
    """
    areas = {i: abs(bench.part(i).outline.signed_area_mm2) for i in alone}
    room = bench.blank.shape.area_mm2
    known: dict[tuple[int, ...], Laid | None] = {(): ()}
    known.update({(i,): laid for i, laid in alone.items()})
    most = {i: min(bench.demands[i].count, int(room // area)) for i, area in areas.items()}
    asked: list[dict[int, int]] = [{i: most[i]} for i in alone]
    asked += [{i: most[i] for i in group} for group in may_share(bench, list(alone)) if len(group) > 1]
    for counts in asked:
        items = [i for i, n in counts.items() for _ in range(n)]
        orders = [items]
        if len(counts) > 1:
            orders.append(sorted(items, key=lambda i: (-areas[i], i)))
            more = min(effort, MOST_RANDOM_ORDERS)
            orders += [[items[k] for k in rng.permutation(len(items))] for _ in range(more)]
            if len(items) <= MOST_ALL_ORDERS:
                orders += [list(order) for order in sorted(set(permutations(items)))]
        every_mixture = math.prod(n + 1 for n in counts.values()) <= MOST_SUBSETS
        for order in orders:
            laid = _lay_in_order(bench, order, known, until)
            yield laid
            if every_mixture and len(laid) == len(items):
                break  # other orders bring no other mixture


def may_share(bench: LayoutContext, demands: Sequence[int]) -> list[list[int]]:
    """Group wants that one blank may carry together: of one thickness, with a bed that all of them allow.

    A want may stand in several groups; no group is part of another one.
    """
    beds = [b.name for b in bench.shop.beds] or [""]
    groups: dict[tuple[float, str], list[int]] = {}
    for i in demands:
        for bed in beds:
            if not bed or bed in bench.demands[i].beds:
                groups.setdefault((bench.part(i).thickness_mm, bed), []).append(i)
    apart = list(dict.fromkeys(tuple(g) for g in groups.values()))
    return [list(g) for g in apart if not any(set(g) < set(h) for h in apart)]


def _lay_in_order(
    bench: LayoutContext, order: Sequence[int], known: dict[tuple[int, ...], Laid | None], until: float
) -> Laid:
    """Lay parts in the order given; one that finds no place is left out, and so are its further copies.

    When it is late no further place is looked for.
    """
    laid: Laid = ()
    key: tuple[int, ...] = ()
    room = bench.blank.shape.area_mm2
    full: set[int] = set()
    for want in order:
        area = abs(bench.part(want).outline.signed_area_mm2)
        if want in full or area > room:
            continue
        longer = (*key, want)
        if longer not in known:
            if time.monotonic() >= until:
                break
            known[longer] = bench.add(laid, want)[0]
        more = known[longer]
        if more is None:
            full.add(want)
        else:
            laid, key, room = more, longer, room - area
    return laid


def subsets(full: Laid) -> Iterator[Laid]:
    """Give the layout and layouts with fewer parts: every mixture when they are few, else its beginnings."""
    counts: dict[int, int] = {}
    for want, _ in full:
        counts[want] = counts.get(want, 0) + 1
    size = 1
    for n in counts.values():
        size *= n + 1
    if size > MOST_SUBSETS:
        yield from (full[:n] for n in range(len(full), 0, -1))
        return
    for kept in product(*(range(n, -1, -1) for n in counts.values())):
        left = dict(zip(counts, kept))
        chosen: list[tuple[int, Placement]] = []
        for want, placement in full:
            if left[want]:
                left[want] -= 1
                chosen.append((want, placement))
        if chosen:
            yield tuple(chosen)
