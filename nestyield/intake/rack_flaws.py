"""What a row of the rack says in short about its wood: rough and live edges, flaws with size and place."""

from __future__ import annotations

import re

import shapely

from nestyield.intake.across import on_it_if_turned
from nestyield.intake.columns import Columns
from nestyield.intake.lengths import LengthError, parse_length
from nestyield.intake.problems import shown
from nestyield.intake.sampling import sample
from nestyield.intake.slipped import HALF_A_PLACE
from nestyield.intake.table import Line
from nestyield.intake.tolerates import defect_kind, unknown_kind
from nestyield.model import Defect, NestyieldError, Outline, PieceFace, Settings, Shape
from nestyield.model.arcs import box_of

#: Sides of a piece as it lies before one, 0,0 at the lower left: the way that their edges face.
SIDES: dict[str, tuple[float, float]] = {
    "near": (0.0, -1.0),
    "far": (0.0, 1.0),
    "left": (-1.0, 0.0),
    "right": (1.0, 0.0),
}
#: Sizes of knots by name, diameter at most, mm. American lumber grading (M): pin not over 1/2 in,
#: small 3/4 in, medium 1 1/2 in, large over that; large is taken as 3 in, a thumb as 1 in (P).
SIZES_MM: dict[str, float] = {"pin": 12.7, "small": 19.05, "thumb": 25.4, "medium": 38.1, "large": 76.2}
_SIZE = re.compile(r"[\s-]*sized?$", re.IGNORECASE)
EDGES = "live far; rough left, 3-4 (near, far, left, right, or corner to corner as in the outline)"
_FLAWS = {
    "in": "small knot about 12, 5; 3/8 in nail hole at 20, 3 top",
    "ft": "small knot about 1, 0.5; 3/8 in nail hole at 2, 0.25 top",
    "mm": "small knot about 300, 120; 10 mm nail hole at 500, 80 top",
    "cm": "small knot about 30, 12; 1 cm nail hole at 50, 8 top",
    "m": "small knot about 0.3, 0.12; 10 mm nail hole at 0.5, 0.08 top",
}
#: Smaller pieces of a strip are left out, square millimeters.
_LEAST_MM2 = 1e-3
_CORNERS = re.compile(r"(\d{1,3})\s*-\s*(\d{1,3})")
#: A flaw that ends at a comma or "and", and goes on with another.
_NEXT = re.compile(
    r"(\b(?:at|about)\s+[^,;]+,\s*[^,;\sa-z]+(?:\s+[\d/]+)?(?:\s+[a-z]+)?)(?:\s*,|\s+and\b)(?=[^;]*\b(?:at|about)\b)",
    re.IGNORECASE,
)
_EDGE = re.compile(r"(?:(live|rough)\b(?:\s+edges?)?\s*)?(.*)", re.IGNORECASE | re.DOTALL)
_FLAW = re.compile(
    r"(?P<what>.+?)\s+(?P<how>about|at)\s+(?P<x>[^,;]+),(?P<y>.+?)(?:\s+(?P<face>top|bottom|through))?",
    re.IGNORECASE | re.DOTALL,
)


class FlawError(NestyieldError, ValueError):
    """A cell about edges or flaws cannot be read; the message states what is wrong and what to write."""


