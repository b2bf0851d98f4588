"""nestyield plan, and nestyield verify on what it writes."""

from __future__ import annotations

import contextlib
import json
import os
import pty
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from nestyield.cli import main
from nestyield.planfile import dumps, loads


def files(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def test_plan_and_verify(shop: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The main job writes its files, tells what it did, repeats to the byte, and holds when verified."""
    out = tmp_path / "out"
    assert main(["plan", str(shop), "--out", str(out)]) == 0
    first = capsys.readouterr()
    assert first.err == ""
    assert "Orders filled\n  spring: 2 of 2 neck, from R2\n" in first.out
    assert "R2 (sugar maple" not in first.out
    assert f"Report: {out}/report.html" in first.out
    for name in ("plan.json", "report.html", "cuts.csv", "leftovers.csv", "SHA256SUMS"):
        assert (out / name).is_file()
    assert list(out.rglob("*.dxf"))
    assert list(out.rglob("*.svg"))
    before = files(out)
    assert not any(str(tmp_path).encode() in data for data in before.values())
    assert main(["plan", str(shop), "--out", str(out), "--workers", "2"]) == 0
    assert files(out) == before
    capsys.readouterr()
    assert main(["verify", str(out)]) == 0
    assert main(["verify", str(out), "--shop", str(shop)]) == 0
    assert capsys.readouterr().out.splitlines()[0] == f"{out}: the plan holds"


def test_how_much_is_printed(shop: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Verbose tells each blank and the notes, quiet nothing, JSON one object that says the same."""
    (shop / "rack.csv").write_text("piece,species,thickness,length,width\nR1,sugar maple,25,330,110\n")
    plan = ["plan", str(shop), "--out", str(tmp_path / "out")]
    assert main([*plan, "--verbose"]) == 1
    verbose = capsys.readouterr()
    assert "R1 (sugar maple, 25 mm) -> neck" in verbose.out.replace("\u00a0", " ")
    assert main([*plan, "--quiet"]) == 1
    assert capsys.readouterr() == ("", "")
    assert main([*plan, "--json"]) == 1
    told = capsys.readouterr()
    assert told.err == ""
    data = json.loads(told.out)
    assert data["ok"] is True
    (order,) = data["orders"]
    assert (order["order"], order["count"], order["placed"]) == ("spring", 2, 1)
    assert "every piece that is usable by itself: R1" in " ".join(order["reasons"])
    (blank,) = data["blanks"]
    (made,) = blank["parts"]
    assert (blank["stock"], made["part"], made["order"], made["copy"]) == (["R1"], "neck", "spring", 1)
    assert made["weight_kg"] == pytest.approx(0.3 * 0.07 * 0.02 * 705.6)  # mean of 80 and 60 wide
    assert blank["yield_pct"] == pytest.approx(
        100 * 300 * 70 / (330 * 110), abs=0.05
    )  # mean of 80 and 60 wide
    assert data["to_buy"][0]["length_mm"] == pytest.approx(312.7, abs=0.05)
    assert data["report"] == str(tmp_path / "out" / "report.html")


def test_moved_by_a_tenth_of_a_millimeter(
    shop: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A plan changed by hand by 0.1 mm into a clash is caught, with the numbers."""
    out = tmp_path / "out"
    main(["plan", str(shop), "--out", str(out)])
    plan = json.loads((out / "plan.json").read_bytes())
    lefts = [min(p["x_um"] for p in layout["placements"]) for layout in plan["layouts"]]
    for layout, left in zip(plan["layouts"], lefts):
        for placement in layout["placements"]:
            if placement["x_um"] == left:
                placement["x_um"] -= 100
    (out / "plan.json").write_text(json.dumps(plan))
    capsys.readouterr()
    assert main(["verify", str(out)]) == 1
    captured = capsys.readouterr()
    assert "mm" in captured.err
    assert "the plan does not hold" in captured.out


def test_a_shop_that_moved_on_does_not_make_a_plan_wrong(
    shop: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Against a rack that was changed since, the verdict names the shop, not the plan; it still needs a person."""
    out = tmp_path / "out"
    main(["plan", str(shop), "--out", str(out)])
    rack = (shop / "rack.csv").read_text()
    (shop / "rack.csv").write_text(rack + "late,white ash,30,300,100\n")
    capsys.readouterr()
    assert main(["verify", str(out), "--shop", str(shop)]) == 1
    captured = capsys.readouterr()
    assert "A004" in captured.err
    assert "the plan holds, but the shop has changed since" in captured.out
    assert main(["verify", str(out)]) == 0


def test_order_that_cannot_be_met(shop: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What is missing needs a person: exit code 1, the reason on stdout, and what to buy."""
    (shop / "rack.csv").write_text("piece,species,thickness,length,width\nR1,sugar maple,25,330,110\n")
    assert main(["plan", str(shop), "--out", str(tmp_path / "out")]) == 1
    captured = capsys.readouterr()
    assert "spring: 1 of 2 neck, from R1; " in captured.out
    assert "other orders or copies use every piece that is usable by itself: R1" in captured.out
    assert "for spring: 1 x sugar maple, at least 312.7 mm x" in captured.out
    assert captured.out.count("other orders or copies") == 1
    assert captured.err == ""


def test_folder_in_use(shop: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A folder that holds something else is refused before any work, and stays as it is."""
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "diary.txt").write_text("mine")
    assert main(["plan", str(shop), "--out", str(tmp_path / "out")]) == 2
    assert "is not empty and holds no earlier plan" in capsys.readouterr().err
    assert files(tmp_path / "out") == {"diary.txt": b"mine"}


def test_bad_shop_writes_nothing(shop: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Bad input gives exit code 2 and no folder."""
    (shop / "rack.csv").unlink()
    assert main(["plan", str(shop), "--out", str(tmp_path / "out")]) == 2
    assert "rack.csv" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


def test_rejected_plan_writes_nothing(
    shop: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A plan that fails its own check is not written; the evidence is told and the exit code is 2."""
    from nestyield.audit.check import Audited
    from nestyield.model import Finding
    from nestyield.planning import run

    evidence = Finding(code="A102", severity="error", message="is spent 2 times", where="R2")
    monkeypatch.setattr(
        run,
        "audited",
        lambda plan, each: Audited(
            whole=(evidence,), layouts=((),) * 9, proofs={}, ways=((),) * len(plan.other_ways)
        ),
    )
    assert main(["plan", str(shop), "--out", str(tmp_path / "out")]) == 2
    err = capsys.readouterr().err
    assert "failed its own check and was not written" in err
    assert "error A102: R2: is spent 2 times" in err
    assert not (tmp_path / "out").exists()


def test_full_disk(
    shop: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """When the papers cannot be written nothing is left behind."""
    import nestyield.paperwork.write

    def full(plan: object, folder: Path, make: object) -> None:
        (folder / "report.html").write_text("half")
        raise OSError(28, "No space left on device", str(folder / "report.html"))

    monkeypatch.setattr(nestyield.paperwork.write, "write_all", full)
    assert main(["plan", str(shop), "--out", str(tmp_path / "out")]) == 2
    assert "No space left on device" in capsys.readouterr().err
    assert sorted(p.name for p in tmp_path.iterdir()) == ["shop"]


def test_plan_file_is_the_library_s_plan(shop: Path, tmp_path: Path) -> None:
    """plan.json is what the first door's plan gives."""
    import nestyield

    main(["plan", str(shop), "--out", str(tmp_path / "out"), "--seed", "7", "--effort", "1"])
    data = (tmp_path / "out" / "plan.json").read_bytes()
    assert dumps(nestyield.plan(shop, seed=7, effort=1, workers=1)) == data
    assert loads(data).seed == 7


@pytest.mark.skipif(sys.platform != "linux", reason="needs a pseudo-terminal")
def test_progress_on_a_terminal_only(shop: Path, tmp_path: Path) -> None:
    """Progress is written to stderr when it is a terminal, and wiped at the end."""
    ours, theirs = pty.openpty()
    with os.fdopen(theirs, "w") as terminal, contextlib.redirect_stderr(terminal):
        assert main(["plan", str(shop), "--out", str(tmp_path / "out")]) == 0
        terminal.flush()
        seen = os.read(ours, 100_000).decode()
    os.close(ours)
    assert "trying pieces 2/2" in seen
    assert seen.count("\x1b[?25l") == seen.count("\x1b[?25h") == 1  # the cursor is hidden, then shown again
    assert seen.endswith("\x1b[2K")  # ECMA-48, EL 2: the whole line is erased


@pytest.mark.parametrize("what", ["missing", "empty", "damaged"])
def test_verify_what_is_no_plan(what: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A folder without a readable plan cannot be verified: exit code 2, one line, no traceback."""
    folder = tmp_path / "run"
    if what != "missing":
        folder.mkdir()
    if what == "damaged":
        (folder / "plan.json").write_text('{"schema": "nestyield plan 2", "layouts": ')
    assert main(["verify", str(folder)]) == 2
    captured = capsys.readouterr()
    assert len(captured.err.splitlines()) == 1
    assert captured.out == ""


def of_session(leader: int) -> list[int]:
    """Processes of a session that still run (proc(5): state, parent, group, session follow the name)."""
    found = []
    for path in Path("/proc").glob("[0-9]*/stat"):
        try:
            state, _, _, session = path.read_text().rpartition(")")[2].split()[:4]
        except OSError:
            continue
        if int(session) == leader and state != "Z":
            found.append(int(path.parent.name))
    return found


#: `nestyield` that waits after its third piece until it is told to stop, so that no clock decides how far it is.
WAITING = """
import contextlib, signal, sys, time
from nestyield.cli import main, progress
from nestyield.planning.clock import Clock

heard = []
interrupt, on = Clock.interrupt, progress.progress_on

def told(clock):
    heard.append(clock)
    interrupt(clock)

@contextlib.contextmanager
def waiting(stream):
    with on(stream) as show:
        def wait(what, done, of):
            show(what, min(done, 3), of)  # several may come at once: three are waited for
            while what.endswith("pieces") and done >= 3 and not heard:
                time.sleep(0.01)
        yield wait

if __name__ == "__main__":
    # who runs the tests in the background or under nohup has told the system to ignore these
    signal.signal(signal.SIGINT, signal.default_int_handler)
    signal.signal(signal.SIGHUP, signal.SIG_DFL)
    Clock.interrupt, progress.progress_on = told, waiting
    sys.exit(main(sys.argv[1:]))
"""


def planning(shop: Path, out: Path, workers: str) -> tuple[subprocess.Popen[str], int, int]:
    """A run at a terminal in a session of its own, in the middle of its search until it is told to stop."""
    rows = [f"B{k},sugar maple,25,{330 + 9 * k},{110 + 7 * k},\n" for k in range(40)]
    (shop / "rack.csv").write_text("piece,species,thickness_mm,length_mm,width_mm,note\n" + "".join(rows))
    toml = (shop / "shop.toml").read_text()
    (shop / "shop.toml").write_text(toml.replace("count = 2", "count = 9"))
    ours, theirs = pty.openpty()
    script = shop.parent / "waiting.py"
    script.write_text(WAITING)
    args = [sys.executable, str(script), "plan", str(shop), "--out", str(out), "--workers", workers]
    process = subprocess.Popen(args, stdout=subprocess.PIPE, stderr=theirs, text=True, start_new_session=True)
    seen = ""
    while "pieces 3/" not in seen:
        seen += os.read(ours, 10_000).decode()
    return process, ours, theirs


def gone(leader: int, seconds: float) -> bool:
    """Tell whether all processes of a session end within some seconds."""
    until = time.monotonic() + seconds
    while of_session(leader):
        if time.monotonic() > until:
            return False
        time.sleep(0.1)
    return True


@pytest.mark.skipif(sys.platform != "linux", reason="needs process groups and a pseudo-terminal")
@pytest.mark.parametrize(
    ("workers", "send", "number"),
    [
        ("1", os.killpg, signal.SIGINT),
        pytest.param("3", os.killpg, signal.SIGINT, marks=pytest.mark.study),
        pytest.param("3", os.kill, signal.SIGTERM, marks=pytest.mark.study),
        pytest.param("3", os.killpg, signal.SIGHUP, marks=pytest.mark.study),
    ],
)
def test_a_wish_to_stop_writes_the_best_so_far(
    shop: Path, tmp_path: Path, workers: str, send: Callable[[int, int], None], number: int
) -> None:
    """Ctrl-C and a closed terminal reach every process, TERM the first: a checked plan is written, marked so."""
    process, ours, theirs = planning(shop, tmp_path / "out", workers)
    send(process.pid, number)
    out, _ = process.communicate(timeout=200)
    os.close(theirs)
    os.close(ours)
    assert process.returncode == 1
    assert "Stopped early (interrupt)" in out
    assert loads((tmp_path / "out" / "plan.json").read_bytes()).stopped == "interrupt"
    assert main(["verify", str(tmp_path / "out")]) == 0
    assert gone(process.pid, 20)


@pytest.mark.study
@pytest.mark.skipif(sys.platform != "linux", reason="needs process groups and a pseudo-terminal")
def test_workers_end_when_the_run_is_killed(shop: Path, tmp_path: Path) -> None:
    """When the run is killed, its workers notice and end; nothing was written."""
    process, ours, theirs = planning(shop, tmp_path / "out", "3")
    assert len(of_session(process.pid)) > 3
    process.kill()
    process.communicate(timeout=60)
    os.close(theirs)
    os.close(ours)
    assert gone(process.pid, 20)
    assert not (tmp_path / "out").exists()
