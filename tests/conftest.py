"""Which tests are studies: ``scripts/test`` leaves them out, ``scripts/test --all`` and ``.ci/run`` run them."""

from __future__ import annotations

import os
from collections.abc import Iterable

import pytest

# No test uses an answer of another one, or of the user.
os.environ["NESTYIELD_ANSWERS"] = ""

#: Of a test that goes over seeds the first so many are run every time; a test that says which does so by itself.
SEEDS = 1


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark the further seeds of each test over seeds as studies, beside what is marked by hand."""
    for cases in by_function(items).values():
        first = list(dict.fromkeys(seed for _, seed in cases))[:SEEDS]
        for item, seed in cases:
            if seed not in first:
                item.add_marker(pytest.mark.study)


def by_function(items: Iterable[pytest.Item]) -> dict[str, list[tuple[pytest.Item, object]]]:
    """Return the items that have a seed, with it, by the test that they are cases of."""
    found: dict[str, list[tuple[pytest.Item, object]]] = {}
    for item in items:
        params = getattr(getattr(item, "callspec", None), "params", {})
        if "seed" in params:
            found.setdefault(item.nodeid.partition("[")[0], []).append((item, params["seed"]))
    return found
