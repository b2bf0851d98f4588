"""Draws what was traced over the picture, to check by eye."""

from __future__ import annotations

import io
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from nestyield.photo.needs import opencv, pillow
from nestyield.photo.picture import read_picture
from nestyield.photo.request import PhotoPiece, PhotoRequest
from nestyield.photo.scene import Seen
from nestyield.photo.thickness import effect
from nestyield.words import Words

Array = NDArray[np.float64]

#: Longest side of the picture, px.
_SIDE_PX = 2400
_WHITE, _BLACK, _RED, _YELLOW = (255, 255, 255), (0, 0, 0), (214, 40, 40), (255, 210, 0)
#: Length of the arrows from 0,0, as a share of a piece's length and width at most, and at most, mm.
_ARROW, _ARROW_MM = 0.35, 60.0
#: Length of the scale bar, mm, by unit.
_BAR_MM = {"mm": 100.0, "in": 101.6}


def overlay(path: Path, seen: Seen, pieces: Sequence[PhotoPiece], request: PhotoRequest) -> bytes:
    """Return a JPEG of a picture with outlines, holes, defects, grain, scale and error estimates over it.

    Parameters
    ----------
    path : Path
    seen : Seen
        What was read of the picture.
    pieces : sequence of PhotoPiece
        Those that it shows.
    request : PhotoRequest
    """
    cv2, image = opencv(), pillow()
    rgb = read_picture(path).rgb
    scale = min(1.0, _SIDE_PX / max(rgb.shape[:2]))
    size = (round(rgb.shape[1] * scale), round(rgb.shape[0] * scale))
    canvas = np.ascontiguousarray(cv2.resize(rgb, size, interpolation=cv2.INTER_AREA))
    height = 0.0 if request.scan else request.thickness_mm

    def pixels(points: Array, at: float = height) -> Array:
        seen_at = seen.camera.pixels(np.column_stack([points, np.full(len(points), at)]))
        return np.asarray((seen_at + 0.5) * (size[0] / rgb.shape[1]) - 0.5)

    wide, type_px = max(1, round(max(size) / 900)), max(14, round(max(size) / 95))
    texts: list[tuple[tuple[float, float], str]] = []

    def lines(on: NDArray[np.uint8]) -> None:
        texts.clear()
        for piece in pieces:
            _piece(cv2, on, piece, pixels, wide, request, texts, type_px)
        _bar(cv2, on, pieces, pixels, wide, request, texts)

    lines(canvas.copy())  # to know where texts stand
    head = [
        path.name,
        "white: outline as written; red: edge as traced; yellow: marked defect; long arrow: grain",
        "0,0, x and y: from where the row of the rack measures (x: along the length)",
        *(_thickness(seen, request) if height else ["scan, face on the glass"]),
    ]
    picture = image.fromarray(canvas)
    _write(picture, texts, head, type_px)
    canvas = np.array(picture)
    lines(canvas)  # over the texts: no plate hides an outline
    picture = image.fromarray(canvas)
    stream = io.BytesIO()
    picture.save(stream, "JPEG", quality=88)
    return stream.getvalue()


def _thickness(seen: Seen, request: PhotoRequest) -> list[str]:
    words = Words(request.units)
    said = f"thickness taken: {words.length(request.thickness_mm, style='fine')}"
    if seen.height is None:
        said += ", not to be seen in this picture"
    else:
        looks, within = (words.length(v) for v in (seen.height.thickness_mm, seen.height.within_mm))
        said += f"; the sides look {looks} high, within {within}"
    return [said, effect([seen], request)]


def _piece(
    cv2: Any,
    canvas: NDArray[np.uint8],
    piece: PhotoPiece,
    pixels: Any,
    wide: int,
    request: PhotoRequest,
    texts: list[tuple[tuple[float, float], str]],
    size_px: int,
) -> None:
    words = Words(request.units)
    for ring in (piece.traced.exterior, *piece.traced.interiors):
        _line(cv2, canvas, pixels(_dense(ring)), _RED, wide, True)
    for ring in (piece.written.exterior, *piece.written.interiors):
        points = pixels(_placed(_dense(ring), piece))
        _line(cv2, canvas, points, _BLACK, wide + 2, True)
        _line(cv2, canvas, points, _WHITE, wide, True)
    for kind, shape in piece.defects:
        points = pixels(_placed(_dense(shape.exterior), piece))
        _line(cv2, canvas, points, _YELLOW, wide + 1, True)
        texts.append((tuple(points.max(axis=0)), kind))
    inner = piece.written.representative_point()
    middle = np.array([inner.x, inner.y])
    x0, y0, x1, y1 = piece.written.bounds
    size = words.size(x1 - x0, y1 - y0)
    error = words.length(piece.error_mm, style="fine", rounding="up")
    grain = "grain not seen"
    if piece.grain.seen:
        a = np.radians(piece.grain.angle_deg)
        half = np.array([np.cos(a), np.sin(a)]) * 0.18 * (x1 - x0)
        tail, tip = pixels(_placed(np.array([middle - half, middle + half]), piece))
        for color, width in ((_BLACK, wide + 3), (_WHITE, wide)):
            cv2.arrowedLine(canvas, _whole(tail), _whole(tip), color, width, cv2.LINE_AA, 0, 0.08)
        grain = f"grain {words.angle(piece.grain.angle_deg)}, reliability {piece.grain.coherence:.2f}"
    _zero(cv2, canvas, piece, pixels, wide, texts, size_px)
    around = pixels(_placed(_dense(piece.written.exterior), piece))
    left, top = around[around[:, 1].argmin(), 0], around[:, 1].min()
    above = max(size_px * 1.2, float(top) - 4.0 * size_px)
    texts.append(((float(left), above), f"{piece.name}  {size}\nmay be off by {error}\n{grain}"))


