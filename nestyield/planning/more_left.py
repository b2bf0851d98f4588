"""Chosen layouts shifted until what stays of the piece is worth the most."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from nestyield.geometry.boolean import difference, union
from nestyield.geometry.flatten import flatten, flatten_shape
from nestyield.geometry.grid import UM_PER_MM, Region, bounds
from nestyield.geometry.offset import grow
from nestyield.geometry.shape import region_to_shape
from nestyield.model import Blank, Part, Piece, Placement, Settings, Shape
from nestyield.model.pose import Pose
from nestyield.placement.leftovers import kept_shapes, worth_keeping
from nestyield.placement.prefer import Wishes
from nestyield.placement.ranking import ANY, Order, Rank, best_by_rank
from nestyield.placement.rough_left import RoughLeft
from nestyield.placement.stock import blank_of
from nestyield.placement.tearout import short_grain_share
from nestyield.planning.candidates import Candidate, candidate_of
from nestyield.planning.keep_clear import KeepClear, unkept_of
from nestyield.planning.lay_parts import BedTaker, Laid, LayoutContext
from nestyield.planning.stand_off import LEAST_LEFT, beds_needed, in_large_pieces, stood_off
from nestyield.planning.workers import Job
from nestyield.planning.worth import left_thickness_mm, left_value

#: Chord error at which leftovers are compared, millimeters; the layout itself is as exact as ever.
COARSE_MM = 0.5
#: Every part is shifted so often at the most, and layouts of more parts than this are left as they are.
ROUNDS = 3
MOST_PARTS = 8
#: Layouts of so many parts and more are pushed together to one end of the piece, so that the rest is one.
LEAST_TO_SHORTEN = 3
#: By so much of the piece what is cut off may seem larger than the wood it lies in, for rounding.
ROUNDING = 1e-5


def more_left(job: Job, candidate: Candidate) -> Candidate:
    """Shift the parts of a layout on one piece, one after the other, while more is left of the piece.

    Wood counts by what it is worth on the rack, or by its area where it is worth nothing. Grain, beds and the
    other wishes of the shop keep the weight that they have.

    Parameters
    ----------
    job : Job
    candidate : Candidate
        On one whole piece without seams; any other is returned as it is.

    Returns
    -------
    Candidate
        The same copies, never worth less.
    """
    shop = job.shop
    piece = shop.pieces[candidate.rows[0]]
    if (
        candidate.blank is not None
        or candidate.sawn is not None
        or piece.seams
        or shop.settings.prefer.largest_leftover <= 0
        or len(candidate.laid) > MOST_PARTS
    ):
        return candidate
    bench = LayoutContext(shop=shop, demands=job.demands, blank=blank_of(piece))
    best = candidate
    done: set[int] = set()  # parts beside which nothing has moved since they were shifted
    for _ in range(ROUNDS):
        for k in range(len(candidate.laid)):
            if k in done:
                continue
            shifted = _with_one_shifted(bench, best, k, piece)
            if shifted is not best:
                best, done = shifted, set()
            done.add(k)
    return stood_off(bench, best)


def _with_one_shifted(bench: LayoutContext, candidate: Candidate, k: int, piece: Piece) -> Candidate:
    """Return the layout with its part ``k`` where most is left, or as it is when that is no better."""
    want, here = candidate.laid[k]
    others: Laid = (*candidate.laid[:k], *candidate.laid[k + 1 :])
    part, settings = bench.part(want), bench.shop.settings
    taken = [(bench.part(i), p) for i, p in others]
    rank, rough, last, least = _ranks(part, bench.blank, taken, piece, settings, here)
    accept = None
    if bench.shop.beds:
        beds = bench.beds_up_to(candidate.laid)
        accept = BedTaker(bench=bench, laid=others, want=want, beds=beds).takes
    there = best_by_rank(
        part,
        bench.blank,
        settings,
        rank,
        rough,
        last,
        least=least,
        taken=taken,
        accept=accept,
        below=last(here, ANY),
    )
    if there is None:
        return candidate
    placement = replace(there, order=here.order, copy=here.copy)
    laid = (*candidate.laid[:k], (want, placement), *candidate.laid[k + 1 :])
    shifted = candidate_of(bench, candidate.rows[0], candidate.made, laid)
    better = (shifted.back, -shifted.used_up) > (candidate.back, -candidate.used_up)
    if better and len(laid) >= LEAST_TO_SHORTEN:
        better = not _in_smaller_pieces(bench, shifted, candidate)
    return shifted if better else candidate


def _in_smaller_pieces(bench: LayoutContext, one: Candidate, other: Candidate) -> bool:
    """Tell whether what one layout leaves is in smaller pieces than what another leaves."""
    return in_large_pieces(bench, one.laid) < LEAST_LEFT**2 * in_large_pieces(bench, other.laid)


def rather(job: Job, pushed: Candidate, candidate: Candidate) -> bool:
    """Tell whether a layout pushed to one end is taken for another of the same copies on the same piece.

    It is when what it leaves is worth about as much and is in larger pieces, no later bed is needed for it, and its
    parts are as clear of seams and holes.

    Parameters
    ----------
    job : Job
    pushed, candidate : Candidate
        On one whole piece each.
    """
    if pushed.back < LEAST_LEFT * candidate.back or pushed.used_up > candidate.used_up / LEAST_LEFT:
        return False
    blank = blank_of(job.shop.pieces[candidate.rows[0]])
    bench = LayoutContext(shop=job.shop, demands=job.demands, blank=blank)
    if beds_needed(bench, pushed.laid) > beds_needed(bench, candidate.laid):
        return False
    if unkept_of(bench, pushed.laid) > unkept_of(bench, candidate.laid):
        return False
    return _in_smaller_pieces(bench, candidate, pushed)


def _ranks(
    part: Part,
    blank: Blank,
    taken: Sequence[tuple[Part, Placement]],
    piece: Piece,
    settings: Settings,
    here: Placement,
) -> tuple[Rank, Callable[[Placement], float], Rank, Callable[[Order], Order]]:
    """Return what ranks places of a part by all wood worth keeping, by a raster of it, and by what is cut off.

    And from the first of these, what the last never falls below.
    """
    kerf = round(settings.cutter_diameter_mm * UM_PER_MM)

    def cut(own: Part, pose: Pose) -> Region:
        return grow([pose.on_grid(flatten(own.outline, COARSE_MM, "outside"))], kerf)

    stock = flatten_shape(blank.shape, COARSE_MM, "inside")
    around = [cut(p, Pose.of(at)) for p, at in taken]
    free = difference(stock, union(*around)) if around else stock
    thickness = left_thickness_mm(blank, [p for p, _ in taken] + [part])
    box = bounds(stock)
    used = [bounds([Pose.of(at).on_grid(flatten(p.outline, COARSE_MM, "outside"))]) for p, at in taken]
    others = replace(settings.prefer, largest_leftover=0.0)
    known: dict[tuple[float, bool], tuple[Region, Wishes]] = {}
    whole = left_value(blank, blank.shape, thickness, [piece], settings)

    holes = any(d.traits.keep_clear for d in blank.defects)
    clear = KeepClear(part, blank, settings, here) if holes else None
    cells = RoughLeft(free, blank.grain_deg, settings)
    weight = settings.prefer.largest_leftover / blank.shape.area_mm2 * cells.cell_mm2

    def at_angle(at: Placement) -> tuple[Region, Wishes]:
        key = (at.angle_deg, at.mirrored)
        if key not in known:
            pose = Pose(angle_deg=at.angle_deg, mirrored=at.mirrored)
            outline = pose.on_grid(flatten(part.outline, COARSE_MM, "outside"))
            short = short_grain_share(outline / UM_PER_MM, blank.grain_deg) if others.short_grain else 0.0
            gone = cut(part, pose)
            cells.take(key, gone)
            known[key] = (gone, Wishes(others, outline, box, used, blank.grain_deg, short))
        return known[key]

    def ranked(
        at: Placement, below: Order, kept: Callable[[Region, float | None, Settings], Sequence[Shape]]
    ) -> Order:
        unkept = clear.unkept(at) if clear is not None else ()
        if unkept > below[: len(unkept)]:
            return (*unkept, math.inf)
        gone, wishes = at_angle(at)
        shift = np.array([at.x_um, at.y_um], dtype=np.int64)
        shapes = kept(difference(free, [ring + shift for ring in gone]), blank.grain_deg, settings)
        area = sum(s.area_mm2 for s in shapes) / blank.shape.area_mm2
        value = sum(left_value(blank, s, thickness, [piece], settings) for s in shapes)
        share = value / whole if whole > 0 else area
        other, *_, x, y = wishes.score(at.x_um, at.y_um)
        cost = other - settings.prefer.largest_leftover * share
        return (*unkept, round(cost, 6), round(-area, 6), x, y)

    def rank(at: Placement, below: Order) -> Order:
        return ranked(
            at, below, lambda wood, grain, rules: region_to_shape(worth_keeping(wood, grain, rules))
        )

    def last(at: Placement, below: Order) -> Order:
        return ranked(at, below, kept_shapes)

    def rough(at: Placement) -> float:
        _, wishes = at_angle(at)
        count = cells.cells((at.angle_deg, at.mirrored), at.x_um, at.y_um)
        return wishes.score(at.x_um, at.y_um)[0] - weight * count if count else math.inf

    slack = ROUNDING * (1.0 + settings.prefer.largest_leftover)

    def least(order: Order) -> Order:
        # What is cut off lies in the wood worth keeping, so it has no more area; and by one rate for wood of every
        # size no more value. By classes of size a part may be worth more than the whole.
        *unkept, cost, _, _, _ = order
        return tuple(unkept) if settings.value_classes else (*unkept, cost - slack)

    return rank, rough, last, least
