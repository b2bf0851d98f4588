"""Outlines and lines in well-known text (OGC Simple Features), as tables hold them."""

from __future__ import annotations

import math
import re
import unicodedata
from fractions import Fraction

import numpy as np
import shapely
from shapely.validation import explain_validity

from nestyield.intake.lengths import LONGEST_MM
from nestyield.model import NestyieldError, Outline, Point, Shape

#: A longer text is refused before it is parsed.
LONGEST_TEXT = 5_000_000
_LIKE_WKT = re.compile(r"\s*[a-z]+(\s+(z|m|zm))?\s*(\(|empty\s*$)", re.IGNORECASE)
_WKT_WORD = re.compile(r"\s*(multi)?(polygon|linestring|point)\b", re.IGNORECASE)
_CURVED = re.compile(
    r"\s*(CIRCULARSTRING|COMPOUNDCURVE|CURVEPOLYGON|MULTICURVE|MULTISURFACE)\b", re.IGNORECASE
)
_NUMBER = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:e[+-]?\d+)?", re.IGNORECASE)
#: Corners without a word around them: numbers, and what stands between them.
_POINTS = re.compile(rf"[\s,;()]*{_NUMBER.pattern}(?:[\s,;()]+{_NUMBER.pattern})*[\s,;()]*", re.IGNORECASE)
#: A fraction with its whole number; and a fraction alone.
_MIXED = re.compile(r"(?<![\w./])(?:(\d+)(?:\s+|-))?(\d+)/(\d+)(?![\w./])")
_PROPER = re.compile(r"(?<![\w./])(\d+)/(\d+)(?![\w./])")
_MARKS = frozenset("(),;\n")
#: Corners after their word without brackets.
_BARE = re.compile(rf"\s*(polygon|linestring)((?:[\s,]+{_NUMBER.pattern})+)\s*", re.IGNORECASE)
_RING = re.compile(r"\(([^()]*)\)")


class WktError(NestyieldError, ValueError):
    """A text is not the well-known text that is needed; the message states the rule, then the value."""


def parse_polygon(text: str, unit_mm: float, unit: str = "mm") -> Shape:
    """Read a ``POLYGON``, holes allowed.

    Parameters
    ----------
    text : str
        Well-known text; a ring whose last point is not its first is closed.
    unit_mm : float
        Size of its unit in millimeters.
    unit : str
        Its name, for examples.

    Returns
    -------
    Shape
        Millimeters; first point not repeated.

    Raises
    ------
    WktError
        When it is not one valid polygon with area.
    """
    text = with_decimals(text)
    if _POINTS.fullmatch(text):
        text = _polygon_of_points(text, unit)
    geometry = _load(_RING.sub(_close, text), "POLYGON ((0 0, 500 0, 500 90, 0 90, 0 0))")
    if geometry.geom_type == "MultiPolygon" and len(geometry.geoms) == 1:
        geometry = geometry.geoms[0]
    if geometry.geom_type != "Polygon":
        raise WktError(f"expected one POLYGON, got {_name(geometry)}")
    if geometry.is_empty:
        raise WktError("expected a POLYGON with points, got an empty one")
    _finite(geometry, unit_mm)
    if not geometry.is_valid:
        raise WktError(_invalid(explain_validity(geometry)))
    rings = [geometry.exterior, *(r for r in geometry.interiors if not r.is_empty)]
    outlines = [Outline.polygon(_points(r.coords[:-1], unit_mm)) for r in rings]
    return Shape(outer=outlines[0], holes=tuple(outlines[1:]))


def parse_lines(text: str, unit_mm: float) -> list[tuple[Point, ...]]:
    """Read a ``LINESTRING`` or ``MULTILINESTRING``.

    Parameters
    ----------
    text : str
        Well-known text.
    unit_mm : float
        Size of its unit in millimeters.

    Returns
    -------
    list of tuple of (x, y)
        Millimeters.

    Raises
    ------
    WktError
        When it is not, or when a line has no length.
    """
    geometry = _load(with_decimals(text), "LINESTRING (0 95, 500 95)")
    if geometry.geom_type not in ("LineString", "MultiLineString"):
        raise WktError(f"expected LINESTRING or MULTILINESTRING, got {_name(geometry)}")
    if geometry.is_empty:
        raise WktError(f"expected {_name(geometry)} with points, got an empty one")
    _finite(geometry, unit_mm)
    lines = list(geometry.geoms) if geometry.geom_type == "MultiLineString" else [geometry]
    for line in lines:
        if not line.length > 0:
            raise WktError("expected lines with a length above 0, got one of length 0")
    return [tuple(_points(line.coords, unit_mm)) for line in lines]


def is_wkt(text: str) -> bool:
    """Tell whether a cell looks like well-known text rather than a file name."""
    if ".dxf" in text.casefold():
        return False
    word = _LIKE_WKT.match(text) or _WKT_WORD.match(text)
    return word is not None or _POINTS.fullmatch(with_decimals(text)) is not None


