"""nestyield take, undo, keep and nightly, as a person and a scheduler call them."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from nestyield.cli import main


def files(folder: Path) -> dict[str, bytes]:
    return {p.name: p.read_bytes() for p in sorted(folder.iterdir()) if p.is_file()}


@pytest.fixture
def out(shop: Path, tmp_path: Path) -> Path:
    out = tmp_path / "out"
    assert main(["plan", str(shop), "--out", str(out)]) == 0
    return out


def test_take_and_undo(
    shop: Path, out: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A plan is taken, told in a few lines, not taken twice, and undone to the byte."""
    before = files(shop)
    capsys.readouterr()
    monkeypatch.chdir(shop)  # the shop folder is the current one when none is named
    assert main(["take", str(out)]) == 0
    told = capsys.readouterr()
    assert told.err == ""
    assert "Taken (entry 1 of the journal): R2" in told.out
    assert "  cut: 2 of spring\n" in told.out
    assert "R2,sugar maple,25,700,110,,taken" in (shop / "rack.csv").read_text()
    assert main(["take", str(out), "--shop", str(shop), "--blank", "R2"]) == 2
    assert "nestyield: blank 'R2' of this plan was taken already" in capsys.readouterr().err
    assert main(["plan", str(shop), "--out", str(out)]) == 0  # the order is cut: nothing is planned
    assert "Orders done\n  spring\n" in capsys.readouterr().out
    assert main(["undo", str(shop)]) == 0
    assert "Undone: entry 1, R2\n  back in the rack: R2\n" in capsys.readouterr().out
    assert files(shop) == before
    assert main(["undo", str(shop)]) == 2
    assert capsys.readouterr().err == "nestyield: there is no take to undo in this shop's journal\n"


