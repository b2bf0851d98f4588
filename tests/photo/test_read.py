"""Photos and scans of known outlines. Source of truth: the renderer's own drawing, scripts/photo_render.py."""

from __future__ import annotations

import functools

import pytest
import shapely
from shapely import affinity

from nestyield.photo.read import read_photos
from nestyield.photo.request import PhotoPiece, PhotoRequest

from .conftest import SAMPLES, TRUTH, laid_on, off_at_95, true_shape


@functools.cache
def read(*names: str, thickness: float, limit: float = 0.5, scan: bool = False) -> tuple[PhotoPiece, ...]:
    pieces, _, _ = read_photos(
        PhotoRequest(
            pictures=tuple(SAMPLES / n for n in names),
            thickness_mm=thickness,
            species="cherry",
            name="P",
            together=len(names) > 1,
            lines_mm=(240.0, 160.0),
            limit_mm=limit,
            scan=scan,
        )
    )
    return tuple(pieces)


CASES = {
    "corner": (("two.jpg",), 0, 19.0, TRUTH["two"][0], {}),
    "curved": (("two.jpg",), 1, 19.0, TRUTH["two"][1], {}),
    "long": (("long-1.jpg", "long-2.jpg"), 0, 22.0, TRUTH["long"][0], {"limit": 1.0}),
    "scan": (("scan.jpg",), 0, 6.0, TRUTH["scan"][0], {"scan": True}),
}


def case(name: str) -> tuple[PhotoPiece, dict]:
    names, index, thickness, told, more = CASES[name]
    return read(*names, thickness=thickness, **more)[index], told


@pytest.mark.parametrize("name", CASES)
def test_outline_is_within_half_a_millimeter(name: str) -> None:
    """95 % of a traced outline lie within 0.5 mm of the edge, and within the error that is told."""
    piece, told = case(name)
    truth = true_shape(told)
    _, move = laid_on(piece.traced, truth)
    off = off_at_95(move(piece.traced), truth)
    assert off < 0.5
    assert off <= piece.error_mm


@pytest.mark.parametrize("name", CASES)
def test_written_outline_lies_in_the_wood(name: str) -> None:
    """What is written keeps inside the true outline and out of its holes, by 0.25 mm, and loses little."""
    piece, told = case(name)
    truth = true_shape(told)
    _, move = laid_on(piece.traced, truth)
    x, y, turned = piece.place
    on_ground = affinity.translate(affinity.rotate(piece.written, turned, origin=(0, 0)), x, y)
    written = move(on_ground)
    assert written.difference(truth.buffer(0.25)).area < 1e-6
    assert written.area > truth.area - (piece.error_mm + 0.6) * truth.length
    assert len(piece.written.interiors) == len(truth.interiors)


@pytest.mark.parametrize("name", CASES)
def test_grain_is_along_the_figure(name: str) -> None:
    """The grain is told within a degree and a half, from the length of the written outline."""
    piece, told = case(name)
    turned, _ = laid_on(piece.written, true_shape(told))
    off = (piece.grain.angle_deg + turned - told["grain_deg"] + 90) % 180 - 90
    assert piece.grain.seen
    assert abs(off) < 1.5


def test_grain_of_plain_wood_is_not_seen() -> None:
    """Wood without figure has no grain in a picture, and none is told."""
    piece = read("scan-plain.jpg", thickness=6.0, scan=True)[0]
    assert not piece.grain.seen


@pytest.mark.parametrize("name", ["corner", "long"])
def test_rings_become_defects_that_hold_them(name: str) -> None:
    """A blue ring is a knot, a green one a screw hole; each defect covers its ring, not much more."""
    piece, told = case(name)
    _, move = laid_on(piece.written, true_shape(told))
    kinds = {"blue": "knot", "green": "screw hole"}
    assert sorted(k for k, _ in piece.defects) == sorted(kinds[m[3]] for m in told["marks"])
    for x, y, radius, color in told["marks"]:
        shapes = [move(s) for k, s in piece.defects if k == kinds[color]]
        assert any(
            s.contains(shapely.Point(x, y).buffer(radius))
            and s.within(shapely.Point(x, y).buffer(radius + 4.5))
            for s in shapes
        )


def test_thickness_moves_the_edges() -> None:
    """Read with no thickness to speak of, the same photo is off by millimeters: the correction is at work."""
    flat = read("two.jpg", thickness=0.5)[0]
    truth = true_shape(TRUTH["two"][0])
    _, move = laid_on(flat.traced, truth)
    assert off_at_95(move(flat.traced), truth) > 2.0


def test_length_runs_along_x_from_a_corner() -> None:
    """Written outlines begin at 0,0, and are longer along X than along Y."""
    for name in CASES:
        x0, y0, x1, y1 = case(name)[0].written.bounds
        assert (x0, y0) == (0.0, 0.0)
        assert x1 > y1
