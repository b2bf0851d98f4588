"""Pages that fill from the top."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestyield.model import DEFECTS
from nestyield.paperwork import fonts, marks, page
from nestyield.paperwork.canvas import Canvas, Text
from nestyield.paperwork.page import MARGIN_MM, SIZES
from nestyield.words import Words


@given(st.text(st.characters(codec="utf-8"), max_size=120), st.floats(8, 90))
def test_no_line_is_wider_than_its_column(text, width):
    """A paragraph breaks so that each line fits, unless one letter alone is wider."""
    for line in page.wrap(text, width, 3.0):
        assert fonts.width(line, 3.0) <= width + 1e-9 or len(line) == 1


@given(st.text(st.characters(codec="utf-8"), max_size=120))
def test_no_letter_is_lost(text):
    """What was written comes out, but for the white space at which lines break."""
    from nestyield.paperwork.words import clean

    assert "".join("".join(page.wrap(text, 20.0, 3.0)).split()) == "".join(clean(text).split())


def test_a_long_table_carries_its_header_on():
    """Rows that do not fit go to the next page under the same header."""
    pages = page.Pages(paper="a4", heading="Long", foot="foot")
    pages.table("Rows", ["Number", "Word"], [[str(k), "maple"] for k in range(120)], [1, 2])
    canvases = pages.finish()
    assert len(canvases) > 1
    for canvas in canvases:
        said = [t.text for t in canvas.items if isinstance(t, Text)]
        assert "Number" in said
    every = [t.text for c in canvases for t in c.items if isinstance(t, Text)]
    assert all(str(k) in every for k in range(120))


def test_a_short_table_stays_whole():
    """A short table moves to the next page together with its title."""
    pages = page.Pages(paper="letter", heading="Short", foot="foot")
    pages.gap(pages.room - 25.0)
    pages.table("Rows", ["Number"], [[f"row {k}"] for k in range(6)], [1])
    first, second = ([t.text for t in c.items if isinstance(t, Text)] for c in pages.finish())
    assert "Rows" not in first
    assert {"Rows", "Number", "row 0", "row 5"} <= set(second)


@pytest.mark.outside(
    source="ISO 216: A4 is 210 x 297 mm; letter is 8 1/2 x 11 in (ANSI/ASME Y14.1)", mark="M"
)
def test_paper_sizes():
    """Papers have the sizes of their standards."""
    assert page.SIZES["a4"] == (210.0, 297.0)
    assert page.SIZES["letter"] == pytest.approx((8.5 * 25.4, 11 * 25.4))


def test_scale_bar_is_true():
    """The bar's boxes have the length that stands under them, at the scale of the figure."""
    canvas = Canvas(width_mm=200, height_mm=50)
    page.scale_bar(canvas, 10, 10, 0.25, Words("mm"))
    last = next(t for t in canvas.items if isinstance(t, Text) and t.text.endswith("mm"))
    assert (last.x - 10) / 0.25 == pytest.approx(float(last.text.removesuffix(" mm")))


def test_a_size_too_wide_breaks_between_its_numbers():
    """In a narrow column a size breaks behind the sign, a fraction stays with its whole inches."""
    size = "13 1/32 × 9 1/64"
    width = fonts.width("13 1/32 ×", 3.45) + 0.1
    assert page.wrap(size, width, 3.45) == ["13 1/32 ×", "9 1/64"]


def test_every_legend_text_fits_its_column():
    """No text of the legend is cut off on the narrower paper, in either unit."""
    for paper in ("a4", "letter"):
        width = (SIZES[paper][0] - 2 * MARGIN_MM - 50.8 - 6.0) / 3 - 8.0
        every = {e.text for e in marks.entries({*marks._WORDS, *(f"defect {k}" for k in DEFECTS)})}
        assert len(every) > 40
        for text in every:
            assert fonts.width(text, 1.9) <= width, text
