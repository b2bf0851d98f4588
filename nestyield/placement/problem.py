"""One part and one blank as regions: what must hold the outline, and what must stay clear of what."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from nestyield.geometry.boolean import union
from nestyield.geometry.flatten import Side, flatten, flatten_shape
from nestyield.geometry.grid import UM_PER_MM, IntPoly, Region
from nestyield.geometry.offset import grow, shrink
from nestyield.geometry.transform import place
from nestyield.model import Blank, Defect, Part, Placement, Settings
from nestyield.placement.depth import Facing, Span, defect_span, staying
from nestyield.placement.parts import Care, PartShape, part_shape

TakenPart = tuple[Part, Placement]


@dataclass(frozen=True, slots=True, kw_only=True)
class Obstacle:
    """Something of the blank that a region of the part must stay clear of.

    Parameters
    ----------
    names : tuple of str
    fixed : Region
        Blank coordinates.
    moving : Region
        Drawing coordinates of the part.
    """

    names: tuple[str, ...]
    fixed: Region
    moving: Region


@dataclass(frozen=True, slots=True, kw_only=True)
class Filling:
    """A defect that may be filled, and the wood that would hold it."""

    defect: Defect
    fixed: Region
    moving: Region
    depth_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """All that decides whether a part may lie somewhere, for one choice of faces.

    Parameters
    ----------
    part : Part
    shape : PartShape
    facing : Facing
    container : Region
        Where the outline may lie, margin taken off; holes of the blank are obstacles.
    obstacles : tuple of Obstacle
    fillings : tuple of Filling
    """

    part: Part
    shape: PartShape
    facing: Facing
    container: Region
    obstacles: tuple[Obstacle, ...]
    fillings: tuple[Filling, ...]


def with_openings(shape: PartShape) -> Region:
    """Return the outline less everything cut right through."""
    from nestyield.geometry.boolean import difference

    return difference([shape.outline], shape.openings) if shape.openings else [shape.outline]


def build(
    part: Part,
    blank: Blank,
    settings: Settings,
    facing: Facing,
    taken: Sequence[TakenPart] = (),
    care: Care = "safe",
) -> Problem:
    """Set up the regions for one part in one blank.

    Parameters
    ----------
    part : Part
    blank : Blank
    settings : Settings
    facing : Facing
    taken : sequence of (Part, Placement)
        Parts that already lie in the blank.
    care : {"safe", "lenient"}
        Which way flattening and rounding err.
    """
    error = settings.chord_error_mm
    shape = part_shape(part, error, care)
    piece_side: Side = "inside" if care == "safe" else "outside"
    bad_side: Side = "outside" if care == "safe" else "inside"
    margin = settings.blank_margin_mm * UM_PER_MM
    outer = flatten(blank.shape.outer, error, piece_side)
    container = shrink([outer], margin, piece_side)
    obstacles = []
    if blank.shape.holes:
        holes = union(*([flatten(h, error, bad_side)] for h in blank.shape.holes))
        fixed = grow(holes, margin, bad_side)
        obstacles.append(Obstacle(names=("hole",), fixed=fixed, moving=with_openings(shape)))
    gap = settings.gap_mm * UM_PER_MM
    others = [
        place(part_shape(p, error, care).outline, at.angle_deg, at.mirrored, at.x_um, at.y_um)
        for p, at in taken
    ]
    if others:
        fixed = union(*(grow([ring], gap, bad_side) for ring in others))
        obstacles.append(Obstacle(names=("other parts",), fixed=fixed, moving=[shape.outline]))
    harmful, fillings = _defects(part, shape, blank, settings, facing, bad_side)
    return Problem(
        part=part,
        shape=shape,
        facing=facing,
        container=container,
        obstacles=(*obstacles, *harmful),
        fillings=fillings,
    )


def _defects(
    part: Part, shape: PartShape, blank: Blank, settings: Settings, facing: Facing, side: Side
) -> tuple[list[Obstacle], tuple[Filling, ...]]:
    """Defects by the wood that would hold them; those with the same wood are put together."""
    error = settings.chord_error_mm
    groups: dict[tuple[str, Span], list[Defect]] = {}
    metal: list[Defect] = []
    fillings: list[Filling] = []
    for defect in blank.defects:
        if defect.kind == "metal":
            metal.append(defect)
            continue
        span = defect_span(defect, blank.thickness_mm, part, facing)
        if span is not None:
            groups.setdefault((defect.kind, span), []).append(defect)
    out = []
    if metal:
        clear = settings.cutter_diameter_mm * UM_PER_MM
        fixed = union(*(grow(flatten_shape(d.shape, error, side), clear, side) for d in metal))
        if fixed:
            out.append(Obstacle(names=tuple(d.name for d in metal), fixed=fixed, moving=[shape.outline]))
    for (kind, span), defects in groups.items():
        regions = [flatten_shape(d.shape, error, side) for d in defects]
        refused = staying(shape, part, kind, span, "refused")
        if refused:
            fixed = union(*regions)
            if fixed:
                out.append(Obstacle(names=tuple(d.name for d in defects), fixed=fixed, moving=refused))
        filled = staying(shape, part, kind, span, "filled")
        if filled:
            fillings += [
                Filling(defect=d, fixed=r, moving=filled, depth_mm=span[1] - span[0])
                for d, r in zip(defects, regions)
            ]
    return out, tuple(fillings)


def outline_at(problem: Problem, angle_deg: float, mirrored: bool) -> IntPoly:
    """Return the outline mirrored and turned about the drawing's origin, on the grid."""
    return place(problem.shape.outline, angle_deg, mirrored)
