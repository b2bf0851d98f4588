"""Boards sawn into leaves, and what each leaf then carries."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from nestyield.model import Defect, Layer, Leftover, MachineLimits, Part, Piece, Resaw, ResawCut, Shop
from nestyield.placement.leftovers import LEAST_SIZE_TOL_MM, largest_along
from nestyield.placement.stock import SAME_MM, block_of, leaf_of, planed_away, unsuitable
from nestyield.planning.divide_thickness import MOST_LEAVES, Division, divisions, gap_mm
from nestyield.planning.lay_parts import Laid, LayoutContext
from nestyield.planning.saw_first import METAL_CLEAR_MM, Block, SawnFirst
from nestyield.planning.stand_on import Stand, stand_of
from nestyield.planning.worth import board_feet, left_value

Made = tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class OnLeaf:
    """One way to use a leaf.

    Parameters
    ----------
    made : tuple of int
        Copies of each want that it makes.
    laid : tuple of (int, Placement)
        In the coordinates of the leaf's blank.
    back : float
        What its usable leftovers are worth.
    left : float
        Wood of these, board feet.
    lightest_kg : float
        What the parts weigh together that are to be as light as can be.
    """

    made: Made
    laid: Laid
    back: float
    left: float
    lightest_kg: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Resawn:
    """A board sawn into leaves that are used.

    Parameters
    ----------
    made : tuple of int
    sawn : SawnFirst
    back, left : float
        As of `OnLeaf`, of all leaves and of the rest of the thickness.
    lightest_kg : float
    """

    made: Made
    sawn: SawnFirst
    back: float
    left: float
    lightest_kg: float = 0.0


def leaf_mm(part: Part, piece: Piece, shop: Shop) -> float:
    """Return how thick a leaf must be for a part, with what is planed off it before routing."""
    return max(
        part.thickness_mm + planed_away(piece, shop.settings), shop.settings.machines.resaw_thinnest_mm
    )


def may_be_resawn(shop: Shop, part: Part, piece: Piece) -> bool:
    """Tell whether a leaf of a piece may serve a part, as far as wood, thickness and the machine tell."""
    limits = shop.settings.machines
    if limits.resaw_height_mm is None or piece.grain_deg is None or part.cap or part.strips == "only":
        return False
    thick = leaf_mm(part, piece, shop)
    if piece.thickness_mm < thick + gap_mm(limits) + limits.resaw_thinnest_mm - SAME_MM:
        return False
    leaf = piece.of_thickness(thick)
    return unsuitable(part, leaf, shop.settings) is None and stand_of(piece, limits) is not None


def most_leaves(shop: Shop, piece: Piece, parts: Sequence[Part]) -> int:
    """Return how many leaves a piece gives for some parts at the most; 1 where it is not resawn."""
    thick = [leaf_mm(p, piece, shop) for p in parts if may_be_resawn(shop, p, piece)]
    if not thick:
        return 1
    gap = gap_mm(shop.settings.machines)
    return min(MOST_LEAVES, max(1, int((piece.thickness_mm + gap + SAME_MM) / (min(thick) + gap))))


def resawn(
    bench: LayoutContext, piece: Piece, asked: Sequence[int], on_leaf: Callable[[Piece], Sequence[OnLeaf]]
) -> list[Resawn]:
    """Return the cheapest way to resaw a piece for each mixture of wants that its leaves carry.

    Parameters
    ----------
    bench : LayoutContext
        Of the whole piece.
    piece : Piece
    asked : sequence of int
        Wants that its leaves may serve, see `may_be_resawn`.
    on_leaf : callable
        Ways to use a leaf, which is given as a piece with the corner of the box around it at 0, 0.
    """
    settings = bench.shop.settings
    limits = settings.machines
    stand = stand_of(piece, limits)
    if stand is None or not asked:
        return []
    known: dict[object, Sequence[OnLeaf]] = {}
    most = tuple(want.count for want in bench.demands)
    best: dict[Made, tuple[tuple[float, int], Resawn]] = {}
    thick: dict[float, int] = {}
    for w in asked:
        high = leaf_mm(bench.part(w), piece, bench.shop)
        thick[high] = thick.get(high, 0) + most[w]
    for division in divisions(piece, thick, settings):
        if not clear_of_metal(piece, division, limits):
            continue
        options = []
        for k, layer in enumerate(division.layers):
            if k not in division.rests:
                leaf = _as_piece(piece, layer)
                key = (leaf.thickness_mm, leaf.defects)
                if key not in known:
                    known[key] = on_leaf(leaf)
                options.append(known[key])
        for made, ways in _together(options, most).items():
            found = _resawn(bench, piece, stand, division, made, ways)
            assert found.sawn.resaw is not None
            cuts = len(found.sawn.resaw.cuts)
            cost = (round(limits.resaw_cost * cuts - settings.leftover_worth * found.back, 6), cuts)
            if made not in best or cost < best[made][0]:
                best[made] = (cost, found)
    return [found for _, (_, found) in sorted(best.items())]


def _cuts_of(piece: Piece, division: Division, limits: MachineLimits) -> tuple[ResawCut, ...]:
    """Return the cuts from the top face on; after each, the fresh face is planed and lies against the fence."""
    cuts = []
    for layer in division.layers[:-1]:
        at = layer.bottom_mm + limits.resaw_planing_mm
        loose = [d for d in piece.defects if d.traits.loose and _meets(piece, d, at, limits, 0.0)]
        cuts.append(
            ResawCut(
                at_mm=round(at, 6),
                fence_mm=round(at - layer.top_mm, 6),
                defects=tuple(d.name for d in loose),
            )
        )
    return tuple(cuts)


def _meets(piece: Piece, defect: Defect, at: float, limits: MachineLimits, clear: float) -> bool:
    top, bottom = defect.span_mm(piece.thickness_mm)
    return top < at + limits.resaw_kerf_mm + clear and bottom > at - clear


def clear_of_metal(piece: Piece, division: Division, limits: MachineLimits) -> bool:
    """Tell whether no cut of a division comes near what may hold metal."""
    metal = [d for d in piece.defects if d.traits.may_hold_metal]
    return not any(
        _meets(piece, d, cut.at_mm, limits, METAL_CLEAR_MM)
        for cut in _cuts_of(piece, division, limits)
        for d in metal
    )


def _as_piece(piece: Piece, layer: Layer) -> Piece:
    """Return a leaf as a piece with the corner of the box around it at 0, 0."""
    blank = block_of(piece, piece.shape, name=piece.name, layer=layer)
    return replace(leaf_of(piece, layer), shape=blank.shape, defects=blank.defects)


def _together(options: Sequence[Sequence[OnLeaf]], most: Made) -> dict[Made, tuple[OnLeaf, ...]]:
    """Return for each mixture that leaves carry together the ways to use them with the most that comes back."""
    found: dict[Made, tuple[OnLeaf, ...]] = {tuple(0 for _ in most): ()}
    for ways in options:
        more: dict[Made, tuple[OnLeaf, ...]] = {}
        for made, before in found.items():
            for way in ways:
                both = tuple(a + b for a, b in zip(made, way.made))
                if any(n > limit for n, limit in zip(both, most)):
                    continue
                chosen = (*before, way)
                if both not in more or sum(w.back for w in chosen) > sum(w.back for w in more[both]) + 1e-9:
                    more[both] = chosen
        found = more
    return found


def _resawn(
    bench: LayoutContext,
    piece: Piece,
    stand: Stand,
    division: Division,
    made: Made,
    ways: Sequence[OnLeaf],
) -> Resawn:
    sawn = sawn_first_of(bench, piece, stand, division, ways)
    assert sawn.resaw is not None
    rests = zip(sawn.rests, sawn.resaw.rests, strict=True)
    feet = sum(board_feet(r.area_mm2, x.thickness_mm) for r, x in rests if r.usable)
    return Resawn(
        made=made,
        sawn=sawn,
        back=sum(w.back for w in ways) + sum(r.value for r in sawn.rests),
        left=sum(w.left for w in ways) + feet,
        lightest_kg=sum(w.lightest_kg for w in ways),
    )


def sawn_first_of(
    bench: LayoutContext, piece: Piece, stand: Stand, division: Division, ways: Sequence[OnLeaf]
) -> SawnFirst:
    """Return how a piece is resawn, with a block for each leaf that is used by itself.

    Parameters
    ----------
    bench : LayoutContext
    piece : Piece
    stand : Stand
    division : Division
    ways : sequence of OnLeaf
        One for each leaf that is used; none where two leaves are glued to each other.
    """
    limits = bench.shop.settings.machines
    used = [layer for k, layer in enumerate(division.layers) if k not in division.rests]
    left = [division.layers[k] for k in division.rests]
    return SawnFirst(
        blocks=tuple(
            Block(cut=piece.shape, laid=way.laid, layer=layer) for way, layer in zip(ways, used, strict=False)
        ),
        cuts=(),
        rests=tuple(_rest(bench, piece, layer) for layer in left),
        resaw=Resaw(
            edge_mm=stand.edge_mm,
            height_mm=stand.height_mm,
            planing_mm=limits.resaw_planing_mm,
            cuts=_cuts_of(piece, division, limits),
            rests=tuple(left),
        ),
    )


def _rest(bench: LayoutContext, piece: Piece, layer: Layer) -> Leftover:
    """Return a leaf that is not used; it goes back on the rack where it is as large as a leftover must be."""
    settings = bench.shop.settings
    rectangle = largest_along(piece.shape, piece.grain_deg, settings)
    usable = (
        rectangle[2] + LEAST_SIZE_TOL_MM >= settings.leftover_shortest_mm
        and rectangle[3] + LEAST_SIZE_TOL_MM >= settings.leftover_narrowest_mm
    )
    value = left_value(bench.blank, piece.shape, layer.thickness_mm, [piece], settings) if usable else 0.0
    return Leftover(
        name="",
        shape=piece.shape,
        rectangle_mm=rectangle,
        area_mm2=piece.shape.area_mm2,
        usable=usable,
        value=value,
    )
