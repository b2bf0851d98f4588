"""Parts, zones, pieces and defects from shapely polygons."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any, get_args

import shapely

from nestyield.model import (
    DEFECT_KINDS,
    ROLES,
    Defect,
    Mirrored,
    ModelError,
    Outline,
    Part,
    PartFace,
    Piece,
    PieceFace,
    Shape,
    Verdict,
    Zone,
    ZoneRole,
)
from nestyield.model.part import ShowFace
from nestyield.placement.constraint import Constraint


def shape_of(polygon: Any, what: str) -> Shape:
    """Return a polygon as a shape.

    Parameters
    ----------
    polygon : shapely.Polygon
        Millimeters.
    what : str
        Named in errors.

    Raises
    ------
    ModelError
        When it is no polygon, empty, crosses itself, or has coordinates that are not finite.
    """
    kind = getattr(polygon, "geom_type", type(polygon).__name__)
    if kind != "Polygon":
        hint = "; make one part or piece of each of its polygons" if kind == "MultiPolygon" else ""
        raise ModelError(f"{what}: expected a shapely Polygon, got {kind}{hint}")
    if polygon.is_empty:
        raise ModelError(f"{what}: expected a polygon with area, got an empty one")
    if not all(math.isfinite(v) for v in shapely.get_coordinates(polygon).ravel()):
        raise ModelError(f"{what}: expected finite coordinates, got some that are not a number or endless")
    if not polygon.is_valid:
        raise ModelError(
            f"{what}: the outline is not simple ({shapely.is_valid_reason(polygon)}); mend it first"
        )
    whole = shapely.orient_polygons(polygon)
    return Shape(outer=_ring(whole.exterior), holes=tuple(_ring(r) for r in whole.interiors))


def _ring(ring: Any) -> Outline:
    return Outline.polygon([(float(x), float(y)) for x, y in shapely.get_coordinates(ring)[:-1]])


def _finite(what: str, **values: float | None) -> None:
    for name, value in values.items():
        if value is not None and not (math.isfinite(value) and value > 0):
            raise ModelError(f"{what}: expected {name} > 0, got {value}")


def _one_of(what: str, name: str, value: str, choices: Sequence[str]) -> None:
    if value not in choices:
        raise ModelError(f"{what}: expected {name} to be one of {', '.join(choices)}, got {value!r}")


def zone(
    role: ZoneRole,
    polygon: Any,
    *,
    face: PartFace = "front",
    depth_mm: float | None = None,
    name: str = "",
    tolerates: Mapping[str, Verdict] | None = None,
) -> Zone:
    """Make a zone of a part.

    Parameters
    ----------
    role : {"cutout", "pocket", "contour", "hole", "no_seam", "screw_row"}
    polygon : shapely.Polygon
        In the part's own coordinates, millimeters.
    face : {"front", "back", "through"}
    depth_mm : float, optional
        Needed for a pocket and a contour.
    name : str
        The role when left out.
    tolerates : mapping of str to {"refused", "filled", "allowed"}, optional
        By kind of defect.

    Raises
    ------
    ModelError
    """
    what = f"zone {name or role!r}"
    _one_of(what, "role", role, [r.name for r in ROLES.values() if not r.line])
    _one_of(what, "face", face, get_args(PartFace))
    _finite(what, depth_mm=depth_mm)
    if ROLES[role].depth == "required" and depth_mm is None:
        raise ModelError(f"{what}: a {role} needs depth_mm, got none")
    return Zone(
        name=name or role,
        role=role,
        shape=shape_of(polygon, what),
        face="through" if ROLES[role].always_through else face,
        depth_mm=depth_mm,
        tolerates=dict(tolerates or {}),
    )


def part(
    name: str,
    outline: Any,
    *,
    thickness_mm: float,
    zones: Sequence[Zone] = (),
    grain_deg: float | None = 0.0,
    grain_tolerance_deg: float = 5.0,
    mirrored: Mirrored = "no",
    show_face: ShowFace = "either",
    species: Sequence[str] = (),
    tolerates: Mapping[str, Verdict] | None = None,
) -> Part:
    """Make a part; holes of the outline become cutouts.

    Parameters
    ----------
    name : str
    outline : shapely.Polygon
        Millimeters, front face up.
    thickness_mm : float
        Finished.
    zones : sequence of Zone
    grain_deg : float or None
        Direction of the grain; None when it does not matter.
    grain_tolerance_deg : float
        0 to 90.
    mirrored : {"no", "allowed", "only"}
    show_face : {"either", "top"}
    species : sequence of str
        Any of these serve; empty: any.
    tolerates : mapping of str to {"refused", "filled", "allowed"}, optional

    Raises
    ------
    ModelError
    """
    what = f"part {name!r}"
    _finite(what, thickness_mm=thickness_mm)
    _one_of(what, "mirrored", mirrored, get_args(Mirrored))
    _one_of(what, "show_face", show_face, get_args(ShowFace))
    shape = shape_of(outline, what)
    cutouts = [
        Zone(name=f"opening {k + 1}", role="cutout", shape=Shape(outer=hole), face="through")
        for k, hole in enumerate(shape.holes)
    ]
    names: set[str] = set()
    named = []
    for z in (*cutouts, *zones):
        if z.depth_mm is not None and z.depth_mm > thickness_mm:
            raise ModelError(
                f"{what}: zone {z.name!r} is {z.depth_mm} mm deep, the part {thickness_mm} mm thick"
            )
        k, own = 1, z.name
        while own in names:
            k, own = k + 1, f"{z.name}#{k + 1}"
        names.add(own)
        named.append(replace(z, name=own))
    return Part(
        name=name,
        drawing="",
        outline=shape.outer,
        zones=tuple(named),
        thickness_mm=thickness_mm,
        species=tuple(species),
        grain_deg=grain_deg,
        grain_tolerance_deg=grain_tolerance_deg,
        mirrored=mirrored,
        show_face=show_face,
        tolerates=dict(tolerates or {}),
    )


def defect(
    kind: str,
    polygon: Any,
    *,
    face: PieceFace = "through",
    depth_mm: float | None = None,
    name: str = "",
) -> Defect:
    """Make a defect of a piece.

    Parameters
    ----------
    kind : str
        A knot, a check, a screw hole, ...; see ``nestyield.model.DEFECT_KINDS``.
    polygon : shapely.Polygon
        In the piece's coordinates, millimeters.
    face : {"top", "bottom", "through"}
    depth_mm : float, optional
        Left out: through.
    name : str
        The kind when left out.

    Raises
    ------
    ModelError
    """
    what = f"defect {name or kind!r}"
    _one_of(what, "kind", kind, sorted(DEFECT_KINDS))
    _one_of(what, "face", face, get_args(PieceFace))
    _finite(what, depth_mm=depth_mm)
    return Defect(name=name or kind, kind=kind, shape=shape_of(polygon, what), face=face, depth_mm=depth_mm)


def piece(
    name: str,
    outline: Any,
    *,
    thickness_mm: float,
    species: str = "wood",
    grain_deg: float | None = 0.0,
    defects: Sequence[Defect] = (),
    count: int = 1,
    moisture_pct: float | None = None,
) -> Piece:
    """Make a piece of the rack.

    Parameters
    ----------
    name : str
    outline : shapely.Polygon
        Millimeters; may have holes.
    thickness_mm : float
    species : str
    grain_deg : float or None
        None for a sheet without grain.
    defects : sequence of Defect
    count : int
        How many alike.
    moisture_pct : float, optional

    Raises
    ------
    ModelError
    """
    what = f"piece {name!r}"
    _finite(what, thickness_mm=thickness_mm)
    if count < 1:
        raise ModelError(f"{what}: expected count >= 1, got {count}")
    named = [replace(d, name=f"{d.name} {k + 1}") for k, d in enumerate(defects)]
    return Piece(
        name=name,
        species=species,
        thickness_mm=thickness_mm,
        shape=shape_of(outline, what),
        grain_deg=grain_deg,
        defects=tuple(named),
        count=count,
        moisture_pct=moisture_pct,
    )


def forbidden(name: str, piece: Piece, part: Part, polygon: Any, *, moving: Any = None) -> Constraint:
    """Make a rule of your own: a region of a piece that a part, or some region of it, must stay clear of.

    Parameters
    ----------
    name : str
        Named where it rules a place out.
    piece : Piece
    part : Part
    polygon : shapely.Polygon
        In the piece's coordinates, millimeters.
    moving : shapely.Polygon, optional
        In the part's coordinates; its whole outline when left out.

    Raises
    ------
    ModelError
    """
    what = f"forbidden region {name!r}"
    return Constraint(
        name=name,
        piece=piece.name,
        part=part.name,
        fixed=shape_of(polygon, what),
        moving=Shape(outer=part.outline) if moving is None else shape_of(moving, what),
    )
