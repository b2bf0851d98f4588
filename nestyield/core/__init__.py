"""The library for scripts: shapely polygons in and out, millimeters, degrees, no shop folder, no files.

The searches are those of `nestyield plan`. Make parts and pieces with `part`, `zone`, `piece` and `defect`;
ask with `place`, `nest`, `glue` and `fit_bed`; read results as shapely from `Laid`, or draw them with `plot`.
A rule of your own is a `forbidden` region: it holds where parts are placed or nested on a piece, and for the
member of a glue-up that comes from that piece; not on a finished glue-up, nor on a bed.
"""

from nestyield.core.build import defect, forbidden, part, piece, zone
from nestyield.core.laid import Laid
from nestyield.core.lay import Nested, Placed, fit_bed, glue, nest, place
from nestyield.core.plot import plot
from nestyield.model import Bed, KeepOut, ModelError, Settings
from nestyield.placement.constraint import Constraint

__all__ = [
    "Bed",
    "Constraint",
    "KeepOut",
    "Laid",
    "ModelError",
    "Nested",
    "Placed",
    "Settings",
    "defect",
    "fit_bed",
    "forbidden",
    "glue",
    "nest",
    "part",
    "piece",
    "place",
    "plot",
    "zone",
]
