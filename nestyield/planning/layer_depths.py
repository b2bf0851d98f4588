"""How the thickness of a part is divided among its layers."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Sequence

from nestyield.model import Part, Piece, Settings
from nestyield.placement.stock import SAME_MM

#: Ways to divide the thickness of a part among the same pieces.
MOST_DIVISIONS = 24

#: From where to where below the front of a part each of its layers is, from the top down.
Spans = tuple[tuple[float, float], ...]


def limits_of(
    part: Part, pieces: Sequence[Piece], settings: Settings
) -> tuple[list[float], list[float]] | None:
    """Return how thick the finished wood of each layer is at the least and at the most; None where none can be.

    Each piece loses the planing allowance on both faces at least, and no more in all than the shop planes away;
    it is never planed below what the planer takes.

    Parameters
    ----------
    part : Part
    pieces : sequence of Piece
        From the top down.
    settings : Settings
    """
    planing, thinnest = settings.planing_mm, settings.machines.planer_thinnest_mm
    last = len(pieces) - 1
    most = [p.thickness_mm - 2 * planing for p in pieces]
    least = [
        max(p.thickness_mm - settings.most_planed_away_mm, thinnest - (planing if k in (0, last) else 0.0))
        for k, p in enumerate(pieces)
    ]
    if part.cap:
        if not least[0] - SAME_MM <= part.cap_mm <= most[0] + SAME_MM:
            return None
        most[0] = least[0] = part.cap_mm
    fits = sum(least) - SAME_MM <= part.thickness_mm <= sum(most) + SAME_MM
    return (least, most) if fits and all(a <= b + SAME_MM for a, b in zip(least, most)) else None


def divisions_of(part: Part, pieces: Sequence[Piece], settings: Settings) -> Iterator[Spans]:
    """Give ways to divide the part's thickness among layers: what is too much off the lowest layers first.

    Then those in which a glue line lies where a pocket or a flaw begins or ends, or a flaw comes to a pocket's floor.

    Parameters
    ----------
    part : Part
    pieces : sequence of Piece
        From the top down.
    settings : Settings
    """
    limits = limits_of(part, pieces, settings)
    if limits is None:
        return
    least, most = limits
    thick, over = list(most), sum(most) - part.thickness_mm
    for k in reversed(range(len(pieces))):
        less = min(max(0.0, over), max(0.0, thick[k] - least[k]))
        thick[k] -= less
        over -= less
    usual = _spans(itertools.accumulate(thick[:-1]), part.thickness_mm)
    seen = {usual}
    yield usual
    for ends in itertools.islice(_ends(part, pieces, settings, least, most, 0.0, 0), 8 * MOST_DIVISIONS):
        spans = _spans(ends, part.thickness_mm)
        if spans not in seen and len(seen) < MOST_DIVISIONS:
            seen.add(spans)
            yield spans


def _spans(ends: Iterable[float], whole: float) -> Spans:
    return tuple(itertools.pairwise([0.0, *(round(e, 6) for e in ends), whole]))


def _ends(
    part: Part,
    pieces: Sequence[Piece],
    settings: Settings,
    least: Sequence[float],
    most: Sequence[float],
    above: float,
    k: int,
) -> Iterator[tuple[float, ...]]:
    """Give depths of the glue lines from that under layer ``k`` on, which begins at a depth."""
    if k == len(pieces) - 1:
        yield ()
        return
    whole = part.thickness_mm
    low = max(above + least[k], whole - sum(most[k + 1 :]))
    high = min(above + most[k], whole - sum(least[k + 1 :]))
    floors = [
        z.depth_mm if z.face == "front" else whole - z.depth_mm
        for z in part.zones
        if z.does.cuts and z.depth_mm is not None
    ]
    own = [v for d in pieces[k].defects for v in d.span_mm(pieces[k].thickness_mm)]
    under = [v for d in pieces[k + 1].defects for v in d.span_mm(pieces[k + 1].thickness_mm)]
    planing = settings.planing_mm
    places = {*floors, *(above + v - planing for v in own), *(f - v + planing for f in floors for v in under)}
    places |= {low, high, (low + high) / 2}
    for end in sorted({round(v, 6) for v in places if low - SAME_MM <= v <= high + SAME_MM}, reverse=True):
        for rest in _ends(part, pieces, settings, least, most, end, k + 1):
            yield (end, *rest)
