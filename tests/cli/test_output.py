"""How much every command prints, in which form, and what never reaches the terminal."""

from __future__ import annotations

import contextlib
import io
import json
import os
import pty
import subprocess
import sys
import warnings
from pathlib import Path

import pytest

from nestyield.cli import COMMANDS, main
from nestyield.cli.tell import say_findings
from nestyield.model import Finding

SCAN = Path(__file__).parents[1] / "photo" / "samples" / "scan.jpg"


def commands(shop: Path, out: Path) -> dict[str, list[list[str]]]:
    """Arguments of each command, in an order in which all of them succeed, without a form of output."""
    at = ["--shop", str(shop)]
    return {
        "new": [[str(out.parent / "fresh")]],
        "check": [[str(shop)]],
        "plan": [[str(shop), "--out", str(out)]],
        "fit": [[str(shop), "--part", "neck"], [str(shop), "--part", "neck", "--piece", "R1"]],
        "pieces": [[str(shop), "--part", "neck"]],
        "patch": [[str(shop), "--part", "neck", "--damage", "100,4 20x8"]],
        "make": [[str(shop)]],
        "need": [[str(shop)]],
        "explain": [["planing"]],
        "rack": [[str(shop)]],
        "photo": [
            ["--sheets", str(out.parent / "sheets.pdf")],
            [
                str(SCAN),
                "--scan",
                "--thickness",
                "6",
                "--species",
                "ash",
                "--out",
                str(out.parent / "pieces"),
            ],
        ],
        "verify": [[str(out)]],
        "grade": [[str(shop)]],
        "keep": [[str(out), *at], [*at], [*at, "--release", "R2"]],
        "take": [[str(out), *at]],
        "undo": [[str(shop)]],
        "nightly": [[str(shop), "--runs", str(out.parent / "runs"), "--date", "2026-12-01"]],
    }


@pytest.mark.parametrize("form", ["--json", "--quiet"])
def test_every_command_prints_json_or_nothing(
    form: str, shop: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """With --json the output of every command is one JSON text, with --quiet there is none; stderr stays empty."""
    asked = commands(shop, tmp_path / "out")
    assert set(asked) == set(COMMANDS)
    for command, runs in asked.items():
        for args in runs:
            assert main([command, *args, form]) in (0, 1), command
            told = capsys.readouterr()
            assert told.err == "", command
            if form == "--quiet":
                assert told.out == "", command
            else:
                data = json.loads(told.out)
                assert isinstance(data, list) or data["ok"] is True, command


def test_json_of_bad_input(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Errors come as JSON too, with code, file and place, and the exit code stays 2."""
    rack = shop / "rack.csv"
    rack.write_text(rack.read_text().replace("330", "-5"))
    for command in (["check"], ["fit", "--part", "neck"]):
        assert main([command[0], str(shop), *command[1:], "--json"]) == 2
        told = capsys.readouterr()
        assert told.err == ""
        data = json.loads(told.out)
        assert data["ok"] is False
        assert [(f["code"], f["file"], f["where"]) for f in data["findings"]] == [
            ("R005", "rack.csv", "row 2, column length_mm")
        ]
    assert main(["undo", str(shop), "--json"]) == 2
    assert json.loads(capsys.readouterr().out)["error"]


def test_notes_only_on_demand(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Notes are counted, and printed with --verbose."""
    rack = shop / "rack.csv"
    rack.write_text(rack.read_text().replace("white oak", "moon cheese"))
    assert main(["check", str(shop)]) == 0
    told = capsys.readouterr()
    assert "moon cheese" not in told.err
    assert "notes   1: --verbose prints it" in told.out
    assert main(["check", str(shop), "-v"]) == 0
    told = capsys.readouterr()
    assert told.err.startswith("note R011: rack.csv, row 4")
    assert "--verbose" not in told.out


def test_libraries_are_kept_off_the_terminal(shop: Path) -> None:
    """Warnings and log lines of libraries during a command reach neither stream; ours do."""
    code = (
        "import logging, sys, warnings\n"
        "import nestyield.api as api\n"
        "from nestyield.cli import main\n"
        "read = api.check_shop\n"
        "def chatty(*args):\n"
        "    warnings.warn('deprecated thing')\n"
        "    logging.getLogger('ezdxf').error('odd header')\n"
        "    return read(*args)\n"
        "api.check_shop = chatty\n"
        "sys.exit(main(sys.argv[1:]))\n"
    )
    args = [sys.executable, "-c", code, "check", str(shop)]
    done = subprocess.run(args, capture_output=True, text=True, timeout=300)
    assert done.returncode == 0
    assert done.stderr == ""
    assert "good to plan" in done.stdout


def test_hooks_of_the_process_are_put_back(shop: Path) -> None:
    """A script that calls the command line finds its own way of showing warnings afterwards."""
    before = warnings.showwarning
    assert main(["check", str(shop), "-q"]) == 0
    assert warnings.showwarning is before


@pytest.mark.skipif(sys.platform != "linux", reason="needs a pseudo-terminal")
def test_colors_on_a_terminal_only(shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The severity is colored on a terminal, not in a file, and not where NO_COLOR is set (no-color.org)."""
    finding = Finding(code="R005", severity="error", message="expected length > 0", file="rack.csv")
    stream = io.StringIO()
    say_findings([finding], stream)
    assert stream.getvalue() == f"{finding}\n"
    rack = shop / "rack.csv"
    rack.write_text(rack.read_text().replace("330", "-5"))
    seen = {}
    for no_color in ("", "1"):
        monkeypatch.setenv("TERM", "xterm")
        monkeypatch.setenv("NO_COLOR", no_color)
        ours, theirs = pty.openpty()
        with os.fdopen(theirs, "w") as terminal, contextlib.redirect_stderr(terminal):
            assert main(["check", str(shop)]) == 2
            terminal.flush()
            seen[no_color] = os.read(ours, 100_000).decode()
        os.close(ours)
    assert "\x1b[1;31merror\x1b[0m R005: rack.csv" in seen[""]
    assert "31m" not in seen["1"]
    assert "error" in seen["1"]
