"""Pictures to pieces: outline, holes, marks, grain, and how far all of it may be off."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import affinity

from nestyield.model import Finding, InputError
from nestyield.photo.accuracy import Accuracy, camera_error_mm, edge_error_mm
from nestyield.photo.beside_paper import along_paper
from nestyield.photo.calibrate import Calibration
from nestyield.photo.grain import Grain, grain_of
from nestyield.photo.limit import too_far_off
from nestyield.photo.marks import marked
from nestyield.photo.needs import opencv
from nestyield.photo.parallax import hidden_ends, not_wood
from nestyield.photo.picture import read_picture
from nestyield.photo.request import PhotoPiece, PhotoRequest
from nestyield.photo.scene import LEAST_PLAIN, Seen, read_scene
from nestyield.photo.thickness import thickness_findings
from nestyield.photo.told import tell
from nestyield.words import Words

Array = NDArray[np.float64]

#: Outlines are simplified by this before they are written, within what the error estimate leaves, mm.
SIMPLER_MM = 0.15
#: The least piece; how near to the rim of a picture is cut off; size of a pixel of a face looked at, mm.
_LEAST_MM2, _RIM_MM, _FACE_MM = 800.0, 1.0, 0.4
#: Scanners are true to this share of a length (M: usual for flatbeds), standard deviation.
_SCANNER = 0.0006
#: So far inside its outline a face is asked for marks and grain, mm.
_INSIDE_MM = 2.0


def read_photos(request: PhotoRequest) -> tuple[list[PhotoPiece], list[list[Seen]], list[Finding]]:
    """Read pictures.

    Returns
    -------
    (list of PhotoPiece, list of list of Seen, list of Finding)
        Pieces from left to right, scene by scene; what each picture showed; what a person should know.

    Raises
    ------
    InputError
        When a picture cannot be used, may be off by more than the limit or contradicts the thickness; tells picture,
        reason and remedy.
    MissingExtraError
        When OpenCV is not installed.
    """
    opencv()
    scenes = [request.pictures] if request.together else [(p,) for p in request.pictures]
    wrong: list[Finding] = []
    told: list[Finding] = []
    pieces: list[tuple[int, PhotoPiece]] = []
    looked: list[list[Seen]] = []
    for number, paths in enumerate(scenes):
        seen: list[Seen] = []
        try:
            seen, calibration = read_scene(paths, request)
            found = _pieces(paths, seen, calibration, request)
        except InputError as error:
            wrong += [*error.findings, *(f for f in thickness_findings(seen, request) if f.code == "V016")]
            continue
        looked.append(seen)
        heights = thickness_findings(seen, request)
        wrong += [f for f in heights if f.severity == "error"]
        told += [f for f in heights if f.severity != "error"]
        told += _along_paper(seen, calibration)
        pieces += [(number, p) for p in found]
    if wrong:
        raise InputError(wrong)
    named = [
        replace(p, name=request.name if len(pieces) == 1 else f"{request.name}-{k}", scene=number)
        for k, (number, p) in enumerate(pieces, start=1)
    ]
    for piece in named:
        told += _told(piece, ", ".join(p.name for p in scenes[piece.scene]), request)
    if not request.scan and None in request.lines_mm:
        message = (
            "the print was not measured: a printer that is off by 0.3 % makes 600 mm wrong by 1.8 mm; measure the two "
            "lines of the sheet with a rule and enter them with --line-x and --line-y"
        )
        told.append(tell("warning", "V009", message))
    return named, looked, told


def _told(piece: PhotoPiece, picture: str, request: PhotoRequest) -> list[Finding]:
    words = Words(request.units)
    out = []
    error = words.length(piece.error_mm, style="fine", rounding="up")
    parts = [words.length(v, style="fine", rounding="up") for v in (piece.camera_mm, piece.edge_mm)]
    message = f"may be off by {error} at the edge ({parts[0]} by the camera, {parts[1]} by the edges); the outline was drawn in by that"
    out.append(tell("note", "V013", message, picture, piece.name))
    if piece.hidden_mm > 1.0:
        message = (
            f"holes and slots narrower than {words.length(piece.hidden_mm, rounding='up')} may be hidden by the thickness and "
            "taken for wood; ring them with a green pen, or photograph them from straight above"
        )
        out.append(tell("note", "V013", message, picture, piece.name))
    if not piece.grain.seen:
        message = (
            "the grain is not seen, the row is on hold; measure the grain from the length, enter it in column grain, "
            "and set the status to ready"
        )
        out.append(tell("warning", "V010", message, picture, piece.name))
    return out


def _pieces(
    paths: Sequence[Path], seen: list[Seen], calibration: Calibration | None, request: PhotoRequest
) -> list[PhotoPiece]:
    """Return the pieces of a scene, from left to right."""
    name = ", ".join(p.name for p in paths)
    within = shapely.unary_union([s.within for s in seen])
    missing = shapely.unary_union([not_wood(s.wood, _near(s), s.tower) for s in seen])
    wood = shapely.unary_union([_near(s).intersection(s.wood.buffer(30.0)) for s in seen]).difference(missing)
    parts = [p for p in shapely.get_parts(wood) if p.geom_type == "Polygon" and p.area > _LEAST_MM2]
    rim = within.boundary.buffer(_RIM_MM)
    wrong: list[Finding] = []
    if cut := sum(p.intersects(rim) for p in parts):
        message = (
            f"{'a piece is' if cut == 1 else f'{cut} pieces are'} cut off by the edge of the picture; stand further away, or "
            "take two pictures that show a sheet in common, and --together"
        )
        wrong.append(tell("error", "V006", message, name))
    if not parts:
        message = "no piece is large enough to be told from dirt; go nearer"
        wrong.append(tell("error", "V005", message, name))
    if wrong:
        raise InputError(wrong)
    found = []
    lights = {i: read_picture(p).linear() for i, p in enumerate(paths)} if len(paths) < 3 else {}
    for part in sorted(parts, key=lambda p: (round(p.centroid.x), round(p.centroid.y))):
        shows = [i for i, s in enumerate(seen) if s.wood.intersects(part.buffer(-_INSIDE_MM))]
        accuracy, weak = _accuracy(part, seen, shows, calibration, request)
        if weak is not None:
            wrong.append(weak)
        ends = [hidden_ends(part, seen[i].tower, 1.0) for i in shows]
        if any(e.gap for e in ends):
            wrong.append(_gap(part, seen, shows, name, request))
            continue
        part = part.difference(shapely.unary_union([c for e in ends for c in e.caps]))
        part = max(shapely.get_parts(part), key=lambda g: g.area)
        if accuracy.error_mm > request.limit_mm:
            wrong.append(too_far_off(accuracy, name, request))
            continue
        best = max(shows, key=lambda i: seen[i].within.intersection(part).area)
        light = lights[best] if best in lights else read_picture(paths[best]).linear()
        found.append(_piece(part, seen, shows, best, light, accuracy, request))
    if wrong:
        raise InputError(list(dict.fromkeys(wrong)))
    return found


def _along_paper(seen: list[Seen], calibration: Calibration | None) -> list[Finding]:
    """Return warnings of outlines that run along the edge of a sheet's paper."""
    told = []
    for s in seen if calibration is not None else ():
        assert calibration is not None
        found = along_paper((line for _, line in s.edges), calibration)
        if found is not None:
            sheet, at = found
            x, y = s.camera.pixels(np.array([[at[0], at[1], 0.0]]))[0]
            message = (
                f"the edge of a piece runs along the edge of sheet {sheet}'s paper, near pixel {x:.0f}, {y:.0f} of the "
                "picture, and one may be taken for the other, by millimeters: look there in the check picture, or move "
                "the sheet, so that its paper lies well under the wood or two fingers away from it"
            )
            told.append(tell("warning", "V015", message, s.name))
    return told