def parse_edges(text: str, shape: Shape, width_mm: float, label: str) -> tuple[Defect, ...]:
    """Read which edges of a piece are rough or live, as strips along them.

    Parameters
    ----------
    text : str
        ``live far; rough left, 3-4``: kinds and edges; a kind goes on until the next.
    shape : Shape
        Of the piece, millimeters.
    width_mm : float
        Of the strips.
    label : str
        Begins the names of the strips, as ``rack.csv row 4``.

    Raises
    ------
    FlawError
        When a word is not understood, or the piece has no such edge.
    """
    kind = ""
    out: list[Defect] = []
    wood = shapely.Polygon(_ring(shape.outer))
    for item in (i.strip() for i in re.split(r"[,;\n]", text)):
        if not item:
            continue
        match = _EDGE.fullmatch(item)
        assert match is not None
        kind = f"{match[1].lower()} edge" if match[1] else kind
        if not kind or not match[2]:
            raise FlawError(f"expected live or rough and an edge, got {shown(item)}; write {EDGES}")
        runs = _edges(match[2].strip().casefold(), shape.outer)
        strip = shapely.union_all([shapely.LineString(run).buffer(width_mm) for run in runs])
        for part in shapely.get_parts(strip.intersection(wood)):
            if part.geom_type == "Polygon" and part.area > _LEAST_MM2:
                ring = Outline.polygon([(x, y) for x, y in part.exterior.coords[:-1]])
                name = f"{label} ({kind} {match[2].strip()})"
                out.append(Defect(name=name, kind=kind, shape=Shape(outer=ring)))
    return tuple(out)


def _ring(outline: Outline) -> list[tuple[float, float]]:
    points = (*outline.points_mm, outline.points_mm[0])
    return sample(points, outline.bulges, closed=True)


def _edges(word: str, outline: Outline) -> list[list[tuple[float, float]]]:
    """Return the edges that a word names, each as points."""
    points, n = outline.points_mm, len(outline.points_mm)
    corners = _CORNERS.fullmatch(word)
    if corners:
        a, b = int(corners[1]) - 1, int(corners[2]) - 1
        if not (0 <= a < n and 0 <= b < n and a != b):
            raise FlawError(f"expected corners from 1 to {n}, got {word}")
        chosen = [k % n for k in range(a, b if b > a else b + n)]
    elif word in SIDES:
        way = SIDES[word]
        turn = 1.0 if outline.signed_area_mm2 > 0 else -1.0
        chosen = []
        for k in range(n):
            (x0, y0), (x1, y1) = points[k], points[(k + 1) % n]
            out = turn * ((y1 - y0) * way[0] - (x1 - x0) * way[1])
            across = abs((x1 - x0) * way[0] + (y1 - y0) * way[1])
            if out > 0 and out >= across:  # within 45 degrees
                chosen.append(k)
        if not chosen:
            raise FlawError(f"the piece has no edge that faces {word}; write corner to corner, as 2-3")
    else:
        raise FlawError(f"unknown edge {shown(word)}; write {EDGES}")
    return [sample((points[k], points[(k + 1) % n]), (outline.bulges[k],), closed=False) for k in chosen]


def parse_flaws(text: str, unit: str, about_mm: float, label: str) -> tuple[Defect, ...]:
    """Read flaws with a size, a kind and a place.

    Parameters
    ----------
    text : str
        ``small knot about 12, 5; 3/8 in nail hole at 20, 3 top``, parted by semicolons. A size is a
        length, or pin, small, thumb, medium, large.
    unit : {"mm", "cm", "m", "in", "ft"}
        What a bare number means.
    about_mm : float
        How far off a place may be that is written with ``about``: the flaw is larger by that all round.
    label : str
        Begins their names.

    Raises
    ------
    FlawError
        When one cannot be read.
    """
    return tuple(
        _flaw(item.strip(), unit, about_mm, label) for item in re.split(r"[;\n]", text) if item.strip()
    )


def example(unit: str) -> str:
    """Return how flaws are written, in a unit."""
    return f"{_FLAWS[unit]} (size, kind, about or at, x, y)"


def _parted(text: str) -> str:
    """Return flaws that commas part with semicolons, each with a size."""
    items = [item.strip() for item in _NEXT.sub(r"\1;", text).split(";")]
    kinds = (_FLAW.fullmatch(item) for item in items)
    return "; ".join(
        f"small {item}" if match and defect_kind(match["what"]) else item for item, match in zip(items, kinds)
    )


