"""Sets through the commands: what each of them says, and what take leaves for the next plan."""

from __future__ import annotations

import csv
import json
import tomllib
from pathlib import Path

import ezdxf
import pytest

from nestyield.cli import main

SHOP = """
[shop]
name = "Duo"
units = "mm"
rack = "rack.csv"
[cutter]
diameter = 6
[glueup]
most_pieces = 1
[bed.bench]
travel_x = 900
travel_y = 600
travel_z = 90
[part.body]
drawing = "body.dxf"
thickness = 40
[part.body.layers]
EDGE = "outline"
[part.neck]
drawing = "neck.dxf"
thickness = 20
[part.neck.layers]
EDGE = "outline"
[[order]]
name = "bodies"
part = "body"
count = 2
set = "mandolins"
match = "species"
[[order]]
name = "necks"
part = "neck"
count = 2
set = "mandolins"
match = "species"
"""
RACK = """piece,species,thickness,length,width
B-1,sugar maple,43,330,130
B-2,black cherry,43,330,130
N-1,sugar maple,23,330,80
N-2,black walnut,23,330,80
"""


LACKS = ("neck of black cherry", "body of black walnut")


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    folder = tmp_path / "shop"
    folder.mkdir()
    for name, width in (("body", 100), ("neck", 50)):
        drawing = ezdxf.new(units=4)
        drawing.modelspace().add_lwpolyline(
            [(0, 0), (300, 0), (300, width), (0, width)], close=True, dxfattribs={"layer": "EDGE"}
        )
        drawing.saveas(folder / f"{name}.dxf")
    (folder / "shop.toml").write_text(SHOP)
    (folder / "rack.csv").write_text(RACK)
    return folder


def plain(text: str) -> str:
    return text.replace("\u00a0", " ")


