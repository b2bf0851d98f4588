"""The printed marker sheet."""

from __future__ import annotations

import io
import shutil
import subprocess
from pathlib import Path

import cv2
import numpy as np
import pytest
from pypdf import PdfReader
from pypdf.generic import ContentStream

from nestyield.photo.board import corners, markers_of
from nestyield.photo.sheet import SheetError, marker_sheets

MM = 72 / 25.4


def drawn(data: bytes, page: int = 0) -> tuple[list[tuple[float, ...]], list[float]]:
    """Rectangles and lengths of lines of a page, mm, from its operators."""
    reader = PdfReader(io.BytesIO(data))
    scale, at, boxes, lines = 1.0, None, [], []
    for operands, operator in ContentStream(reader.pages[page].get_contents(), reader).operations:
        values = [float(v) for v in operands] if operator in (b"cm", b"re", b"m", b"l") else []
        if operator == b"cm" and values[1:3] == [0, 0] and values[0] > 2:
            scale = values[0] / MM
        elif operator == b"re":
            boxes.append(tuple(v * scale for v in values))
        elif operator == b"m":
            at = values
        elif operator == b"l":
            lines.append(float(np.hypot(values[0] - at[0], values[1] - at[1]) * scale))
    return boxes, lines


@pytest.mark.outside(source="ISO 216: A4 is 210 x 297 mm; ANSI Y14.1: size A is 8.5 x 11 in", mark="M")
@pytest.mark.parametrize(("paper", "size"), [("a4", (297.0, 210.0)), ("letter", (279.4, 215.9))])
def test_paper_and_scale(paper: str, size: tuple[float, float]) -> None:
    """Pages have the size of their paper; markers are 28 mm, check lines 240 and 160 mm, margins 8 mm at least."""
    data = marker_sheets(1, 2, paper)
    pages = PdfReader(io.BytesIO(data)).pages
    assert len(pages) == 2
    for page in pages:
        assert (float(page.mediabox.width) / MM, float(page.mediabox.height) / MM) == pytest.approx(
            size, abs=0.01
        )
    boxes, lines = drawn(data)
    big = [b for b in boxes if b[2] == pytest.approx(28.0, abs=1e-3)]
    assert len([b for b in big if b[3] == pytest.approx(28.0, abs=1e-3)]) == 24
    assert max(lines) == pytest.approx(240.0, abs=0.01)
    assert any(length == pytest.approx(160.0, abs=0.01) for length in lines)
    assert min(b[0] for b in boxes) >= 8
    assert max(b[0] + b[2] for b in boxes) <= size[0] - 8


@pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="needs pdftoppm (poppler-utils)")
@pytest.mark.outside(source="OpenCV's own detector on the page as poppler paints it", mark="D")
def test_markers_are_where_the_reader_takes_them(tmp_path: Path) -> None:
    """Every marker of sheet 2 is found, with its number, where board.corners has it."""
    (tmp_path / "s.pdf").write_bytes(marker_sheets(2, 1, "letter"))
    subprocess.run(
        ["pdftoppm", "-r", "127", "-gray", "-singlefile", "s.pdf", "s"], cwd=tmp_path, check=True, timeout=60
    )
    page = cv2.imread(str(tmp_path / "s.pgm"), cv2.IMREAD_GRAYSCALE)
    family = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    found, ids, _ = cv2.aruco.ArucoDetector(family).detectMarkers(page)
    assert sorted(int(i) for i in ids.ravel()) == list(markers_of(2))
    mm = {int(i): np.asarray(q).reshape(4, 2) / 5.0 for i, q in zip(ids.ravel(), found)}  # 127 dpi: 5 px a mm
    origin = mm[24][3] * (1, -1) - corners(24)[3]
    for marker, quad in mm.items():
        assert quad * (1, -1) - origin == pytest.approx(corners(marker), abs=0.25)


def test_sheets_differ_and_end() -> None:
    """No marker is on two of the 24 sheets; there is no sheet 25."""
    every = [m for sheet in range(1, 25) for m in markers_of(sheet)]
    assert len(every) == len(set(every)) == 576
    with pytest.raises(SheetError, match="1 to 24"):
        marker_sheets(24, 2, "a4")


def test_same_bytes() -> None:
    """The same sheet is the same file."""
    assert marker_sheets(3, 1, "a4") == marker_sheets(3, 1, "a4")
