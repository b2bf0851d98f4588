"""A damaged place of a part as a maker measures it: where its middle is, and how large it is."""

from __future__ import annotations

import re

from nestyield.intake.lengths import LengthError, parse_length
from nestyield.model import NestyieldError, Outline, Part, Shape
from nestyield.model.arcs import box_of
from nestyield.model.units import Units

_SIZES = re.compile(r"(.+?)\s*[x×]\s*(.+)", re.IGNORECASE)


class DamageError(NestyieldError, ValueError):
    """A text is no damaged place, or lies off the part; the message states the rule, then the text."""


def parse_damage(text: str, part: Part, units: Units) -> Shape:
    """Read a damaged place, in the coordinates of the part's drawing.

    Parameters
    ----------
    text : str
        ``120,45 30x12``: its middle from the left and the lower end of the part as it is drawn, front up,
        then its length and width along them; ``120,45 12`` is round. A semicolon may part place and size.
    part : Part
    units : {"mm", "in"}
        Of bare numbers.

    Raises
    ------
    DamageError

    Examples
    --------
    >>> square = Part(name="p", drawing="", outline=Outline.rectangle(5, 5, 105, 55), thickness_mm=20)
    >>> parse_damage("20,10 8x4", square, "mm").outer.points_mm[0]
    (21.0, 13.0)
    """
    place, _, size = (
        t.strip() for t in (text.partition(";") if ";" in text else text.strip().partition(" "))
    )
    corner = box_of(part.outline)
    try:
        x, y = (parse_length(v.strip(), units) for v in place.split(","))
        sizes = _SIZES.fullmatch(size)
        sides = [parse_length(v, units) for v in (sizes.groups() if sizes else (size,))]
    except (LengthError, ValueError) as error:
        usual = "'4 3/4, 1 3/4; 1 1/4 x 1/2'" if units == "in" else "'120,45 30x12'"
        raise DamageError(
            f"expected a place and a size such as {usual}, or one size for a round one; got {text[:40]!r}"
        ) from error
    if not all(v > 0 for v in sides):
        raise DamageError(f"expected a size > 0 of the damage, got {text[:40]!r}")
    x, y = corner.x0 + x, corner.y0 + y
    if len(sides) == 1:
        return Shape(outer=Outline.circle(x, y, sides[0] / 2))
    half = (sides[0] / 2, sides[1] / 2)
    return Shape(outer=Outline.rectangle(x - half[0], y - half[1], x + half[0], y + half[1]))
