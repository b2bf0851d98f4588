"""Arabic letters in their joined shapes."""

import pytest

from nestyield.paperwork import fonts
from nestyield.paperwork.joining import joined


@pytest.mark.outside(
    source="Unicode chart of Arabic Presentation Forms-B; the same as arabic-reshaper 3.1 on 20,000 random "
    "strings when this was written",
    mark="S",
)
@pytest.mark.parametrize(
    ("letters", "shapes"),
    [
        ("\u0628", "\ufe8f"),  # beh alone
        ("\u0628\u0628\u0628", "\ufe91\ufe92\ufe90"),  # first, middle, last
        ("\u062f\u0628", "\ufea9\ufe8f"),  # dal does not join onwards
        ("\u0645\u0631\u062d\u0628\u0627", "\ufee3\ufeae\ufea3\ufe92\ufe8e"),
        ("\u0644\u0627", "\ufefb"),  # lam with alef is one sign
        ("\u0628\u0644\u0627", "\ufe91\ufefc"),
        ("\u0628\u064e\u0628", "\ufe91\u064e\ufe90"),  # a mark does not part them
        ("\u0628\u200c\u0628", "\ufe8f\ufe8f"),  # the non-joiner does
        ("\u0628 \u0628", "\ufe8f \ufe8f"),
    ],
)
def test_shapes(letters, shapes):
    """Each letter takes the shape of its place."""
    assert joined(letters) == shapes


def test_other_writings_stay():
    """Latin, Hebrew and signs are left alone."""
    for text in ("mandolin", "שלום", "🪵 maple", "12 ½"):
        assert joined(text) == text


def test_the_typeface_has_the_shapes():
    """No shape becomes an empty box, in either weight."""
    text = "السلام عليكم ورحمة الله مرحبا پژچگ"
    for bold in (False, True):
        assert fonts.REPLACEMENT not in fonts.drawable(text, bold)


def test_picture_signs_are_told_by_name():
    """What the typeface cannot draw is named, so that two such names differ."""
    assert fonts.drawable("🪵 maple 🎸") == "[wood] maple [guitar]"
    assert fonts.drawable("👩\u200d🔧") == "[woman][wrench]"
    assert fonts.drawable("\u2764\ufe0f") == "\u2764"
    assert fonts.drawable("\U0001f44d\U0001f3fd") == "[thumbs up sign]"
    assert fonts.drawable("\U000e1234x") in ("□x", "x")
    assert fonts.width("🎸", 10.0) == pytest.approx(fonts.width("[guitar]", 10.0))
