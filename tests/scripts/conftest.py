"""Shared by the tests of the benchmarks."""

import os

import pytest


@pytest.fixture
def jit() -> bool:
    """Whether kernels are compiled; NUMBA_DISABLE_JIT=1 runs their plain twins."""
    return os.environ.get("NUMBA_DISABLE_JIT", "0") in ("", "0")
