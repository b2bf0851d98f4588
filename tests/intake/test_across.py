"""Length and width exchanged in a row: asked where something speaks for it, silent where the maker says so."""

from __future__ import annotations

from pathlib import Path

import pytest

from nestyield.intake.shop import read_shop
from nestyield.model import Finding
from nestyield.starter import starter_files

#: A tread of the right way round.
TREAD = "T-1,sugar maple,1,41,11 1/2,"


def asked(folder: Path, *rows: str, orders: bool = False) -> list[Finding]:
    """Return what is asked about a rack in the starter shop, whose order wants a part about 14 in long."""
    files = {k: v.decode() for k, v in starter_files("in").items()}
    files["shop.toml"] = files["shop.toml"].replace('defects = "', '# defects = "')
    files["rack.csv"] = "piece,species,thickness,length,width,grain\n" + "".join(f"{row}\n" for row in rows)
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8")
    found = read_shop(folder)[1]
    assert not [f for f in found if f.severity == "error"], found
    return [f for f in found if f.code == "R017"]


def test_a_tread_exchanged_among_others_is_asked_about(tmp_path: Path) -> None:
    """A tread of 11 1/2 x 41 in beside one of 41 x 11 1/2: a warning names both, and what to write."""
    (told,) = asked(tmp_path, TREAD, "T-5,sugar maple,1,11 1/2,41,")
    assert (told.severity, told.where) == ("warning", "row 3")
    text = told.message.replace("\u00a0", " ")
    assert text.startswith(
        "T-5 is 11 1/2 in long and 41 in wide, so its grain runs the short way, and that of T-1"
    )
    assert "write 0 under grain" in text


@pytest.mark.parametrize(
    ("row", "severity"),
    [
        ("O-1,sugar maple,1,8,12,", "note"),  # the end of a wide board: nothing speaks for an exchange
        ("O-1,sugar maple,1,8,12,0", ""),  # the maker says so
        ("O-1,sugar maple,1,12,8,", ""),
        ("O-1,sugar maple,1,12,12 1/2,", ""),
        ("O-1,sugar maple,1,8,12,90", ""),
        ("O-1,mdf,1/2,12,24,", ""),  # has no grain
        ("O-1,sugar maple,1 3/4,13,30,", "warning"),  # turned round it holds the part that is ordered
        ("O-1,sugar maple,1 3/4,13,30,0", "note"),
        ("O-1,sugar maple,3,13,30,", "note"),  # too thick for it
    ],
)
def test_asked_only_where_the_row_leaves_it_open(row: str, severity: str, tmp_path: Path) -> None:
    """A warning where a part would go on it, a note where nothing but the sizes speaks for it, else silence."""
    assert [f.severity for f in asked(tmp_path, row)] == [severity] * bool(severity)


def test_many_rows_are_one_question(tmp_path: Path) -> None:
    """A whole spreadsheet with the columns exchanged gives one message."""
    rows = [f"O-{k},sugar maple,1,{8 + k},{20 + k}," for k in range(5)]
    (told,) = asked(tmp_path, *rows)
    assert "the same in 4 more rows (O-1, O-2, O-3 and O-4)" in told.message


@pytest.mark.parametrize("name", ["demo-shop", "inch-shop"])
def test_the_example_shops_are_quiet(name: str) -> None:
    """Racks that are right are not asked about."""
    found = read_shop(Path("fixtures") / name)[1]
    assert not [f for f in found if f.code == "R017"]


def test_a_flaw_outside_asks_whether_the_sizes_are_exchanged(tmp_path: Path) -> None:
    """A nail hole at x 40 on a tread of 11 1/2 x 41 in: its x may be right; one at 50, 3 is off either way."""
    files = {k: v.decode() for k, v in starter_files("in").items()}
    for place, exchanged in (("40, 3", True), ("50, 3", False)):
        files["rack.csv"] = (
            f'piece,species,thickness,length,width,flaws\nT-5,sugar maple,1,11 1/2,41,"1/8 in nail hole at {place}"\n'
        )
        for name, text in files.items():
            (tmp_path / name).write_text(text, encoding="utf-8")
        (told,) = [f for f in read_shop(tmp_path)[1] if f.code == "R013"]
        assert ("are x and y exchanged, or length and width?" in told.message) == exchanged
