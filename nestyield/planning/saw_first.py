"""Boards and sheets that no bed takes whole: sawn into blanks that one takes, each as short as its parts allow.

From the corner on, the piece is sawn into lengths, each the shortest that holds the part that is next; a length
that is still too wide is sawn into widths in the same way. Whatever else of the parts wanted goes on a blank so
sawn is laid there too. Besides, lengths and widths that end where a row of parts ends are tried one after the
other (``cut_positions``), up to a number. Parts are laid on a blank one after the other: what is given can be
sawn, it is not proven to be the most.
"""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
import shapely

from nestyield.bed.extents import blank_box
from nestyield.geometry.boolean import components, intersection
from nestyield.geometry.flatten import flatten_shape
from nestyield.geometry.grid import REACH_UM, UM_PER_MM, Region, bounds
from nestyield.geometry.shape import region_to_shape, to_shapely
from nestyield.model import Axis, Bed, Layer, Leftover, Piece, Resaw, SawCut, Settings, Shape, Units
from nestyield.model.arcs import box_of
from nestyield.model.pose import Pose
from nestyield.placement.leftovers import LEAST_SIZE_TOL_MM, largest_along
from nestyield.placement.stock import blank_of, block_of
from nestyield.planning.cut_positions import MOST_BANDS, MOST_LOOKED_AT, best_chains, row_lengths
from nestyield.planning.extents import needs_of
from nestyield.planning.lay_parts import Laid, LayoutContext, table_takes
from nestyield.planning.worth import left_value

#: Saw cuts are set to steps of this, micrometers.
STEP_UM: dict[Units, float] = {"mm": 1000.0, "in": 25400.0 / 32.0}
#: Halvings of the length between one that is too short for a part and one that is long enough.
HALVINGS = 5
#: Every mixture of wants is tried on a piece up to so many.
MOST_MIXTURES = 48
#: Saw cuts keep so far from nails and screws where they can (common practice, no source), millimeters.
METAL_CLEAR_MM = 3.0
#: Wood that is to stay beside the cutter's path on a blank that is sawn off (common practice, no source), mm.
FRAME_MM = 6.0
#: A blank is not sawn shorter for less than this, millimeters.
LEAST_GAIN_MM = 10.0

