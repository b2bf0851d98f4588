"""Signals that are taken as Ctrl-C."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

SCRIPT = """
import os, signal, sys
from nestyield.ctrl_c import take_as_ctrl_c
take_as_ctrl_c()
try:
    import slow_module
    print("imported", slow_module.DONE, flush=True)
    import time
    time.sleep(20)
except KeyboardInterrupt:
    print("stopped", "slow_module" in sys.modules, flush=True)
    sys.exit(2)
"""
MODULE = """
import os, signal
os.kill(os.getpid(), signal.SIGNAL)
sum(range(1000))  # where the handler runs
DONE = eval("True")
"""


def as_from_a_terminal() -> None:
    """Heed the signals that a suite run by ``nohup`` or in the background ignores."""
    signal.signal(signal.SIGINT, signal.default_int_handler)
    signal.signal(signal.SIGHUP, signal.SIG_DFL)


@pytest.mark.skipif(sys.platform != "linux", reason="needs signals")
@pytest.mark.parametrize("name", ["SIGINT", "SIGTERM", "SIGHUP"])
def test_an_import_is_finished_before_a_run_stops(tmp_path: Path, name: str) -> None:
    """A signal inside an import is felt after it: the module is there, the run ends by its own exit code."""
    (tmp_path / "slow_module.py").write_text(MODULE.replace("SIGNAL", name))
    env = {**os.environ, "PYTHONPATH": os.pathsep.join([str(tmp_path), *sys.path])}
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT],
        capture_output=True,
        text=True,
        env=env,
        timeout=60,
        preexec_fn=as_from_a_terminal,
    )
    assert done.returncode == 2, done.stderr
    assert done.stdout.splitlines()[-1] == "stopped True"
    assert done.stderr == ""


def test_a_program_that_runs_inside_an_import_can_be_stopped(monkeypatch: pytest.MonkeyPatch) -> None:
    """Felt at once outside an import; inside one the signal is sent again, and felt after so many times."""
    from nestyield import ctrl_c

    with pytest.raises(KeyboardInterrupt):
        ctrl_c.as_ctrl_c(signal.SIGINT, None)
    sent: list[tuple[int, int]] = []
    monkeypatch.setattr(ctrl_c.os, "kill", lambda pid, number: sent.append((pid, number)))
    monkeypatch.setattr(ctrl_c, "_importing", lambda frame: True)
    monkeypatch.setattr(ctrl_c, "AGAIN_S", 0.0)
    monkeypatch.setattr(ctrl_c, "MOST_AGAIN", 3)
    for _ in range(3):
        ctrl_c.as_ctrl_c(signal.SIGTERM, None)
    with pytest.raises(KeyboardInterrupt):
        ctrl_c.as_ctrl_c(signal.SIGTERM, None)
