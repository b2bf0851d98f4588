"""Malformed shops give one clear error each."""

from __future__ import annotations

from pathlib import Path
from types import ModuleType

import pytest

from nestyield.intake.problems import CODES
from nestyield.intake.shop import read_shop

#: Mistakes that honestly break two rules: a defect's piece is gone with its name.
CONSEQUENCES = {"shop file empty", "piece twice", "piece without a name"}


def test_good_shop_has_no_findings(good_shop: Path) -> None:
    """The shop that every malformed one is made from is read without a word."""
    shop, findings = read_shop(good_shop)
    assert [str(f) for f in findings] == []
    assert shop is not None
    assert len(shop.pieces) == 3


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """One test a case of the corpus."""
    if "case_name" in metafunc.fixturenames:
        import importlib.util

        spec = importlib.util.spec_from_file_location("cases", Path(__file__).with_name("malformed.py"))
        assert spec is not None
        assert spec.loader is not None
        module = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(module)
        metafunc.parametrize("case_name", sorted(module.CASES))


def test_each_gives_its_error(case_name: str, malformed: ModuleType, tmp_path: Path) -> None:
    """One thing wrong: one kind of error, which names the place and the value."""
    case = malformed.CASES[case_name]
    folder = tmp_path / "shop"
    case.make(folder)
    before = sorted(p.name for p in folder.iterdir())
    shop, findings = read_shop(folder)
    errors = [f for f in findings if f.severity == "error"]
    told = "\n".join(str(f) for f in errors)
    assert shop is None
    assert case.code in {f.code for f in errors}, told
    for name in case.names:
        assert name in told
    assert all(f.code in CODES for f in findings)
    assert len(errors) == 1 or case_name in CONSEQUENCES, told
    assert all("\n" not in str(f) and len(str(f)) < 600 for f in findings)
    assert str(tmp_path) not in "\n".join(str(f) for f in findings)
    assert sorted(p.name for p in folder.iterdir()) == before
