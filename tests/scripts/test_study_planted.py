"""Planted layouts at odd angles are found by `nestyield plan`, and the study's judge sees what is wrong."""

from __future__ import annotations

import json
import os
from pathlib import Path

import numpy as np
import pytest
import study_planted

from nestyield.cli import main


@pytest.mark.skipif(
    os.environ.get("NUMBA_DISABLE_JIT", "0") not in ("", "0"), reason="needs compiled kernels"
)
@pytest.mark.parametrize(
    ("parts", "case_no"),
    [(2, 5), *(pytest.param(n, k, marks=pytest.mark.study) for n, k in ((2, 0), (3, 1), (3, 2)))],
)
def test_planted_parts_are_found(parts: int, case_no: int, tmp_path: Path) -> None:
    """Two or three parts planted within their grain tolerance with 0.5 mm of play all lie on the piece."""
    case = study_planted.plant(np.random.default_rng([1, parts, 5, case_no]), parts, 0.5)
    study_planted.write(case, tmp_path / "shop", "effort = 3\nworkers = 1")
    assert main(["plan", str(tmp_path / "shop"), "--out", str(tmp_path / "out")]) in (0, 1)
    plan = json.loads((tmp_path / "out" / "plan.json").read_text())
    assert study_planted.judge(case, plan) == (parts, [])
    # the judge is no rubber stamp: a part moved by 2 mm breaks a rule with 0.5 mm of play
    for way in (("x_um", 2000), ("x_um", -2000), ("y_um", 2000), ("y_um", -2000)):
        moved = json.loads(json.dumps(plan))
        moved["layouts"][0]["placements"][0][way[0]] += way[1]
        if study_planted.judge(case, moved)[1]:
            break
    else:
        pytest.fail("moved by 2 mm each way, and nothing was found wrong")
