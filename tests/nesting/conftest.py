"""Shared by the tests of the search."""

import os

import pytest


@pytest.fixture
def jit() -> bool:
    """Whether kernels are compiled; NUMBA_DISABLE_JIT=1 runs their plain twins."""
    return os.environ.get("NUMBA_DISABLE_JIT", "0") in ("", "0")


@pytest.fixture
def needs_jit(jit: bool) -> None:
    """Skip where kernels are not compiled: such searches take minutes then."""
    if not jit:
        pytest.skip("needs compiled kernels")