_Box = tuple[tuple[float, float], tuple[float, float]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """What is sawn off a piece to become a blank.

    Parameters
    ----------
    cut : Shape
        Piece coordinates.
    laid : tuple of (int, Placement)
        Wants and where they lie, in the coordinates of the blank: the corner of the box around the cut is 0, 0.
    layer : Layer or None
        Which leaf it is of a piece that is resawn; then the cut is all of the piece.
    """

    cut: Shape
    laid: Laid
    layer: Layer | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SawnFirst:
    """How a piece is sawn before any of it goes on a bed.

    Parameters
    ----------
    blocks : tuple of Block
        From the corner of the piece on.
    cuts : tuple of SawCut
        In the order in which they are made.
    rests : tuple of Leftover
        Not used; without names.
    framed : bool
        Whether wood stays all around what the cutter takes.
    resaw : Resaw or None
        The piece is sawn into leaves, without other cuts; the blocks are leaves from the top face on.
    """

    blocks: tuple[Block, ...]
    cuts: tuple[SawCut, ...]
    rests: tuple[Leftover, ...]
    framed: bool = True
    resaw: Resaw | None = None

    @property
    def wants(self) -> tuple[int, ...]:
        """Want of each part laid."""
        return tuple(w for block in self.blocks for w, _ in block.laid)


def crosscut_to(
    bench: LayoutContext, piece: Piece, axis: int, stretch_um: tuple[float, float], front: bool
) -> SawnFirst | None:
    """Return the cuts that shorten a piece to what is needed of it; None where they would take off next to nothing.

    Parameters
    ----------
    bench : LayoutContext
    piece : Piece
    axis : {0, 1}
        Along which it is shortened, X or Y of the piece.
    stretch_um : (float, float)
        What is needed, piece coordinates.
    front : bool
        Whether wood before it may be sawn off, too.
    """
    saw = _Saw(bench=bench, piece=piece, reach=(math.inf, math.inf), main=axis)
    begin, end = saw.ends[0]
    least = saw.kerf + LEAST_GAIN_MM * UM_PER_MM
    low = begin
    if front and stretch_um[0] - begin > least:
        low = begin + math.floor((stretch_um[0] - saw.kerf - begin) / saw.step) * saw.step + saw.kerf
    high = low + math.ceil((stretch_um[1] - low) / saw.step) * saw.step
    high = saw._past_metal(high, end)
    if end - high <= least:
        high = end
    shape = saw._between((low, high), saw.ends[1])
    if shape is None or (low == begin and high == end):
        return None
    band = _Band(low=saw.ends[1][0], high=saw.ends[1][1], block=Block(cut=shape, laid=()))
    return saw.sawn([_Length(after=begin, low=low, high=high, bands=(band,))])


def out_of_reach(bench: LayoutContext, want: int) -> bool:
    """Tell whether no bed that a want allows takes the whole piece, with all of it under the cutter."""
    beds = _beds(bench, [want])
    blank, settings = bench.blank, bench.shop.settings
    box = blank_box(blank.shape, 0.0)
    spare = 2.0 * settings.blank_margin_mm - settings.cutter_diameter_mm
    for bed in beds:
        for along, size in (("x", (box.width, box.height)), ("y", (box.height, box.width))):
            reached = size[0] - spare <= bed.travel_x_mm and size[1] - spare <= bed.travel_y_mm
            if reached and table_takes(blank, bed, "x" if along == "x" else "y"):
                return False
    return bool(beds) and not blank.seams


def _beds(bench: LayoutContext, asked: Sequence[int]) -> list[Bed]:
    names = {name for w in asked for name in bench.demands[w].beds}
    return [bed for bed in bench.shop.beds if bed.name in names]


def sawn_layouts(
    bench: LayoutContext, piece: Piece, asked: Sequence[int], framed: bool
) -> Iterator[SawnFirst]:
    """Give ways to saw a piece into blanks: for every mixture of the wants, in every direction that may serve.

    Parameters
    ----------
    bench : LayoutContext
        Of the whole piece.
    piece : Piece
        Without seams.
    asked : sequence of int
        The wants.
    framed : bool
        Whether wood stays all around what the cutter takes; where the margin is that wide anyway, there are
        no ways without.

    Yields
    ------
    SawnFirst
        Also with fewer of the lengths, the rest in one.
    """
    room = bench.blank.shape.area_mm2
    areas, counts = _counts(bench, asked)
    wide = _with_frame(bench)
    if not framed and wide == bench:
        return
    for reach in _reaches(_beds(bench, asked), bench):
        for main in _directions(bench, reach):
            saw = _Saw(bench=wide if framed else bench, piece=piece, reach=reach, main=main)
            seen: set[tuple[_Length, ...]] = set()
            for items in _mixtures(counts, areas, room):
                for lengths in saw.ways(items):
                    if lengths not in seen:
                        seen.add(lengths)
                        yield replace(saw.sawn(lengths), framed=framed)
            if any(Counter(w for one in lengths for w in one.wants) == Counter(counts) for lengths in seen):
                continue  # all that there is room or need for comes off by the simpler cuts
            for lengths in saw.chains([w for w, n in counts.items() for _ in range(n)]):
                if lengths not in seen:
                    seen.add(lengths)
                    yield replace(saw.sawn(lengths), framed=framed)


def _counts(bench: LayoutContext, asked: Sequence[int]) -> tuple[dict[int, float], dict[int, int]]:
    """Return the area of each want, and how many of each the area of the piece allows."""
    areas = {w: abs(bench.part(w).outline.signed_area_mm2) for w in asked}
    room = bench.blank.shape.area_mm2
    return areas, {w: min(bench.demands[w].count, int(room // areas[w])) for w in asked}


def mixtures(bench: LayoutContext, asked: Sequence[int]) -> Iterator[list[int]]:
    """Give the mixtures of wants that `sawn_layouts` looks for."""
    areas, counts = _counts(bench, asked)
    return _mixtures(counts, areas, bench.blank.shape.area_mm2)


def _with_frame(bench: LayoutContext) -> LayoutContext:
    """Return a bench with a margin in which wood stays beside the cutter's path."""
    settings = bench.shop.settings
    margin = max(settings.blank_margin_mm, settings.cutter_diameter_mm + FRAME_MM)
    return replace(bench, shop=replace(bench.shop, settings=replace(settings, blank_margin_mm=margin)))


def _mixtures(counts: dict[int, int], areas: dict[int, float], room: float) -> Iterator[list[int]]:
    """Give lists of wants: every mixture that area allows when those are few, else each alone and all together."""
    if math.prod(n + 1 for n in counts.values()) > MOST_MIXTURES:
        yield from ([w] * n for w, n in counts.items())
        yield [w for w, n in counts.items() for _ in range(n)]
        return
    for some in itertools.product(*(range(n, -1, -1) for n in counts.values())):
        items = [w for w, n in zip(counts, some) for _ in range(n)]
        if items and sum(areas[w] for w in items) <= room:
            yield items


def _reaches(beds: Sequence[Bed], bench: LayoutContext) -> list[tuple[float, float]]:
    """Return the largest blanks that lie on a table, as size in x and in y of the piece; none inside another one."""
    sizes = []
    for bed in beds:
        wide, high = (high - low for low, high in (bed.table_x_mm, bed.table_y_mm))
        sizes += [(wide, high), (high, wide)]
    box = blank_box(bench.blank.shape, 0.0)
    sizes = list(dict.fromkeys((min(a, box.width), min(b, box.height)) for a, b in sizes))
    return [s for s in sizes if not any(t != s and t[0] >= s[0] and t[1] >= s[1] for t in sizes)]


def _directions(bench: LayoutContext, reach: tuple[float, float]) -> list[int]:
    """Return the axes of the piece that may be sawn into lengths first: those along which it is too long."""
    box = blank_box(bench.blank.shape, 0.0)
    over = [k for k, size in enumerate((box.width, box.height)) if size > reach[k] + 1e-6]
    return over or [0 if box.width >= box.height else 1]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Band:
    """One blank of a length: where it lies on the other axis, micrometers, and what is on it."""

    low: float
    high: float
    block: Block

    @property
    def wants(self) -> tuple[int, ...]:
        return tuple(w for w, _ in self.block.laid)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Length:
    """What one cut across gives: where it lies on the main axis, micrometers, and the blanks in it.

    Wood from ``after`` on is sawn off before it, where flaws leave no room for a part.
    """

    after: float
    low: float
    high: float
    bands: tuple[_Band, ...]

    @property
    def wants(self) -> tuple[int, ...]:
        return tuple(w for band in self.bands for w in band.wants)


@dataclass(frozen=True, kw_only=True)
class _Saw:
    """Saws one piece for one size of table, lengths along axis ``main`` (0 for x)."""

    bench: LayoutContext
    piece: Piece
    reach: tuple[float, float]
    main: int
    _known: dict[object, Laid | None] = field(default_factory=dict)
    _looked_at: dict[tuple[float, float, tuple[int, ...]], _Length | None] = field(default_factory=dict)
    _bands: list[tuple[float, float]] = field(default_factory=list)

    @cached_property
    def wood(self) -> Region:
        return flatten_shape(self.piece.shape, self.settings.chord_error_mm, "inside")

    @cached_property
    def ends(self) -> _Box:
        x0, y0, x1, y1 = bounds(self.wood)
        both = ((float(x0), float(x1)), (float(y0), float(y1)))
        return (both[self.main], both[1 - self.main])

    @property
    def settings(self) -> Settings:
        return self.bench.shop.settings

    @property
    def step(self) -> float:
        return STEP_UM[self.bench.shop.units]

    @property
    def kerf(self) -> float:
        return self.settings.machines.saw_kerf_mm * UM_PER_MM

    def ways(self, items: Sequence[int]) -> Iterator[tuple[_Length, ...]]:
        """Give the lengths for as many of the items as will go, and for fewer of them."""
        lengths = self._lengths(list(items))
        for n in range(len(lengths), 0, -1):
            yield tuple(lengths[:n])

    def chains(self, items: Sequence[int]) -> Iterator[tuple[_Length, ...]]:
        """Give the lengths for every mixture of the items that cuts where rows of parts end give."""

        def lengths(at: float, left: Sequence[int]) -> Iterator[_Length | None]:
            for end in self._useful_ends(self.main, at, left):
                key = (at, end, tuple(left))
                if key not in self._looked_at:
                    if len(self._looked_at) >= MOST_LOOKED_AT:
                        return
                    self._looked_at[key] = self._whole_length(at, end, left)
                yield self._looked_at[key]

        yield from best_chains(self.ends[0][0], items, self.kerf, lengths)

    def _useful_ends(self, axis: int, at: float, items: Sequence[int]) -> list[float]:
        """Return where rows of parts that begin at a place end, and the end of the piece where it is in reach."""
        far = self.ends[0 if axis == self.main else 1][1]
        most = min(at + self.reach[axis] * UM_PER_MM, far)
        settings = self.settings
        sizes = {size for w in dict.fromkeys(items) for size in self._sizes(w, axis)}
        margins = 2.0 * (settings.blank_margin_mm + self.piece.measured_mm)
        rows = row_lengths(sorted(sizes), settings.gap_mm, margins, (most - at) / UM_PER_MM)
        ends = [at + math.ceil(row * UM_PER_MM / self.step - 1e-6) * self.step for row in rows]
        ends = [self._past_metal(end, most) if axis == self.main else end for end in ends if end <= most]
        return list(dict.fromkeys([*ends, *([most] if most == far else [])]))

    def _sizes(self, want: int, axis: int) -> set[float]:
        """Return how much a part takes along an axis: along its grain as it lies, without grain either way."""
        part, grain = self.bench.part(want), self.piece.grain_deg
        turned = 0.0 if part.grain_deg is None or grain is None else grain - part.grain_deg
        box = box_of(part.outline, Pose(angle_deg=turned))
        both = (box.width, box.height)
        return set(both) if part.grain_deg is None or grain is None else {both[axis]}

    def _whole_length(self, at: float, end: float, items: Sequence[int]) -> _Length | None:
        """Return the length between two cuts with as much as goes on it; None where that is nothing."""
        low, high = self.ends[1]
        if high - low <= self.reach[1 - self.main] * UM_PER_MM + 1.0:
            band = self._whole_band((at, end), low, high, items)
            return None if band is None else _Length(after=at, low=at, high=end, bands=(band,))

        def bands(from_: float, left: Sequence[int]) -> Iterator[_Band | None]:
            for to in self._useful_ends(1 - self.main, from_, left):
                if len(self._bands) >= MOST_BANDS:
                    return
                self._bands.append((from_, to))
                yield self._whole_band((at, end), from_, to, left)

        areas = {w: abs(self.bench.part(w).outline.signed_area_mm2) for w in set(items)}
        best = max(
            best_chains(low, items, self.kerf, bands),
            key=lambda chain: (round(sum(areas[w] for band in chain for w in band.wants), 3), -len(chain)),
            default=(),
        )
        return _Length(after=at, low=at, high=end, bands=best) if best else None

    def _whole_band(
        self, length: tuple[float, float], low: float, high: float, items: Sequence[int]
    ) -> _Band | None:
        shape = self._between(length, (low, high))
        if shape is None:
            return None
        block = self._filled(length, (low, high), Block(cut=shape, laid=()), items)
        return _Band(low=low, high=high, block=block) if block.laid else None

    def _lengths(self, items: list[int]) -> list[_Length]:
        out: list[_Length] = []
        at, end = self.ends[0]
        while items and at < end:
            found = next(filter(None, self._tries(at, items)), None)
            if found is None:
                break
            for band in found.bands:
                for w, _ in band.block.laid:
                    items.remove(w)
            out.append(found)
            at = found.high + self.kerf
        return out

    def _tries(self, at: float, items: Sequence[int]) -> Iterator[_Length | None]:
        """Give the length that begins at a place, for each want, then those that begin behind a flaw."""
        behind = {
            math.ceil(edge * UM_PER_MM / self.step) * self.step + self.kerf
            for d in self.piece.defects
            for box in (box_of(d.shape.outer),)
            for edge in ((box.x1, box.y1)[self.main],)
        }
        for low in (at, *sorted(b for b in behind if b > at + self.kerf)):
            for want in dict.fromkeys(items):
                yield self._length(at, low, want, items)

    def _length(self, after: float, at: float, want: int, items: Sequence[int]) -> _Length | None:
        """Return the shortest length from a place on that holds a want, and all that goes on it besides."""
        low, high = self.ends[1]
        wide = self.reach[1 - self.main] * UM_PER_MM
        whole = high - low <= wide + 1.0
        first = (low, high if whole else low + wide)
        found = self._shortest(at, want, first)
        if found is None:
            return None
        end, block = found
        past = self._past_metal(end, min(at + self.reach[self.main] * UM_PER_MM, self.ends[0][1]))
        longer = self._laid((at, past), first, want) if past > end else None
        if longer is not None:
            end, block = past, longer
        if whole:
            left = _without(items, block)
            return _Length(
                after=after,
                low=at,
                high=end,
                bands=(_Band(low=low, high=high, block=self._filled((at, end), first, block, left)),),
            )
        left = list(items)
        bands: list[_Band] = []
        while left and low < high:
            band = next(
                filter(None, (self._band((at, end), low, w, left) for w in dict.fromkeys(left))), None
            )
            if band is None:
                break
            bands.append(band)
            left = _without(left, band.block)
            low = band.high + self.kerf
        return _Length(after=after, low=at, high=end, bands=tuple(bands)) if bands else None

    def _past_metal(self, end: float, most: float) -> float:
        """Return a cut across the piece moved on, as far as it may be, where its blade would meet metal."""
        for defect in sorted(self.piece.defects, key=lambda d: box_of(d.shape.outer)):
            box = box_of(defect.shape.outer)
            low, high = ((box.x0, box.x1), (box.y0, box.y1))[self.main]
            low, high = (low - METAL_CLEAR_MM) * UM_PER_MM, (high + METAL_CLEAR_MM) * UM_PER_MM
            if defect.traits.may_hold_metal and end < high and end + self.kerf > low:
                past = math.ceil(high / self.step) * self.step
                end = past if past <= most else end
        return end

    def _band(self, length: tuple[float, float], low: float, want: int, items: Sequence[int]) -> _Band | None:
        """Return the narrowest blank of a length from a place on that holds a want, and all that goes on it."""
        most = min(low + self.reach[1 - self.main] * UM_PER_MM, self.ends[1][1])

        def laid(high: float) -> Block | None:
            return self._laid(length, (low, high), want)

        found = self._least(low, most, want, 1 - self.main, laid)
        if found is None:
            return None
        high, block = found
        block = self._filled(length, (low, high), block, _without(items, block))
        return _Band(low=low, high=high, block=block)

    def _shortest(self, at: float, want: int, across: tuple[float, float]) -> tuple[float, Block] | None:
        most = min(at + self.reach[self.main] * UM_PER_MM, self.ends[0][1])
        return self._least(at, most, want, self.main, lambda end: self._laid((at, end), across, want))

    def _least(
        self,
        low: float,
        most: float,
        want: int,
        axis: int,
        laid: Callable[[float], Block | None],
    ) -> tuple[float, Block] | None:
        """Return the nearest end, in steps of the saw, before which a part is laid; None when there is none."""
        part = self.bench.part(want)
        margins = 2.0 * (self.settings.blank_margin_mm + self.piece.measured_mm)
        narrowest = needs_of(part, self.settings.chord_error_mm).narrowest + margins
        short = low + narrowest * UM_PER_MM - 1.0
        if short > most:
            return None
        block = laid(most)
        if block is None:
            return None
        best = (most, block)
        box = box_of(part.outline, Pose.of(block.laid[0][1]))
        as_laid = (box.width, box.height)[axis] + margins
        for tried in range(1 + HALVINGS):
            guess = low + as_laid * UM_PER_MM if tried == 0 else 0.5 * (short + best[0])
            guess = low + math.ceil((guess - low) / self.step - 1e-6) * self.step
            if best[0] - short <= LEAST_GAIN_MM * UM_PER_MM or not short < guess < best[0]:
                break
            found = laid(guess)
            if found is None:
                short = guess
            else:
                best = (guess, found)
                if tried == 0:  # as short as the part lies; turned, it may need a little less
                    short = max(short, guess - LEAST_GAIN_MM * UM_PER_MM)
        return best

    def _laid(self, length: tuple[float, float], across: tuple[float, float], want: int) -> Block | None:
        context = self._context(length, across)
        if context is None:
            return None
        cut, bench = context
        laid = self._added(bench, (), want)
        return None if laid is None else Block(cut=cut, laid=laid)

    def _added(self, bench: LayoutContext, laid: Laid, want: int) -> Laid | None:
        """Return what lies on a block with a want more; blocks alike are asked once."""
        key = (bench.blank.shape, bench.blank.defects, laid, want)
        if key not in self._known:
            self._known[key] = bench.add(laid, want)[0]
        return self._known[key]

    def _filled(
        self, length: tuple[float, float], across: tuple[float, float], block: Block, items: Sequence[int]
    ) -> Block:
        """Return a block with whatever else goes on it."""
        context = self._context(length, across)
        if context is None or not items:
            return block
        _, bench = context
        laid, full = block.laid, set()
        for want in items:
            if want in full or not self._share_a_bed([w for w, _ in laid], want):
                continue
            more = self._added(bench, laid, want)
            if more is None:
                full.add(want)
            else:
                laid = more
        return replace(block, laid=laid)

    def _share_a_bed(self, items: Sequence[int], want: int) -> bool:
        alike = {self.bench.part(w).thickness_mm for w in (*items, want)}
        return len(alike) == 1 and bool(self.bench.beds([*items, want]))

    def _context(
        self, length: tuple[float, float], across: tuple[float, float]
    ) -> tuple[Shape, LayoutContext] | None:
        """Return what lies between two cuts, and the bench on which parts are laid on it."""
        shape = self._between(length, across)
        if shape is None:
            return None
        return shape, replace(self.bench, blank=block_of(self.piece, shape, name=self.piece.name))

    def _between(self, length: tuple[float, float], across: tuple[float, float]) -> Shape | None:
        """Return the wood between cuts, the largest of it where it falls apart, piece coordinates."""
        (a, b), (c, d) = (length, across) if self.main == 0 else (across, length)
        x0, x1, y0, y1 = math.ceil(a), math.floor(b), math.ceil(c), math.floor(d)
        if x0 >= x1 or y0 >= y1:
            return None
        ring = np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], dtype=np.int64)
        shapes = region_to_shape(intersection(self.wood, [ring]))
        return max(shapes, key=lambda s: (s.area_mm2, s.outer.points_mm), default=None)

    def sawn(self, lengths: Sequence[_Length]) -> SawnFirst:
        """Return lengths as blocks, with the cuts that make them and what is not used."""
        axes: tuple[Axis, Axis] = ("x", "y") if self.main == 0 else ("y", "x")
        (_, end), (low, high) = self.ends
        cuts: list[SawCut] = []
        rests: list[Shape | None] = []
        for one in lengths:
            if one.after < one.low:
                cuts.append(self._cut(axes[0], one.after, one.low - self.kerf, low, high))
                rests.append(self._between((one.after, one.low - self.kerf), (low, high)))
            if one.high + 1.0 < end:
                cuts.append(self._cut(axes[0], one.low, one.high, low, high))
            for band in one.bands:
                if band.high + 1.0 < high:
                    cuts.append(self._cut(axes[1], band.low, band.high, one.low, one.high))
            rests.append(self._between((one.low, one.high), (one.bands[-1].high + self.kerf, high)))
        rests.insert(0, self._between((lengths[-1].high + self.kerf, end), (low, high)))
        return SawnFirst(
            blocks=tuple(band.block for one in lengths for band in one.bands),
            cuts=tuple(cuts),
            rests=tuple(self._rest(shape) for shape in rests if shape is not None),
        )

    def _cut(self, across: Axis, start: float, at: float, low: float, high: float) -> SawCut:
        begins = self._begins(across, math.ceil(start), at, low, high)
        start_mm, at_mm, from_mm, to_mm = (
            round(v / UM_PER_MM, 4) for v in (begins, math.floor(at), low, high)
        )
        beyond = at_mm + self.settings.machines.saw_kerf_mm
        box = (at_mm, from_mm, beyond, to_mm) if across == "x" else (from_mm, at_mm, to_mm, beyond)
        blade = shapely.box(*box)
        metal = (d for d in self.piece.defects if d.traits.may_hold_metal)
        return SawCut(
            across=across,
            at_mm=at_mm,
            start_mm=start_mm,
            from_mm=from_mm,
            to_mm=to_mm,
            defects=tuple(d.name for d in metal if to_shapely(d.shape).intersects(blade)),
        )

    def _begins(self, across: Axis, start: int, at: float, low: float, high: float) -> int:
        """Return where the wood that a cut divides begins: on an irregular piece behind where it could."""
        far = (start, math.floor(low), 2 * REACH_UM, math.ceil(high))
        x0, y0, x1, y1 = far if across == "x" else (far[1], far[0], far[3], far[2])
        ring = np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], dtype=np.int64)
        k = 0 if across == "x" else 1
        boxes = [bounds([outer]) for outer, _ in components(intersection(self.wood, [ring]))]
        return min((box[k] for box in boxes if box[k + 2] > at), default=start)

    def _rest(self, shape: Shape) -> Leftover:
        return rest_of(self.piece, shape, self.settings)


def rest_of(piece: Piece, shape: Shape, settings: Settings) -> Leftover:
    """Return what the saw leaves of a piece, without a name: it goes back on the rack where it is large enough."""
    rectangle = largest_along(shape, piece.grain_deg, settings)
    size = (rectangle[2] + LEAST_SIZE_TOL_MM, rectangle[3] + LEAST_SIZE_TOL_MM)
    either = [size] if piece.grain_deg is not None else [size, size[::-1]]
    least = (settings.leftover_shortest_mm, settings.leftover_narrowest_mm)
    usable = any(a >= least[0] and b >= least[1] for a, b in either)
    value = left_value(blank_of(piece), shape, piece.thickness_mm, [piece], settings) if usable else 0.0
    return Leftover(
        name="",
        shape=shape,
        rectangle_mm=rectangle,
        area_mm2=shape.area_mm2,
        usable=usable,
        value=value,
    )


def _without(items: Sequence[int], block: Block) -> list[int]:
    left = list(items)
    for w, _ in block.laid:
        left.remove(w)
    return left
