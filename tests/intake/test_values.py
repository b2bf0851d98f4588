"""Values of the shop file."""

from __future__ import annotations

import datetime
from typing import Any

import pytest

from nestyield.intake.problems import Problems
from nestyield.intake.toml import parse_toml
from nestyield.intake.values import Values, dotted


def values(text: str, units: str = "mm") -> Values:
    data, lines, why = parse_toml(text)
    assert data is not None, why
    return Values(data=data, path=(), lines=lines, file="shop.toml", units=units, problems=Problems())


def read(section: str, text: str, units: str = "mm") -> tuple[dict[str, Any], Problems]:
    v = values(text, units)
    return v.read(section), v.problems


def test_lengths_in_shop_units() -> None:
    """Bare numbers count in shop units, texts in their own, defaults in mm."""
    got, problems = read("allowance", 'blank_margin = 0.25\njointing = "1/32 in"\nplaning = "1 mm"', "in")
    assert (got["blank_margin"], got["jointing"], got["planing"]) == (6.35, 0.79375, 1.0)
    assert got["most_planed_away"] == 12.0
    assert problems.findings == []


@pytest.mark.parametrize(
    ("section", "text", "code", "told"),
    [
        ("cutter", "", "S005", "diameter"),
        ("cutter", "diamter = 6", "S003", "did you mean 'diameter'?"),
        ("cutter", "diameter = true", "S006", "length"),
        ("cutter", "diameter = [6]", "S006", "length"),
        ("cutter", 'diameter = ""', "S006", "empty"),
        ("cutter", "diameter = 0", "S007", "such as diameter = 6"),
        ("search", 'seconds = "ten"', "S006", "finite number"),
        ("search", "seconds = inf", "S006", "finite number"),
        ("search", "workers = 1.5", "S006", "whole number"),
        ("search", "workers = true", "S006", "whole number"),
        ("search", "workers = 0", "S007", "write 1 or more"),
        ("search", "seed = -1", "S007", "write seed = 1"),
        ("glueup", "crossed_grain = 100", "S007", "write 90 degrees or less"),
        ("order", 'part = "x"\nhold = "yes"', "S006", "true or false"),
        ("order", "part = 7", "S006", "text"),
        ("order", 'part = ""', "S006", "text"),
        ("order", 'part = "x"\ndue = "2026-13-01"', "S006", "date"),
        ("order", 'part = "x"\ndue = 20261212', "S006", "date"),
        ("order", 'part = "x"\nbed = [1]', "S006", "list of texts"),
        (
            "bed.*",
            'travel_x = 1\ntravel_y = 1\nopen_ends = ["left"]',
            "S006",
            'write open_ends = ["x-"] for left',
        ),
        ("bed.*", "travel_x = 1\ntravel_y = 1\nopen_ends = 3", "S006", "list"),
    ],
)
def test_wrong_values(section: str, text: str, code: str, told: str) -> None:
    """Each wrong value is told with its rule."""
    _, problems = read(section, text)
    assert code in [f.code for f in problems.findings]
    assert told in "\n".join(map(str, problems.findings))


def test_right_values() -> None:
    """Dates, lists and words in their several spellings."""
    got, problems = read("order", 'part = " x "\ndue = 2026-12-12T10:00:00\nbed = "a"\ncount = 2.0')
    assert (got["part"], got["due"], got["bed"], got["count"]) == ("x", "2026-12-12", ("a",), 2)
    assert (
        read("order", 'part = "x"\ndue = " 2026-12-12 "')[0]["due"] == datetime.date(2026, 12, 12).isoformat()
    )
    got, _ = read("bed.*", 'travel_x = 1\ntravel_y = 1\nopen_ends = ["X-", "x-", "y+"]')
    assert got["open_ends"] == ("x-", "y+")
    assert problems.findings == []


def test_places() -> None:
    """Key and line are named; tables of arrays count from 1; odd names are quoted."""
    v = values('[part."lap steel"]\nthickness = 4\n[[order]]\n[[order]]\ncount = 3')
    part = v.table("part")
    assert part is not None
    steel = part.table("lap steel")
    assert steel is not None
    assert steel.where("thickness") == "part.'lap steel'.thickness, line 2"
    assert steel.where("drawing") == "part.'lap steel'.drawing, line 1"
    assert v.tables("order")[1].where("count") == "order[2].count, line 5"
    assert dotted(("a", 0, "b")) == "a[1].b"


def test_tables_that_are_none() -> None:
    """A value where a table should be is told, and reading goes on."""
    v = values('part = 3\norder = "x"')
    assert v.table("part") is None
    assert v.tables("order") == []
    assert v.table("missing") is None
    assert [f.code for f in v.problems.findings] == ["S006", "S006"]
