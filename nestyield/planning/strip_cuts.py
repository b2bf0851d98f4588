"""Strips in a board: where they may be ripped, and the cuts that do it."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

from nestyield.geometry.shape import to_shapely
from nestyield.model import Axis, Leftover, Outline, Part, Piece, SawCut, Settings, Shape
from nestyield.model.arcs import box_of
from nestyield.placement.weight import off_weight
from nestyield.planning.saw_first import METAL_CLEAR_MM, Block, SawnFirst, rest_of
from nestyield.wood.species import is_sheet

#: A board is a rectangle, and its grain runs along it, within this, millimeters and degrees.
_SAME_MM, _SAME_DEG = 1e-6, 1e-6

#: Where strips lie in a board: the corner nearest to where length and width begin, micrometers.
Corners = tuple[tuple[int, int], ...]
Box = tuple[int, int, int, int]


def may_be_ripped(part: Part, piece: Piece, settings: Settings) -> bool:
    """Tell whether strips of a piece may be in a part, as far as wood and shape tell.

    It is a board with square ends and parallel edges, ready, its grain along them, never glued up before and
    measured without an error.

    Parameters
    ----------
    part : Part
    piece : Piece
    settings : Settings
    """
    if piece.status != "ready" or piece.count < 1 or piece.grain_deg is None or is_sheet(piece.species):
        return False
    if part.species and piece.species not in part.species:
        return False
    if abs((piece.grain_deg + 90.0) % 180.0 - 90.0) > _SAME_DEG or piece.seams or piece.measured_mm:
        return False
    if piece.thickness_mm - 2.0 * settings.planing_mm < settings.machines.planer_thinnest_mm:
        return False
    return is_rectangle(piece.shape) and off_weight(part, piece, settings.own_woods) is None


def is_rectangle(shape: Shape) -> bool:
    """Tell whether a shape has four square corners, its edges along X and Y, and no hole."""
    box = box_of(shape.outer)
    area = box.width * box.height
    return not shape.holes and shape.area_mm2 >= area * (1.0 - _SAME_MM)


@dataclass(frozen=True, slots=True, kw_only=True)
class Saw:
    """What strips are asked of a board.

    Parameters
    ----------
    long_um, wide_um : int
        Of each strip.
    kerf_um : int
    """

    long_um: int
    wide_um: int
    kerf_um: int


def box_um(piece: Piece) -> Box:
    """Return the whole micrometers of a board: x0, y0, x1, y1."""
    box = box_of(piece.shape.outer)
    return (
        math.ceil(1000 * box.x0 - 1e-6),
        math.ceil(1000 * box.y0 - 1e-6),
        math.floor(1000 * box.x1 + 1e-6),
        math.floor(1000 * box.y1 + 1e-6),
    )


def most_strips(piece: Piece, saw: Saw) -> int:
    """Return how many strips of a size one copy of a board gives at the most."""
    x0, y0, x1, y1 = box_um(piece)
    if x1 - x0 < saw.long_um:
        return 0
    return max(0, (y1 - y0 + saw.kerf_um) // (saw.wide_um + saw.kerf_um))


def ways_to_rip(piece: Piece, saw: Saw, count: int) -> list[tuple[Corners, int]]:
    """Return ways to rip so many strips from one copy of a board, and how many of them hold a defect.

    Strips lie side by side between two crosscuts: at either end of the board, or before or behind a defect; from
    either edge, one against the other or past defects. Fewest with a defect first. None comes near what may
    hold metal.

    Parameters
    ----------
    piece : Piece
    saw : Saw
    count : int
    """
    x0, _, x1, _ = box_um(piece)
    flaws = [flaw_um(d.shape) for d in piece.defects]
    metal = [flaw_um(d.shape) for d in piece.defects if d.traits.may_hold_metal]
    places = {x0, x1 - saw.long_um}
    places |= {b[2] for b in flaws} | {b[0] - saw.long_um for b in flaws}
    clear = round(1000 * METAL_CLEAR_MM)
    places |= {b[2] + saw.kerf_um + clear for b in metal}
    places |= {b[0] - saw.long_um - saw.kerf_um - clear for b in metal}
    found: dict[Corners, int] = {}
    for x in sorted(places):
        if x < x0 or x + saw.long_um > x1 or x0 < x < x0 + saw.kerf_um + 1:
            continue
        near = saw.kerf_um + clear
        if any(b[2] > x - near and b[0] < x + saw.long_um + near for b in metal):
            continue
        here = [b for b in flaws if b[2] > x and b[0] < x + saw.long_um]
        for ys in _rows(piece, saw, count, here):
            found[tuple((x, y) for y in ys)] = sum(_held(y, saw, here) for y in ys)
    ends = {x0: 0, x1 - saw.long_um: 1}
    return sorted(found.items(), key=lambda way: (way[1], ends.get(way[0][0][0], 2), way[0]))


def flaw_um(shape: Shape) -> Box:
    """Return the whole micrometers around a defect, its arcs as chords on the outside: x0, y0, x1, y1."""
    x0, y0, x1, y1 = (1000 * v for v in to_shapely(shape).bounds)
    return (math.floor(x0), math.floor(y0), math.ceil(x1), math.ceil(y1))


def _held(y: int, saw: Saw, flaws: Sequence[Box]) -> bool:
    return any(b[3] > y and b[1] < y + saw.wide_um for b in flaws)


def _rows(piece: Piece, saw: Saw, count: int, flaws: Sequence[Box]) -> list[tuple[int, ...]]:
    """Return where so many strips may begin across a board, from either edge, past defects and not."""
    _, y0, _, y1 = box_um(piece)
    pitch = saw.wide_um + saw.kerf_um
    out = []
    low = [y0 + k * pitch for k in range(count)]
    if low[-1] + saw.wide_um <= y1:
        out += [tuple(low), tuple(y1 - saw.wide_um - k * pitch for k in reversed(range(count)))]
    if not flaws:
        return out[:1]
    up: list[int] = []
    y = y0
    while len(up) < count and y + saw.wide_um <= y1:
        past = max((b[3] for b in flaws if b[3] > y and b[1] < y + saw.wide_um), default=None)
        if past is None:
            up.append(y)
            y += pitch
        else:  # what is ripped off before the strip is more than the saw takes
            y = past if past - saw.kerf_um > (up[-1] + pitch if up else y0) else y + saw.kerf_um + 1000
    down: list[int] = []
    y = y1 - saw.wide_um
    while len(down) < count and y >= y0:
        past = min((b[1] for b in flaws if b[3] > y and b[1] < y + saw.wide_um), default=None)
        if past is None:
            down.append(y)
            y -= pitch
        else:
            y = past - saw.wide_um
    out += [tuple(up)] if len(up) == count else []
    out += [tuple(reversed(down))] if len(down) == count else []
    return list(dict.fromkeys(ys for ys in out if _sawable(ys, y0, saw)))


def _sawable(ys: Sequence[int], y0: int, saw: Saw) -> bool:
    """Tell whether wood is left for the saw to take between strips, and between a strip and an edge it is not at."""
    gaps = [b - a - saw.wide_um for a, b in itertools.pairwise(ys)]
    first = ys[0] - y0
    kerf = saw.kerf_um
    return all(g == kerf or g > 2 * kerf for g in gaps) and (first == 0 or first > kerf)


def sawn_to(piece: Piece, corners: Corners, saw: Saw, settings: Settings) -> SawnFirst:
    """Return the cuts that give strips: crosscuts first, then rips from the nearer edge on, and what is left.

    Parameters
    ----------
    piece : Piece
    corners : Corners
        All at the same place along the board.
    saw : Saw
    settings : Settings
    """
    x0, y0, x1, y1 = box_um(piece)
    x, end = corners[0][0], corners[0][0] + saw.long_um
    kerf, wide = saw.kerf_um, saw.wide_um
    cuts: list[SawCut] = []
    rests: list[Box] = []
    if x > x0:
        cuts.append(_cut("x", x - kerf, x0, y0, y1))
        rests.append((x0, y0, x - kerf, y1))
    if end < x1:
        cuts.append(_cut("x", end, x, y0, y1))
        rests.append((end + kerf, y0, x1, y1))
    at = y0
    for _, y in sorted(corners):
        if y - kerf > at:
            cuts.append(_cut("y", y - kerf, at, x, end))
            rests.append((x, at, end, y - kerf))
        if y + wide < y1:
            cuts.append(_cut("y", y + wide, y, x, end))
        at = y + wide + kerf
    rests.append((x, at, end, y1))
    shapes = (
        Shape(outer=Outline.rectangle(a / 1000, b / 1000, c / 1000, d / 1000))
        for a, b, c, d in rests
        if a < c and b < d
    )
    left: tuple[Leftover, ...] = tuple(rest_of(piece, shape, settings) for shape in shapes)
    whole = Shape(outer=Outline.rectangle(x / 1000, y0 / 1000, end / 1000, y1 / 1000))
    return SawnFirst(blocks=(Block(cut=whole, laid=()),), cuts=tuple(cuts), rests=left)


def _cut(across: Axis, at: int, start: int, low: int, high: int) -> SawCut:
    return SawCut(
        across=across, at_mm=at / 1000, start_mm=start / 1000, from_mm=low / 1000, to_mm=high / 1000
    )
