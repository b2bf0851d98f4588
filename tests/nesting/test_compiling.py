"""The first run: kernels are compiled once, told of, and kept for this state of the code."""

import os
import subprocess
import sys

from nestyield.nesting import compiling, jit
from nestyield.planning import run
from nestyield.planning.clock import Clock

FIRST_RUN = """
from nestyield.nesting.compiling import compile_kernels, needs_compiling
before = needs_compiling()
compile_kernels()
print(before, needs_compiling())
"""


def test_cold_until_warmed(tmp_path, jit):
    """Guards the question whether there is something to wait for; a start afterwards is warm."""
    if not jit:
        return
    env = {**os.environ, "NUMBA_CACHE_DIR": str(tmp_path)}
    run_ = [sys.executable, "-c", FIRST_RUN]
    assert subprocess.run(run_, env=env, capture_output=True, text=True, check=True).stdout == "True False\n"
    assert subprocess.run(run_, env=env, capture_output=True, text=True, check=True).stdout == "False False\n"


def test_each_state_of_the_code_has_its_folder(tmp_path, monkeypatch):
    """Guards against kernels of yesterday's code: numba does not see changes in what a kernel calls."""
    for name in ("a.py", "b.py"):
        (tmp_path / name).write_text("")
    monkeypatch.setattr(jit, "__file__", str(tmp_path / "a.py"))
    before = jit.cache_dir()
    assert jit.cache_dir() == before
    (tmp_path / "b.py").write_text("changed = True")
    assert jit.cache_dir() != before


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
