"""The small questions: fit --piece, pieces, rack."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable
from itertools import combinations
from pathlib import Path

import pytest

import nestyield.api as api
from nestyield.cli import main

#: 144 cubic inches of exactly 25.4 mm, in mm3.
BOARD_FOOT = 144 * 25.4**3
RACK = """\
piece,species,thickness,length,width,count,value,status
R1,sugar maple,25,330,110,1,,ready
R2,sugar maple,25,700,110,2,,ready
R3,white oak,25,700,110,1,,ready
R4,sugar maple,18,700,110,1,,ready
R5,sugar maple,25,311,110,1,,ready
R6,sugar maple,25,400,100,1,,hold
R7,sugar maple,25,500,100,1,,taken
R8,white oak,25,200,50,3,4.5,ready
"""
VALUE = """
[value]
"sugar maple" = 10
other = 5
"""


@pytest.fixture
def rack(shop: Path) -> Path:
    (shop / "rack.csv").write_text(RACK)
    with (shop / "shop.toml").open("a") as file:
        file.write(VALUE)
    return shop


def plain(text: str) -> str:
    return text.replace("\u00a0", " ").replace("\u202f", " ")


def test_a_part_on_a_piece(rack: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Yes comes with the place, inside the margins, and each bed that takes it; no stub of 250 x 80 mm does."""
    assert main(["fit", str(rack), "--part", "neck", "--piece", "R1", "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert (data["part"], data["piece"], data["goes"], data["why_not"]) == ("neck", "R1", True, None)
    x0, y0, x1, y1 = data["how"]["box_mm"]
    assert x1 - x0 >= 300
    assert y1 - y0 >= 80
    margin = 6.35
    assert margin <= x0 + 1e-3
    assert x1 <= 330 - margin + 1e-3
    assert margin <= y0 + 1e-3
    assert y1 <= 110 - margin + 1e-3
    assert {bed["bed"] for bed in data["how"]["beds"]} == {"bench"}
    # travel 900 x 400 less the outline less the cutter of 6
    along_x = next(bed for bed in data["how"]["beds"] if bed["along"] == "x")
    assert along_x["spare_x_mm"] == pytest.approx(900 - (x1 - x0) - 6, abs=0.01)
    assert along_x["spare_y_mm"] == pytest.approx(400 - (y1 - y0) - 6, abs=0.01)
    assert main(["fit", str(rack), "--part", "neck", "--piece", "R1"]) == 0
    told = plain(capsys.readouterr().out)
    assert told.startswith("neck on R1: yes\n  it lies at x ")
    assert "  bed bench, along X: " in told


@pytest.mark.parametrize(
    ("piece", "bed", "why"),
    [
        ("R3", None, "white oak"),
        ("R4", None, "18 mm"),
        (
            "R5",
            None,
            "or if it were clear and 1.7 mm longer along the grain",
        ),  # 300 + 2 x 6.35 - 311
        ("R1", "stub", "stub"),
    ],
)
def test_a_part_that_does_not_go(
    piece: str, bed: str | None, why: str, rack: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """No comes with what is in the way, as a number where there is one, and exit code 1."""
    args = ["fit", str(rack), "--part", "neck", "--piece", piece, *(["--bed", bed] if bed else [])]
    assert main(args) == 1
    told = plain(capsys.readouterr().out)
    assert told.startswith(f"neck on {piece}: no; {piece} ")
    assert why in told


def test_what_if(rack: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Another margin lets the part in; another cutter needs more travel; a bad length is refused."""
    at = ["fit", str(rack), "--part", "neck", "--piece", "R5"]
    assert main(at) == 1
    assert main([*at, "--margin", "5.4"]) == 0
    capsys.readouterr()
    assert main(["fit", str(rack), "--part", "neck", "--bed", "bench", "--json", "--cutter", "1/2 in"]) == 0
    (bed,) = json.loads(capsys.readouterr().out)["beds"]
    assert bed["along_x"]["needs_x_mm"] == pytest.approx(300 + 12.7, abs=0.01)
    for bad, told in (("0", "diameter is 0"), ("wide", "'wide'"), ("-3", "diameter is negative")):
        assert main([*at, "--cutter", bad]) == 2
        assert told in capsys.readouterr().err
    assert main([*at, "--set", "allowance.blank_margin=5.4", "--quiet"]) == 0
    assert (
        main([*at, "--margin", "5.4", "--set", "bed.bench.travel_x=280", "--set", "bed.bench.travel_y=280"])
        == 1
    )
    assert "no; R5" in capsys.readouterr().out
    assert main([*at, "--set", "bed.bnch.travel_x=280"]) == 2
    assert "the shop file has no bed 'bnch'; did you mean 'bench'?" in capsys.readouterr().err
    assert main(["rack", str(rack), "--set", "value.other=7", "--json"]) == 0
    oak = json.loads(capsys.readouterr().out)["species"][1]
    assert oak["value"] == pytest.approx(7 * 25 * 700 * 110 / BOARD_FOOT + 3 * 4.5)
    assert main(["check", str(rack), "--set", "order.spring.count=3", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["orders"] == [{"name": "spring", "part": "neck", "count": 3}]


def test_a_piece_on_hold_and_names(rack: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A piece on hold is answered for and told; a name that is not there is told with the nearest."""
    assert main(["fit", str(rack), "--part", "neck", "--piece", "R6"]) == 0
    assert "yes, but the piece is on hold" in capsys.readouterr().out
    assert main(["fit", str(rack), "--part", "neck", "--piece", "R11"]) == 2
    assert "the rack has no piece 'R11'; did you mean 'R1'?" in capsys.readouterr().err
    assert main(["pieces", str(rack), "--part", "nekc"]) == 2
    assert "did you mean 'neck'?" in capsys.readouterr().err


def test_pieces_that_make_a_part(rack: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The cheapest first, those on hold last, those taken not at all; the others counted by what is wrong."""
    assert main(["pieces", str(rack), "--part", "neck", "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    makers = data["makers"]
    assert [m["pieces"] for m in makers] == [["R1"], ["R2"], ["R6"]]
    assert [m["status"] for m in makers] == ["ready", "ready", "hold"]
    values = [m["value"] for m in makers]
    assert values == pytest.approx(
        [10 * 25 * a / BOARD_FOOT for a in (330 * 110, 700 * 110, 400 * 100)], abs=0.01
    )
    net = [m["value"] - m["back"] for m in makers[:2]]
    assert net == sorted(net)
    assert sum(data["refused"].values()) == 4  # R3, R4, R5, R8
    assert data["refused"]["of other species"] == 2
    assert main(["pieces", str(rack), "--part", "neck"]) == 0
    told = plain(capsys.readouterr().out).splitlines()
    assert told[0] == "neck: 3 pieces make it"
    assert told[1].startswith("  R1: sugar maple, 25 mm; value 3.85, back 0, 0.38 board feet used up")
    assert told[3].startswith("  R6 (on hold): ")
    assert told[-1].startswith("  the other rows: 2 of other species")


def test_no_piece_makes_it(rack: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """When no piece does, the reason is the plan's, and the exit code 1."""
    text = (rack / "rack.csv").read_text()
    (rack / "rack.csv").write_text(
        "".join(row for row in text.splitlines(True) if row[:2] not in ("R1", "R2", "R6"))
    )
    assert main(["pieces", str(rack), "--part", "neck"]) == 1
    told = plain(capsys.readouterr().out)
    assert told.startswith("neck: no piece and no glue-up of the rack makes it\n")
    assert (
        "closest is R5: would take the part with a margin of 5.5 mm (6.35 mm required), or if it were clear and 1.7 mm longer"
        in told
    )


#: Boards of one wood: name, length, width, inches. A body is 15 3/4 x 12 1/2, its margin 1/4 all around.
BOARDS = (("A", 17, 7), ("B", 17, 6.5), ("C", 17, 6.25), ("D", 16, 7), ("E", 20, 6.75), ("F", 30, 4.5))


def body_rack(folder: Path, boards: Iterable[tuple[str, float, float]] = BOARDS) -> None:
    rows = "".join(f"{name},black limba,1 7/8,{length},{width}\n" for name, length, width in boards)
    (folder / "rack.csv").write_text(
        f"piece,species,thickness,length,width\n{rows}Z,sugar maple,1 7/8,17,14\n"
    )


def test_glue_ups_that_make_a_part(porch: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The pairs are those that are long and wide enough by hand, the cheapest first, each with its joint's cost."""
    body_rack(porch)
    ask = [
        "pieces",
        str(porch),
        "--part",
        "body",
        "--set",
        "glueup.most_pieces=2",
        "--set",
        "leftover.worth=0",
    ]
    assert (
        main([*ask, "--set", "allowance.blank_margin=1/4", "--set", "allowance.jointing=1/32", "--json"]) == 0
    )
    found = json.loads(capsys.readouterr().out)
    # both edges of the seam lose 1/32 in; a board must be as long as the part and its margins
    pairs = {
        frozenset((a, b)): 14 * 1.875 * (la * wa + lb * wb) / 144
        for (a, la, wa), (b, lb, wb) in combinations(BOARDS, 2)
        if wa + wb - 2 / 32 >= 12.5 + 0.5 and min(la, lb) >= 15.75 + 0.5
    }
    assert len(pairs) == 4  # all of A, B, C, E but B + C and C + E, which are too narrow; D is too short
    assert {frozenset(m["pieces"]) for m in found["makers"]} == set(pairs)
    costs = [m["cost"] for m in found["makers"]]
    assert costs == sorted(costs)
    for maker in found["makers"]:
        assert (maker["joints"], maker["work"]) == (1, 10.0)
        assert maker["value"] == pytest.approx(pairs[frozenset(maker["pieces"])], abs=0.01)
        assert maker["cost"] == pytest.approx(maker["value"] - maker["back"] + 10.0, abs=0.011)
    # D and F are in no glue-up, Z is of another wood
    assert found["refused"] == {"without a place": 2, "of other species": 1}
    assert main([*ask, "--set", "allowance.blank_margin=1/4", "--set", "allowance.jointing=1/32"]) == 0
    told = plain(capsys.readouterr().out)
    assert told.startswith("body: 4 glue-ups make it\n")
    assert ", glued up: black limba, 1 7/8 in; value " in told
    assert "1 joint, work 10, " in told
    assert "mm" not in told


def test_what_is_glued_and_what_not(porch: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A board that makes the part alone is no member of a glue-up; none is made where the shop or part forbids it."""
    body_rack(porch, (*BOARDS, ("W", 17, 14)))
    ask = ["pieces", str(porch), "--part", "body", "--json"]
    assert main(ask) == 0
    makers = json.loads(capsys.readouterr().out)["makers"]
    assert ["W"] in [m["pieces"] for m in makers]
    assert all("W" not in m["pieces"] for m in makers if m["joints"])
    assert any(m["joints"] for m in makers)
    for forbidden in ("glueup.most_pieces=1", "part.body.glue=false"):
        assert main([*ask, "--set", forbidden]) == 0
        assert [m["pieces"] for m in json.loads(capsys.readouterr().out)["makers"]] == [["W"]], forbidden


def test_a_board_sawn_apart_only_where_nothing_else_makes_it(
    porch: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One long board is sawn in two and glued to itself; where two boards do, that is not offered."""
    ask = ["pieces", str(porch), "--part", "body", "--json", "--set", "bed.bench.travel_x=50"]
    body_rack(porch, [("L", 36, 7)])
    assert main(ask) == 0
    (maker,) = json.loads(capsys.readouterr().out)["makers"]
    assert (maker["pieces"], maker["joints"]) == (["L"], 1)
    body_rack(porch, [("L", 36, 7), ("A", 17, 7)])
    assert main(ask) == 0
    assert [sorted(m["pieces"]) for m in json.loads(capsys.readouterr().out)["makers"]] == [["A", "L"]]


@pytest.mark.outside(source="a board foot is 144 cubic inches (NHLA rules)", mark="S")
def test_what_the_rack_holds(rack: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Board feet and value by species, copies counted, taken ones not; a stated value goes before the table's."""
    assert main(["rack", str(rack), "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    maple, oak = data["species"]
    assert (maple["species"], maple["rows"], maple["pieces"], maple["held"]) == ("sugar maple", 5, 6, 1)
    volume = 25 * 110 * (330 + 2 * 700 + 311) + 18 * 700 * 110 + 25 * 400 * 100
    assert maple["board_feet"] == pytest.approx(volume / BOARD_FOOT)
    assert maple["value"] == pytest.approx(10 * volume / BOARD_FOOT)
    assert (oak["rows"], oak["pieces"]) == (2, 4)
    assert oak["value"] == pytest.approx(5 * 25 * 700 * 110 / BOARD_FOOT + 3 * 4.5)
    assert data["value"] == pytest.approx(maple["value"] + oak["value"])
    assert main(["rack", str(rack)]) == 0
    lines = plain(capsys.readouterr().out).splitlines()
    assert lines[0].split() == ["species", "rows", "pieces", "board", "feet", "value", "largest"]
    assert lines[1].split()[:6] == ["sugar", "maple", "5", "6", "(1", "on"]
    assert lines[-1].split()[:3] == ["together", "7", "10"]


def test_a_rack_without_money(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A shop that states no value gets no column of value."""
    assert main(["rack", str(shop)]) == 0
    assert "value" not in capsys.readouterr().out


def test_answers_are_those_of_the_library(rack: Path) -> None:
    """The commands say what the first door returns, and a plan cuts the part where a question finds it."""
    found = api.goes(rack, "neck", "R1")
    assert found.maker is not None
    assert api.goes(rack, "neck", "R3").maker is None
    assert [m.pieces for m in api.pieces(rack, "neck", "bench").makers] == [("R1",), ("R2",), ("R6",)]
    assert api.pieces(rack, "neck", "stub").makers == ()
    assert [h.species for h in api.rack(rack).holdings] == ["sugar maple", "white oak"]


@pytest.mark.parametrize(
    ("length", "says"), [(700, "Marked in this wood, clear of the cutter"), (320, "in the cutter's path")]
)
def test_nails_and_the_cutter(shop: Path, length: int, says: str, capsys: pytest.CaptureFixture[str]) -> None:
    """The part stays clear of a nail hole where it has room; where it has none the answer warns.

    On 320 mm the part of 300 with 6.35 at each end lies from 6.35 to 13.65, and its end or the cutter of 6 mm
    beyond it covers 310 in each case.
    """
    (shop / "rack.csv").write_text(f"piece,species,thickness,length,width\nR1,sugar maple,25,{length},110\n")
    (shop / "defects.csv").write_text("piece,kind,x,y,diameter\nR1,nail hole,310,55,2\n")
    toml = (
        (shop / "shop.toml")
        .read_text()
        .replace('rack = "rack.csv"', 'rack = "rack.csv"\ndefects = "defects.csv"')
    )
    (shop / "shop.toml").write_text(toml + "\n[prefer]\nhole_clearance = 3\n")
    assert main(["fit", str(shop), "--part", "neck", "--piece", "R1", "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert any(says in plain(text) for text in data["cautions"])
    x0, _, x1, _ = data["how"]["box_mm"]
    if length == 700:
        assert x1 + 6 + 3 <= 309.01 or x0 - 6 - 3 >= 310.99
        assert not any("in the cutter's path" in text for text in data["cautions"])
    assert main(["fit", str(shop), "--part", "neck", "--piece", "R1"]) == 0
    assert "  caution: " in capsys.readouterr().out


@pytest.mark.parametrize(("worth", "first"), [("1", "R2"), ("0", "R1")])
def test_what_comes_back_counts_as_the_shop_says(
    shop: Path, worth: str, first: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """R1 costs 10 and leaves nothing; R2 costs 12, and more than half of it comes back: 6 and more, or nothing."""
    (shop / "rack.csv").write_text(
        "piece,species,thickness,length,width,value\nR1,sugar maple,25,320,100,10\nR2,sugar maple,25,800,100,12\n"
    )
    assert main(["pieces", str(shop), "--part", "neck", "--json", "--set", f"leftover.worth={worth}"]) == 0
    makers = json.loads(capsys.readouterr().out)["makers"]
    assert makers[0]["pieces"] == [first]


def test_a_blank_that_is_sawn_off_first(
    shop: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Of a board longer than the bed the part's place counts from the blank; the report tells what goes back."""
    (shop / "rack.csv").write_text("piece,species,thickness,length,width\nR9,sugar maple,25,1500,110\n")
    assert main(["fit", str(shop), "--part", "neck", "--piece", "R9"]) == 0
    lines = plain(capsys.readouterr().out).splitlines()
    assert lines[1].startswith("  a blank is sawn off it first: 0 mm to ")
    assert lines[2].startswith("  it lies at x ")
    assert lines[2].endswith(" from the corner of that blank")
    assert main(["plan", str(shop), "--out", str(tmp_path / "out")]) == 0
    told = plain((tmp_path / "out" / "report.html").read_text())
    left = re.search(r"; (\S+) goes back on the rack", told)
    assert left is not None
    rows = (tmp_path / "out" / "leftovers.csv").read_text(encoding="utf-8-sig").splitlines()
    assert any(row.startswith(f"{left[1]},") and ",yes," in row for row in rows)
