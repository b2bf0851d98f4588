"""Which pieces of the rack may serve a part."""

from __future__ import annotations

from dataclasses import replace

from shapely.geometry.base import BaseGeometry

from nestyield.geometry.boolean import intersection
from nestyield.geometry.flatten import flatten_shape
from nestyield.geometry.shape import region_to_shape, to_shapely
from nestyield.model import Blank, Layer, Member, Part, Piece, Settings, Shape
from nestyield.model.arcs import box_of
from nestyield.model.facts import (
    SheetTooThick,
    TooHeavy,
    TooLight,
    TooThick,
    TooThin,
    TooThinWhenPlaned,
    WeightUnknown,
    WrongSpecies,
)
from nestyield.model.micrometers import down_um, nearest_um, up_um
from nestyield.model.pose import Pose
from nestyield.placement.weight import off_weight
from nestyield.wood.species import is_sheet

#: Depths closer than this are the same, millimeters.
SAME_MM = 1e-6

#: Why a piece is not usable whatever its shape.
Unsuitable = (
    WrongSpecies
    | TooThin
    | TooThinWhenPlaned
    | TooThick
    | SheetTooThick
    | TooHeavy
    | TooLight
    | WeightUnknown
)


def planed_away(piece: Piece, settings: Settings) -> float:
    """Return the thickness in mm that planing takes from a piece; nothing from sheets without grain."""
    return 0.0 if piece.grain_deg is None else 2 * settings.planing_mm


def unsuitable(part: Part, piece: Piece, settings: Settings) -> Unsuitable | None:
    """Return why a piece is not usable for a part whatever its shape, or None when it may be.

    A part with a grain that names no species may be of any wood, and of sheets only where it names them.

    Parameters
    ----------
    part : Part
    piece : Piece
        Status is not looked at: a piece on hold may be suitable.
    settings : Settings
    """
    if part.species and piece.species not in part.species:
        return WrongSpecies(piece=piece.name, species=piece.species)
    if not part.species and part.grain_deg is not None and is_sheet(piece.species):
        return WrongSpecies(piece=piece.name, species=piece.species, sheet=True)
    away = planed_away(piece, settings)
    thickness_um = nearest_um(piece.thickness_mm)
    short = part.thickness_mm - (piece.thickness_mm - away) - settings.thickness_tolerance_mm
    if short > 1e-9:
        far_um = max(1, up_um(short))
        if not away:
            return TooThin(piece=piece.name, thickness_um=thickness_um, far_um=far_um)
        planed_um = down_um(piece.thickness_mm - away)
        return TooThinWhenPlaned(
            piece=piece.name, thickness_um=thickness_um, planed_um=planed_um, far_um=far_um
        )
    sheet = piece.grain_deg is None
    most = settings.thickness_tolerance_mm if sheet else settings.most_planed_away_mm
    over = piece.thickness_mm - part.thickness_mm - most
    if over > 1e-9:
        kind = SheetTooThick if sheet else TooThick
        return kind(piece=piece.name, thickness_um=thickness_um, far_um=max(1, up_um(over)))
    return off_weight(part, piece, settings.own_woods)


def blank_of(piece: Piece, copy: int = 1) -> Blank:
    """Return one copy of a piece as a blank, in the piece's own coordinates.

    Parameters
    ----------
    piece : Piece
    copy : int
        From 1; further copies carry ``/2``, ``/3`` ... in their name.
    """
    return Blank(
        name=piece.name if copy == 1 else f"{piece.name}/{copy}",
        members=(Member(piece=piece.name, copy=copy),),
        species=piece.species,
        thickness_mm=piece.thickness_mm,
        shape=piece.shape,
        grain_deg=piece.grain_deg,
        seams=piece.seams,
        defects=piece.defects,
        measured_mm=piece.measured_mm,
    )


#: What is cut off a defect by a saw lies this close to its arcs, millimeters.
_CHORD_MM = 0.005


def _within(shape: Shape, wood: BaseGeometry, cut: Shape) -> tuple[Shape, ...]:
    """Return what of a defect lies in what is sawn off: all of it as it is, or the pieces that are left of it."""
    ground = to_shapely(shape)
    if wood.covers(ground):
        return (shape,)
    if ground.intersection(wood).area <= 0.0:
        return ()
    whole, room = flatten_shape(shape, _CHORD_MM, "outside"), flatten_shape(cut, _CHORD_MM, "outside")
    return tuple(region_to_shape(intersection(whole, room)))


def leaf_of(piece: Piece, layer: Layer) -> Piece:
    """Return a leaf of a piece as a piece of its own: its thickness, its defects, its share of value and weight.

    A defect is in each leaf that its depth reaches; it keeps its name.
    """
    thick = layer.thickness_mm
    found = []
    for defect in piece.defects:
        top, bottom = defect.span_mm(piece.thickness_mm)
        top, bottom = max(top, layer.top_mm), min(bottom, layer.bottom_mm)
        if bottom - top <= SAME_MM:
            continue
        at_top, at_bottom = top <= layer.top_mm + SAME_MM, bottom >= layer.bottom_mm - SAME_MM
        if at_top and at_bottom:
            found.append(replace(defect, face="through", depth_mm=None))
        else:
            depth = bottom - layer.top_mm if at_top else layer.bottom_mm - top
            found.append(replace(defect, face="top" if at_top else "bottom", depth_mm=round(depth, 6)))
    value = None if piece.value is None else piece.value * thick / piece.thickness_mm
    return replace(piece.of_thickness(thick), defects=tuple(found), value=value)


def block_of(piece: Piece, cut: Shape, *, copy: int = 1, name: str, layer: Layer | None = None) -> Blank:
    """Return what is sawn off a piece as a blank, the corner of the box around it at 0, 0.

    Parameters
    ----------
    piece : Piece
        Without seams.
    cut : Shape
        What is sawn off, piece coordinates.
    copy : int
        From 1.
    name : str
        Of the blank.
    layer : Layer, optional
        Which leaf of the piece it is, where the piece is resawn.
    """
    piece = piece if layer is None else leaf_of(piece, layer)
    box = box_of(cut.outer)
    x_um, y_um = -nearest_um(box.x0), -nearest_um(box.y0)
    member = Member(piece=piece.name, copy=copy, x_um=x_um, y_um=y_um, cut=cut, layer=layer)
    move = Pose.of(member)
    wood = to_shapely(cut)
    return Blank(
        name=name,
        members=(member,),
        species=piece.species,
        thickness_mm=piece.thickness_mm,
        shape=move.shape(cut),
        grain_deg=piece.grain_deg,
        defects=tuple(
            replace(d, shape=move.shape(shape))
            for d in piece.defects
            for shape in _within(d.shape, wood, cut)
        ),
        measured_mm=piece.measured_mm,
    )
