"""Species and sheet materials: shrinkage, coefficients of change, and how far each figure can be trusted.

Sources
-------
Wood Handbook, USDA Forest Products Laboratory, FPL-GTR-190 (2010): shrinkage from green to ovendry,
tables 4-3 and 4-4; coefficients of dimensional change, table 13-5. The density class follows no
table: it sorts woods for clamping pressure as workshops do (P).

Marks
-----
``S`` read in the source; ``M`` from memory, not re-read; ``D`` derived from shrinkage by
``C = S / (3000 - 20 S)``; ``P`` common practice, no source.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from nestyield.model import Units
from nestyield.model.facts import Mark

Density = Literal["soft", "medium", "dense"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Species:
    """A wood, or a sheet material.

    Parameters
    ----------
    name : str
    aliases : tuple of str
        Other names in the trade, and the botanical name.
    radial_pct, tangential_pct, volumetric_pct : float or None
        Shrinkage green to ovendry, percent of the green size; None for sheets.
    c_radial, c_tangential : float or None
        Change of size a point of moisture content, as a fraction, 6 to 14 % MC; None for sheets.
    shrinkage_mark, coefficient_mark : {"S", "M", "D", "P", "O"}
        How far the figures can be trusted.
    density : {"soft", "medium", "dense"}
        Class for clamping pressure (P).
    sheet : bool
        Sheet material: no grain of its own to speak of, no seasonal width change modeled.
    thickness_tolerance_mm : float or None
        How far a new sheet's thickness may be from nominal, where a standard says so.
    panels_mm : tuple of (length, width)
        Usual sizes of a whole sheet (P), smallest first.
    note : str
    """

    name: str
    aliases: tuple[str, ...] = ()
    radial_pct: float | None = None
    tangential_pct: float | None = None
    volumetric_pct: float | None = None
    c_radial: float | None = None
    c_tangential: float | None = None
    shrinkage_mark: Mark = "S"
    coefficient_mark: Mark = "S"
    density: Density = "medium"
    sheet: bool = False
    thickness_tolerance_mm: float | None = None
    panels_mm: tuple[tuple[float, float], ...] = ()
    note: str = ""


def _wood(
    name: str,
    aliases: tuple[str, ...],
    shrinkage: tuple[float, float, float],
    coefficients: tuple[float, float],
    density: Density,
    marks: tuple[Mark, Mark] = ("S", "S"),
    note: str = "",
) -> Species:
    return Species(
        name=name,
        aliases=aliases,
        radial_pct=shrinkage[0],
        tangential_pct=shrinkage[1],
        volumetric_pct=shrinkage[2],
        c_radial=coefficients[0],
        c_tangential=coefficients[1],
        shrinkage_mark=marks[0],
        coefficient_mark=marks[1],
        density=density,
        note=note,
    )


#: The table, in the order of the handbook: hardwoods, softwoods, imported woods, then sheets.
SPECIES: tuple[Species, ...] = (
    _wood("red alder", ("alder", "Alnus rubra"), (4.4, 7.3, 12.6), (0.00151, 0.00256), "soft"),
    _wood(
        "white ash",
        ("ash", "American ash", "Fraxinus americana"),
        (4.9, 7.8, 13.3),
        (0.00169, 0.00274),
        "dense",
    ),
    _wood(
        "basswood",
        ("American basswood", "American lime", "Tilia americana"),
        (6.6, 9.3, 15.8),
        (0.00230, 0.00330),
        "soft",
    ),
    _wood("American beech", ("beech", "Fagus grandifolia"), (5.5, 11.9, 17.2), (0.00190, 0.00431), "dense"),
    _wood("yellow birch", ("Betula alleghaniensis",), (7.3, 9.5, 16.8), (0.00256, 0.00338), "dense"),
    _wood(
        "paper birch",
        ("white birch", "Betula papyrifera"),
        (6.3, 8.6, 16.2),
        (0.00219, 0.00304),
        "medium",
    ),
    _wood("butternut", ("white walnut", "Juglans cinerea"), (3.4, 6.4, 10.6), (0.00116, 0.00223), "soft"),
    _wood(
        "black cherry",
        ("cherry", "American cherry", "Prunus serotina"),
        (3.7, 7.1, 11.5),
        (0.00126, 0.00248),
        "medium",
    ),
    _wood(
        "red maple",
        ("soft maple", "Acer rubrum"),
        (4.0, 8.2, 12.6),
        (0.00137, 0.00289),
        "medium",
        ("M", "S"),
        "soft maple is red or silver maple; red maple moves more, so it stands for both",
    ),
    _wood("silver maple", ("Acer saccharinum",), (3.0, 7.2, 12.0), (0.00102, 0.00252), "medium"),
    _wood(
        "sugar maple",
        ("hard maple", "rock maple", "Acer saccharum"),
        (4.8, 9.9, 14.7),
        (0.00165, 0.00353),
        "dense",
        ("M", "S"),
    ),
    _wood(
        "white oak",
        ("American white oak", "Quercus alba"),
        (5.6, 10.5, 16.3),
        (0.00180, 0.00365),
        "dense",
        note="coefficients are those of the commercial group of white oaks",
    ),
    _wood(
        "northern red oak",
        ("red oak", "American red oak", "Quercus rubra"),
        (4.0, 8.6, 13.7),
        (0.00137, 0.00304),
        "dense",
        ("M", "D"),
    ),
    _wood(
        "sycamore",
        ("American sycamore", "Platanus occidentalis"),
        (5.0, 8.4, 14.1),
        (0.00172, 0.00296),
        "medium",
    ),
    _wood(
        "black walnut",
        ("walnut", "American walnut", "Juglans nigra"),
        (5.5, 7.8, 12.8),
        (0.00190, 0.00274),
        "medium",
    ),
    _wood("quaking aspen", ("aspen", "Populus tremuloides"), (3.5, 6.7, 11.5), (0.00119, 0.00234), "soft"),
    _wood(
        "yellow-poplar",
        ("poplar", "tulip poplar", "tulipwood", "American tulipwood", "Liriodendron tulipifera"),
        (4.6, 8.2, 12.7),
        (0.00158, 0.00289),
        "soft",
        ("S", "M"),
    ),
    _wood(
        "black ash",
        ("Fraxinus nigra", "brown ash"),
        (5.0, 7.8, 15.2),
        (0.00172, 0.00274),
        "medium",
        ("M", "D"),
    ),
    _wood(
        "green ash", ("Fraxinus pennsylvanica",), (4.6, 7.1, 12.5), (0.00158, 0.00248), "dense", ("M", "D")
    ),
    _wood(
        "swamp ash",
        (),
        (5.0, 7.8, 15.2),
        (0.00172, 0.00274),
        "medium",
        ("M", "D"),
        "trade name for light ash of wet ground, of several species; figures of black ash",
    ),
    _wood(
        "American elm",
        ("white elm", "Ulmus americana"),
        (4.2, 7.2, 14.6),
        (0.00144, 0.00252),
        "medium",
        ("M", "D"),
    ),
    _wood("hackberry", ("Celtis occidentalis",), (4.8, 8.9, 13.8), (0.00165, 0.00315), "medium", ("M", "D")),
    _wood(
        "honeylocust",
        ("honey locust", "Gleditsia triacanthos"),
        (4.2, 6.6, 10.8),
        (0.00144, 0.00230),
        "dense",
        ("M", "D"),
    ),
    _wood("koa", ("Acacia koa",), (5.5, 6.2, 12.4), (0.00190, 0.00216), "medium", ("M", "D")),
    _wood(
        "bigleaf maple",
        ("western maple", "Oregon maple", "Acer macrophyllum"),
        (3.7, 7.1, 11.6),
        (0.00126, 0.00248),
        "medium",
        ("M", "D"),
    ),
    _wood("sassafras", ("Sassafras albidum",), (4.0, 6.2, 10.3), (0.00137, 0.00216), "medium", ("M", "D")),
    _wood(
        "sweetgum",
        ("red gum", "Liquidambar styraciflua"),
        (5.3, 10.2, 15.8),
        (0.00183, 0.00365),
        "medium",
        ("M", "D"),
    ),
    _wood(
        "eastern cottonwood",
        ("cottonwood", "Populus deltoides"),
        (3.9, 9.2, 13.9),
        (0.00133, 0.00327),
        "soft",
        ("M", "D"),
    ),
    _wood(
        "Douglas-fir",
        ("Douglas-fir, coast", "coast Douglas-fir", "Pseudotsuga menziesii"),
        (4.8, 7.6, 12.4),
        (0.00165, 0.00267),
        "medium",
        ("S", "M"),
    ),
    _wood("eastern white pine", ("Pinus strobus",), (2.1, 6.1, 8.2), (0.00071, 0.00212), "soft", ("M", "D")),
    _wood(
        "Engelmann spruce", ("Picea engelmannii",), (3.8, 7.1, 11.0), (0.00130, 0.00248), "soft", ("M", "D")
    ),
    _wood(
        "redwood",
        ("old-growth redwood", "Sequoia sempervirens"),
        (2.6, 4.4, 6.8),
        (0.00088, 0.00151),
        "soft",
        ("M", "D"),
    ),
    _wood(
        "western redcedar",
        ("western red cedar", "Thuja plicata"),
        (2.4, 5.0, 6.8),
        (0.00081, 0.00172),
        "soft",
        ("M", "D"),
    ),
    _wood("Sitka spruce", ("Picea sitchensis",), (4.3, 7.5, 11.5), (0.00148, 0.00263), "soft", ("M", "M")),
    _wood(
        "mahogany",
        (
            "Honduran mahogany",
            "Honduras mahogany",
            "genuine mahogany",
            "American mahogany",
            "mahogany (Swietenia)",
            "Swietenia macrophylla",
        ),
        (3.0, 4.1, 7.8),
        (0.00102, 0.00141),
        "medium",
        ("S", "D"),
    ),
    _wood(
        "African mahogany",
        ("khaya", "African mahogany (Khaya)", "Khaya ivorensis"),
        (2.5, 4.5, 8.8),
        (0.00085, 0.00155),
        "medium",
        ("S", "D"),
    ),
    _wood(
        "limba",
        ("white limba", "black limba", "korina", "Terminalia superba"),
        (4.5, 6.2, 10.8),
        (0.00155, 0.00216),
        "medium",
        ("S", "D"),
    ),
    _wood(
        "sapele",
        ("sapelli", "Entandrophragma cylindricum"),
        (4.6, 7.4, 14.0),
        (0.00158, 0.00259),
        "dense",
        ("M", "D"),
    ),
    _wood(
        "Brazilian rosewood", ("Dalbergia nigra",), (2.9, 4.6, 8.5), (0.00099, 0.00158), "dense", ("M", "D")
    ),
    _wood(
        "Indian rosewood",
        ("East Indian rosewood", "Dalbergia latifolia"),
        (2.7, 5.8, 8.5),
        (0.00092, 0.00201),
        "dense",
        ("M", "D"),
    ),
    _wood(
        "Spanish cedar",
        ("cedro", "Cedrela odorata"),
        (4.2, 6.3, 10.3),
        (0.00144, 0.00219),
        "soft",
        ("M", "D"),
        "figures of the genus Cedrela",
    ),
    _wood("iroko", ("Milicia excelsa",), (2.8, 3.8, 8.8), (0.00095, 0.00130), "medium", ("M", "D")),
    _wood(
        "obeche",
        ("ayous", "wawa", "Triplochiton scleroxylon"),
        (3.0, 5.4, 9.2),
        (0.00102, 0.00187),
        "soft",
        ("M", "D"),
    ),
    _wood(
        "okoume", ("gaboon", "Aucoumea klaineana"), (4.1, 6.1, 11.3), (0.00141, 0.00212), "soft", ("M", "D")
    ),
    _wood(
        "purpleheart",
        ("amaranth", "Peltogyne pubescens"),
        (3.2, 6.1, 9.9),
        (0.00109, 0.00212),
        "dense",
        ("M", "D"),
        "figures of the genus Peltogyne",
    ),
    _wood("teak", ("Tectona grandis",), (2.5, 5.8, 7.0), (0.00085, 0.00201), "medium", ("M", "D")),
    Species(
        name="MDF",
        aliases=("medium density fibreboard", "medium density fiberboard", "fibreboard", "fiberboard"),
        sheet=True,
        density="medium",
        thickness_tolerance_mm=0.125,
        panels_mm=((2440.0, 1220.0), (97 * 25.4, 49 * 25.4)),
        note="thickness tolerance: ANSI A208.2-2009 (S); panel sizes: common practice, no source (P)",
    ),
    Species(
        name="plywood",
        aliases=("ply",),
        sheet=True,
        density="medium",
    ),
    Species(
        name="birch plywood",
        aliases=("birch ply", "Baltic birch", "Baltic birch plywood"),
        sheet=True,
        density="medium",
    ),
)


#: Names that the trade gives to several woods of the table that move differently -> those woods.
SEVERAL: dict[str, tuple[str, ...]] = {
    "maple": ("sugar maple", "red maple", "silver maple", "bigleaf maple"),
    "birch": ("yellow birch", "paper birch", "birch plywood"),
    "oak": ("white oak", "northern red oak"),
    "spruce": ("Sitka spruce", "Engelmann spruce"),
    "rosewood": ("Indian rosewood", "Brazilian rosewood"),
    "cedar": ("western redcedar", "Spanish cedar"),
    "pine": ("eastern white pine",),
}


def key_of(name: str) -> str:
    """Return a name without case, hyphens and brackets, as names are compared."""
    text = name.casefold()
    for mark in "-_(),.":
        text = text.replace(mark, " ")
    return " ".join(text.split())


_BY_KEY: dict[str, Species] = {
    key_of(text): species for species in SPECIES for text in (species.name, *species.aliases)
}


def is_sheet(name: str) -> bool:
    """Tell whether a name of the rack table stands for a sheet, which is not planed."""
    found = find(name)
    return found is not None and found.sheet


def find(name: str) -> Species | None:
    """Return the species of that name or alias, or None when the table has none.

    Case, hyphens and brackets do not matter; ``maple, hard`` is read as ``hard maple``.

    Examples
    --------
    >>> find("Hard Maple").name
    'sugar maple'
    >>> find("walnut, black").name
    'black walnut'
    >>> find("moon cheese") is None
    True
    """
    found = _BY_KEY.get(key_of(name))
    if found is None and name.count(",") == 1:
        first, last = name.split(",")
        found = _BY_KEY.get(key_of(f"{last} {first}"))
    return found


def is_another_name(name: str, species: Species) -> bool:
    """Tell whether a name is another one than the table's, not only written another way.

    Examples
    --------
    >>> is_another_name("hard maple", find("hard maple"))
    True
    >>> is_another_name("Maple, sugar", find("sugar maple"))
    False
    """
    first, _, last = name.partition(",")
    return key_of(species.name) not in (key_of(name), key_of(f"{last} {first}"))


def usual_panel(
    name: str, length_mm: float, width_mm: float, units: Units = "mm"
) -> tuple[float, float] | None:
    """Return the smallest usual panel of a sheet material that a rectangle can be cut from, either way round.

    Parameters
    ----------
    name : str
        Species or sheet material, as in the rack table.
    length_mm, width_mm : float
    units : {"mm", "in"}
        In an inch shop a panel is as many whole inches as its size in mm holds: 96 x 48 for 2440 x 1220.

    Returns
    -------
    (float, float) or None
        Length and width in mm; None for wood, for sheets without usual sizes here, and for what is larger.
    """
    found = find(name)
    long, short = max(length_mm, width_mm), min(length_mm, width_mm)
    for panel in found.panels_mm if found else ():
        if units == "in":
            panel = (math.floor(panel[0] / 25.4 + 1e-9) * 25.4, math.floor(panel[1] / 25.4 + 1e-9) * 25.4)
        if long <= panel[0] and short <= panel[1]:
            return panel
    return None
