"""Tables without the loss of a byte."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestyield.intake.table import Table, parse_table, read_table
from nestyield.model import InputError, ModelError

ODD = (
    b"\xef\xbb\xbf# rack of the lock cottage\r\npiece;length;note\r\n\r\n"
    b'A;300;"two\r\nlines; and a ""quote"""\r\n;;\r\n  # comment\r\nB;1 3/4";\r\n"C";200'
)


def table(data: bytes) -> Table:
    found, why = parse_table(data)
    assert found is not None, why
    return found


def test_round_trip_of_an_odd_file() -> None:
    """Byte order mark, comments, empty rows, quoted line ends and a missing last line end survive."""
    t = table(ODD)
    assert t.to_bytes() == ODD
    assert t.delimiter == ";"
    assert t.newline == "\r\n"
    assert t.header == ("piece", "length", "note")
    assert [t.record(r) for r in t.rows] == [
        {"piece": "A", "length": "300", "note": 'two\r\nlines; and a "quote"'},
        {"piece": "B", "length": '1 3/4"', "note": ""},
        {"piece": "C", "length": "200", "note": ""},
    ]
    assert [r.number for r in t.rows] == [4, 8, 9]


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("newline", ["\n", "\r\n", "\r"])
def test_delimiters_and_line_ends(delimiter: str, newline: str) -> None:
    """Commas, semicolons and tabs, and every line end, are recognized and kept."""
    text = newline.join([delimiter.join(r) for r in (("piece", "a", "b"), ("1", "2", "3"), ("4", "5", "6"))])
    t = table(text.encode())
    assert t.to_bytes() == text.encode()
    assert [r.cells for r in t.rows] == [("1", "2", "3"), ("4", "5", "6")]
    assert [r.number for r in t.rows] == [2, 3]


@given(
    st.lists(st.lists(st.text(max_size=8), min_size=1, max_size=5), max_size=8),
    st.sampled_from([",", ";", "\t"]),
    st.sampled_from(["\n", "\r\n"]),
)
def test_round_trip_of_anything(rows: list[list[str]], delimiter: str, newline: str) -> None:
    """Whatever a text file holds comes back byte for byte, or is refused with a reason."""
    body = newline.join([f"piece{delimiter}x", *(delimiter.join(r) for r in rows)])
    data = body.encode("utf-8", "surrogatepass")
    found, why = parse_table(data)
    if found is None:
        assert why
    else:
        assert found.to_bytes() == data


def test_separator_line_of_spreadsheets() -> None:
    """A first line such as sep=; is kept and not taken for the header."""
    data = b"sep=;\r\npiece;length\r\nA;1\r\n"
    t = table(data)
    assert t.header == ("piece", "length")
    assert t.rows[0].number == 3
    assert t.to_bytes() == data


def test_changing_a_cell_changes_only_its_row() -> None:
    """Every byte outside the changed row stays."""
    t = table(ODD)
    changed = t.with_cells(t.rows[1], {"note": "oak; or ash"})
    assert changed.to_bytes() == ODD.replace(b'B;1 3/4";\r\n', b'B;1 3/4";"oak; or ash"\r\n')
    assert t.to_bytes() == ODD


def test_adding_a_row() -> None:
    """A new row begins on a line of its own."""
    t = table(ODD)
    more = t.with_row({"piece": "D", "length": "9"})
    assert more.to_bytes() == ODD + b"\r\nD;9;\r\n"
    assert table(more.to_bytes()).rows[-1].cells == ("D", "9", "")


def test_adding_a_column() -> None:
    """A column is added at the right of header and rows, once."""
    t = table(b"piece,length\n# c\nA,1\nB\n").with_column("status")
    assert t.to_bytes() == b"piece,length,status\n# c\nA,1,\nB,,\n"
    assert table(b'piece,length\nA,1 3/4"').with_column("x").to_bytes() == b'piece,length,x\nA,1 3/4",'
    assert t.with_column("status") is t


def test_unknown_column_is_refused() -> None:
    """Setting a cell of a column that is not there is an error."""
    t = table(b"piece,length\nA,1\n")
    with pytest.raises(ModelError, match="'width'"):
        t.with_cells(t.rows[0], {"width": "1"})


def test_name_that_looks_like_a_comment_is_quoted_when_written() -> None:
    """A row written by the program never turns into a comment."""
    t = table(b"piece,length\nA,1\n").with_row({"piece": "#7", "length": "2"})
    assert [r.cells for r in table(t.to_bytes()).rows] == [("A", "1"), ("#7", "2")]


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b"", "no header"),
        (b"\n\n# only a comment\n", "no header"),
        (b",,,\n", "no header"),
        (b'piece,"x\n1,2\n', "never closed"),
        (b"piece\n\xff\xfe", "UTF-8"),
        ("piece\n".encode("utf-16"), "UTF-16"),
        (b"piece\n\x00\n", "null byte in line 2"),
        (b"PK\x03\x04abc", "CSV"),
    ],
)
def test_what_is_no_table_is_refused(data: bytes, told: str) -> None:
    """The reason names what is wrong and where."""
    found, why = parse_table(data)
    assert found is None
    assert told in why


def test_read_table_from_a_file(tmp_path: Path) -> None:
    """A file is read whole; a missing one, a folder or junk is an InputError."""
    (tmp_path / "t.csv").write_bytes(ODD)
    assert read_table(tmp_path / "t.csv").to_bytes() == ODD
    with pytest.raises(InputError, match=r"not in the shop folder"):
        read_table(tmp_path / "missing.csv")
    with pytest.raises(InputError, match=r"folder"):
        read_table(tmp_path)


def test_a_long_table_is_read_quickly_enough_to_be_used() -> None:
    """Twenty thousand rows come back whole."""
    data = b"piece,length,width\n" + b"".join(b"P%d,500,300\n" % i for i in range(20_000))
    t = table(data)
    assert len(t.rows) == 20_000
    assert t.to_bytes() == data