def test_papers_and_terminal_tell_of_sets(
    shop: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One of two is whole, of maple; to the cherry body a neck lacks, or a body to the walnut neck."""
    out = tmp_path / "out"
    assert main(["plan", str(shop), "--out", str(out)]) == 1
    said = plain(capsys.readouterr().out)
    whole = "mandolins: 1 of 2 whole (body and neck; body and neck of one species); missing: 1 "
    assert any(whole + lacks in said for lacks in LACKS)
    assert "for necks: 1 x black cherry" in said or "for bodies: 1 x black walnut" in said
    assert ("for necks" in said) != ("for bodies" in said)
    report = (out / "report.html").read_text(encoding="utf-8")
    assert '<td data-label="Whole" class="n">1 of 2</td>' in plain(report)
    assert any(
        f"only 1 of 2 of set mandolins can be made whole; missing: 1 {lacks}" in plain(report)
        for lacks in LACKS
    )
    missing = plain(report).partition('<h2 id="missing">')[2].partition("</section>")[0]
    assert (">bodies<" in missing) != (">necks<" in missing)
    with (out / "cuts.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [(r["part"], r["copy"], r["set"]) for r in rows] == [
        ("body", "1", "mandolins"),
        ("neck", "1", "mandolins"),
    ]
    assert main(["verify", str(out), "--shop", str(shop)]) == 0


def test_need_and_make_count_whole_sets(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Without the walnut neck a neck is to buy and no body; of the set by itself one can be made."""
    (shop / "rack.csv").write_text(RACK.replace("N-2,black walnut,23,330,80\n", ""))
    assert main(["need", str(shop)]) == 1
    said = plain(capsys.readouterr().out)
    assert "bodies: 1 of 2 body from the rack, 1 missing, 0 of them for want of wood" in said
    assert said.count("for necks: 1 x black cherry") == 1
    assert "for bodies" not in said
    assert main(["make", str(shop), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["sets"] == [
        {"name": "mandolins", "count": 1, "parts": [["body", 1], ["neck", 1]]}
    ]


def test_a_set_that_take_begins_is_made_whole_next(
    shop: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Only the body is booked: take says so, and the next plan makes its neck, of the wood that there is."""
    main(["plan", str(shop), "--out", str(tmp_path / "one")])
    capsys.readouterr()
    assert main(["take", str(tmp_path / "one"), "--shop", str(shop), "--blank", "B-1"]) in (0, 1)
    said = capsys.readouterr()
    assert "set 'mandolins' is begun, not whole: 1 body, 0 neck booked" in plain(said.out + said.err)
    main(["plan", str(shop), "--out", str(tmp_path / "two"), "--json"])
    data = json.loads(capsys.readouterr().out)
    assert {o["order"]: (o["placed"], o["count"]) for o in data["orders"]} == {
        "bodies": (0, 1),
        "necks": (1, 2),
    }
    assert main(["verify", str(tmp_path / "two"), "--shop", str(shop)]) == 0
    cuts = json.loads((tmp_path / "two" / "plan.json").read_text())["layouts"]
    assert [m["piece"] for x in cuts for m in x["blank"]["members"]] == ["N-1"]


def test_the_rest_of_a_set_matches_what_was_taken(
    shop: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The maple body is booked, its wood with it: with a walnut neck alone on the rack no neck is cut."""
    before = (shop / "shop.toml").read_text()
    main(["plan", str(shop), "--out", str(tmp_path / "one")])
    assert main(["take", str(tmp_path / "one"), "--shop", str(shop), "--blank", "B-1"]) in (0, 1)
    orders = tomllib.loads((shop / "shop.toml").read_text())["order"]
    assert orders == [
        {
            "name": "bodies",
            "part": "body",
            "count": 1,
            "set": "mandolins",
            "match": "species",
            "cut_from": ["sugar maple"],
        },
        {"name": "necks", "part": "neck", "count": 2, "set": "mandolins", "match": "species"},
    ]
    rack = (shop / "rack.csv").read_text()
    (shop / "rack.csv").write_text("".join(r for r in rack.splitlines(keepends=True) if "N-1" not in r))
    capsys.readouterr()
    main(["plan", str(shop), "--out", str(tmp_path / "two"), "--json"])
    placed = {o["order"]: o["placed"] for o in json.loads(capsys.readouterr().out)["orders"]}
    assert placed == {"bodies": 0, "necks": 0}
    (shop / "rack.csv").write_text(rack)
    assert main(["undo", str(shop)]) == 0
    assert (shop / "shop.toml").read_text() == before
    slip = before.replace('part = "neck"', 'part = "neck"\ncut_from = ["sugar mapel"]')
    (shop / "shop.toml").write_text(slip)
    capsys.readouterr()
    assert main(["check", str(shop)]) == 2
    assert "order[2].cut_from" in capsys.readouterr().err


def test_need_of_one_half_serves_the_whole_set(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Bodies alone would go; asked for by name the necks of their set come along, and what lacks for all is told."""
    assert main(["need", str(shop), "--order", "bodies"]) == 1
    told = plain(capsys.readouterr().out)
    assert told.splitlines()[0] == "Served with it, since the set is of use only whole: necks"
    assert "Nothing to buy" not in told
    assert main(["need", str(shop)]) == 1
    assert sorted(plain(capsys.readouterr().out).splitlines()) == sorted(told.splitlines()[1:])


def test_one_board_for_a_set_is_told_and_bought(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Of one board: the plan and `need` say that the board is what lacks, what parent does, and to buy of one board."""
    toml = shop / "shop.toml"
    toml.write_text(toml.read_text().replace('"species"', '"board"').replace("count = 2", "count = 1"))
    assert main(["plan", str(shop), "--out", str(shop / "run"), "--workers", "1"]) == 1
    told = plain(capsys.readouterr().out)
    assert "each can be made from some row, but not all from one board (match)" in told
    assert "rows whose parent is the same" in told
    assert "of one board with the rest of set mandolins" in plain((shop / "run" / "report.html").read_text())
    assert main(["need", str(shop), "--order", "necks"]) == 1
    assert plain(capsys.readouterr().out).count("of one board with the rest of set mandolins") == 2
    rack = shop / "rack.csv"
    head, *rows = rack.read_text().splitlines()
    rack.write_text(
        "\n".join([head + ",parent", rows[0] + ",A", rows[1] + ",", rows[2] + ",A", rows[3] + ","])
    )
    assert main(["need", str(shop), "--order", "necks"]) == 0