def _gap(
    part: shapely.Polygon, seen: list[Seen], shows: list[int], name: str, request: PhotoRequest
) -> Finding:
    far = max(seen[i].tower.shift_mm(np.array(part.centroid.coords[0])) for i in shows)
    apart = Words(request.units).length(far + 10.0, style="coarse", rounding="up")
    message = (
        "the thickness hides how far a gap goes, between pieces or in a slot; lay pieces more than "
        f"{apart} apart, or take the picture from straight above the gap"
    )
    return tell("error", "V014", message, name)


def _near(s: Seen) -> shapely.Polygon:
    """Return the ground around the pieces of a picture."""
    x0, y0, x1, y1 = s.wood.bounds
    reach = 40.0 + s.tower.shift_mm(np.array([x0, y0])) + s.tower.shift_mm(np.array([x1, y1]))
    return s.within.intersection(shapely.box(x0 - reach, y0 - reach, x1 + reach, y1 + reach))


def _accuracy(
    part: shapely.Polygon,
    seen: list[Seen],
    shows: list[int],
    calibration: Calibration | None,
    request: PhotoRequest,
) -> tuple[Accuracy, Finding | None]:
    edge, weak = 0.0, None
    for i in shows:
        around = part.buffer(seen[i].tower.shift_mm(np.array(part.centroid.coords[0])) + 20.0)
        for e, line in seen[i].edges:
            if not line.intersects(around):
                continue
            edge = max(edge, edge_error_mm(e.noise_px, e.blur_px, e.plain, seen[i].pixel_mm))
            if e.plain < LEAST_PLAIN:
                message = (
                    "the edge of a piece can hardly be told from what is beside it; lay it on a plain ground of another "
                    "color (gray, green, blue), apart from other pieces, without hard shadows"
                )
                weak = tell("error", "V007", message, seen[i].name)
    shares: dict[str, float] = {}
    if calibration is None:
        x0, y0, x1, y1 = part.bounds
        camera = 2 * _SCANNER * float(np.hypot(x1 - x0, y1 - y0)) / 2
    else:
        ways = [camera_error_mm(part, calibration, i, request.thickness_mm) for i in shows]
        camera, shares = max(ways, key=lambda way: way[0])
    return Accuracy(camera_mm=camera, edge_mm=edge, shares_mm=shares), weak


