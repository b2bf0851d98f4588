"""Plans of random shops, checked by code that shares nothing with the project."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest
from check_again import KINDS, case

#: Cases that every run has; the others are studies.
EVERY_TIME = (0, 2, 4, 5, 8)
#: Thirty; 7 takes minutes and is left to ``scripts/check_again.py``, 31 is of its kind.
CASES = [*(k for k in range(30) if k != 7), 31]


@pytest.mark.parametrize(
    "k", [pytest.param(k, marks=[pytest.mark.study] if k not in EVERY_TIME else []) for k in CASES]
)
@pytest.mark.outside(source="a checker of its own, from schema, README and the shop's files", mark="D")
def test_random_shop(k: int, tmp_path: Path) -> None:
    """The second checker finds nothing wrong with the plan of a random shop."""
    tally: Counter[str] = Counter()
    found = case(tmp_path, list(KINDS)[k % 3], [190, k], tally)
    assert found == []
