"""Parts that would never be made, whatever the rack holds."""

from __future__ import annotations

from pathlib import Path

import pytest

from nestyield.api import load_shop
from nestyield.intake.shop import read_shop
from nestyield.model import Finding


def told(folder: Path, part: str, more: str = "") -> list[Finding]:
    """Return findings of the good shop with lines more in its part, and sections more."""
    path = folder / "shop.toml"
    text = path.read_text()
    at = text.index("thickness", text.index("[part."))
    path.write_text(f"{text[:at]}{part}\n{text[at:]}\n{more}\n")
    return [f for f in read_shop(folder)[1] if f.code == "S018"]


def test_a_book_match_without_a_resaw_is_a_warning(good_shop: Path) -> None:
    """The other orders can be planned; the warning names the key to write and where."""
    (found,) = told(good_shop, "book_match = true")
    assert found.severity == "warning"
    assert "resaw_height" in found.message
    assert "[machines]" in found.message
    assert "mandolin.book_match" in found.where
    assert load_shop(good_shop).parts[0].book_match


def test_a_book_match_with_a_resaw_is_fine(good_shop: Path) -> None:
    """With the height of the resaw nothing is told."""
    assert told(good_shop, "book_match = true", "[machines]\nresaw_height = 200") == []


@pytest.mark.parametrize("key", ['show_face = "top"', 'grain = "none"'])
def test_a_book_match_that_contradicts_itself_is_an_error(good_shop: Path, key: str) -> None:
    """One of two leaves lies bottom up; and without grain there is no way to open them."""
    (found,) = told(good_shop, f"book_match = true\n{key}", "[machines]\nresaw_height = 200")
    assert found.severity == "error"
    assert key.split()[0] in found.message
    assert "remove" in found.message


@pytest.mark.parametrize(
    ("key", "names"),
    [
        ("book_match = true", "book_match"),
        ("glue = false", "glue"),
        ('grain = "none"', "grain"),
        ('cap = "sugar maple"\ncap_thickness = 5', "cap"),
    ],
)
def test_strips_that_contradict_the_part_are_an_error(good_shop: Path, key: str, names: str) -> None:
    """Strips are glued along the grain, and make no cap and no book match: the message says what to remove."""
    found = told(good_shop, f'strips = "allowed"\n{key}', "[machines]\nresaw_height = 200")
    (strips,) = [f for f in found if "strips" in f.where]
    assert strips.severity == "error"
    assert "remove" in strips.message
    assert names in strips.message


def test_strips_take_one_of_three_words(good_shop: Path) -> None:
    """A flag in its place is an error that says what to write."""
    path = good_shop / "shop.toml"
    text = path.read_text()
    at = text.index("thickness", text.index("[part."))
    path.write_text(f"{text[:at]}strips = true\n{text[at:]}")
    (found,) = [f for f in read_shop(good_shop)[1] if "strips" in f.where]
    assert 'strips = "allowed"' in found.message
