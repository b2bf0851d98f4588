"""What goes back on the rack."""

from __future__ import annotations

from dataclasses import dataclass

from nestyield.model.outline import Shape


@dataclass(frozen=True, slots=True, kw_only=True)
class Leftover:
    """What goes back on the rack.

    Parameters
    ----------
    name : str
        ``PIECE-a``, ``PIECE-b`` ...
    shape : Shape
        Exact shape after the cutter, blank coordinates, millimeters.
    rectangle_mm : (x, y, length, width)
        Largest rectangle along the grain: its first corner, in coordinates turned by minus
        ``grain_deg`` about the blank's origin.
    area_mm2 : float
    usable : bool
        Whether the rectangle reaches the shop's least size and is kept; otherwise it is waste. No more
        than eight are sawn off one blank.
    value : float
        What it is worth on the rack, in the maker's money; 0 for waste.
    """

    name: str
    shape: Shape
    rectangle_mm: tuple[float, float, float, float]
    area_mm2: float
    usable: bool
    value: float = 0.0
