"""Pictures that must be refused: picture, reason and remedy are told."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from nestyield.model import InputError
from nestyield.photo.read import read_photos
from nestyield.photo.request import PhotoRequest

from .conftest import SAMPLES

#: What the pieces of two.jpg are thick (fixtures/make_photos.py).
TRUE_MM = 19.0


def refused(*pictures: Path, thickness: float = 19.0, **more: object) -> list:
    request = PhotoRequest(
        pictures=pictures, thickness_mm=thickness, species="cherry", name="P", lines_mm=(240.0, 160.0), **more
    )
    with pytest.raises(InputError) as caught:
        read_photos(request)
    return list(caught.value.findings)


@pytest.mark.parametrize(
    ("name", "thickness", "codes", "remedy"),
    [
        ("blurred.jpg", 19.0, {"V002", "V004"}, "sharp"),
        ("few.jpg", 19.0, {"V002"}, "another sheet"),
        ("long-1.jpg", 22.0, {"V006"}, "--together"),
        ("above.jpg", 44.5, {"V008"}, "tilt the camera"),
        ("like-wood.jpg", 19.0, {"V005", "V007"}, "ground"),
    ],
)
def test_bad_picture_is_refused(name: str, thickness: float, codes: set[str], remedy: str) -> None:
    """Blur, few markers, a piece cut off, a camera straight above thick wood, ground like wood: refused."""
    found = refused(SAMPLES / name, thickness=thickness)
    assert {f.code for f in found} <= codes
    assert all(f.severity == "error" and name in f.file for f in found)
    assert any(remedy in f.message for f in found)


def test_limit_is_kept() -> None:
    """A good picture is refused where less error is asked for than it has."""
    found = refused(SAMPLES / "scan.jpg", scan=True, limit_mm=0.1)
    assert {f.code for f in found} == {"V008"}


def test_no_picture(tmp_path: Path) -> None:
    """A missing file, a text, and a cut-off file are told as such."""
    text = tmp_path / "text.jpg"
    text.write_text("no picture")
    half = tmp_path / "half.jpg"
    half.write_bytes((SAMPLES / "few.jpg").read_bytes()[:9000])
    for path in (tmp_path / "none.jpg", text, half):
        assert [f.code for f in refused(path)] == ["V001"]


def test_scan_without_resolution(tmp_path: Path) -> None:
    """A scan whose file does not say its resolution is not guessed at."""
    from PIL import Image

    bare = tmp_path / "bare.png"
    with Image.open(SAMPLES / "scan.jpg") as picture:
        picture.save(bare)
    assert [f.code for f in refused(bare, scan=True)] == ["V011"]


def test_pictures_of_two_cameras(tmp_path: Path) -> None:
    """Pictures that belong together are of one size."""
    found = refused(SAMPLES / "two.jpg", SAMPLES / "above.jpg", together=True)
    assert "V012" in {f.code for f in found}


@pytest.mark.parametrize("wrong", [12.0, 26.0])
def test_a_wrong_thickness_is_refused(wrong: float) -> None:
    """A thickness that the sides of the wood do not bear out is refused, thicker or thinner (19 mm is drawn)."""
    told = {f.code: f for f in refused(SAMPLES / "two.jpg", thickness=wrong, limit_mm=5.0)}["V016"]
    assert told.severity == "error"
    assert told.file == "two.jpg"
    seen = re.search(r"look (\d+(?:\.\d+)?) mm high", told.message)
    assert seen is not None
    assert abs(float(seen[1]) - TRUE_MM) < 3.0
    assert f"not {wrong:.0f} mm as --thickness says" in told.message
    assert "Measure the pieces" in told.message
