"""Lines that changed, and where they stand."""

from hypothesis import given
from hypothesis import strategies as st

from nestyield.rackbook.lines import changed, changed_at, places, replayed, split


def test_only_real_line_ends_split():
    """Form feeds and the line separators of Unicode are text, CR LF is one line end."""
    assert split("a\r\nb\rc\nd\x0ce\u2028f") == ["a\r\n", "b\r", "c\n", "d\x0ce\u2028f"]


@given(st.lists(st.sampled_from(["a\n", "b\n", "c\n"])), st.lists(st.sampled_from(["a\n", "b\n", "d\n"])))
def test_changes_lead_from_old_to_new(old, new):
    """What was taken away and added is exactly the difference of the two texts."""
    found = changed(old, new)
    gone = sorted(b for b, _ in found if b is not None)
    added = sorted(a for _, a in found if a is not None)
    assert sorted([*old, *added]) == sorted([*new, *gone])


def test_a_record_is_found_as_whole_lines():
    """A record counts only from the start of a line to its end, whatever the line ends are."""
    text = "\ufeffhead\r\nA,1\r\nxA,1\r\nA,1,2\r\nA,1"
    assert [text[a:b] for a, b in places(text, "A,1\n")] == ["A,1\r\n", "A,1"]
    assert places(text, "head") == [(1, 7)]
    assert places('q,"a\r\nb",1\r\n', 'q,"a\r\nb",1\n') == [(0, 12)]
    assert places("a.c\n", "abc") == []


@given(st.lists(st.sampled_from(["a\n", "b\n", "c\n"])), st.lists(st.sampled_from(["a\n", "b\n", "d\n"])))
def test_changes_and_their_places_give_the_new_text(old, new):
    """From the old text, what changed and where, the new text comes out, however often a line is repeated."""
    assert replayed(old, changed(old, new), changed_at(old, new)) == new
