"""Outlines as a maker takes them with a tape: a taper, widths along a straight edge, sides and diagonals.

Corners count from 1, counter-clockwise: corner 1 at 0,0, corner 2 on the X axis.
"""

from __future__ import annotations

import itertools
import math
import re
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from nestyield.intake.lengths import UNIT_MM, LengthError, parse_length
from nestyield.model import NestyieldError, Outline, Point, Shape

#: Distances this far off what the others make them are told, mm: a tape is read to 1/16 in.
TAPE_MM = 25.4 / 16
#: Distances this far off are refused, mm.
MOST_OFF_MM = 12.7
#: Least squares begin from so many starts, those that fit best.
MOST_STARTS = 6
#: More corners are for a drawing.
MOST_CORNERS = 12
EXAMPLES = {
    "taper": "taper 28, 7 1/2, 5 1/4 (length, width at 0, width at the far end)",
    "widths": "widths 0: 7 1/2, 10: 8, 28: 6 3/4 (place along the straight edge: width there)",
    "sides": "sides 28, 7, 27 1/2, 6 7/8, 1-3 28 3/4 (sides in order, then from corner to corner)",
}
_WORD = re.compile(r"\s*(taper|widths|sides)\b[\s:]*(.*)", re.IGNORECASE | re.DOTALL)
_DIAGONAL = re.compile(r"(\d{1,2})\s*-\s*(\d{1,2})\s*(?:[:=]\s*|\s+)(.+)")


class TapeError(NestyieldError, ValueError):
    """What was measured is no outline; the message states what is wrong and what to write."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Taped:
    """An outline from tape measures.

    Parameters
    ----------
    shape : Shape
        Millimeters.
    off_mm : float or None
        Farthest that a measured distance is from that of the outline; None when nothing checks them.
    off_at : (int, int) or None
        The corners of that distance, from 1.
    """

    shape: Shape
    off_mm: float | None = None
    off_at: tuple[int, int] | None = None


def is_taped(text: str) -> bool:
    """Tell whether a cell begins with one of the words for tape measures."""
    return _WORD.match(text) is not None


def parse_taped(text: str, unit: str) -> Taped:
    """Read an outline from tape measures.

    Parameters
    ----------
    text : str
        ``taper LENGTH, WIDTH, WIDTH``; ``widths PLACE: WIDTH, ...``; ``sides SIDE, ..., 1-3 DIAGONAL, ...``.
        Commas may be semicolons.
    unit : {"mm", "cm", "m", "in", "ft"}
        What a bare number means.

    Raises
    ------
    TapeError
        When it is none of these, or no shape has these measures.
    """
    match = _WORD.match(text)
    if match is None:
        raise TapeError(f"expected {' or '.join(EXAMPLES)}, got {text[:40]!r}")
    word = match[1].lower()
    items = [item.strip() for item in re.split(r"[,;\n]", match[2]) if item.strip()]
    read = {"taper": _taper, "widths": _widths, "sides": _sides}[word]
    return read(items, unit)


def _length(text: str, unit: str, word: str) -> float:
    try:
        value = parse_length(text, unit)
    except LengthError as error:
        raise TapeError(f"{error}; write {EXAMPLES[word]}") from None
    if not value > 0 and not (word == "widths" and value == 0):
        raise TapeError(f"expected lengths above 0, got {text!r}; write {EXAMPLES[word]}")
    return value


def _taper(items: list[str], unit: str) -> Taped:
    if len(items) != 3:
        raise TapeError(f"expected 3 lengths, got {len(items)}; write {EXAMPLES['taper']}")
    length, near, far = (_length(i, unit, "taper") for i in items)
    return Taped(shape=_shape([(0.0, 0.0), (length, 0.0), (length, far), (0.0, near)]))


def _widths(items: list[str], unit: str) -> Taped:
    stations: list[tuple[float, float]] = []
    for item in items:
        place, colon, width = item.partition(":")
        if not colon:
            raise TapeError(f"expected place: width, got {item!r}; write {EXAMPLES['widths']}")
        stations.append((_length(place, unit, "widths"), _length(width, unit, "widths")))
    if len(stations) < 2:
        raise TapeError(f"expected at least 2 places, got {len(stations)}; write {EXAMPLES['widths']}")
    if any(a[0] >= b[0] for a, b in itertools.pairwise(stations)):
        raise TapeError("expected each place farther along the edge than the one before")
    first, last = stations[0][0], stations[-1][0]
    corners = [(first, 0.0), (last, 0.0), *((x, w) for x, w in reversed(stations) if w > 0)]
    return Taped(shape=_shape(corners))


def _sides(items: list[str], unit: str) -> Taped:
    sides: list[float] = []
    across: dict[tuple[int, int], float] = {}
    for item in items:
        diagonal = _DIAGONAL.fullmatch(item)
        if diagonal is None:
            if across:
                raise TapeError(f"expected all sides before the diagonals; write {EXAMPLES['sides']}")
            sides.append(_length(item, unit, "sides"))
            continue
        a, b = sorted((int(diagonal[1]), int(diagonal[2])))
        across[a - 1, b - 1] = _length(diagonal[3], unit, "sides")
    n = len(sides)
    if not 3 <= n <= MOST_CORNERS:
        raise TapeError(f"expected 3 to {MOST_CORNERS} sides, got {n}; write {EXAMPLES['sides']}")
    for a, b in across:
        if not 0 <= a < b < n or b - a in (1, n - 1):
            got = f"{a + 1}-{b + 1}"
            raise TapeError(f"expected diagonals between corners 1 to {n} that are no sides, got {got}")
    known = {(k, (k + 1) % n): side for k, side in enumerate(sides)} | across
    return _solved(n, unit, {(min(k), max(k)): v for k, v in known.items()})


def _solved(n: int, unit: str, known: dict[tuple[int, int], float]) -> Taped:
    """Find the corners that fit all distances best, by least squares from every start that closes."""
    from scipy.optimize import least_squares

    pairs = np.array(sorted(known))
    wanted = np.array([known[a, b] for a, b in sorted(known)])
    best: tuple[float, NDArray[np.float64]] | None = None
    starts = [np.array(start) for start in _starts(n, known)]
    starts.sort(key=lambda start: float(((_apart(start, pairs) - wanted) ** 2).sum()))
    for start in starts[:MOST_STARTS]:

        def miss(free: NDArray[np.float64]) -> NDArray[np.float64]:
            return np.asarray(_apart(_corners(free), pairs) - wanted, dtype=np.float64)

        free = np.concatenate([start[1, :1], start[2:].ravel()])
        found = least_squares(miss, free, xtol=1e-12, ftol=1e-12, gtol=1e-12)
        corners = _corners(found.x)
        ring = shapely.Polygon(corners)
        if not ring.is_valid or not shapely.is_ccw(ring.exterior):
            continue
        worst = float(np.abs(found.fun).max())
        if best is None or worst < best[0] - 1e-9:
            best = worst, found.x
    if best is None:
        raise TapeError("no shape has these sides and diagonals; measure again, counter-clockwise")
    corners = _corners(best[1])
    off = np.abs(_apart(corners, pairs) - wanted)
    at = int(off.argmax())
    a, b = int(pairs[at, 0]) + 1, int(pairs[at, 1]) + 1
    if off[at] > MOST_OFF_MM:
        much = off[at] / float(UNIT_MM[unit])
        raise TapeError(
            f"the distances do not go together: {a}-{b} is {much:.2f} {unit} off what the others make it; "
            "measure again"
        )
    checked = len(known) > 2 * n - 3
    return Taped(
        shape=_shape([(float(x), float(y)) for x, y in corners]),
        off_mm=float(off[at]) if checked else None,
        off_at=(a, b) if checked else None,
    )


def _apart(corners: NDArray[np.float64], pairs: NDArray[np.int64]) -> NDArray[np.float64]:
    """Return the distance between the corners of each pair."""
    d = corners[pairs[:, 0]] - corners[pairs[:, 1]]
    return np.asarray(np.hypot(d[:, 0], d[:, 1]), dtype=np.float64)


def _corners(free: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return corners from what is free: corner 1 is 0,0, corner 2 lies on the X axis."""
    return np.vstack([[0.0, 0.0], [free[0], 0.0], free[1:].reshape(-1, 2)])


