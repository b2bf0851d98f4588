"""Every column of the rack table and of the defect table, in one table.

To add a column, add a line here and read it; README and `nestyield explain` are made from these lines.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column of a table.

    Parameters
    ----------
    name : str
    doc : str
        What it holds, one line.
    length : bool
        It holds lengths (or well-known text with a unit), so its name may end in ``_mm``, ``_in`` ...
    """

    name: str
    doc: str
    length: bool = False


def _columns(*rows: tuple[str, str] | tuple[str, str, bool]) -> tuple[Column, ...]:
    return tuple(Column(name=r[0], doc=r[1], length=len(r) == 3) for r in rows)


RACK = _columns(
    ("piece", "what is written on it; unique"),
    ("shelf", "where it is; free text"),
    ("note", "free text"),
    ("parent", "the row that it was cut from; free text, written by take"),
    ("species", "the wood, as in the species table"),
    ("thickness", "as it lies on the rack, before planing", True),
    ("length", "along X of the piece", True),
    ("width", "across", True),
    (
        "outline",
        "in place of length and width: a drawing (offcut-7.dxf, or offcuts.dxf#LAYER); the corners in order, x and y each (0,0 20 1/4,0 20 1/4,6 0,6, in quotes); WKT (POLYGON ((0 0, ...))); or tape measures (taper, widths, sides)",
        True,
    ),
    (
        "edges",
        "edges that are rough or live: live far; rough left, 3-4 (near, far, left, right as it lies before you, or corner to corner)",
    ),
    (
        "flaws",
        "flaws in short: small knot about 12, 5; 3/8 in nail hole at 20, 3 top (pin, small, thumb, medium, large or a length)",
        True,
    ),
    (
        "measured",
        "how well it is measured, as 1/16 in: outline and flaws may be that far off [by allowance]",
        True,
    ),
    ("drawing_units", "unit of the row's drawing, where it does not say"),
    (
        "grain",
        "direction of the grain, degrees from the length [0], or none; sheets have none where it is empty",
    ),
    ("moisture", "moisture content, %"),
    ("count", "how many alike [1]"),
    ("value", "money for one; left out: by [value]"),
    (
        "weight",
        "what one weighs: 3.2 kg, 850 g, 7 lb 4 oz; a bare number is kg, in an inch shop lb; parts from it are weighed by it",
    ),
    ("status", "ready [ready], hold or taken; only ready pieces are planned"),
    (
        "seams",
        "joint lines of a blank that is glued up already, WKT (LINESTRING (0 95, 500 95), MULTILINESTRING)",
        True,
    ),
)

DEFECTS = _columns(
    ("piece", "the piece of the rack that it is in"),
    ("kind", "kind of defect"),
    ("x", "its middle, along the length from 0,0 of the piece", True),
    ("y", "its middle, across from 0,0 of the piece", True),
    ("diameter", "of a round one", True),
    ("length", "of an oblong one, with width, in place of diameter", True),
    ("width", "of an oblong one", True),
    ("angle", "how far an oblong one is turned, degrees [0]"),
    ("outline", "in place of x, y and sizes: WKT or corners in order", True),
    ("face", "top, bottom or through [through]: where it shows, and where its depth counts from"),
    ("depth", "depth from its face [right through]", True),
)
