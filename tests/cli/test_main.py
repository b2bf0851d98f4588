"""The command line as a whole: help, errors, exit codes, start-up."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

import nestyield
from nestyield.cli import COMMANDS, main


def run(*args: str | Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "nestyield", *map(str, args)], capture_output=True, text=True, timeout=300
    )


def test_version(capsys: pytest.CaptureFixture[str]) -> None:
    """--version says name and version and ends with 0."""
    assert main(["--version"]) == 0
    assert capsys.readouterr().out == f"nestyield {nestyield.__version__}\n"


@pytest.mark.parametrize("command", [*COMMANDS, ""])
def test_help_tells_exit_codes(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Every command has help that tells what the exit codes mean, within 110 columns."""
    assert main([command, "--help"] if command else ["--help"]) == 0
    out = capsys.readouterr().out
    assert "exit codes: 0 done; 1 done, but" in out
    assert max(map(len, out.splitlines())) <= 110


@pytest.mark.parametrize(
    "args",
    [
        [],
        ["saw"],
        ["plan"],
        ["plan", "x"],
        ["plan", "x", "--out", "y", "--workers", "0"],
        ["plan", "x", "--out", "y", "--seed", "-1"],
        ["plan", "x", "--out", "y", "--seconds", "nan"],
        ["plan", "x", "--out", "y", "--effort", "two"],
        ["plan", "x", "--o", "y"],
        ["fit", "x"],
        ["verify"],
    ],
)
def test_wrong_arguments(args: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    """Wrong arguments end with 2, a line of usage and a line of error, and nothing on stdout."""
    assert main(args) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert "usage: nestyield" in captured.err
    assert "error:" in captured.err.splitlines()[-1]


@pytest.mark.parametrize("command", [["check"], ["plan", "--out", "out"], ["fit", "--part", "p"]])
def test_no_such_shop(
    command: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A shop folder that is not there is one clear error, exit code 2, nothing written."""
    monkeypatch.chdir(tmp_path)
    assert main([command[0], "nowhere", *command[1:]]) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    errors = [line for line in captured.err.splitlines() if "error" in line]
    assert "nowhere" in captured.err or "shop.toml" in captured.err
    assert errors
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    "args",
    [
        ["check", "SHOP"],
        pytest.param(["fit", "SHOP", "--part", "neck"], marks=pytest.mark.study),
        pytest.param(["fit", "SHOP", "--part", "neck", "--piece", "R1"], marks=pytest.mark.study),
        pytest.param(["pieces", "SHOP", "--part", "neck"], marks=pytest.mark.study),
        pytest.param(["rack", "SHOP"], marks=pytest.mark.study),
        ["--version"],
        ["--help"],
    ],
)
def test_no_kernel_no_compiler(args: list[str], shop: Path) -> None:
    """Commands that need no kernel import neither the compiler nor the solver."""
    args = [str(shop) if a == "SHOP" else a for a in args]
    code = (
        "import sys; from nestyield.cli import main; main(sys.argv[1:]); "
        "print(sorted({'numba', 'llvmlite', 'ortools', 'pandas', 'matplotlib'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code, *args], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


def test_fault_of_the_program_keeps_its_traceback(shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Only errors of the user become one line; a fault of ours is not hidden."""
    import nestyield.api

    def fail(folder: Path, changes: list[str]) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(nestyield.api, "check_shop", fail)
    with pytest.raises(ZeroDivisionError):
        main(["check", str(shop)])


def test_ctrl_c_outside_the_search(
    shop: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Ctrl-C while nothing is planned yet says so in a line and ends with 2."""
    import nestyield.api

    def press(folder: Path, changes: list[str]) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(nestyield.api, "check_shop", press)
    assert main(["check", str(shop)]) == 2
    assert capsys.readouterr().err == "nestyield: stopped; nothing was written\n"


def test_reader_that_goes_away(shop: Path) -> None:
    """A pipe that closes early, as with head, is no error to tell."""
    done = subprocess.run(
        f"{sys.executable} -m nestyield check {shop} | true", shell=True, capture_output=True, text=True
    )
    assert done.stderr == ""


@pytest.mark.skipif(sys.platform != "linux", reason="needs a limit on memory that the system keeps")
@pytest.mark.study
def test_too_little_memory(shop: Path, tmp_path: Path) -> None:
    """A run that may use 250 MB, less than its libraries take, says so, ends with 2 and writes nothing."""
    import resource

    def limit() -> None:
        resource.setrlimit(resource.RLIMIT_AS, (250 << 20, 250 << 20))

    line = [sys.executable, "-m", "nestyield", "plan", str(shop), "--out", str(tmp_path / "out")]
    done = subprocess.run(line, capture_output=True, text=True, preexec_fn=limit, timeout=300)
    assert done.returncode == 2
    assert "memory ran out: this run may use 250 MB" in done.stderr
    assert "Traceback" not in done.stderr
    assert not (tmp_path / "out").exists()
