"""A new folder with what was read from pictures: rows of the rack, rows of defects, pictures to check."""

from __future__ import annotations

import csv
import io
import os
import shutil
import tempfile
from collections.abc import Iterable, Sequence
from pathlib import Path

import numpy as np
import shapely

from nestyield.model import NestyieldError, Outline, Shape
from nestyield.photo.overlay import overlay
from nestyield.photo.request import PhotoPiece, PhotoRequest
from nestyield.photo.scene import Seen

RACK_HEAD = ("piece", "species", "thickness_mm", "outline_mm", "grain", "status", "note")
DEFECT_HEAD = ("piece", "kind", "outline_mm", "face")


class PhotoOutputError(NestyieldError, OSError):
    """The folder for what was read is there already."""


def check_new(out: Path) -> None:
    """Refuse a folder that holds anything.

    Raises
    ------
    PhotoOutputError
    """
    if out.is_dir() and not any(out.iterdir()):
        return
    if os.path.lexists(out):
        raise PhotoOutputError(f"{out} is there already, nothing was written; choose a new folder with --out")


def write_photos(
    out: Path, pieces: Sequence[PhotoPiece], scenes: Sequence[Sequence[Seen]], request: PhotoRequest
) -> list[Path]:
    """Write the folder, whole or not at all.

    Parameters
    ----------
    out : Path
        New or empty.
    pieces : sequence of PhotoPiece
    scenes : sequence of sequence of Seen
        As ``read_photos`` returns them.
    request : PhotoRequest

    Returns
    -------
    list of Path
        The files, sorted.

    Raises
    ------
    PhotoOutputError
        When the folder holds anything.
    """
    check_new(out)
    out.parent.mkdir(parents=True, exist_ok=True)
    new = Path(tempfile.mkdtemp(prefix=f".{out.name}-new-", dir=out.parent))
    try:
        (new / "rack.csv").write_bytes(_table(RACK_HEAD, (_rack_row(p, request) for p in pieces)))
        rows = [(p.name, kind, _wkt(shape), "through") for p in pieces for kind, shape in p.defects]
        (new / "defects.csv").write_bytes(_table(DEFECT_HEAD, rows))
        for name, content in _overlays(pieces, scenes, request):
            (new / name).write_bytes(content)
        mask = os.umask(0)
        os.umask(mask)
        new.chmod(0o777 & ~mask)
        check_new(out)
        if out.is_dir():
            out.rmdir()
        new.rename(out)
    finally:
        shutil.rmtree(new, ignore_errors=True)
    return sorted(out.iterdir())


def _overlays(
    pieces: Sequence[PhotoPiece], scenes: Sequence[Sequence[Seen]], request: PhotoRequest
) -> Iterable[tuple[str, bytes]]:
    number = 0
    for k, scene in enumerate(scenes):
        for i, seen in enumerate(scene):
            path = request.pictures[number]
            number += 1
            shown = [p for p in pieces if p.scene == k and i in p.pictures]
            yield f"check-{number}-{path.stem}.jpg", overlay(path, seen, shown, request)


def note_of(piece: PhotoPiece) -> str:
    """Return what the rack's row notes of a piece that a picture gave."""
    note = f"from a picture; outline drawn in by {piece.error_mm:.2f} mm"
    return note if piece.grain.seen else f"{note}; grain not seen, measure it"


def shape_of(polygon: shapely.Polygon) -> Shape:
    """Return a polygon as a shape."""
    rings = [
        Outline.polygon([(float(x), float(y)) for x, y in shapely.get_coordinates(ring)[:-1]])
        for ring in (polygon.exterior, *polygon.interiors)
    ]
    return Shape(outer=rings[0], holes=tuple(rings[1:]))


def _rack_row(piece: PhotoPiece, request: PhotoRequest) -> tuple[str, ...]:
    seen = piece.grain.seen
    grain = f"{piece.grain.angle_deg:.1f}" if seen else ""
    return (
        piece.name,
        request.species,
        f"{request.thickness_mm:.3f}".rstrip("0").rstrip("."),
        _wkt(piece.written),
        "0.0" if grain == "-0.0" else grain,
        "ready" if seen else "hold",
        note_of(piece),
    )


def _wkt(shape: shapely.Polygon) -> str:
    rings = [shapely.get_coordinates(r) for r in (shape.exterior, *shape.interiors)]
    return "POLYGON (" + ", ".join(f"({', '.join(_point(p) for p in ring)})" for ring in rings) + ")"


def _point(point: np.ndarray) -> str:
    # + 0.0 makes a nought of minus nought
    return " ".join(f"{v:.2f}".rstrip("0").rstrip(".") for v in np.round(point, 2) + 0.0)


def _table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> bytes:
    stream = io.StringIO()
    table = csv.writer(stream, lineterminator="\n")
    table.writerow(head)
    table.writerows(rows)
    return stream.getvalue().encode("utf-8")
