"""A plan folder appears whole or not at all, and nothing of the maker's is lost."""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path

import pytest

from nestyield.planfile.folder import SUMS, OutputError, replace_folder


def write(out: Path, text: str = "one") -> None:
    with replace_folder(out) as folder:
        (folder / "plan.json").write_text(text)
        (folder / "sheets").mkdir()
        (folder / "sheets" / "R1.svg").write_text(text)


def test_new_folder_and_replacement(tmp_path: Path) -> None:
    """A new folder is made with its parents; an earlier plan is replaced; nothing else is left beside it."""
    out = tmp_path / "a" / "run"
    write(out)
    write(out, "two")
    assert (out / "sheets" / "R1.svg").read_text() == "two"
    assert [p.name for p in out.parent.iterdir()] == ["run"]
    assert out.stat().st_mode & 0o777 == 0o777 & ~_umask()


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def test_empty_folder_is_used(tmp_path: Path) -> None:
    """A folder that was made beforehand and is empty serves."""
    write(tmp_path)
    assert (tmp_path / "plan.json").exists()


@pytest.mark.parametrize("what", ["foreign", "added", "changed", "file"])
def test_refuses_what_would_be_lost(tmp_path: Path, what: str) -> None:
    """Foreign, added and changed files stop the run, and stay."""
    out = tmp_path / "run"
    if what == "foreign":
        out.mkdir()
        (out / "diary.txt").write_text("mine")
    elif what == "file":
        out.write_text("mine")
    else:
        write(out)
        (out / ("note.txt" if what == "added" else "plan.json")).write_text("mine")
    before = sorted(p.name for p in tmp_path.rglob("*"))
    with pytest.raises(OutputError):
        write(out, "two")
    assert sorted(p.name for p in tmp_path.rglob("*")) == before


def test_failure_leaves_the_earlier_plan(tmp_path: Path) -> None:
    """When writing fails half way the earlier plan stands and no half-written folder stays."""
    out = tmp_path / "run"
    write(out)

    def fail() -> None:
        with replace_folder(out) as folder:
            (folder / "plan.json").write_text("half")
            raise RuntimeError

    with pytest.raises(RuntimeError):
        fail()
    assert (out / "plan.json").read_text() == "one"
    assert [p.name for p in tmp_path.iterdir()] == ["run"]


@pytest.mark.outside(source="GNU coreutils sha256sum --check", mark="S")
@pytest.mark.skipif(shutil.which("sha256sum") is None, reason="sha256sum is not installed")
def test_sums_are_read_by_the_usual_tool(tmp_path: Path) -> None:
    """The list of sums is in the form that the operating system's own tool checks."""
    out = tmp_path / "run"
    write(out)
    done = subprocess.run(["sha256sum", "--check", "--strict", SUMS], cwd=out, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert "sheets/R1.svg: OK" in done.stdout
