"""Sheets and templates as PDF, measured in the file's own coordinates."""

import io

import pytest
from pypdf import PdfReader

from nestyield.model import Outline
from nestyield.paperwork import pdf
from nestyield.paperwork.canvas import Canvas
from nestyield.paperwork.page import SIZES

POINT_MM = 25.4 / 72


def boxes(page):
    """Boxes (x0, y0, x1, y1) in millimeters of every closed path of four straight lines on a page."""
    found, matrix, stack, path = [], (1, 0, 0, 1, 0, 0), [], []
    for operands, operator in page.get_contents().operations:
        values = [float(v) for v in operands] if operator in (b"cm", b"m", b"l") else []
        if operator == b"q":
            stack.append(matrix)
        elif operator == b"Q":
            matrix = stack.pop()
        elif operator == b"cm":
            a, b, c, d, e, f = values
            m = matrix
            matrix = (
                a * m[0] + b * m[2],
                a * m[1] + b * m[3],
                c * m[0] + d * m[2],
                c * m[1] + d * m[3],
                e * m[0] + f * m[2] + m[4],
                e * m[1] + f * m[3] + m[5],
            )
        elif operator in (b"m", b"l"):
            x, y = values
            point = (
                (matrix[0] * x + matrix[2] * y + matrix[4]) * POINT_MM,
                (matrix[1] * x + matrix[3] * y + matrix[5]) * POINT_MM,
            )
            path = [point] if operator == b"m" else [*path, point]
        elif operator == b"c":
            path = []
        elif operator == b"h" and len(path) in (4, 5):
            xs, ys = zip(*path)
            found.append((min(xs), min(ys), max(xs), max(ys)))
    return found


@pytest.mark.outside(source="PDF 1.7 (ISO 32000-1), 8.3.2.3: the unit of user space is 1/72 inch", mark="M")
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_check_square_measures_right(rendered, inch_rendered, paper):
    """The square of a template measures 50 mm, or 2 inches, in the file's own coordinates."""
    for files, side in ((rendered, 50.0), (inch_rendered, 50.8)):
        reader = PdfReader(io.BytesIO(files[f"templates/C07-{paper}.pdf"]))
        squares = [
            b
            for page in reader.pages
            for b in boxes(page)
            if abs(b[2] - b[0] - side) < 0.01 and abs(b[3] - b[1] - side) < 0.01
        ]
        assert len(squares) == 1


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_page_size(rendered, paper):
    """Pages have the size of their paper."""
    for page in PdfReader(io.BytesIO(rendered[f"sheets/C07-{paper}.pdf"])).pages:
        size = (float(page.mediabox.width) * POINT_MM, float(page.mediabox.height) * POINT_MM)
        assert size == pytest.approx(SIZES[paper], abs=0.01)


def test_words_can_be_searched_and_type_is_inside(rendered):
    """The text of a sheet can be found, and its typeface is in the file."""
    reader = PdfReader(io.BytesIO(rendered["sheets/C07-a4.pdf"]))
    text = "\n".join(page.extract_text() for page in reader.pages)
    for words in ("C07", "sugar maple", "Order of work", "flip axis", "43.7 part", "PICKUPS", "Cautions"):
        assert words in text
    fonts = reader.pages[0]["/Resources"]["/Font"]
    kinds = [f.get_object() for f in fonts.values()]
    embedded = [f for f in kinds if "/FontDescriptor" in f]
    assert embedded
    assert all("/FontFile2" in f["/FontDescriptor"] for f in embedded)


def test_arcs_stay_close():
    """A circle drawn by cubics leaves the true one by less than five millionths of its radius."""
    import math

    points, at = [], (0.0, 0.0)
    for command in pdf._trace(Outline.circle(0, 0, 300)):
        *v, what = command.split()
        if what == "c":
            p0, (p1, p2, p3) = at, [(float(v[k]), float(v[k + 1])) for k in (0, 2, 4)]
            for k in range(11):
                t = k / 10
                u = 1 - t
                points.append(
                    tuple(
                        u**3 * p0[i] + 3 * u * u * t * p1[i] + 3 * u * t * t * p2[i] + t**3 * p3[i]
                        for i in (0, 1)
                    )
                )
        at = (float(v[-2]), float(v[-1])) if v else at
    assert len(points) > 80
    assert max(abs(math.hypot(*p) - 300) for p in points) < 300 * 5e-6


def test_names_do_no_harm(nasty):
    """Whatever a text holds, the file can be read, and twice it is the same."""
    canvas = Canvas(width_mm=100, height_mm=50)
    canvas.text((5, 5), nasty, 4.0)
    first = pdf.document([canvas], "t")
    assert len(PdfReader(io.BytesIO(first)).pages) == 1
    assert first == pdf.document([canvas], "t")
