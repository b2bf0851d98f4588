"""What a finished part weighs: the wood that stays, each piece of a blank with its own density."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.affinity import affine_transform
from shapely.geometry.base import BaseGeometry

from nestyield.geometry.shape import to_shapely
from nestyield.model import Blank, OwnWood, Part, PartWeight, Piece, Placement, Shape, WeighedWood, Zone
from nestyield.model.facts import TooHeavy, TooLight, WeightUnknown
from nestyield.model.pose import Pose
from nestyield.placement.remember import remember
from nestyield.wood.density import HEAVIEST_KG_M3, density_of

#: Farthest a chord lies from its arc, millimeters.
_CHORD_MM = 0.001
#: Points at which the depth of a contour is taken, for each face of it.
_POINTS = 16000
#: Half planes beyond a seam reach so far, millimeters.
_FAR_MM = 1e5
#: A weight on the limit is within it.
_SLACK_KG = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Solid:
    """The wood of a finished part, seen from its front.

    Parameters
    ----------
    faces : tuple of (geometry, float)
        Regions that lie apart, drawing coordinates, with the mean thickness that stays in each, millimeters.
    """

    faces: tuple[tuple[BaseGeometry, float], ...]

    @property
    def volume_mm3(self) -> float:
        """Volume of the wood."""
        return float(sum(face.area * height for face, height in self.faces))


@remember(64)
def solid_of(part: Part, span: tuple[float, float] | None = None) -> Solid:
    """Return the wood that stays of a part: outline by thickness, less the union of all that is cut away.

    A contour is taken as straight: nothing at its inner edge, its depth at the outline.

    Parameters
    ----------
    part : Part
    span : (float, float), optional
        Only what lies between these depths below the front face, millimeters.
    """
    low, high = span or (0.0, part.thickness_mm)
    outline = to_shapely(Shape(outer=part.outline), _CHORD_MM)
    cuts = [(z, to_shapely(z.shape, _CHORD_MM)) for z in part.zones if z.shape is not None and z.does.cuts]
    if not cuts:
        return Solid(faces=((outline, high - low),))
    lines = shapely.union_all([outline.boundary, *(ground.boundary for _, ground in cuts)])
    faces = []
    for face in shapely.get_parts(shapely.polygonize(shapely.get_parts(lines))):
        at = face.representative_point()
        if not outline.contains(at):
            continue
        here = [(zone, ground) for zone, ground in cuts if ground.contains(at)]
        height = _height(part, face, here, outline, (low, high))
        if height > 0.0:
            faces.append((face, height))
    return Solid(faces=tuple(faces))


def _height(
    part: Part,
    face: BaseGeometry,
    here: Sequence[tuple[Zone, BaseGeometry]],
    outline: BaseGeometry,
    span: tuple[float, float],
) -> float:
    """Return the mean thickness that stays of a span in a face in which the same zones cut all over."""
    thick = part.thickness_mm
    if any(zone.goes_through(thick) for zone, _ in here):
        return 0.0
    sloped = any(zone.does.slopes for zone, _ in here)
    spots = _points(face) if sloped else np.array([face.representative_point()])
    gone = {"front": np.zeros(len(spots)), "back": np.zeros(len(spots))}
    for zone, ground in here:
        depth = thick if zone.depth_mm is None else min(zone.depth_mm, thick)
        share = _slope(spots, ground, outline) if zone.does.slopes else 1.0
        gone[zone.face] = np.maximum(gone[zone.face], depth * share)
    low, high = np.maximum(span[0], gone["front"]), np.minimum(span[1], thick - gone["back"])
    return float(np.maximum(0.0, high - low).mean())


def _points(face: BaseGeometry) -> np.ndarray:
    """Return points of a face in an even grid, shape (n,)."""
    x0, y0, x1, y1 = face.bounds
    step = math.sqrt(face.area / _POINTS)
    xs, ys = np.meshgrid(np.arange(x0 + step / 2, x1, step), np.arange(y0 + step / 2, y1, step))
    inside = shapely.contains_xy(face, xs.ravel(), ys.ravel())
    found = shapely.points(xs.ravel()[inside], ys.ravel()[inside])
    return found if len(found) else np.array([face.representative_point()])


def _slope(spots: np.ndarray, ground: BaseGeometry, outline: BaseGeometry) -> np.ndarray:
    """Return which share of its depth a contour has at points: the way from its inner edge to the outline."""
    inner = ground.boundary.difference(outline.boundary.buffer(0.05))
    to_inner = shapely.distance(spots, ground.boundary if inner.is_empty else inner)
    to_outline = shapely.distance(spots, outline.boundary)
    share: np.ndarray = to_inner / np.maximum(to_inner + to_outline, 1e-9)
    return share


def weight_on(part: Part, piece: Piece, own: Sequence[OwnWood]) -> float | None:
    """Return what a part weighs that is cut from one piece, kg; None where its density is not known."""
    density = density_of(piece, own)
    return None if density is None else density.kg_m3 * solid_of(part).volume_mm3 / 1e9


def off_weight(
    part: Part, piece: Piece, own: Sequence[OwnWood]
) -> TooHeavy | TooLight | WeightUnknown | None:
    """Return why the wood of a piece gives a part no weight within its range, or None when it does.

    In a glue-up each piece must do: a blank of such pieces is in the range however they are joined.

    Parameters
    ----------
    part : Part
    piece : Piece
    own : sequence of OwnWood
    """
    wish = part.weight
    if wish is None or not wish.is_range:
        return None
    kg = weight_on(part, piece, own)
    if kg is None:
        return WeightUnknown(piece=piece.name, species=piece.species)
    if wish.most_kg is not None and kg > wish.most_kg + _SLACK_KG:
        return TooHeavy(piece=piece.name, weight_kg=kg, most_kg=wish.most_kg)
    if wish.least_kg is not None and kg < wish.least_kg - _SLACK_KG:
        return TooLight(piece=piece.name, weight_kg=kg, least_kg=wish.least_kg)
    return None


def weights_of(
    blank: Blank,
    laid: Sequence[tuple[Part, Placement]],
    pieces: Mapping[str, Piece],
    own: Sequence[OwnWood],
) -> tuple[PartWeight, ...]:
    """Return what each part on a blank weighs, in their order.

    Parameters
    ----------
    blank : Blank
    laid : sequence of (Part, Placement)
    pieces : mapping of str to Piece
        The rack by name.
    own : sequence of OwnWood
    """
    if blank.stack:
        return tuple(_in_layers(part, placement, blank, pieces, own) for part, placement in laid)
    names = list(dict.fromkeys(m.piece for m in blank.members))
    grounds = {names[0]: None} if len(names) == 1 else _grounds(blank)
    return tuple(_weight(part, placement, grounds, pieces, own) for part, placement in laid)


def lightest_kg(
    blank: Blank,
    laid: Sequence[tuple[Part, Placement]],
    pieces: Mapping[str, Piece],
    own: Sequence[OwnWood],
) -> float:
    """Return what the parts on a blank weigh together that are to be as light as can be, kg.

    Wood of unknown density counts as the heaviest.
    """
    asked = [(part, at) for part, at in laid if part.weight is not None and part.weight.lightest]
    if not asked:
        return 0.0
    return sum(
        wood.volume_mm3 * (wood.density_kg_m3 or HEAVIEST_KG_M3) / 1e9
        for told in weights_of(blank, asked, pieces, own)
        for wood in told.woods
    )


def _weight(
    part: Part,
    placement: Placement,
    grounds: Mapping[str, BaseGeometry | None],
    pieces: Mapping[str, Piece],
    own: Sequence[OwnWood],
) -> PartWeight:
    solid = solid_of(part)
    matrix = Pose.of(placement).matrix()
    faces = [(affine_transform(face, matrix), height) for face, height in solid.faces]
    volumes = {
        name: solid.volume_mm3
        if ground is None
        else float(sum(face.intersection(ground).area * height for face, height in faces))
        for name, ground in grounds.items()
    }
    return _of_woods(solid.volume_mm3, volumes, pieces, own)


def _in_layers(
    part: Part, placement: Placement, blank: Blank, pieces: Mapping[str, Piece], own: Sequence[OwnWood]
) -> PartWeight:
    """Return what a part weighs that is cut from layers: of each what lies between its two faces."""
    off = placement.top_off_mm
    if off is None:
        off = max(0.0, blank.thickness_mm - part.thickness_mm) / 2
    volumes: dict[str, float] = {}
    for member, layer in zip(blank.members, blank.stack, strict=True):
        low, high = max(0.0, layer.top_mm - off), min(part.thickness_mm, layer.bottom_mm - off)
        if not placement.front_up:
            low, high = part.thickness_mm - high, part.thickness_mm - low
        here = solid_of(part, (round(low, 6), round(high, 6))).volume_mm3 if high > low else 0.0
        volumes[member.piece] = volumes.get(member.piece, 0.0) + here
    return _of_woods(solid_of(part).volume_mm3, volumes, pieces, own)


def _of_woods(
    whole_mm3: float, volumes: Mapping[str, float], pieces: Mapping[str, Piece], own: Sequence[OwnWood]
) -> PartWeight:
    woods = []
    for name, volume in volumes.items():
        found = density_of(pieces[name], own)
        woods.append(
            WeighedWood(
                piece=name,
                species=pieces[name].species,
                volume_mm3=volume,
                density_kg_m3=None if found is None else found.kg_m3,
                off_pct=0.0 if found is None else found.off_pct,
                known_by="nothing" if found is None else found.known_by,
                mark=None if found is None else found.mark,
                moisture_pct=None if found is None else found.moisture_pct,
            )
        )
    each = [
        None if w.density_kg_m3 is None else w.volume_mm3 * w.density_kg_m3 / 1e9
        for w in woods
        if w.volume_mm3 > 0.0
    ]
    known = [kg for kg in each if kg is not None]
    off = [w.off_pct / 100 * (w.density_kg_m3 or 0.0) * w.volume_mm3 / 1e9 for w in woods]
    return PartWeight(
        kg=sum(known) if len(known) == len(each) else None,
        off_kg=math.hypot(*off),
        volume_mm3=whole_mm3,
        woods=tuple(w for w in woods if w.volume_mm3 > 0.0),
    )


def _grounds(blank: Blank) -> dict[str, BaseGeometry | None]:
    """Return where the wood of each piece of a glue-up is: between the seams, the next member left of each."""
    far = shapely.box(-_FAR_MM, -_FAR_MM, _FAR_MM, _FAR_MM)
    found: dict[str, list[BaseGeometry]] = {}
    for k, member in enumerate(blank.members):
        ground = far
        for j, seam in enumerate(blank.seams):
            ground = ground.intersection(_side(seam.line_mm[0], seam.line_mm[-1], left=j < k))
        found.setdefault(member.piece, []).append(ground)
    return {name: shapely.union_all(some) for name, some in found.items()}


def _side(a: tuple[float, float], b: tuple[float, float], *, left: bool) -> BaseGeometry:
    """Return the half plane on one side of a line, as far as it matters."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    far = 4 * _FAR_MM / math.hypot(dx, dy)
    dx, dy = dx * far, dy * far
    nx, ny = (-dy, dx) if left else (dy, -dx)
    (px, py), (qx, qy) = (a[0] - dx, a[1] - dy), (a[0] + dx, a[1] + dy)
    return shapely.Polygon([(px, py), (qx, qy), (qx + nx, qy + ny), (px + nx, py + ny)])