def _piece(
    part: shapely.Polygon,
    seen: list[Seen],
    shows: list[int],
    best: int,
    light: NDArray[np.float32],
    accuracy: Accuracy,
    request: PhotoRequest,
) -> PhotoPiece:
    height = 0.0 if request.scan else request.thickness_mm
    face, inside, origin = _face(part, seen[best], light, height)
    # a mark may reach over the edge, so that marks are looked for a little further out than the grain
    marks = marked(face, inside, seen[best].white, origin, _FACE_MM)
    clear = inside.copy()
    for _, hull in marks:
        clear &= ~_covers(hull.buffer(2.0), inside.shape, origin)
    grain = grain_of(face.mean(axis=2), clear)
    angle = _lying(part)
    drawn_in = part.buffer(-(accuracy.error_mm + SIMPLER_MM), join_style="mitre", mitre_limit=2.0)
    drawn_in = max(shapely.get_parts(drawn_in), key=lambda g: g.area)
    turned = affinity.rotate(shapely.simplify(drawn_in, SIMPLER_MM), -angle, origin=(0, 0))
    x, y = turned.bounds[:2]
    written = _rounded(affinity.translate(turned, -x, -y))

    def own(shape: shapely.Geometry) -> shapely.Geometry:
        return affinity.translate(affinity.rotate(shape, -angle, origin=(0, 0)), -x, -y)

    defects = []
    for color, hull in marks:
        clipped = _rounded(own(hull.buffer(accuracy.error_mm).intersection(part)))
        if clipped.geom_type == "Polygon" and clipped.intersects(written):
            defects.append((request.kinds[color], clipped))
    c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
    hidden = max(seen[i].tower.shift_mm(np.array(p)) for i in shows for p in part.exterior.coords)
    return PhotoPiece(
        name=request.name,
        traced=part,
        written=written,
        place=(x * c - y * s, x * s + y * c, angle),
        defects=tuple(defects),
        grain=Grain(
            angle_deg=(grain.angle_deg - angle + 90.0) % 180.0 - 90.0,
            coherence=grain.coherence,
            spread_deg=grain.spread_deg,
        ),
        error_mm=accuracy.error_mm,
        camera_mm=accuracy.camera_mm,
        edge_mm=accuracy.edge_mm,
        drawn_in_mm=accuracy.error_mm + SIMPLER_MM,
        hidden_mm=hidden,
        pictures=tuple(shows),
    )


def _rounded(shape: shapely.Geometry) -> shapely.Polygon:
    snapped = shapely.make_valid(shapely.transform(shape, lambda p: np.round(p, 2)))
    polygons = [p for p in shapely.get_parts(snapped) if p.geom_type == "Polygon"]
    return max(polygons, key=lambda g: g.area) if polygons else shapely.Polygon()


def _lying(part: shapely.Polygon) -> float:
    """Return the angle of the longer side of the least rectangle around, in (-90, 90] degrees."""
    corners = shapely.get_coordinates(shapely.oriented_envelope(part))
    sides = np.diff(corners[:3], axis=0)
    along = sides[int(np.hypot(*sides.T).argmax())]
    angle = float(np.degrees(np.arctan2(along[1], along[0])))
    angle = (angle + 90.0) % 180.0 - 90.0
    return 90.0 if angle <= -90.0 else angle


def _face(
    part: shapely.Polygon, s: Seen, light: NDArray[np.float32], height_mm: float
) -> tuple[NDArray[np.float32], NDArray[np.bool_], tuple[float, float]]:
    """Return the upper face of a piece from straight above, rows along Y upward."""
    cv2 = opencv()
    x0, y0, x1, y1 = part.bounds
    xs, ys = np.arange(x0, x1, _FACE_MM), np.arange(y0, y1, _FACE_MM)
    grid = np.stack(np.meshgrid(xs, ys), axis=-1).reshape(-1, 2)
    pixels = s.camera.pixels(np.column_stack([grid, np.full(len(grid), height_mm)]))
    at = pixels.astype(np.float32).reshape(len(ys), len(xs), 2)
    rows = [
        cv2.remap(light, a[..., 0], a[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        for a in np.array_split(at, max(1, len(ys) // 4000 + 1))
    ]
    w, h = s.size
    shown = ((pixels >= 1) & (pixels < (w - 2, h - 2))).all(axis=1).reshape(len(ys), len(xs))
    inner = part.buffer(-_INSIDE_MM)
    return np.concatenate(rows), _covers(inner, (len(ys), len(xs)), (x0, y0)) & shown, (x0, y0)


def _covers(shape: shapely.Geometry, size: tuple[int, ...], origin: tuple[float, float]) -> NDArray[np.bool_]:
    cv2 = opencv()
    mask = np.zeros(size[:2], np.uint8)
    for polygon in shapely.get_parts(shape):
        if polygon.geom_type != "Polygon" or polygon.is_empty:
            continue
        rings = [
            np.round((shapely.get_coordinates(r) - origin) / _FACE_MM * 16).astype(np.int32)
            for r in (polygon.exterior, *polygon.interiors)
        ]
        cv2.fillPoly(mask, rings, 1, shift=4)
    return mask > 0
