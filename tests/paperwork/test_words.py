"""Names of people, made harmless."""

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestyield.paperwork import words


@given(st.text())
def test_clean_leaves_nothing_that_paper_cannot_hold(text):
    """No control, direction or broken character survives, and cleaning twice changes nothing."""
    line = words.clean(text)
    assert all(unicodedata.category(ch) not in ("Cc", "Cs", "Zl", "Zp") for ch in line)
    assert not set(line) & set("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\ufffe\uffff")
    assert words.clean(line) == line
    line.encode("utf-8")


@given(st.text())
def test_no_cell_begins_a_formula(text):
    """A spreadsheet never sees a text that begins like a formula."""
    assert not words.cell(text).startswith(("=", "+", "-", "@", "\t", "\r", "\n"))


def test_a_formula_stays_readable():
    """The maker still reads what was written, after the apostrophe that marks it as text."""
    assert words.cell("=1+1") == "'=1+1"
    assert words.cell(" \t=1+1") == "'=1+1"
    assert words.cell("maple") == "maple"


@pytest.mark.parametrize(
    ("text", "written"),
    [
        ("\t=1+1", "'=1+1"),
        ("\r=1+1", "'=1+1"),
        ("\n+1", "'+1"),
        ("＝1+1", "'＝1+1"),
        ("＋1", "'＋1"),
        ("－1", "'－1"),
        ("＠SUM(A1)", "'＠SUM(A1)"),
        ("\ufe66 1", "'\ufe66 1"),  # small equals sign
        ("\u22121", "'\u22121"),  # minus sign
        ("\u200b=1+1", "'\u200b=1+1"),  # behind a sign that does not show
        ("\ufeff=1+1", "'\ufeff=1+1"),
        ("maple;=1+1", "maple;'=1+1"),
        ("maple; @x;-2", "maple; '@x;'-2"),
        ("maple; oak", "maple; oak"),
        ("T-3", "T-3"),
        ("a=b", "a=b"),
    ],
)
def test_no_way_round_the_apostrophe(text, written):
    """Signs of other widths, signs that do not show, and semicolons open no way to a formula."""
    assert words.cell(text) == written


@pytest.mark.parametrize(
    ("name", "stem"),
    [
        ("C07", "C07"),
        ("glue-up 1", "glue-up-1"),
        ("T-3/2", "T-3-2"),
        ("../../x", "x"),
        ("CON", "CON-blank"),
        ("", "blank"),
        ("***", "blank"),
        ("שלום", "שלום"),
    ],
)
def test_stem(name, stem):
    """A file name keeps letters and digits of any script and nothing else."""
    assert words.stem(name) == stem


@given(st.lists(st.text(max_size=12), max_size=12))
def test_stems_are_unique_without_regard_to_case(names):
    """Two blanks never share a file, also where upper and lower case are the same."""
    stems = words.stems(names)
    folded = [unicodedata.normalize("NFKC", s).casefold() for s in stems]
    assert len(set(folded)) == len(names)
    assert all(s and len(s.encode()) <= 100 and "/" not in s and "\\" not in s for s in stems)


def test_stems_of_names_that_differ_in_case():
    """c07 and C07 get files of their own, and so does what looks like a number added."""
    assert words.stems(["C07", "c07", "c07-2", "C 07"]) == ["C07", "c07-2", "c07-2-2", "C-07"]
