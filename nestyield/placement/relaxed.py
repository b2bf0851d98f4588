"""What a relaxation asks for, done: the part, the blank and the settings with one constraint relaxed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from nestyield.geometry.boolean import to_grid
from nestyield.geometry.flatten import flatten
from nestyield.geometry.grid import UM_PER_MM, Region
from nestyield.geometry.minkowski import no_fit_subgrid
from nestyield.geometry.shape import region_to_shape
from nestyield.model import Blank, Part, Settings, Shape
from nestyield.model.arc import cos_sin
from nestyield.model.facts import (
    BetterMeasured,
    DefectFilled,
    LongerPiece,
    NarrowerGap,
    NarrowerMargin,
    Relaxation,
    WiderGrainTolerance,
)

Asked = tuple[Part, Blank, Settings]


def relaxed(asked: Asked, way: Relaxation) -> Asked:
    """Return a question with one relaxation applied.

    Parameters
    ----------
    asked : (Part, Blank, Settings)
    way : Relaxation
        A longer or wider piece is one without defects and holes, its outline drawn out along or across the grain.
    """
    part, blank, settings = asked
    match way:
        case BetterMeasured():
            return part, replace(blank, measured_mm=way.needed_um / UM_PER_MM), settings
        case NarrowerMargin():
            return part, blank, replace(settings, blank_margin_mm=way.reachable_um / UM_PER_MM)
        case NarrowerGap():
            return part, blank, replace(settings, between_parts_mm=way.reachable_um / UM_PER_MM)
        case WiderGrainTolerance():
            return replace(part, grain_tolerance_deg=way.needed_deg), blank, settings
        case DefectFilled():
            rest = tuple(d for d in blank.defects if d.name != way.defect)
            return part, replace(blank, defects=rest), settings
    angle_deg = (blank.grain_deg or 0.0) + (0.0 if isinstance(way, LongerPiece) else 90.0)
    return part, drawn_out(blank, angle_deg, way.missing_um, settings), settings


def drawn_out(blank: Blank, angle_deg: float, by_um: int, settings: Settings) -> Blank:
    """Return a blank without defects and holes, its outline drawn out: all shifts of it together.

    Parameters
    ----------
    blank : Blank
    angle_deg : float
        Direction.
    by_um : int
        How far; 0 leaves the outline as it is.
    settings : Settings
        Gives the chord error; the outline never gets larger by it.
    """
    bare = replace(blank, defects=(), shape=Shape(outer=blank.shape.outer))
    c, s = cos_sin(angle_deg)
    x, y = round(c * by_um), round(s * by_um)
    if x == 0 and y == 0:
        return bare
    # a strip one micrometer wide along the vector; its width is lost in rounding
    a, b = (0, 1) if abs(x) >= abs(y) else (-1, 0)
    strip = np.array([[0, 0], [x, y], [x + a, y + b], [a, b]], dtype=np.int64)
    ring = flatten(blank.shape.outer, settings.chord_error_mm, "inside")
    grown: Region = to_grid(no_fit_subgrid(ring, -strip))
    shapes = region_to_shape([r for r in grown if len(r)])
    return replace(bare, shape=max(shapes, key=lambda shape: shape.area_mm2))