def with_decimals(text: str) -> str:
    """Write the fractions of a text of coordinates as decimals: ``20 1/4`` and ``20-1/4`` as ``20.25``.

    Parameters
    ----------
    text : str
        A whole number before a fraction belongs to it, except where a point would then lack a coordinate:
        ``(5 1/4, 0 3)`` is the point 5, 1/4.
    """
    plain = "".join(_vulgar(ch) for ch in text) if not text.isascii() else text
    if "/" not in plain:
        return plain
    pieces = re.split(r"([(),;\n])", plain)
    # where a comma stands between x and y, as in 20 1/4,0, some of what it separates is one number
    points = all(len(p.split()) != 1 for p in pieces if p not in _MARKS)
    return "".join(p if p in _MARKS else _decimals(p, points) for p in pieces)


def _vulgar(ch: str) -> str:
    written = unicodedata.normalize("NFKC", ch)
    return " " + written.replace("⁄", "/") if unicodedata.category(ch) == "No" and "⁄" in written else ch


def _decimals(text: str, points: bool) -> str:
    joined = _MIXED.sub(lambda m: _quotient(int(m[1] or 0), m[2], m[3]), text)
    if points and len(joined.split()) == 1 and len(text.split()) == 2:  # as 5 1/4: x 5 and y 1/4
        joined = _PROPER.sub(lambda m: _quotient(0, m[1], m[2]), text)
    return joined


def _quotient(whole: int, top: str, bottom: str) -> str:
    if not int(bottom):
        raise WktError(f"expected a fraction with a denominator above 0, got {top}/{bottom}")
    return repr(float(whole + Fraction(int(top), int(bottom))))


def _invalid(why: str) -> str:
    """Return what is wrong with an outline, and where, in plain words."""
    at = re.search(r"\[(\S+) (\S+)\]", why)
    near = f" near x {float(at[1]):.4g}, y {float(at[2]):.4g}" if at else ""
    if "Self-intersection" in why:
        return f"the outline crosses or touches itself{near}; write the corners in order around the piece"
    if "Too few" in why:
        return f"an outline or a hole{near} has less than 3 different corners; write all of them"
    if "Hole" in why or "Nested" in why:
        return f"a hole of the outline lies outside of it or in another hole{near}; write the holes again"
    return f"the outline is not sound{near} ({why.split('[')[0]}); write its corners in order, once around"


def _polygon_of_points(text: str, unit: str) -> str:
    """Write a list of corners, as ``0,0 20.25,0 20.25,6``, as well-known text."""
    numbers = _NUMBER.findall(text)
    such = "0,0 20 1/4,0 20 1/4,6" if unit == "in" else "0,0 700,0 660,170"
    if len(numbers) % 2:
        raise WktError(
            f"the outline has {len(numbers)} numbers, and each corner needs two, x and y; add the one that "
            f"lacks, perhaps after the last, {numbers[-1]} (as in {such})"
        )
    if len(numbers) < 6:
        raise WktError(f"an outline needs at least 3 corners, x and y each, as in {such}")
    points = [f"{x} {y}" for x, y in zip(numbers[::2], numbers[1::2])]
    return f"POLYGON (({', '.join(points)}))"


def _close(ring: re.Match[str]) -> str:
    """Repeat the first point of a ring at its end where the maker left that out."""
    points = [" ".join(p.split()) for p in ring[1].split(",")]
    return ring[0] if points[0] == points[-1] else f"({', '.join([*points, points[0]])})"


def _load(text: str, example: str) -> shapely.Geometry:
    if len(text) > LONGEST_TEXT:
        raise WktError(f"expected at most {LONGEST_TEXT} characters of well-known text, got {len(text)}")
    curve = _CURVED.match(text)
    if curve is not None:
        raise WktError(
            f"expected straight lines, got {curve[1].upper()}; draw arcs in a drawing and name it here"
        )
    bare = _BARE.fullmatch(text)
    if bare is not None:
        points = " ".join(bare[2].split())
        written = f"(({points}))" if bare[1].upper() == "POLYGON" else f"({points})"
        raise WktError(f"the brackets are missing; write {bare[1].upper()} {written}")
    try:
        with np.errstate(all="ignore"):
            geometry = shapely.from_wkt(text.strip())
    except (shapely.errors.ShapelyError, ValueError, TypeError, NotImplementedError) as error:
        why = " ".join(str(error).split()).removeprefix("ParseException: ")[:80]
        raise WktError(
            f"expected well-known text such as {example}, got a text with an error: {why}"
        ) from None
    if geometry is None:
        raise WktError(f"expected well-known text such as {example}, got an empty text")
    return geometry


def _finite(geometry: shapely.Geometry, unit_mm: float) -> None:
    values = shapely.get_coordinates(geometry).ravel()
    if not all(math.isfinite(v) for v in values):
        raise WktError("expected finite coordinates, got one that is not")
    if any(abs(v) * unit_mm > LONGEST_MM for v in values):
        raise WktError(f"expected coordinates below {LONGEST_MM:.0f} mm, got {float(max(abs(values))):g}")


def _points(coords: object, unit_mm: float) -> list[Point]:
    return [(float(c[0]) * unit_mm, float(c[1]) * unit_mm) for c in coords]  # type: ignore[attr-defined]


def _name(geometry: shapely.Geometry) -> str:
    return str(geometry.geom_type).upper()
