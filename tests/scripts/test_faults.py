"""The table of deliberate faults keeps up with the code."""

import tomllib
from pathlib import Path

ROOT = Path(__file__).parents[2]


def test_every_fault_can_be_set():
    """The text that a fault changes is in its file, and the tests that are to catch it are there."""
    faults = tomllib.loads((ROOT / "scripts" / "faults.toml").read_text(encoding="utf-8"))["fault"]
    assert len(faults) > 60
    gone = [f["what"] for f in faults if f["old"] not in (ROOT / "nestyield" / f["file"]).read_text()]
    assert gone == []
    lost = [(f["what"], t) for f in faults for t in f["tests"] if not (ROOT / "tests" / t).exists()]
    assert lost == []
