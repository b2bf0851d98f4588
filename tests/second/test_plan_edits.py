"""The fast look of `scripts/plan_edits.py` says what the whole audit says."""

from __future__ import annotations

import copy
import json
from pathlib import Path

import numpy as np
from plan_edits import Watch, sealed
from study_hostile import Planted
from study_shops import run

from nestyield.audit.check import audit
from nestyield.planfile import read


def test_the_fast_look_agrees_with_the_audit(tmp_path: Path) -> None:
    """A sound plan has no finding in either; a part moved, a count and a sum changed have the same codes in both."""
    shop, out = tmp_path / "shop", tmp_path / "plan"
    shop.mkdir()
    Planted(shop, np.random.default_rng([3, 5])).write()
    assert run("plan", shop, "--out", out, "--workers", 1)[0] in (0, 1)
    raw = json.loads((out / "plan.json").read_text(encoding="utf-8"))
    watch = Watch(raw)
    assert watch.verify(copy.deepcopy(raw)) == []
    assert watch.second(copy.deepcopy(raw)) == []
    moved, short, feet = (copy.deepcopy(raw) for _ in range(3))
    moved["layouts"][0]["placements"][0]["x_um"] += 5000
    short["orders"][0]["placed"] -= 1
    feet["layouts"][0]["board_feet"] *= 2
    for bad in (moved, short, feet):
        whole = {f.code for f in audit(read(sealed(bad))[0]) if f.severity != "note"}
        assert set(watch.verify(bad)) == whole != set()
        assert watch.second(bad) != []
