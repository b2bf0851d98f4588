"""Where a part lies on what is glued up, and where the seams fall on it: fit and pieces."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from nestyield.cli import main

HEAD = "piece,species,thickness,length,width"
#: What the jointer takes off an edge, and the least wood around a part: the shop's defaults, millimeters.
JOINTING, MARGIN = 0.8, 6.35


def asked(command: str, shop: Path, capsys: pytest.CaptureFixture[str], *more: str) -> tuple[dict, str]:
    """Return the answer as JSON and as text."""
    capsys.readouterr()
    assert main([command, str(shop), "--part", "neck", "--json", *more]) == 0
    data = json.loads(capsys.readouterr().out)
    assert main([command, str(shop), "--part", "neck", *more]) == 0
    return data, capsys.readouterr().out.replace("\u00a0", " ")


def test_a_book_match_is_measured_from_the_corner(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A board 60 mm wide opened: joint at 59.2, each half of the part of 80 the 40 below it, nothing below 0."""
    (shop / "rack.csv").write_text(f"{HEAD}\nK-1,sugar maple,50,330,60\n")
    toml = (shop / "shop.toml").read_text().replace("thickness = 20", "thickness = 20\nbook_match = true")
    (shop / "shop.toml").write_text(f"{toml}\n[machines]\nresaw_height = 200\n")
    data, told = asked("fit", shop, capsys, "--piece", "K-1")
    joint = 60 - JOINTING
    _, y0, _, y1 = data["how"]["box_mm"]
    assert (y0, y1) == pytest.approx((joint - 40, joint + 40), abs=0.02)
    x0, low, x1, high = data["how"]["half_mm"]
    assert (low, high) == pytest.approx((joint - 40, joint), abs=0.02)
    assert x0 >= MARGIN - 0.01
    assert x1 <= 330 - MARGIN + 0.01
    lines = told.splitlines()
    assert lines[1].startswith("  it is resawn first; two leaves, ")
    assert lines[2].endswith("y 19.2 mm to 59.2 mm of the piece")
    assert lines[3].endswith("y 19.2 mm to 99.2 mm from the corner of the glued-up blank")
    assert lines[4] == (
        "  seam 1 between the leaves of K-1: y 59.2 mm, 40 mm above the part's lower edge; 300 mm under the part"
    )
    assert " -" not in told


def test_pieces_names_the_boards_of_a_seam(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Two boards of 60 mm: the seam 0.8 mm inside the lower one's edge, its height on the part as JSON has it."""
    (shop / "rack.csv").write_text(f"{HEAD}\nA,sugar maple,25,320,60\nB,sugar maple,25,320,60\n")
    data, told = asked("pieces", shop, capsys)
    (maker,) = data["makers"]
    (seam,) = maker["seams"]
    assert sorted(seam["boards"]) == ["A", "B"]
    assert (seam["from_mm"][1], seam["to_mm"][1]) == pytest.approx((60 - JOINTING, 60 - JOINTING), abs=0.02)
    x0, y0, x1, y1 = maker["box_mm"]
    assert (seam["from_mm"][0], seam["to_mm"][0]) == pytest.approx((x0, x1), abs=0.02)
    assert seam["length_mm"] == pytest.approx(300, abs=0.02)
    assert y0 >= MARGIN - 0.01
    assert y1 <= 2 * (60 - JOINTING) - MARGIN + 0.01
    one, other = seam["boards"]
    above = f"{round(60 - JOINTING - y0, 2):g} mm above the part's lower edge; 300 mm under the part"
    assert f"      seam 1 between {one} and {other}: y 59.2 mm, {above}\n" in told


def test_a_piece_that_was_glued_up_before(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Its seam has no boards to name; across the part it is told by x, aslant by both ends."""
    for line, told in (
        ("LINESTRING (100 0, 100 110)", "seam 1: x 100 mm, "),
        ("LINESTRING (100 0, 120 110)", "seam 1: from x "),
    ):
        (shop / "rack.csv").write_text(f'{HEAD},seams\nR1,sugar maple,25,330,110,"{line}"\n')
        data, text = asked("fit", shop, capsys, "--piece", "R1")
        (seam,) = data["how"]["seams"]
        x0, y0, _, y1 = data["how"]["box_mm"]
        assert seam["boards"] == []
        assert data["how"]["angle_deg"] == 0.0
        ends = [seam["from_mm"], seam["to_mm"]]
        for edge, slope, (x, y) in zip((y0, y1), (10 / 300, -10 / 300), ends, strict=True):
            assert y == pytest.approx(edge + slope * (x - x0), abs=0.02)  # the part is a taper of 80 to 60
            assert x == pytest.approx(100 + (20 * y / 110 if "120" in line else 0), abs=0.02)
        assert told in text
        assert "of the glued-up blank" not in text