def _starts(n: int, known: dict[tuple[int, int], float]) -> list[list[Point]]:
    """Return corners placed one by one, each by two distances to corners placed before, on either side."""
    starts: list[dict[int, Point]] = [{0: (0.0, 0.0), 1: (known[0, 1], 0.0)}]
    while len(starts[0]) < n:
        placed = starts[0]
        ready = [
            (k, near)
            for k in range(n)
            if k not in placed and len(near := [m for m in placed if (min(k, m), max(k, m)) in known]) >= 2
        ]
        if not ready:
            open_ = min(k for k in range(n) if k not in placed)
            add = f"1-{open_ + 1 if open_ < n - 1 else 3}"
            raise TapeError(
                f"nothing holds corner {open_ + 1}: it needs distances to two others; "
                f"add a diagonal, as {add}"
            )
        k, near = ready[0]
        a, b = near[:2]
        ra, rb = known[min(a, k), max(a, k)], known[min(b, k), max(b, k)]
        starts = [{**one, k: p} for one in starts for p in _meets(one[a], ra, one[b], rb)]
    return [[one[k] for k in range(n)] for one in starts]


def _meets(a: Point, ra: float, b: Point, rb: float) -> list[Point]:
    """Return where two circles meet; the nearest places when they do not."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    d = math.hypot(dx, dy) or 1e-9
    along = (ra * ra - rb * rb + d * d) / (2 * d)
    off = math.sqrt(max(0.0, ra * ra - along * along))
    x, y = a[0] + along * dx / d, a[1] + along * dy / d
    side = max(off, 1e-3 * d)
    return [(x - side * dy / d, y + side * dx / d), (x + side * dy / d, y - side * dx / d)]


def _shape(corners: list[Point]) -> Shape:
    ring = shapely.Polygon(corners)
    if not ring.is_valid or not ring.area > 0:
        raise TapeError("these measures make a shape that crosses itself; measure them again")
    return Shape(outer=Outline.polygon(corners))
