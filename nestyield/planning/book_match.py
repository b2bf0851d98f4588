"""Book-matched blanks: two neighboring leaves of one board, opened like a book and glued at the middle of the part.

The deeper leaf stays as it lies in the board, the one above it is turned over about the joint: both show the faces
that one cut made, each the mirror image of the other. The joint lies along the grain, as near to the edge of the
board as the part allows, and exactly on the part's center line, or on its middle where it has none.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from nestyield.geometry.boolean import difference, intersection
from nestyield.geometry.flatten import flatten, flatten_shape
from nestyield.geometry.grid import REACH_UM, UM_PER_MM, Region, bounds
from nestyield.geometry.shape import region_to_shape
from nestyield.glueup.band import rectangle
from nestyield.glueup.realize import defects_in, joined, shared_joint
from nestyield.glueup.turned import turn
from nestyield.model import (
    Blank,
    Defect,
    Layer,
    Member,
    Outline,
    Part,
    Piece,
    Placement,
    Point,
    Purchase,
    Seam,
    Settings,
    Shape,
    Shop,
)
from nestyield.model.pose import Pose
from nestyield.placement.constraint import Constraint
from nestyield.placement.depth import spare_thickness_mm
from nestyield.placement.leftovers import usable_shapes
from nestyield.placement.single import place_part
from nestyield.placement.stock import SAME_MM, blank_of, leaf_of
from nestyield.placement.weight import lightest_kg
from nestyield.planning.candidates import Candidate
from nestyield.planning.demand import Demand
from nestyield.planning.divide_thickness import Division, divisions, gap_mm
from nestyield.planning.lay_parts import BedTaker, LayoutContext
from nestyield.planning.purchases import round_up, sizes_to_try
from nestyield.planning.resaw import clear_of_metal, leaf_mm, sawn_first_of
from nestyield.planning.ripped import ripped_off
from nestyield.planning.seams import seams_under
from nestyield.planning.stand_on import Stand, stand_of
from nestyield.planning.worth import back_value, board_feet, share_of, value_of

#: The part's middle lies on the joint within this, micrometers.
ON_SEAM_UM = 1.0
#: Half of the width of the line that is kept on the joint, micrometers.
_LINE_UM = 20.0
#: Rounding of edges, micrometers.
_HAIR_UM = 10
#: Distances of the joint from the edge that are tried, the least first, and ways to divide the thickness.
MOST_DEPTHS, MOST_PAIRS = 12, 40
#: A center line runs along the grain within this and the part's tolerance, degrees.
_ALONG_DEG = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class _Opened:
    """A blank of two leaves, and the part on it."""

    blank: Blank
    placement: Placement


def axis_of(part: Part) -> tuple[Point, Point] | None:
    """Return the line of a part that lies on the joint: its center line along the grain, else its middle.

    Parameters
    ----------
    part : Part

    Returns
    -------
    (point, point) or None
        Drawing coordinates, as long as the part; None for a part without grain.
    """
    if part.grain_deg is None:
        return None
    ring = flatten(part.outline, 0.005, "nearest") / UM_PER_MM
    lines = [z.line_mm for z in part.zones if z.does.line and len(z.line_mm) > 1]
    for line in lines:
        (ax, ay), (bx, by) = line[0], line[-1]
        angle = math.degrees(math.atan2(by - ay, bx - ax))
        off = abs((angle - part.grain_deg + 90.0) % 180.0 - 90.0)
        if off <= part.grain_tolerance_deg + _ALONG_DEG:
            return _through(ring, (ax, ay), angle)
    turned = Pose(angle_deg=-part.grain_deg)
    points = turned.array(ring)
    middle = (0.0, float(points[:, 1].min() + points[:, 1].max()) / 2)
    return _through(ring, turned.inverse().point(middle), part.grain_deg)


def _through(ring: np.ndarray, at: Point, angle_deg: float) -> tuple[Point, Point]:
    """Return the stretch of a line beside a ring."""
    c, s = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
    along = (ring - np.array(at)) @ np.array([c, s])
    low, high = float(along.min()), float(along.max())
    return (at[0] + low * c, at[1] + low * s), (at[0] + high * c, at[1] + high * s)


def book_matched(bench: LayoutContext, piece: Piece, row: int, want: int) -> Candidate | None:
    """Return the cheapest book match of a piece for one copy of a part, or None where there is none.

    Parameters
    ----------
    bench : LayoutContext
        Of the whole piece.
    piece : Piece
        Measured without an error.
    row : int
        Its index in the shop's pieces.
    want : int
    """
    part, settings = bench.part(want), bench.shop.settings
    stand = stand_of(piece, settings.machines)
    axis = axis_of(part)
    if stand is None or axis is None or piece.measured_mm:
        return None
    found: list[tuple[float, int, Candidate]] = []
    for division, (k, _) in _pairs(piece, part, bench):
        upper, lower = division.layers[k], division.layers[k + 1]
        opened = _opened(bench, piece, want, (upper, lower), axis)
        if opened is None:
            continue
        made = _candidate(bench, piece, row, want, opened, division, stand)
        assert made.leaves is not None
        assert made.leaves.resaw is not None
        cuts = len(made.leaves.resaw.cuts)
        cost = settings.machines.resaw_cost * cuts - settings.leftover_worth * made.back
        found.append((round(cost, 6), cuts, made))
    return min(found, key=lambda f: f[:2], default=(0.0, 0, None))[2]


def _pairs(piece: Piece, part: Part, bench: LayoutContext) -> Iterator[tuple[Division, tuple[int, int]]]:
    """Give ways to divide a board so that two leaves of one thickness lie next to each other."""
    settings = bench.shop.settings
    limits = settings.machines
    thick, gap = leaf_mm(part, piece, bench.shop), gap_mm(limits)
    half = (piece.thickness_mm - gap) / 2.0
    given = 0
    even = Division(
        layers=(
            Layer(top_mm=0.0, bottom_mm=round(half, 6)),
            Layer(top_mm=round(half + gap, 6), bottom_mm=piece.thickness_mm),
        ),
        rests=(),
    )
    ways = [even] if half >= thick - SAME_MM else []
    for division in (*ways, *divisions(piece, {thick: 2}, settings)):
        used = [k for k in range(len(division.layers)) if k not in division.rests]
        if len(used) != 2 or used[1] != used[0] + 1 or not clear_of_metal(piece, division, limits):
            continue
        one, other = (division.layers[k] for k in used)
        over = one.thickness_mm - part.thickness_mm - settings.most_planed_away_mm
        alike = abs(one.thickness_mm - other.thickness_mm) < SAME_MM
        if alike and over < SAME_MM and abs(other.top_mm - one.bottom_mm - gap) < SAME_MM:
            yield division, (used[0], used[1])
            given += 1
            if given == MOST_PAIRS:
                return


def _opened(
    bench: LayoutContext, piece: Piece, want: int, leaves: tuple[Layer, Layer], axis: tuple[Point, Point]
) -> _Opened | None:
    """Return two leaves opened about either edge, joined as near to it as the part allows, with the part laid."""
    part, settings = bench.part(want), bench.shop.settings
    side = _half_width(part, axis) + settings.blank_margin_mm
    for turned in (0.0, 180.0):
        angle = (turned - (piece.grain_deg or 0.0)) % 360.0
        shape = Pose(angle_deg=angle).shape(piece.shape)
        _, y0, _, y1 = bounds([flatten(shape.outer, settings.chord_error_mm, "inside")])
        most = (y1 - y0) / UM_PER_MM - side
        least = settings.jointing_mm
        if most < least - 0.01:
            continue
        for deep in np.linspace(least, max(least, most), MOST_DEPTHS if most - least > 0.5 else 1).tolist():
            blank = open_leaves(piece, leaves, angle, deep, settings)
            placement = None if blank is None else _laid(replace(bench, blank=blank), want, axis)
            if (
                blank is not None
                and placement is not None
                and _jointed(piece, blank, part, placement, settings)
            ):
                return _Opened(blank=blank, placement=placement)
    return None


def _jointed(piece: Piece, blank: Blank, part: Part, placement: Placement, settings: Settings) -> bool:
    """Tell whether the leaves have wood to joint off past the joint all along under the part."""
    deep = round(settings.jointing_mm * UM_PER_MM) - _HAIR_UM
    if deep <= 0:
        return True
    shape = Pose.of(blank.members[0]).shape(piece.shape)
    wood = flatten_shape(shape, settings.chord_error_mm, "inside")
    x0, _, x1, _ = bounds([flatten(Pose.of(placement).outline(part.outline), 0.02, "nearest")])
    past = rectangle(int(x0), 0, int(x1), deep)
    return not difference([past], wood)


def _half_width(part: Part, axis: tuple[Point, Point]) -> float:
    """Return how far a part reaches from its axis, on the side where that is more, millimeters."""
    (ax, ay), (bx, by) = axis
    turn = Pose(angle_deg=-math.degrees(math.atan2(by - ay, bx - ax)))
    points = turn.array(flatten(part.outline, 0.02, "inside") / UM_PER_MM)
    return float(np.abs(points[:, 1] - turn.point(axis[0])[1]).max())


def open_leaves(
    piece: Piece, leaves: tuple[Layer, Layer], angle_deg: float, deep_mm: float, settings: Settings
) -> Blank | None:
    """Return the blank of two leaves, the joint on the X axis; None where they do not meet.

    Parameters
    ----------
    piece : Piece
    leaves : (Layer, Layer)
        The upper one in the board, and the one below it.
    angle_deg : float
        Turn of the deeper leaf, which has its grain along X then and its joint at the upper edge.
    deep_mm : float
        From the farthest wood at that edge to the joint.
    settings : Settings
    """
    error = settings.chord_error_mm
    lower = turn(leaf_of(piece, leaves[1]), 0, False, angle_deg)
    upper = turn(leaf_of(piece, leaves[0]), 0, True, (180.0 - angle_deg) % 360.0)
    x0, _, _, y1 = bounds([flatten(lower.blank.shape.outer, error, "inside")])
    x_um, y_um = -int(x0), -round(y1 - deep_mm * UM_PER_MM)
    woods: list[Region] = []
    members: list[Member] = []
    defects: list[Defect] = []
    for leaf, layer, y, low, high in (
        (lower, leaves[1], y_um, -2 * REACH_UM, 0),
        (upper, leaves[0], -y_um, 0, 2 * REACH_UM),
    ):
        whole = [ring + np.array([x_um, y]) for ring in flatten_shape(leaf.blank.shape, error, "inside")]
        wood = intersection(whole, [rectangle(-2 * REACH_UM, low, 2 * REACH_UM, high)])
        if not wood:
            return None
        woods.append(wood)
        members.append(
            Member(
                piece=piece.name,
                copy=1,
                angle_deg=leaf.angle_deg,
                mirrored=leaf.mirrored,
                x_um=x_um,
                y_um=y,
                cut=piece.shape,
                layer=layer,
            )
        )
        defects += defects_in(leaf, x_um, y, wood, error)
    line = shared_joint(woods[0], woods[1], 0)
    if line[1][0] - line[0][0] <= 1.0:
        return None
    return Blank(
        name=piece.name,
        members=tuple(members),
        species=piece.species,
        thickness_mm=min(layer.thickness_mm for layer in leaves),
        shape=max(region_to_shape(joined(woods, (0,))), key=lambda s: s.area_mm2),
        grain_deg=0.0,
        seams=(Seam(name="seam 1", line_mm=line),),
        defects=tuple(defects),
    )


def _laid(bench: LayoutContext, want: int, axis: tuple[Point, Point]) -> Placement | None:
    """Return where the part lies with its axis on the joint, on a bed that takes it; None where it does not."""
    part, settings = bench.part(want), bench.shop.settings
    (ax, ay), (bx, by) = axis
    angle = math.degrees(math.atan2(by - ay, bx - ax))
    line = Pose(angle_deg=angle, x_mm=ax, y_mm=ay)
    half = _LINE_UM / UM_PER_MM
    long = math.dist(*axis)
    moving = line.shape(Shape(outer=Outline.rectangle(0.1 * long, -half, 0.9 * long, half)))
    near, far = half + ON_SEAM_UM / UM_PER_MM, 1.0e4
    fixed = [Outline.rectangle(-far, near, far, far), Outline.rectangle(-far, -far, far, -near)]
    alone = replace(bench.blank, members=(Member(piece="book match", copy=1),), seams=())
    taker = BedTaker(bench=bench, laid=(), want=want) if bench.shop.beds else None
    if taker is not None and not taker.in_one_go:
        return None
    placement = place_part(
        replace(part, grain_deg=angle, grain_tolerance_deg=0.0),
        alone,
        settings,
        accept=None if taker is None else taker.takes,
        allowed=None if taker is None else taker.allowed,
        limit=0,
        constraints=[
            Constraint(name="joint", piece="book match", part=part.name, fixed=Shape(outer=o), moving=moving)
            for o in fixed
        ],
    ).placement
    return None if placement is None else _figure_kept(part, bench.blank, placement, settings)


def _figure_kept(part: Part, blank: Blank, placement: Placement, settings: Settings) -> Placement:
    """Return a place with no more planed off the matched faces, which lie up, than the shop always takes off.

    Less off the top harms nothing but where a flaw of the top ends in the wood: there the place stays as it is.
    """
    spare = spare_thickness_mm(part, blank.thickness_mm)
    ends = any(d.face == "top" and d.depth_mm is not None for d in blank.defects)
    least = min(settings.planing_mm, spare / 2)
    if ends or placement.top_off_mm is not None or spare / 2 - least < SAME_MM:
        return placement
    return replace(placement, top_off_mm=least)


def _candidate(
    bench: LayoutContext,
    piece: Piece,
    row: int,
    want: int,
    opened: _Opened,
    division: Division,
    stand: Stand,
) -> Candidate:
    shop, settings = bench.shop, bench.shop.settings
    placements = [(bench.part(want), opened.placement)]
    taken = [share_of(piece, piece.shape, m.layer) for m in opened.blank.members]
    usable = usable_shapes(opened.blank, placements, settings)
    sawn = sawn_first_of(bench, piece, stand, division, ())
    assert sawn.resaw is not None
    rests = zip(sawn.rests, sawn.resaw.rests, strict=True)
    left = sum(board_feet(r.area_mm2, x.thickness_mm) for r, x in rests if r.usable)
    left += board_feet(sum(s.area_mm2 for s in usable), bench.part(want).thickness_mm)
    back = back_value(opened.blank, placements, usable, taken, settings)
    worth, feet = ripped_off(opened.blank, {piece.name: piece}, shop)
    return Candidate(
        rows=(row,),
        made=tuple(int(w == want) for w in range(len(bench.demands))),
        laid=((want, replace(opened.placement, order="", copy=1)),),
        value=value_of(piece, shop.settings),
        back=back + worth + sum(r.value for r in sawn.rests),
        used_up=board_feet(piece.shape.area_mm2, piece.thickness_mm) - left - feet,
        seams_mm=sum(s.length_mm for s in seams_under(opened.blank, placements, settings)),
        blank=opened.blank,
        leaves=sawn,
        lightest_kg=lightest_kg(opened.blank, placements, {piece.name: piece}, settings.own_woods),
    )


def book_matches(bench: LayoutContext, piece: Piece, row: int, wants: Sequence[int]) -> tuple[Candidate, ...]:
    """Return a book match of a piece for each want that asks for one and has one."""
    found = (book_matched(bench, piece, row, w) for w in wants if bench.part(w).book_match)
    return tuple(c for c in found if c is not None)


def board_for(
    shop: Shop, demands: tuple[Demand, ...], want: int, missing: int, order: str
) -> Purchase | None:
    """Return the least board, one for each missing copy, that a part is book matched from; None where none helps.

    The board is tried: it stands at the resaw, and its leaves hold the part, on a bed.

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
    part, settings = shop.part(demands[want].part), shop.settings
    axis = axis_of(part)
    if axis is None:
        return None
    length = math.dist(*axis) + 2.0 * settings.blank_margin_mm
    width = _half_width(part, axis) + settings.blank_margin_mm + settings.jointing_mm
    leaf = max(part.thickness_mm + 2.0 * settings.planing_mm, settings.machines.resaw_thinnest_mm)
    thick = round_up(2.0 * leaf + gap_mm(settings.machines), shop.units)
    for size in sizes_to_try([(length, width)], settings, shop.units):
        piece = Piece(
            name="board to buy",
            species=part.species[0] if part.species else "",
            thickness_mm=thick,
            shape=Shape(outer=Outline.rectangle(0.0, 0.0, *size)),
        )
        bench = LayoutContext(shop=shop, demands=demands, blank=blank_of(piece))
        if book_matched(bench, piece, 0, want) is not None:
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
