"""Pictures of one place on the ground: cameras, what of the ground is wood, and how well its edges are seen."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import shapely
from numpy.typing import NDArray

from nestyield.model import Finding, InputError
from nestyield.photo.board import LINES_MM, corners, markers_of
from nestyield.photo.calibrate import Calibration, CalibrationError, View, calibrate
from nestyield.photo.camera import Camera, Lens
from nestyield.photo.edges import USUAL_BLUR_PX, Edge, outlines, refined
from nestyield.photo.ground import part
from nestyield.photo.height import Height, seen_height
from nestyield.photo.markers import find_markers
from nestyield.photo.needs import opencv
from nestyield.photo.parallax import THIN_MM, Tower, footprint
from nestyield.photo.picture import Picture, PictureError, read_picture
from nestyield.photo.request import PhotoRequest
from nestyield.photo.told import tell
from nestyield.photo.tones import tones

Array = NDArray[np.float64]

#: Fewer markers than this, and pictures blurred more than this across their edges (px), are refused.
LEAST_MARKERS, MOST_BLUR_PX = 8, 3.0
#: Edges that stand out less than this from what is beside them (standard deviations of a pixel) are refused.
LEAST_PLAIN = 2.5
#: A camera whose markers lie further off than this is refused, px.
MOST_RESIDUAL_PX = 1.0
#: Size of a pixel of the picture in which wood is told from ground; narrower things are no wood; least piece.
_LOOK_MM, _NARROW_MM, _LEAST_MM2 = 0.6, 8.0, 800.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """What one picture shows.

    Parameters
    ----------
    name : str
    size : (int, int)
    camera : Camera
    pixel_mm : float
        Size of a pixel on the ground, middle of the pieces.
    wood : polygons
        What of the ground pieces hide, mm.
    within : Polygon
        The ground of which the picture shows all heights.
    edges : tuple of (Edge, LineString)
        Outlines, and where they are on the ground.
    white : array (3,)
    tower : Tower
    height : Height or None
        How thick the pieces look; None where their sides do not tell, and for a scan.
    """

    name: str
    size: tuple[int, int]
    camera: Camera
    pixel_mm: float
    wood: shapely.Geometry
    within: shapely.Polygon
    edges: tuple[tuple[Edge, shapely.LineString], ...]
    white: Array
    tower: Tower
    height: Height | None = None


def read_scene(paths: Sequence[Path], request: PhotoRequest) -> tuple[list[Seen], Calibration | None]:
    """Read pictures of one scene.

    Raises
    ------
    InputError
        When one of them cannot be used; tells all that is wrong.
    """
    wrong: list[Finding] = []
    views: list[View] = []
    for path in paths:
        picture = _open(path, wrong)
        if picture is None:
            continue
        if request.scan:
            _check_scan(picture, request, wrong)
            continue
        shown = opencv().cvtColor(picture.rgb, opencv().COLOR_RGB2GRAY)
        markers = find_markers(picture.linear().mean(axis=2), shown)
        views.append(View(markers=markers, size=picture.size, focal_px=picture.focal_px))
        if len(markers.ids) < LEAST_MARKERS:
            found, blurred = len(markers.ids), ""
            if not found:
                blurred = ". If whole sheets are in it, it is blurred or dark: hold the camera still, use more light"
            message = (
                f"expected at least {LEAST_MARKERS} whole markers, found {found}; show more of the sheets, "
                f"uncovered and sharp, or lay down another sheet{blurred}"
            )
            wrong.append(tell("error", "V002", message, path.name))
        elif markers.blur_px > MOST_BLUR_PX:
            message = (
                f"the picture is blurred over {2 * markers.blur_px:.1f} pixels, at most {2 * MOST_BLUR_PX:g} will do; "
                "hold the camera still, tap on the wood to focus, use more light"
            )
            wrong.append(tell("error", "V004", message, path.name))
        elif views[0].size != picture.size:
            message = "its size differs from the first picture's; take all with one camera, held the same way"
            wrong.append(tell("error", "V012", message, path.name))
    if wrong:
        raise InputError(wrong)
    calibration = None if request.scan else _calibrated(paths, views, request)
    blurs = [USUAL_BLUR_PX] * len(paths) if request.scan else [v.markers.blur_px for v in views]
    seen = [_seen(path, request, calibration, i, blurs[i], wrong) for i, path in enumerate(paths)]
    if wrong:
        raise InputError(wrong)
    return [s for s in seen if s is not None], calibration


def _open(path: Path, wrong: list[Finding]) -> Picture | None:
    try:
        return read_picture(path)
    except PictureError as error:
        wrong.append(
            tell("error", "V001", f"the picture cannot be used: {error}; save it as JPEG or PNG", path.name)
        )
        return None


def _check_scan(picture: Picture, request: PhotoRequest, wrong: list[Finding]) -> None:
    if request.dpi is None and picture.dpi is None:
        message = "the file does not say its resolution; tell it with --dpi"
        wrong.append(tell("error", "V011", message, picture.name))


def _calibrated(paths: Sequence[Path], views: list[View], request: PhotoRequest) -> Calibration:
    scale = [1.0 if v is None else v / nominal for v, nominal in zip(request.lines_mm, LINES_MM)]
    name = ", ".join(p.name for p in paths)
    try:
        calibration = calibrate(views, scale)
    except CalibrationError as error:
        message = f"{error}; let neighboring pictures show at least one sheet in common"
        raise InputError([tell("error", "V003", message, name)]) from None
    if calibration.residual_px > MOST_RESIDUAL_PX:
        message = (
            f"markers lie {calibration.residual_px:.1f} pixels from where the sheet has them; lay the sheets flat, "
            "do not move them between pictures that belong together, print each sheet once only"
        )
        raise InputError([tell("error", "V003", message, name)])
    return calibration


def _scanner(picture: Picture, dpi: tuple[float, float]) -> Camera:
    """Return a camera so far away that heights do not matter; what a scanner sees is straight above."""
    w, h = picture.size
    far = 1e7
    lens = Lens(focal_px=far * dpi[0] / 25.4, center_px=((w - 1) / 2, (h - 1) / 2))
    return Camera(lens=lens, turn=np.array([np.pi, 0.0, 0.0]), shift=np.array([0.0, 0.0, far]))


def _seen(
    path: Path,
    request: PhotoRequest,
    calibration: Calibration | None,
    i: int,
    blur_px: float,
    wrong: list[Finding],
) -> Seen | None:
    picture = read_picture(path)
    light, shown = picture.linear(), tones(picture.rgb)
    if calibration is None:
        dpi = (request.dpi, request.dpi) if request.dpi else picture.dpi
        assert dpi is not None
        camera, white = _scanner(picture, dpi), np.ones(3)
        height = 0.0
    else:
        camera, height = calibration.camera(i), request.thickness_mm
        white = _white(light, calibration, camera)
    spread = (blur_px, picture.chroma_px)
    tower = Tower.of(camera, height)
    middle = np.array([[(picture.size[0] - 1) / 2, (picture.size[1] - 1) / 2]])
    pixel = _pixel_mm(camera, middle[0])
    rings = _wood(light, white, pixel)
    edges: list[tuple[Edge, shapely.LineString]] = []
    polygons: list[shapely.Polygon] = []
    for outer, holes in rings:
        traced = (
            refined(shown, r, k > 0, _side(camera, height), spread) for k, r in enumerate((outer, *holes))
        )
        found = [e for e in traced if e]
        if not found or found[0].hole:
            continue
        on_ground = [_thinned(camera.ground(e.points)) for e in found]
        polygon = shapely.Polygon(on_ground[0], on_ground[1:])
        whole = max(shapely.get_parts(shapely.make_valid(polygon)), key=lambda g: g.area)
        if whole.geom_type != "Polygon" or whole.area < _LEAST_MM2:
            continue
        polygons.append(whole)
        edges += [(e, shapely.LineString(g)) for e, g in zip(found, on_ground)]
    if not polygons:
        message = (
            "no piece was found; lay pieces on a plain ground whose color is unlike wood (gray, green, blue), with light "
            "from all sides"
        )
        wrong.append(tell("error", "V005", message, path.name))
        return None
    return Seen(
        name=path.name,
        size=picture.size,
        camera=camera,
        pixel_mm=_pixel_mm(camera, np.mean([e.points.mean(axis=0) for e, _ in edges], axis=0)),
        wood=shapely.unary_union(polygons),
        within=footprint(camera, picture.size, tower),
        edges=tuple(edges),
        white=white,
        tower=tower,
        height=None
        if calibration is None
        else seen_height(opencv(), shown, [e for e, _ in edges], calibration, i, height, blur_px),
    )


def _side(camera: Camera, height_mm: float) -> Callable[[Array], Array]:
    """Return the function from pixels of a lower rim to where it lies from the upper one."""

    def side(pixels: Array) -> Array:
        ground = camera.ground(pixels)
        return pixels - camera.pixels(np.column_stack([ground, np.full(len(ground), height_mm)]))

    return side


def _thinned(points: Array) -> Array:
    return np.asarray(shapely.get_coordinates(shapely.simplify(shapely.LinearRing(points), THIN_MM)))


def _pixel_mm(camera: Camera, at: Array) -> float:
    around = at + np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]])
    g = camera.ground(around)
    return float(np.hypot(*(g[1:] - g[0]).T).max())


def _wood(light: NDArray[np.float32], white: Array, pixel_mm: float) -> list[tuple[Array, list[Array]]]:
    cv2 = opencv()
    scale = float(np.clip(pixel_mm / _LOOK_MM, 0.1, 1.0))
    small = light
    if scale < 1:
        size = (round(light.shape[1] * scale), round(light.shape[0] * scale))
        small = cv2.resize(light, size, interpolation=cv2.INTER_AREA)
        scale = size[0] / light.shape[1]
    parted = part(small, white, _NARROW_MM / (pixel_mm / scale))
    least = _LEAST_MM2 / (pixel_mm / scale) ** 2
    return [
        (outer, holes)
        for outer, holes in outlines(parted.wood, scale)
        if cv2.contourArea((outer * scale).astype(np.float32)) > least
    ]


def _white(light: NDArray[np.float32], calibration: Calibration, camera: Camera) -> Array:
    """Return the light of the paper: the median of places between markers."""
    places = []
    for sheet in calibration.sheets:
        x, y, angle = calibration.sheet_pose(sheet)
        c, s = np.cos(angle), np.sin(angle)
        for marker in markers_of(sheet):
            square = corners(marker)
            middle = square.mean(axis=0)
            beside = middle + (square + np.roll(square, 1, axis=0) - 2 * middle) / 2 * 1.4
            places.append(beside @ np.array([[c, s], [-s, c]]) + (x, y))
    flat = np.concatenate(places)
    pixels = np.round(camera.pixels(np.column_stack([flat, np.zeros(len(flat))]))).astype(int)
    h, w = light.shape[:2]
    inside = ((pixels >= 2) & (pixels < (w - 2, h - 2))).all(axis=1)
    values = light[pixels[inside, 1], pixels[inside, 0]]
    bright = values.sum(axis=1)
    return np.maximum(np.median(values[bright >= np.median(bright)], axis=0).astype(float), 0.02)
