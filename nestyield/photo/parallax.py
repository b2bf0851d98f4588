"""From what is seen of pieces of some thickness to their outlines.

Of an edge that looks away from the camera the upper rim is seen, of one that looks toward it the lower rim, below
its side. Wood that stands upright is where nothing behind or before it shows the ground at any height: the ground
seen is moved toward the foot of the camera by all that a height from 0 to the thickness does, and taken away.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from nestyield.photo.camera import Camera

Array = NDArray[np.float64]

#: Outlines are thinned out by this before they are moved, mm.
THIN_MM = 0.04
#: A hidden end is one whose rims come together at more than this (sine), and that is deeper than this, mm.
_LEAST_TURN, _LEAST_CAP_MM = 0.12, 0.2
#: Edges that turn by more than this (sine) beside a bridge are corners of a piece.
_CORNER = 0.25
#: A bridge from a corner of a piece across a slot is longer than this share of the shift.
_MOUTH = 0.45
#: Where rims are looked at, from the end of a bridge, mm; and how deep a hidden end may be, in lengths of its bridge.
_RIM_MM, _FARTHEST = (2.0, 7.0), 2.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Tower:
    """How heights are seen on the ground: things move away from the foot of the camera.

    Parameters
    ----------
    foot : array (2,)
        The place below the camera, mm.
    grow : float
        By what the distance from it grows at the upper face, at least 1.
    """

    foot: Array
    grow: float

    @classmethod
    def of(cls, camera: Camera, thickness_mm: float) -> Tower:
        """Return it for a camera and a thickness."""
        eye = camera.eye
        return cls(foot=eye[:2], grow=float(eye[2] / (eye[2] - thickness_mm)))

    def shift_mm(self, place: Array) -> float:
        """Return how far the upper rim moves over the lower one as seen from the camera, on the ground, mm."""
        return float((1 - 1 / self.grow) * np.hypot(*(np.asarray(place) - self.foot)))

    def shrunk(self, points: Array) -> Array:
        """Return where points that are seen on the ground lie on the upper face."""
        return self.foot + (points - self.foot) / self.grow


def not_wood(seen: shapely.Geometry, within: shapely.Polygon, tower: Tower) -> shapely.Geometry:
    """Return where there is no upright wood, as far as a picture tells.

    Parameters
    ----------
    seen : polygons
        What of the ground pieces hide, mm.
    within : Polygon
        What is looked at.
    tower : Tower
    """
    ground = within.difference(seen)
    if tower.grow <= 1.0 + 1e-9:
        return ground
    parts = [ground]  # what moves covers itself and what its rims pass over
    for polygon in shapely.get_parts(ground):
        for ring in (polygon.exterior, *polygon.interiors):
            points = shapely.get_coordinates(ring)
            moved = tower.shrunk(points)
            quads = np.stack([points[:-1], points[1:], moved[1:], moved[:-1], points[:-1]], axis=1)
            parts += [q for q in shapely.polygons(quads) if q.area > 1e-9]
    whole = [p if p.is_valid else shapely.make_valid(p) for p in parts]
    return shapely.unary_union([p for w in whole for p in shapely.get_parts(w) if p.geom_type == "Polygon"])


def footprint(camera: Camera, size: tuple[int, int], tower: Tower, rim_px: float = 3.0) -> shapely.Polygon:
    """Return the ground of which a picture shows all heights from 0 to the thickness, mm."""
    w, h = size
    a, b = rim_px, 40
    xs, ys = np.linspace(a, w - 1 - a, b), np.linspace(a, h - 1 - a, b)
    rim = np.concatenate(
        [
            np.column_stack([xs, np.full(b, a)]),
            np.column_stack([np.full(b, w - 1 - a), ys]),
            np.column_stack([xs[::-1], np.full(b, h - 1 - a)]),
            np.column_stack([np.full(b, a), ys[::-1]]),
        ]
    )
    low = shapely.Polygon(camera.ground(rim)).buffer(0)
    return low.intersection(shapely.transform(low, tower.shrunk))


@dataclass(frozen=True, slots=True, kw_only=True)
class Hidden:
    """Ends of recesses and holes that the thickness hides.

    Parameters
    ----------
    caps : list of Polygon
        What has to be taken away besides: the rims, led on to where they meet.
    gap : bool
        Whether rims do not meet: ground between pieces, or in a slot, is hidden, nobody knows how far.
    """

    caps: list[shapely.Polygon]
    gap: bool


def hidden_ends(wood: shapely.Polygon, tower: Tower, least_mm: float) -> Hidden:
    """Find where a recess or a hole hides its own end.

    Where its two rims come nearer to each other than the shift, the ground is hidden, and the outline ends in a
    piece of a straight line toward the foot of the camera that is no longer than the shift.

    Parameters
    ----------
    wood : Polygon
    tower : Tower
    least_mm : float
        Shorter lines do not count.
    """
    found: list[shapely.Polygon] = []
    gap = False
    for k, ring in enumerate((wood.exterior, *wood.interiors)):
        points = shapely.get_coordinates(shapely.simplify(ring, THIN_MM))[:-1]
        if len(points) < 4:
            continue
        if shapely.LinearRing(points).is_ccw != (k == 0):
            points = points[::-1]
        for i in _bridges(points, tower, least_mm):
            cap = _cap(points, i, _MOUTH * tower.shift_mm(points[i]))
            if cap is None:
                continue
            gap = gap or cap.is_empty
            if not cap.is_empty:
                found.append(cap)
    return Hidden(caps=found, gap=gap)


def _bridges(points: Array, tower: Tower, least_mm: float) -> NDArray[np.intp]:
    """Return which sides of a ring run toward the foot of the camera and are no longer than the shift."""
    nxt = np.roll(points, -1, axis=0)
    along = nxt - points
    length = np.hypot(*along.T)
    middle = (points + nxt) / 2 - tower.foot
    far = np.hypot(*middle.T)
    shift = (1 - 1 / tower.grow) * (far + length / 2)
    cross = np.abs(along[:, 0] * middle[:, 1] - along[:, 1] * middle[:, 0]) / np.maximum(length * far, 1e-9)
    return np.flatnonzero((length > least_mm) & (cross < 0.08) & (length < 1.15 * shift + 0.3))


def _cap(points: Array, i: int, mouth_mm: float) -> shapely.Polygon | None:
    """Return what the two rims beside a bridge leave between them; empty where they do not meet, None for little.

    Wood is on the left of the ring. Rims are looked at a little away from the bridge, where the tip of the ground
    that is seen is not rounded by blur.
    """
    p, q = points[i], points[(i + 1) % len(points)]
    along = (q - p) / np.hypot(*(q - p))
    inward = np.array([-along[1], along[0]])
    (a, u), (b, v) = _rim(points, i, -1), _rim(points, (i + 1) % len(points), 1)
    low, high = sorted((float(u @ inward), float(v @ inward)))
    if low < -_CORNER and high > 2 * _CORNER and np.hypot(*(q - p)) > max(mouth_mm, 2 * _RIM_MM[0]):
        return shapely.Polygon()  # the mouth of a slot whose ground is hidden
    if low <= 0 or high < _LEAST_TURN:
        return None
    turn = u[0] * v[1] - u[1] * v[0]
    w = b - a
    s = (w[0] * v[1] - w[1] * v[0]) / turn if abs(turn) > 1e-9 else -1.0
    t = (w[0] * u[1] - w[1] * u[0]) / turn if abs(turn) > 1e-9 else -1.0
    tip = a + s * u
    if s <= 0 or t <= 0 or (tip - p) @ inward > _FARTHEST * np.hypot(*(q - p)):
        return shapely.Polygon()
    if (tip - p) @ inward < _LEAST_CAP_MM:
        return None
    return shapely.MultiPoint([a, p, q, b, tip]).convex_hull.buffer(0.01)


def _rim(points: Array, i: int, way: int) -> tuple[Array, Array]:
    """Return a place on a rim near one end of a bridge, and the direction in which it comes to the bridge."""
    start, k = points[i], i
    near: Array | None = None
    for _ in range(len(points) // 2):
        last, k = points[k], (k + way) % len(points)
        for reach in _RIM_MM:
            a, b = np.hypot(*(last - start)), np.hypot(*(points[k] - start))
            if a < reach <= b:
                place = last + (points[k] - last) * (reach - a) / (b - a)
                if near is not None:
                    return near, (near - place) / max(float(np.hypot(*(near - place))), 1e-9)
                near = place
    far = points[k]
    near = start if near is None else near
    return near, (near - far) / max(float(np.hypot(*(near - far))), 1e-9)
