"""What is asked of pictures, and what comes of them."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import shapely

from nestyield.model.units import Units
from nestyield.photo.grain import Grain

#: A written outline may be this far off before the picture is refused, mm.
LIMIT_MM = 0.8


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoRequest:
    """What is asked.

    Parameters
    ----------
    pictures : tuple of Path
    thickness_mm : float
        Of all pieces in them.
    species, name : str
        ``name`` of the piece; of several it is followed by a number.
    together : bool
        All pictures show the same pieces and sheets, which were not moved.
    scan : bool
        The pictures are of a scanner: no markers, the face lay on the glass.
    dpi : float or None
        Of a scan; None: as its file says.
    lines_mm : (float or None, float or None)
        What the two lines of the printed sheet measure.
    limit_mm : float
        Largest error estimate that is taken.
    kinds : dict of str to str
        Kind of defect by the color of its mark.
    units : {"mm", "in"}
        Of messages.
    """

    pictures: tuple[Path, ...]
    thickness_mm: float
    species: str
    name: str
    together: bool = False
    scan: bool = False
    dpi: float | None = None
    lines_mm: tuple[float | None, float | None] = (None, None)
    limit_mm: float = LIMIT_MM
    kinds: dict[str, str] = field(default_factory=lambda: {"blue": "knot", "green": "screw hole"})
    units: Units = "mm"


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoPiece:
    """A piece as traced.

    Parameters
    ----------
    name : str
    traced : Polygon
        Outline and holes as seen, on the ground of the first sheet, mm.
    written : Polygon
        The same in the piece's own coordinates, smaller by the error estimate: length along X, lower left at 0,0.
    place : (float, float, float)
        Where 0,0 of the written outline is on the ground, x and y mm, and its turn in degrees.
    defects : tuple of (str, Polygon)
        Kind and outline, in the piece's own coordinates.
    grain : Grain
        Its angle is from the piece's length.
    error_mm, camera_mm, edge_mm : float
        Error estimate at 95 % of the outline, and its two parts.
    drawn_in_mm : float
        By how much the written outline lies inside the traced one, on every side.
    hidden_mm : float
        Holes narrower than this may be hidden by the thickness.
    scene : int
    pictures : tuple of int
        Those of its scene that show it.
    """

    name: str
    traced: shapely.Polygon
    written: shapely.Polygon
    place: tuple[float, float, float]
    defects: tuple[tuple[str, shapely.Polygon], ...]
    grain: Grain
    error_mm: float
    camera_mm: float
    edge_mm: float
    drawn_in_mm: float
    hidden_mm: float
    pictures: tuple[int, ...]
    scene: int = 0
