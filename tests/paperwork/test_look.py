"""Colors of pictures."""

import pytest

from nestyield.model import DEFECTS
from nestyield.paperwork import look, marks


def light(color):
    """Relative luminance."""
    parts = [int(color[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    r, g, b = (c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(a, b):
    """Contrast ratio."""
    low, high = sorted((light(a), light(b)))
    return (high + 0.05) / (low + 0.05)


@pytest.mark.outside(source="WCAG 2.1, success criteria 1.4.3 and 1.4.11", mark="S")
@pytest.mark.parametrize("night", [0, 1])
def test_contrast_of_pictures(night):
    """Texts reach 4.5 to 1 against their rim and the ground; edges reach 3 to 1 against the wood."""
    for name, style in look.STYLES.items():
        if name.startswith(("text", "plain")):
            assert contrast(style.fill[night], look.PAPER[night]) >= 4.5, name
    for name in ("edge", "outline", "defect", "seam", "cutter", "travel", "keep-out", "pin", "clamp"):
        assert contrast(look.STYLES[name].stroke[night], look.PAPER[night]) >= 3.0, name
    for name in ("edge", "outline", "defect", "seam", "leftover"):
        assert contrast(look.STYLES[name].stroke[night], look.WOOD[night]) >= 3.0, name


def test_defects_differ_without_color():
    """No two kinds of defect share their letters."""
    assert len({kind.letters for kind in DEFECTS.values()}) == len(DEFECTS)


def test_css_names_every_style():
    """A page that holds pictures has a rule for every style, by day and by night."""
    for night in (False, True):
        rules = look.css(".picture ", night)
        assert all(f".picture .{name}{{" in rules for name in look.STYLES)


def test_legend_holds_only_what_is_shown():
    """An entry comes for each thing shown and for nothing else, and each has a sample."""
    listed = marks.entries({"part", "defect knot", "grain"})
    assert [e.key for e in listed] == ["part", "grain", "defect knot"]
    for key in [*marks._WORDS, *(f"defect {k}" for k in DEFECTS)]:
        assert marks.swatch(key).items, key
