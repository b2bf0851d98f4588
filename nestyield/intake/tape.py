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
from nestyield.words import Words, listed

#: Distances this far off what the others make them are told, mm: a tape is read to 1/16 in.
TAPE_MM = 25.4 / 16
#: Distances this far off are refused, mm.
MOST_OFF_MM = 12.7
#: Least squares begin from so many starts, those that fit best.
MOST_STARTS = 6
#: More corners are for a drawing.
MOST_CORNERS = 12
#: What is measured, by word.
MEASURED = {
    "taper": "length, width at 0, width at the far end",
    "widths": "place along the straight edge: width there",
    "sides": "sides in order, then from corner to corner",
}
_IN_INCHES = {
    "taper": "taper 28, 7 1/2, 5 1/4",
    "widths": "widths 0: 7 1/2, 10: 8, 28: 6 3/4",
    "sides": "sides 28, 7, 27 1/2, 6 7/8, 1-3 28 3/4",
}
_IN_MM: dict[str, tuple[str, tuple[int, ...]]] = {
    "taper": ("taper {}, {}, {}", (700, 190, 130)),
    "widths": ("widths {}: {}, {}: {}, {}: {}", (0, 190, 250, 205, 700, 170)),
    "sides": ("sides {}, {}, {}, {}, 1-3 {}", (700, 180, 690, 175, 720)),
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
    others_mm, made_mm : float or None
        What the other distances make it, where it is well off; and as measured.
    """

    shape: Shape
    off_mm: float | None = None
    off_at: tuple[int, int] | None = None
    others_mm: float | None = None
    made_mm: float | None = None


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
        raise TapeError(f"expected {' or '.join(MEASURED)}, got {text[:40]!r}")
    word = match[1].lower()
    items = [item.strip() for item in re.split(r"[,;\n]", match[2]) if item.strip()]
    read = {"taper": _taper, "widths": _widths, "sides": _sides}[word]
    return read(items, unit)


def example(word: str, unit: str) -> str:
    """Return how measures are written, in a unit, with what they mean.

    Parameters
    ----------
    word : {"taper", "widths", "sides"}
    unit : {"mm", "cm", "m", "in", "ft"}
    """
    text, values = _IN_MM[word]
    plain = text.format(*(f"{v / float(UNIT_MM[unit]):.4g}" for v in values))
    return f"{_IN_INCHES[word] if unit == 'in' else plain} ({MEASURED[word]})"


def _said(mm: float, unit: str) -> str:
    """Return a distance as it is told."""
    return Words("in" if unit in ("in", "ft") else "mm").length(mm, style="rule")


def _plain(mm: float, unit: str) -> str:
    """Return a length as one writes it after a word, without its unit."""
    return f"{round(mm / float(UNIT_MM[unit]), 0 if unit == 'mm' else 2):g}"


def _length(text: str, unit: str, word: str) -> float:
    try:
        value = parse_length(text, unit)
    except LengthError as error:
        raise TapeError(f"{error}; write {example(word, unit)}") from None
    if not value > 0 and not (word == "widths" and value == 0):
        raise TapeError(f"expected lengths above 0, got {text!r}; write {example(word, unit)}")
    return value


def _with_commas(word: str, items: list[str], unit: str) -> None:
    """Refuse measures that only spaces part."""
    number = r"\d+(?:\.\d+)?(?:[ -]\d+/\d+)?"
    runs = [re.fullmatch(rf"{number}(?:\s+(?:\d+-\d+\s+)?{number})+", item) for item in items]
    if any(run is not None and "/" in run[0] for run in runs):
        raise TapeError(f"measures are parted by commas; write {example(word, unit)}")
    if any(runs):
        text = re.sub(r"(?<=\d)\s+(?=\d)", ", ", ", ".join(items))
        text = re.sub(r"(\b\d+-\d+),", r"\1", text)
        raise TapeError(f"measures are parted by commas; write {word} {text}")


def _taper(items: list[str], unit: str) -> Taped:
    if len(items) != 3:
        _with_commas("taper", items, unit)
        lacks = f"a taper has 3 lengths ({MEASURED['taper']}), and {len(items)} are given"
        if len(items) == 2:
            length, near = (_length(i, unit, "taper") for i in items)
            such = f"taper {items[0]}, {items[1]}, {_plain(0.8 * near, unit)}"
            raise TapeError(f"{lacks}; add the width at the far end, such as {such}")
        raise TapeError(f"{lacks}; write {example('taper', unit).partition(' (')[0]}")
    length, near, far = (_length(i, unit, "taper") for i in items)
    return Taped(shape=_shape([(0.0, 0.0), (length, 0.0), (length, far), (0.0, near)]))


def _widths(items: list[str], unit: str) -> Taped:
    stations: list[tuple[float, float]] = []
    if len(items) > 1 and not any(":" in item for item in items):
        length = 28 * 25.4 if unit == "in" else 700.0
        placed = (f"{_plain(length * k / (len(items) - 1), unit)}: {w}" for k, w in enumerate(items))
        raise TapeError(f"each width needs its place along the edge, such as widths {', '.join(placed)}")
    for item in items:
        place, colon, width = item.partition(":")
        if not colon:
            raise TapeError(f"expected place: width, got {item!r}; write {example('widths', unit)}")
        stations.append((_length(place, unit, "widths"), _length(width, unit, "widths")))
    if len(stations) < 2:
        raise TapeError(f"expected at least 2 places, got {len(stations)}; write {example('widths', unit)}")
    if any(a[0] >= b[0] for a, b in itertools.pairwise(stations)):
        raise TapeError("expected each place farther along the edge than the one before")
    first, last = stations[0][0], stations[-1][0]
    corners = [(first, 0.0), (last, 0.0), *((x, w) for x, w in reversed(stations) if w > 0)]
    return Taped(shape=_shape(corners))


def _sides(items: list[str], unit: str) -> Taped:
    sides: list[float] = []
    across: dict[tuple[int, int], float] = {}
    _with_commas("sides", items, unit)
    for item in items:
        diagonal = _DIAGONAL.fullmatch(item)
        if diagonal is None:
            if across:
                raise TapeError(f"expected all sides before the diagonals; write {example('sides', unit)}")
            sides.append(_length(item, unit, "sides"))
            continue
        a, b = sorted((int(diagonal[1]), int(diagonal[2])))
        across[a - 1, b - 1] = _length(diagonal[3], unit, "sides")
    n = len(sides)
    if not 3 <= n <= MOST_CORNERS:
        raise TapeError(f"expected 3 to {MOST_CORNERS} sides, got {n}; write {example('sides', unit)}")
    for a, b in across:
        if not 0 <= a < b < n or b - a in (1, n - 1):
            got = f"{a + 1}-{b + 1}"
            raise TapeError(f"expected diagonals between corners 1 to {n} that are no sides, got {got}")
    known = {(k, (k + 1) % n): side for k, side in enumerate(sides)} | across
    known = {(min(k), max(k)): v for k, v in known.items()}
    _refuse_loose(n, unit, items, sides, known)
    for (a, b), length in across.items():
        _refuse_impossible(a, b, length, sides, unit)
    return _solved(n, unit, known)


def _refuse_loose(
    n: int, unit: str, items: list[str], sides: list[float], known: dict[tuple[int, int], float]
) -> None:
    """Refuse sides that may still move: tell which diagonals hold them, with lengths that are possible."""
    lacking = _lacking(n, set(known))
    if not lacking:
        return
    such = []
    for a, b in lacking:
        ways = (sides[a:b], sides[b:] + sides[:a])
        least = max(2 * max(way) - sum(way) for way in ways)
        square = min(math.hypot(*way) for way in ways)  # as if the sides met at right angles
        length = max(1.01 * least, min(square, 0.99 * min(sum(way) for way in ways)))
        such.append(f"{a + 1}-{b + 1} {_plain(length, unit)}")
    names = listed(f"{a + 1}-{b + 1}" for a, b in lacking)
    loose = f"{n} sides {'alone ' if len(known) == n else ''}leave the shape loose"
    write = f"sides {', '.join([*items, *such])}"
    raise TapeError(f"{loose}; measure across, {names}, and add it, such as {write}")


def _lacking(n: int, known: set[tuple[int, int]]) -> list[tuple[int, int]]:
    """Return the diagonals that hold every corner by two distances to others, the first that serve."""
    placed, lacking = [0, 1], []
    while len(placed) < n:
        near = {
            k: [m for m in placed if (min(k, m), max(k, m)) in known] for k in range(n) if k not in placed
        }
        ready = next((k for k in near if len(near[k]) >= 2), None)
        if ready is None:
            ready = next((k for k in near if near[k]), min(near))
            for m in placed:
                if len(near[ready]) < 2 and m not in near[ready]:
                    near[ready].append(m)
                    lacking.append((min(ready, m), max(ready, m)))
            known = known | set(lacking)
        placed.append(ready)
    return lacking


def _refuse_impossible(a: int, b: int, length: float, sides: list[float], unit: str) -> None:
    """Refuse a diagonal longer than the sides beside it together, or shorter than they allow."""
    name = f"{a + 1}-{b + 1}"
    ways = (sides[a:b], sides[b:] + sides[:a])
    most = min(sum(way) for way in ways)
    least = max(2 * max(way) - sum(way) for way in ways)
    if length > most + MOST_OFF_MM:
        allow = f"longer than the sides allow ({_said(most, unit)} at most)"
    elif length < least - MOST_OFF_MM:
        allow = f"shorter than the sides allow ({_said(least, unit)} at least)"
    else:
        return
    raise TapeError(f"{name} ({_said(length, unit)}) is {allow}; measure {name} again")


def does_not_fit(at: tuple[int, int], others_mm: float | None, made_mm: float | None, unit: str) -> str:
    """Return that a distance does not fit the others, by how much, and what to do.

    Parameters
    ----------
    at : (int, int)
        Its corners, from 1.
    others_mm : float or None
        What the other distances make it; None when they leave it open.
    made_mm : float or None
        As measured.
    unit : str
    """
    name = f"{at[0]}-{at[1]}"
    if others_mm is None or made_mm is None:
        return f"the distances do not go together, least of all {name}; measure {name} again, then the others"
    off = _said(abs(made_mm - others_mm), unit)
    way = "long" if made_mm > others_mm else "short"
    return f"{name} does not fit the others, it is about {off} too {way} for them; measure {name} again"


def _solved(n: int, unit: str, known: dict[tuple[int, int], float]) -> Taped:
    """Find the corners that fit all distances best; tell which one does not go with the others."""
    corners = _best(n, known)
    if corners is None:
        raise TapeError("no shape has these sides and diagonals; measure again, counter-clockwise")
    pairs = sorted(known)
    off = np.abs(_apart(corners, np.array(pairs)) - np.array([known[k] for k in pairs]))
    worst = pairs[int(off.argmax())]
    a, b = worst[0] + 1, worst[1] + 1
    others = None
    if off.max() > TAPE_MM:
        without = {k: v for k, v in known.items() if k != worst}
        rest = None if _lacking(n, set(without)) else _best(n, without)
        others = None if rest is None else float(np.hypot(*(rest[worst[0]] - rest[worst[1]])))
    if off.max() > MOST_OFF_MM:
        raise TapeError(does_not_fit((a, b), others, known[worst], unit))
    checked = len(known) > 2 * n - 3
    return Taped(
        shape=_shape([(float(x), float(y)) for x, y in corners]),
        off_mm=float(off.max()) if checked else None,
        off_at=(a, b) if checked else None,
        others_mm=others,
        made_mm=known[worst],
    )


def _best(n: int, known: dict[tuple[int, int], float]) -> NDArray[np.float64] | None:
    """Return the corners that fit all distances best, by least squares from every start that closes."""
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
    return None if best is None else _corners(best[1])


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
