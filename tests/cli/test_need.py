"""What orders lack and what to buy for them, against racks worked out by hand."""

from __future__ import annotations

import hashlib
import json
import os
import signal
from pathlib import Path

import pytest

from nestyield import api
from nestyield.cli import main
from nestyield.model import NestyieldError
from nestyield.planning import copies

IN = 25.4


def plain(text: str) -> str:
    return text.replace("\u00a0", " ").replace("\u202f", " ")


def asked(capsys: pytest.CaptureFixture[str], *args: str, code: int = 1) -> dict:
    assert main(["need", *args, "--json"]) == code
    return json.loads(capsys.readouterr().out)


def test_what_orders_lack(porch: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The body comes from a glue-up; of five necks the boards hold three; two more boards, or one for both."""
    before = {p: hashlib.sha256(p.read_bytes()).digest() for p in porch.rglob("*") if p.is_file()}
    found = asked(capsys, str(porch))
    assert found["missing"] == 2
    body, neck = found["orders"]
    assert (body["order"], body["placed"], body["count"], body["buy"]) == ("one body", 1, 1, None)
    # M1, 4 in wide, holds one neck of 2 1/2 in, M2, 6 1/2 in wide, two; M3 is too thin to plane
    assert (neck["order"], neck["placed"], neck["count"]) == ("necks", 3, 5)
    bought = neck["buy"]["purchase"]
    assert (bought["count"], bought["species"]) == (2, ["sugar maple"])
    # a margin of 6.35 mm all around, 0.8 mm planed off each face
    assert bought["length_mm"] == pytest.approx(25 * IN + 12.7, abs=0.35)
    assert bought["width_mm"] == pytest.approx(2.5 * IN + 12.7, abs=0.35)
    # 20.65 mm are 52.03/64 in
    assert bought["thickness_mm"] == pytest.approx(53 / 64 * IN, abs=1e-5)
    # side by side with a gap of the cutter and 3 mm
    length, width = neck["buy"]["together_mm"]
    assert length == pytest.approx(25 * IN + 12.7, abs=0.35)
    assert width == pytest.approx(2 * 2.5 * IN + 6.35 + 3.0 + 12.7, abs=0.5)
    assert before == {p: hashlib.sha256(p.read_bytes()).digest() for p in porch.rglob("*") if p.is_file()}
    assert main(["need", str(porch)]) == 1
    told = plain(capsys.readouterr().out)
    assert told.splitlines()[:2] == [
        "one body: 1 of 1 body from the rack",
        "necks: 3 of 5 neck from the rack, 2 missing",
    ]
    assert "  for necks: 2 x sugar maple, 53/64 in thick, at least 25 1/2 × 3 in" in told
    assert "      or all from one piece of at least 25 1/2 × " in told
    assert "mm" not in told


def test_the_board_to_buy_does(porch: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """With the boards that are told in the rack nothing is missing any more; 1/8 in narrower ones do not do."""
    bought = asked(capsys, str(porch))["orders"][1]["buy"]["purchase"]
    rack = (porch / "rack.csv").read_text()
    for narrower, code in ((0.0, 0), (3.175, 1)):
        row = "NEW,sugar maple,{thickness_mm} mm,{length_mm} mm,{width} mm,2\n".format(
            **bought, width=bought["width_mm"] - narrower
        )
        (porch / "rack.csv").write_text(rack + row)
        assert main(["need", str(porch)]) == code
        told = capsys.readouterr().out
        assert ("Nothing to buy" in told) == (code == 0)


def test_other_orders_and_names(porch: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One order, other orders in place of the shop's, and what is not there or no number."""
    assert main(["need", str(porch), "--order", "one body"]) == 0
    assert plain(capsys.readouterr().out) == "one body: 1 of 1 body from the rack\n\nNothing to buy\n"
    found = asked(capsys, str(porch), "--want", "neck=4", "--want", "body=2")
    assert [(o["order"], o["count"], o["placed"]) for o in found["orders"]] == [
        ("neck", 4, 3),
        ("body", 2, 1),
    ]
    assert main(["need", str(porch), "--order", "one bdy"]) == 2
    assert "has no order 'one bdy'; did you mean 'one body'?" in capsys.readouterr().err
    assert main(["need", str(porch), "--want", "nek=4"]) == 2
    assert "did you mean 'neck'?" in capsys.readouterr().err
    for bad in ("neck", "neck=0", "neck=two", "=3"):
        with pytest.raises(NestyieldError):
            api.need(porch, want=[bad])


def test_sheets_are_bought_as_panels(
    shop: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Of sheet material so many usual panels are told as hold all copies, sawn for the bed where they must be."""
    monkeypatch.setenv("NESTYIELD_ANSWERS", str(tmp_path / "answers"))
    sheet = [
        "--set",
        "part.neck.species=MDF",
        "--set",
        "part.neck.thickness=12",
        "--set",
        "part.neck.grain=none",
    ]
    (need,) = asked(capsys, str(shop), "--want", "neck=3", *sheet)["orders"]
    # three parts of 300 x 80 mm are a fraction of a panel of 2440 x 1220 mm
    assert need["buy"]["purchase"]["panel_mm"] == [2440.0, 1220.0]
    assert (need["placed"], need["buy"]["panels"], need["buy"]["a_panel"]) == (0, 1, 3)
    assert main(["need", str(shop), "--want", "neck=3", *sheet]) == 1  # from the answer kept
    assert "      or 1 usual panel of 2440 × 1220 mm" in plain(capsys.readouterr().out)


def test_no_bed_no_board(porch: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Where no bed takes the part, no board helps, and that is said."""
    small = ["--set", "bed.bench.travel_x=10", "--set", "bed.bench.travel_y=10"]
    assert main(["need", str(porch), "--want", "neck=1", *small]) == 1
    assert "for neck: no board helps, no bed takes the part" in capsys.readouterr().out


@pytest.mark.parametrize("by", ["seconds", "interrupt"])
def test_a_stopped_search_buys_nothing(
    by: str, porch: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """TERM after the first piece, or no time: said first, and boards that were not tried are not told to buy."""
    late = ["--set", "search.seconds=0.000001"] if by == "seconds" else []
    if by == "interrupt":
        monkeypatch.setattr(copies, "_silent", lambda *told: os.kill(os.getpid(), signal.SIGTERM))
    found = asked(capsys, str(porch), "--anew", *late)
    assert (found["stopped"], [o["buy"] for o in found["orders"]]) == (by, [None, None])
    assert found["missing"] > 2  # two lack on the whole rack
    assert main(["need", str(porch), "--anew", *late]) == 1
    told = plain(capsys.readouterr().out)
    assert told.startswith(f"Stopped early ({by}): ")
    assert "so nothing is listed to buy" in told.splitlines()[0]
    for word in ("To buy", "Nothing to buy", "missing", "no board helps"):
        assert word not in told, word


def test_a_search_that_ended_is_not_told_as_stopped(porch: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert asked(capsys, str(porch))["stopped"] == ""
