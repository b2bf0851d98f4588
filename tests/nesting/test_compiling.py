"""The first run: kernels are compiled once, told of, and kept for this state of the code."""

import os
import shutil
import subprocess
import sys

from nestyield.nesting import compiling
from nestyield.nesting import jit as jit_module
from nestyield.planning import run
from nestyield.planning.clock import Clock

ASK = "from nestyield.nesting.compiling import needs_compiling; print(needs_compiling())"
WARM = "from nestyield.nesting.compiling import compile_kernels; compile_kernels()"


def test_cold_until_warmed(tmp_path, jit):
    """An empty folder is cold; a copy of one that a run has filled is warm, and a start adds nothing to it."""
    if not jit:
        return

    def said(code, folder):
        env = {**os.environ, "NUMBA_CACHE_DIR": str(folder)}
        done = subprocess.run(
            [sys.executable, "-c", code], env=env, capture_output=True, text=True, check=True
        )
        return done.stdout

    assert said(ASK, tmp_path / "empty") == "True\n"
    compiling.compile_kernels()  # this process does it once for all tests
    warm = tmp_path / "warm" / jit_module._DIR.name
    shutil.copytree(jit_module._DIR, warm)
    assert said(ASK, tmp_path / "warm") == "False\n"
    before = sorted(p.relative_to(warm) for p in warm.rglob("*.nbc"))
    assert before
    said(WARM, tmp_path / "warm")
    assert sorted(p.relative_to(warm) for p in warm.rglob("*.nbc")) == before


def test_each_state_of_the_code_has_its_folder(tmp_path, monkeypatch):
    """Guards against kernels of yesterday's code: numba does not see changes in what a kernel calls."""
    for name in ("a.py", "b.py"):
        (tmp_path / name).write_text("")
    monkeypatch.setattr(jit_module, "__file__", str(tmp_path / "a.py"))
    before = jit_module._folder()
    assert jit_module._folder() == before
    (tmp_path / "b.py").write_text("changed = True")
    assert jit_module._folder() != before


def test_told_only_when_cold(monkeypatch):
    """Guards the line that a maker sees while the search is compiled."""

    told, warmed = [], []
    monkeypatch.setattr(compiling, "compile_kernels", lambda: warmed.append(1))
    for cold in (False, True):
        monkeypatch.setattr(compiling, "needs_compiling", lambda cold=cold: cold)
        run._compiled(Clock(seconds=60.0), lambda what, done, of: told.append(what))
    assert len(warmed) == 1
    assert len(told) == 1
    assert "compiling" in told[0]


def test_home_that_cannot_be_written(tmp_path, jit):
    """The processes of a run share a folder of its own, private, told of, and gone afterwards."""
    if not jit:
        return
    home = tmp_path / "home"
    home.write_text("a file: no folder can be made in it")
    kept = {k: v for k, v in os.environ.items() if k not in ("NUMBA_CACHE_DIR", "XDG_CACHE_HOME")}
    env = {**kept, "HOME": str(home), "TMPDIR": str(tmp_path)}
    run_ = [sys.executable, "-c", NO_HOME]
    told = subprocess.run(run_, env=env, capture_output=True, text=True, check=True).stdout.splitlines()
    folder, mode, child, gone, asked = told
    assert folder.startswith(str(tmp_path / "nestyield-kernels-"))
    assert mode == "0o700"
    assert child == folder
    assert gone == "True"
    assert asked == str(home / ".cache" / "nestyield" / "kernels")
    assert [p.name for p in tmp_path.iterdir()] == ["home"]


NO_HOME = """
import subprocess, sys
from nestyield.nesting.kernel_folder import goes_with_run, kernel_folder, user_folder
folder = kernel_folder()
print(folder)
print(oct(folder.stat().st_mode & 0o777), flush=True)
child = "from nestyield.nesting.kernel_folder import kernel_folder; print(kernel_folder())"
subprocess.run([sys.executable, "-c", child], check=True)
print(goes_with_run())
print(user_folder())
"""


def test_two_starts_at_once(tmp_path, jit):
    """Of two processes that start together one compiles, and the other has nothing left to compile."""
    if not jit:
        return
    env = {**os.environ, "NUMBA_CACHE_DIR": str(tmp_path)}
    both = [
        subprocess.Popen([sys.executable, "-c", LOCKED.format(k)], env=env, stdout=subprocess.PIPE, text=True)
        for k in "ab"
    ]
    lines = [line for p in both for line in p.communicate()[0].splitlines()]
    assert all(p.returncode == 0 for p in both)
    log = (tmp_path / "log").read_text()
    assert sorted(lines) == ["done a", "done b"]
    assert log in ("a in\na out\nb in\nb out\n", "b in\nb out\na in\na out\n")


LOCKED = """
import pathlib, time
from nestyield.nesting.kernel_folder import kernel_folder, one_at_a_time
log = kernel_folder() / "log"
with one_at_a_time():
    with log.open("a") as f: f.write("{0} in\\n")
    time.sleep(0.2)
    with log.open("a") as f: f.write("{0} out\\n")
print("done {0}")
"""