def _zero(
    cv2: Any,
    canvas: NDArray[np.uint8],
    piece: PhotoPiece,
    pixels: Any,
    wide: int,
    texts: list[tuple[tuple[float, float], str]],
    size_px: int,
) -> None:
    """Draw where 0,0 of the row lies, and which way x and y run."""
    _, _, x1, y1 = piece.written.bounds
    length = min(_ARROW * min(x1, y1), _ARROW_MM)
    ends = pixels(_placed(np.array([[0.0, 0.0], [length, 0.0], [0.0, length]]), piece))
    for name, end, other in zip("xy", ends[1:], ends[:0:-1]):
        beside = (other - ends[0]) * (1.3 * size_px / max(1.0, float(np.hypot(*(other - ends[0])))))
        for color, width in ((_BLACK, wide + 4), (_YELLOW, wide + 1)):
            cv2.arrowedLine(canvas, _whole(ends[0]), _whole(end), color, width, cv2.LINE_AA, 0, 0.2)
        texts.append((tuple(end - beside - size_px / 2), name))
    cv2.circle(canvas, _whole(ends[0]), 3 * wide + 2, _BLACK, -1, cv2.LINE_AA)
    cv2.circle(canvas, _whole(ends[0]), 3 * wide, _YELLOW, -1, cv2.LINE_AA)
    out = ends[0] - (ends[1:] - ends[0]).mean(axis=0) * (
        1.6 * size_px / max(1.0, float(np.hypot(*(ends[1] - ends[0]))))
    )
    texts.append((tuple(out - [size_px, size_px / 2]), "0,0"))


def _bar(
    cv2: Any,
    canvas: NDArray[np.uint8],
    pieces: Sequence[PhotoPiece],
    pixels: Any,
    wide: int,
    request: PhotoRequest,
    texts: list[tuple[tuple[float, float], str]],
) -> None:
    """Draw a scale below the first piece, at the height of the upper faces."""
    if not pieces:
        return
    x0, y0, x1, _ = pieces[0].traced.bounds
    length = _BAR_MM[request.units]
    start = np.array([(x0 + x1) / 2 - length / 2, y0 - 18.0])
    marks = start + np.array([[0, 0], [length, 0], [0, -4], [0, 4], [length, -4], [length, 4]])
    points = pixels(marks)
    for a, b in ((0, 1), (2, 3), (4, 5)):
        for color, width in ((_BLACK, wide + 3), (_WHITE, wide)):
            cv2.line(canvas, _whole(points[a]), _whole(points[b]), color, width, cv2.LINE_AA)
    end = points.max(axis=0)
    texts.append(((float(end[0]) + 8, float(end[1])), Words(request.units).length(length)))


def _dense(ring: shapely.LinearRing) -> Array:
    return np.asarray(shapely.get_coordinates(shapely.segmentize(ring, 4.0)))


def _placed(points: Array, piece: PhotoPiece) -> Array:
    x, y, deg = piece.place
    c, s = np.cos(np.radians(deg)), np.sin(np.radians(deg))
    return np.asarray(points @ np.array([[c, s], [-s, c]]) + (x, y))


def _whole(point: Array) -> tuple[int, int]:
    return round(float(point[0])), round(float(point[1]))


def _line(
    cv2: Any, canvas: NDArray[np.uint8], points: Array, color: tuple[int, int, int], width: int, closed: bool
) -> None:
    limit = 20 * max(canvas.shape)
    fixed = np.round(np.clip(points, -limit, limit) * 8).astype(np.int32)
    cv2.polylines(canvas, [fixed], closed, color, width, cv2.LINE_AA, 3)


def _write(picture: Any, texts: list[tuple[tuple[float, float], str]], head: list[str], size: int) -> None:
    from PIL import ImageDraw, ImageFont

    from nestyield.paperwork import fonts

    draw = ImageDraw.Draw(picture)
    font = ImageFont.truetype(fonts.path(False), size)
    plates: list[tuple[tuple[float, float], str]] = [*texts, ((size, size), "\n".join(head))]
    for (x, y), text in plates:
        x0, y0, x1, y1 = draw.multiline_textbbox((x, y), text, font=font)
        draw.rectangle((x0 - size // 3, y0 - size // 4, x1 + size // 3, y1 + size // 4), fill=_WHITE)
        draw.multiline_text((x, y), text, font=font, fill=_BLACK)
