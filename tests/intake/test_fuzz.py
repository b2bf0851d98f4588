"""Whole shops spoiled at random."""

from __future__ import annotations

from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from nestyield.intake.shop import read_shop

TOKENS = [
    b'"',
    b"'",
    b"[",
    b"]",
    b"{",
    b"=",
    b",",
    b";",
    b"#",
    b"\n",
    b"-1",
    b"1e308",
    b"nan",
    b"inf",
    b"9" * 25,
]
TOKENS += [
    b"\xff",
    b"\x00",
    b"true",
    b"POLYGON ((",
    b"))",
    b" EMPTY",
    b"1/0",
    b"../",
    b"[[order]]\n",
    b"bed=1\n",
]


@pytest.mark.parametrize(
    "name", ["rack.csv", *(pytest.param(n, marks=pytest.mark.study) for n in ("shop.toml", "defects.csv"))]
)
def test_no_text_makes_a_traceback(name: str, good_shop: Path, malformed: ModuleType) -> None:
    """A hundred random changes to each text file: read or refused, in one line a finding."""
    good = (good_shop / name).read_bytes()
    rng = np.random.default_rng(len(name))
    for _ in range(100):
        data = bytearray(good)
        for _ in range(int(rng.integers(1, 5))):
            at = int(rng.integers(0, len(data)))
            kind = int(rng.integers(0, 4))
            if kind == 0:
                del data[at : at + int(rng.integers(1, 30))]
            elif kind == 1:
                data[at:at] = TOKENS[int(rng.integers(0, len(TOKENS)))]
            elif kind == 2:
                data[at : at + 4] = TOKENS[int(rng.integers(0, len(TOKENS)))]
            else:
                data[at] = int(rng.integers(0, 256))
        (good_shop / name).write_bytes(bytes(data))
        shop, findings = read_shop(good_shop)
        assert (shop is None) == any(f.severity == "error" for f in findings)
        assert all("\n" not in str(f) for f in findings)
