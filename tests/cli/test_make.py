"""What could be made from the rack: against racks worked out by hand and by trying everything."""

from __future__ import annotations

import json
import os
import signal
from itertools import product
from pathlib import Path

import pytest

from nestyield import api
from nestyield.cli import main
from nestyield.planning import copies

#: Necks of the wood and thickness of bodies, so that both want the same boards; margin 1/4 in all around.
SHARED = ["--set", "part.neck.species=korina", "--set", "part.neck.thickness=1 3/4", "--margin", "1/4"]
#: W holds one body (15 3/4 x 12 1/2) and no neck (25 x 2 1/2); each X one body, or four necks with a gap of 3/8 in:
#: 4 x 2 1/2 + 3 x 3/8 + 2 x 1/4 = 11 5/8, and a fifth would need 14 1/2.
RACK = """\
piece,species,thickness,length,width,count,status
W,black limba,1 7/8,17,14,1,ready
X,black limba,1 7/8,27,14,2,ready
H,black limba,1 7/8,17,14,1,hold
T,black limba,1 7/8,17,14,1,taken
M,sugar maple,1 7/8,30,20,1,ready
"""
#: Bodies and necks that a copy of X may give, W giving one body.
OF_X = [(1, 0), *((0, n) for n in range(5))]


def plain(text: str) -> str:
    return text.replace("\u00a0", " ").replace("\u202f", " ")


@pytest.fixture
def rack(porch: Path) -> Path:
    (porch / "rack.csv").write_text(RACK)
    return porch


def counts(mix: dict) -> dict[str, int]:
    return {m["part"]: m["count"] for m in mix["made"]}


def asked(capsys: pytest.CaptureFixture[str], *args: str, code: int = 0) -> dict:
    assert main(["make", *args, "--json"]) == code
    return json.loads(capsys.readouterr().out)


@pytest.mark.parametrize(("body", "neck"), [(900, 300), (900, 100), (900, None)])
def test_counts_and_mixtures(
    body: float, neck: float | None, rack: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Counts alone, the most value and equal counts are those of trying every use of every board."""
    prices = ["--set", f"part.body.each={body}", *(["--set", f"part.neck.each={neck}"] if neck else [])]
    found = asked(capsys, str(rack), *SHARED, *prices)
    every = [(1 + a[0] + b[0], a[1] + b[1]) for a, b in product(OF_X, repeat=2)]
    assert {m["part"]: m["count"] for m in found["alone"]} == {
        "body": max(b for b, _ in every),
        "neck": max(n for _, n in every),
    }
    value, equal = found["mixes"]
    assert (value["goal"], equal["goal"]) == ("value", "equal")
    best = max(b * body + n * (neck or 0) for b, n in every)
    assert value["worth"] == pytest.approx(best)
    assert counts(value).get("body", 0) * body + counts(value).get("neck", 0) * (neck or 0) == best
    fewest = max(min(pair) for pair in every)
    # what is left over goes into what brings money, not into a part without a price
    most = max(b * body + n * (neck or 0) for b, n in every if min(b, n) >= fewest)
    assert equal["least"] == fewest
    assert equal["worth"] == pytest.approx(most)
    assert counts(equal)["body"] * body + counts(equal)["neck"] * (neck or 0) == most
    assert min(counts(equal).values()) == fewest
    assert found["unpriced"] == ([] if neck else ["neck"])
    for told in (*found["alone"], *(m for mix in found["mixes"] for m in mix["made"])):
        names = [name for pieces in told["pieces"] for name in pieces]
        assert names.count("W") <= 1
        assert names.count("X") <= 2
        assert not {"H", "T", "M"} & set(names)


def test_glue_ups_share_boards_once(porch: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Four boards that go together in pairs make two bodies at the most, out of boards that are used once."""
    widths = {"A": 7, "B": 6.5, "C": 6.25, "E": 6.75}
    rows = "".join(f"{name},black limba,1 7/8,17,{width}\n" for name, width in widths.items())
    (porch / "rack.csv").write_text(f"piece,species,thickness,length,width\n{rows}")
    found = asked(capsys, str(porch), "--part", "body", "--margin", "1/4")
    (body,) = found["alone"]
    # 13 in and two jointed edges: only A + C and B + E leave no board over
    assert sorted(sorted(pieces) for pieces in body["pieces"]) == [["A", "C"], ["B", "E"]]
    assert (body["count"], body["glued"]) == (2, 2)
    assert found["mixes"] == []
    assert main(["make", str(porch), "--part", "body", "--margin", "1/4"]) == 0
    assert plain(capsys.readouterr().out).splitlines()[1] == "  body  2, glued up; from A + C, B + E"


def test_long_boards_are_sawn_first(porch: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A board that the bed does not take whole makes as many bodies as can be sawn off it."""
    (porch / "rack.csv").write_text("piece,species,thickness,length,width\nL,black limba,1 7/8,70,14\n")
    (body,) = asked(capsys, str(porch), "--part", "body")["alone"]
    # 15 3/4 in and margins of 1/4 in at the least: four times 16 1/4 in and 1/8 in for the saw are 65 3/8 in
    assert (body["count"], body["pieces"]) == (4, [["L"]])


def test_what_a_maker_reads(rack: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Lines a part, then the mixtures; nothing in millimeters; names that are not there are told."""
    prices = ["--set", "part.body.each=900", "--set", "shop.currency=USD"]
    assert main(["make", str(rack), *SHARED, *prices]) == 0
    told = plain(capsys.readouterr().out)
    assert told.splitlines() == [
        "Each part by itself, with the whole rack for it",
        "  body  3; from W, 2 x X",
        "  neck  8; from 2 x X",
        "",
        "The most value together, worth 2700 USD (without a price and left out: neck)",
        "  3 body; from W, 2 x X",
        "",
        "2 of each together, and the most value from the rest, worth 1800 USD",
        "  2 body; from W, X",
        "  4 neck; from X",
    ]
    assert main(["make", str(rack), "--part", "bdy"]) == 2
    assert "did you mean 'body'?" in capsys.readouterr().err
    assert main(["make", str(rack), "--set", "part.body.each=-3"]) == 2
    assert "each is negative (-3)" in capsys.readouterr().err
    assert main(["make", str(rack), "--part", "neck", "--set", "part.neck.species=koa"]) == 1
    assert plain(capsys.readouterr().out).splitlines()[1:] == ["  neck  0"]


def test_the_library_answers_the_same(rack: Path) -> None:
    """`api.make` counts what the command counts, for a bed of its own too."""
    assert [m.count for m in api.make(rack).alone] == [3, 0]  # no maple of 3/4 in
    shop = api.load_shop(rack, ["bed.bench.travel_x=10", "bed.bench.travel_y=10"])
    assert [m.count for m in api.make(shop, ["body"], "bench").alone] == [0]


@pytest.mark.parametrize("by", ["seconds", "interrupt"])
def test_a_stopped_search_says_so_first(
    by: str, rack: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """TERM after the first piece, or no time: said at the top, and the exit code wants a person."""
    assert asked(capsys, str(rack))["stopped"] == ""
    late = ["--set", "search.seconds=0.000001"] if by == "seconds" else []
    if by == "interrupt":
        monkeypatch.setattr(copies, "_silent", lambda *told: os.kill(os.getpid(), signal.SIGTERM))
    assert asked(capsys, str(rack), "--anew", *late, code=1)["stopped"] == by
    assert main(["make", str(rack), "--anew", *late]) == 1
    assert capsys.readouterr().out.startswith(f"Stopped early ({by}): what was found until then. More may go")