def test_a_changed_rack_is_told(shop: Path, out: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A used row that was changed stops the take with what changed; nothing is written."""
    (shop / "rack.csv").write_text(
        (shop / "rack.csv").read_text().replace("R2,sugar maple,25", "R2,sugar maple,24")
    )
    before = files(shop)
    capsys.readouterr()
    assert main(["take", str(out), "--shop", str(shop)]) == 2
    assert "R2: the thickness was changed from 25 mm to 24 mm; plan again" in capsys.readouterr().err
    assert files(shop) == before


def test_a_plan_that_fails_its_check_is_not_taken(
    shop: Path, out: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A plan that was changed by hand into a clash is not booked."""
    plan = json.loads((out / "plan.json").read_bytes())
    plan["layouts"][0]["placements"][0]["y_um"] += 60_000
    (out / "plan.json").write_text(json.dumps(plan))
    before = files(shop)
    capsys.readouterr()
    assert main(["take", str(out), "--shop", str(shop)]) == 2
    assert "fails its check" in capsys.readouterr().err
    assert files(shop) == before


def test_order_counts_may_be_left_alone(shop: Path, out: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """With --leave-orders the shop file stays as it is; what cannot be changed there is told with code 1."""
    toml = (shop / "shop.toml").read_bytes()
    assert main(["take", str(out), "--shop", str(shop), "--leave-orders"]) == 0
    assert (shop / "shop.toml").read_bytes() == toml
    assert main(["undo", str(shop)]) == 0
    (shop / "shop.toml").write_bytes(toml.replace(b'"spring"', b'"summer"'))
    capsys.readouterr()
    assert main(["take", str(out), "--shop", str(shop)]) == 1
    assert "order 'spring': 2 cut, but the shop file has no such order now" in capsys.readouterr().err


def test_keep(shop: Path, out: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A kept blank is in the next plan although a better piece came in, until it is let go."""
    capsys.readouterr()
    assert main(["keep", str(out), "--shop", str(shop), "--blank", "R2"]) == 0
    assert main(["keep", "--shop", str(shop)]) == 0
    assert capsys.readouterr().out == "Kept: R2\nKept: R2\n"
    (shop / "rack.csv").write_text((shop / "rack.csv").read_text() + "R0,sugar maple,25,650,110,\n")
    later = tmp_path / "later"
    assert main(["plan", str(shop), "--out", str(later)]) == 0
    assert "spring: 2 of 2 neck, from R2\n" in capsys.readouterr().out
    assert main(["verify", str(later), "--shop", str(shop)]) == 0
    assert main(["keep", "--shop", str(shop), "--release", "R2"]) == 0
    assert main(["keep", "--shop", str(shop), "--release", "R2"]) == 2
    assert "blank 'R2' is not kept (kept: none)" in capsys.readouterr().err
    assert main(["plan", str(shop), "--out", str(later)]) == 0
    assert "spring: 2 of 2 neck, from R0\n" in capsys.readouterr().out


def test_keep_says_what_it_expects(shop: Path, out: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Blanks without a plan, or both ways at once, are refused in a line."""
    capsys.readouterr()
    assert main(["keep", "--shop", str(shop), "--blank", "R2"]) == 2
    assert "expected the folder of the plan" in capsys.readouterr().err
    assert main(["keep", str(out), "--shop", str(shop), "--release", "R2"]) == 2
    assert "expected either" in capsys.readouterr().err


def test_nightly(shop: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A scheduled run tells news and is silent without; its code says whether a person is needed."""
    runs = tmp_path / "runs"
    call = ["nightly", str(shop), "--runs", str(runs), "--date", "2026-12-01", "--keep-last", "2"]
    assert main(call) == 0
    assert capsys.readouterr().out.startswith("Small shop: 1 of 1 orders can be met\n")
    assert main(call) == 0
    assert capsys.readouterr() == ("", "")
    (shop / "rack.csv").write_text((shop / "rack.csv").read_text().replace("R2,sugar maple", "R2,white oak"))
    assert main(call) == 1
    told = capsys.readouterr().out
    assert "  no longer possible: spring, 1 of 2 neck: " in told
    assert "  rack: changed: R2\n" in told
    assert f"Report: {runs}/2026-12-01-3/report.html\n" in told
    assert "Needs a person (exit code 1): 1 order not filled\n" in told
    assert "not placed" not in told  # the news has it
    assert sorted(p.name for p in runs.iterdir()) == [".nightly", "2026-12-01-2", "2026-12-01-3"]
    assert main(["verify", str(runs / "2026-12-01-3"), "--shop", str(shop)]) == 0


def test_nightly_says_why_it_ends_with_1(
    shop: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A night without news that ends with 1 names each order that is short and each warning, once."""
    runs = tmp_path / "runs"
    call = ["nightly", str(shop), "--runs", str(runs), "--date", "2026-12-01"]
    rack = (shop / "rack.csv").read_text().replace("R2,sugar maple", "R2,white oak")
    (shop / "rack.csv").write_text(rack)
    assert main(call) == 1
    capsys.readouterr()
    assert main(call) == 1
    told = capsys.readouterr()
    report = f"Report: {runs}/2026-12-01-2/report.html"
    assert told.out.splitlines() == [
        "Needs a person (exit code 1): 1 order not filled",
        "  spring: 1 of 2 neck not placed",
        report,
    ]
    assert told.err == ""
    assert main([*call, "--json"]) == 1
    data = json.loads(capsys.readouterr().out)
    assert data["needs_person"] == ["1 order not filled", "spring: 1 of 2 neck not placed"]
    assert main([*call, "-q"]) == 1
    assert capsys.readouterr() == ("", "")


def test_nightly_with_a_broken_shop(shop: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A shop folder that cannot be read is told on stderr with code 2, and no run is written."""
    (shop / "rack.csv").write_text("piece\n")
    runs = tmp_path / "runs"
    assert main(["nightly", str(shop), "--runs", str(runs)]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert "R002" in told.err
    assert not runs.exists()
    assert main(["nightly", str(shop), "--runs", str(runs), "--date", "1.12.2026"]) == 2
    assert "expected a date such as 2026-12-01" in capsys.readouterr().err


def test_nightly_over_many_shops(shop: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The exit code is the worst shop's, news and errors are told by shop, and one page tells of all."""
    shops, runs = tmp_path / "shops", tmp_path / "runs"
    for name in ("attic", "bench"):
        shutil.copytree(shop, shops / name)
    (shops / "bench" / "rack.csv").write_text("piece\n")
    call = ["nightly", str(shops), "--runs", str(runs), "--date", "2026-12-01"]
    assert main(call) == 2
    told = capsys.readouterr()
    assert told.out.startswith("Small shop: 1 of 1 orders can be met\n")
    assert f"1 of 2 shops planned; all of them: {runs}/index.html" in told.out
    assert "bench: error R002" in told.err
    shutil.copy(shop / "rack.csv", shops / "bench")
    assert main([*call, "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert [(s["folder"], s["state"]) for s in data["shops"]] == [("attic", "done"), ("bench", "done")]
    assert data["report"] == f"{runs}/index.html"
    assert main(call) == 0
    assert capsys.readouterr() == ("", "")
    rack = (shop / "rack.csv").read_text().replace("R2,sugar maple", "R2,white oak")
    (shops / "attic" / "rack.csv").write_text(rack)
    assert main(call) == 1
    capsys.readouterr()
    assert main(call) == 1  # nothing new, and still a reason
    told = capsys.readouterr().out.splitlines()
    assert told[:2] == ["attic needs a person: 1 order not filled", "  spring: 1 of 2 neck not placed"]
    assert told[-1] == f"2 of 2 shops planned; all of them: {runs}/index.html"
    assert not any("bench" in line for line in told[:-1])
