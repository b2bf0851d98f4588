"""Density of wood: of a piece that was weighed, of a maker's own wood, of the species table.

Sources
-------
Wood Handbook, USDA Forest Products Laboratory, FPL-GTR-190 (2010), table 5-3: specific gravity at 12 %
moisture, on ovendry weight and volume at 12 %; imported woods from the basic specific gravity of table 5-5
and the volumetric shrinkage of table 4-4, ``G12 = Gb / (1 - 0.6 S)``. All from memory (M). A figure in
kg/m3 is ``1000 G (1 + 12 / 100)``. Sheets: common practice, no source (P).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from nestyield.model import OwnWood, Piece
from nestyield.model.arcs import box_of
from nestyield.model.facts import Mark
from nestyield.model.weight import KnownBy
from nestyield.wood.own import own_wood
from nestyield.wood.species import find

#: Moisture at which the figures of the table and of the maker's own woods hold, percent.
AT_MOISTURE_PCT = 12.0
#: Coefficient of variation of specific gravity within a species, percent (Wood Handbook, chapter 5; M).
WITHIN_SPECIES_PCT = 10.0
#: How much wood varies within one board, percent (P).
WITHIN_BOARD_PCT = 3.0
#: Length, width and thickness of a weighed piece are off by so much at least, mm (P: read off a rule).
LEAST_OFF_MM = 0.5
#: Wood of which nothing is known counts as so heavy where the lightest is asked for, kg/m3.
HEAVIEST_KG_M3 = 1500.0

#: Species -> specific gravity at 12 % moisture (M).
SPECIFIC_GRAVITY: dict[str, float] = {
    "red alder": 0.41,
    "white ash": 0.60,
    "basswood": 0.37,
    "American beech": 0.64,
    "yellow birch": 0.62,
    "paper birch": 0.55,
    "butternut": 0.38,
    "black cherry": 0.50,
    "red maple": 0.54,
    "silver maple": 0.47,
    "sugar maple": 0.63,
    "white oak": 0.68,
    "northern red oak": 0.63,
    "sycamore": 0.49,
    "black walnut": 0.55,
    "quaking aspen": 0.38,
    "yellow-poplar": 0.42,
    "black ash": 0.49,
    "green ash": 0.56,
    "swamp ash": 0.49,
    "American elm": 0.50,
    "hackberry": 0.53,
    "honeylocust": 0.64,
    "koa": 0.57,
    "bigleaf maple": 0.48,
    "sassafras": 0.46,
    "sweetgum": 0.52,
    "eastern cottonwood": 0.40,
    "Douglas-fir": 0.48,
    "eastern white pine": 0.35,
    "Engelmann spruce": 0.35,
    "redwood": 0.40,
    "western redcedar": 0.32,
    "Sitka spruce": 0.40,
    "mahogany": 0.47,
    "African mahogany": 0.44,
    "limba": 0.41,
    "sapele": 0.60,
    "Brazilian rosewood": 0.84,
    "Indian rosewood": 0.79,
    "Spanish cedar": 0.44,
    "iroko": 0.57,
    "obeche": 0.32,
    "okoume": 0.35,
    "purpleheart": 0.71,
    "teak": 0.57,
}
#: Sheet material -> density as sold, kg/m3 (P).
SHEET_KG_M3: dict[str, float] = {"MDF": 740.0, "plywood": 550.0, "birch plywood": 680.0}


@dataclass(frozen=True, slots=True, kw_only=True)
class Density:
    """How dense some wood is.

    Parameters
    ----------
    kg_m3 : float
    off_pct : float
        Standard deviation, percent.
    known_by : {"weighed", "own", "table"}
    mark : {"S", "M", "D", "P", "O"} or None
        None for a piece that was weighed.
    moisture_pct : float or None
        Moisture at which it holds; None: as it was when it was weighed.
    """

    kg_m3: float
    off_pct: float
    known_by: KnownBy
    mark: Mark | None = None
    moisture_pct: float | None = None


def table_density(species: str) -> tuple[float, Mark] | None:
    """Return the density of a wood or sheet of the table in kg/m3 and how far it can be trusted.

    Examples
    --------
    >>> table_density("hard maple"), table_density("MDF"), table_density("moon cheese")
    ((705.6, 'M'), (740.0, 'P'), None)
    """
    found = find(species)
    if found is None:
        return None
    if found.name in SHEET_KG_M3:
        return SHEET_KG_M3[found.name], "P"
    gravity = SPECIFIC_GRAVITY.get(found.name)
    return None if gravity is None else (round(1000.0 * gravity * (1 + AT_MOISTURE_PCT / 100), 1), "M")


def density_of(piece: Piece, own: Sequence[OwnWood]) -> Density | None:
    """Return the density of a piece: by its own weight, else the maker's figure, else that of the table.

    Parameters
    ----------
    piece : Piece
    own : sequence of OwnWood
        ``own_woods`` of the settings.

    Returns
    -------
    Density or None
        None where nothing says it.
    """
    if piece.weight_kg is not None:
        volume_m3 = piece.shape.area_mm2 * piece.thickness_mm / 1e9
        off = math.hypot(_size_off(piece), piece.weight_off_kg / piece.weight_kg, WITHIN_BOARD_PCT / 100)
        return Density(
            kg_m3=piece.weight_kg / volume_m3,
            off_pct=100 * off,
            known_by="weighed",
            moisture_pct=piece.moisture_pct,
        )
    mine = own_wood(piece.species, own)
    if mine is not None and mine.density_kg_m3 is not None:
        return Density(
            kg_m3=mine.density_kg_m3,
            off_pct=WITHIN_SPECIES_PCT,
            known_by="own",
            mark="O",
            moisture_pct=AT_MOISTURE_PCT,
        )
    found = table_density(piece.species)
    if found is None:
        return None
    sheet = found[1] == "P"
    return Density(
        kg_m3=found[0],
        off_pct=WITHIN_SPECIES_PCT,
        known_by="table",
        mark=found[1],
        moisture_pct=None if sheet else AT_MOISTURE_PCT,
    )


def _size_off(piece: Piece) -> float:
    """Return how far off the volume of a piece may be, as a share."""
    box = box_of(piece.shape.outer)
    off = max(piece.measured_mm, LEAST_OFF_MM)
    return math.hypot(off / box.width, off / box.height, off / piece.thickness_mm)