def _flaw(item: str, unit: str, about_mm: float, label: str) -> Defect:
    if _NEXT.search(item):
        raise FlawError(f"part the flaws with semicolons: {_parted(item)}")
    match = _FLAW.fullmatch(item)
    if match is None:
        if HALF_A_PLACE.search(item):
            raise FlawError(
                f"expected a place of two numbers, got {shown(item)}; "
                "write both, and put straight quotes around the cell"
            )
        raise FlawError(f"expected a size, a kind and a place, got {shown(item)}; write {example(unit)}")
    kind = defect_kind(match["what"])
    if kind is not None:
        sizes = f"{', '.join(SIZES_MM)}, or a length"
        raise FlawError(f"the {kind} has no size; write small {item} ({sizes})")
    size, kind = _size_and_kind(match["what"], unit)
    try:
        x, y = (parse_length(match[k].strip(), unit) for k in ("x", "y"))
    except LengthError as error:
        raise FlawError(f"{error}; write {example(unit)}") from None
    about = about_mm if match["how"].lower() == "about" else 0.0
    face: PieceFace = (match["face"] or "through").lower()  # type: ignore[assignment]
    circle = Shape(outer=Outline.circle(x, y, size / 2.0 + about))
    return Defect(name=f"{label} ({item})", kind=kind, shape=circle, face=face)


def _size_and_kind(text: str, unit: str) -> tuple[float, str]:
    """Return diameter and kind of ``small loose knot``, ``3/8 in nail hole``."""
    words = text.split()
    for k in range(1, len(words)):
        kind = defect_kind(" ".join(words[k:]))
        if kind is None:
            continue
        size = " ".join(words[:k])
        named = _SIZE.sub("", size.casefold())
        if named in SIZES_MM:
            return SIZES_MM[named], kind
        try:
            value = parse_length(size, unit)
        except LengthError:
            raise FlawError(
                f"expected a size: a length, or {', '.join(SIZES_MM)}; got {shown(size)}"
            ) from None
        if not value > 0:
            raise FlawError(f"expected a size above 0, got {shown(size)}")
        return value, kind
    raise FlawError(unknown_kind(" ".join(words[1:]) or text))


def flaws_of_row(row: Line, c: Columns, shape: Shape, settings: Settings) -> tuple[Defect, ...]:
    """Return what a row says about its edges and flaws; errors R013 for what cannot be read.

    Parameters
    ----------
    row : Line
    c : Columns
        Of the rack table.
    shape : Shape
        Of the piece.
    settings : Settings
        Width of the strips, and how far off "about" is.
    """
    label = f"{c.file} {row.place}"
    out: list[Defect] = []
    if text := c.text(row, "edges"):
        try:
            out += parse_edges(text, shape, settings.rough_edge_mm, label)
        except FlawError as error:
            c.error(row, str(error), "edges", "R013")
    if text := c.text(row, "flaws"):
        try:
            found = parse_flaws(text, c.unit("flaws"), settings.about_mm, label)
        except FlawError as error:
            c.error(row, str(error), "flaws", "R013")
            return tuple(out)
        wood = shapely.Polygon(_ring(shape.outer))
        for flaw in found:
            if not shapely.Polygon(_ring(flaw.shape.outer)).intersects(wood):
                said = flaw.name.removeprefix(label).strip()
                x0, y0, x1, y1 = wood.bounds
                size = c.words.size(x1 - x0, y1 - y0, style="setting")
                box = box_of(flaw.shape.outer)
                middle = (box.x0 + box.x1) / 2.0, (box.y0 + box.y1) / 2.0
                turned = not c.text(row, "outline") and on_it_if_turned(*middle, x1 - x0, y1 - y0)
                todo = "are x and y exchanged, or length and width?" if turned else "correct x, y"
                c.error(row, f"{said} lies outside the piece ({size}); {todo}", "flaws", "R013")
        out += found
    return tuple(out)
