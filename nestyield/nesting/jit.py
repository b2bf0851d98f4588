"""How kernels are compiled: on first use, kept in the folder of ``kernel_folder``."""

from __future__ import annotations

import hashlib
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar, cast

import numba

from nestyield.nesting.kernel_folder import kernel_folder


def _state() -> str:
    """Name the state of the code that kernels are made from, and of what makes them."""
    told = hashlib.sha256(f"{sys.version_info[:2]} {numba.__version__}".encode())
    for path in sorted(Path(__file__).parent.glob("*.py")):
        told.update(path.read_bytes())
    return told.hexdigest()[:16]


def needs_compiling() -> bool:
    """Tell whether the kernels of the search have to be compiled, which takes some ten seconds."""
    return _DIR is None or next(_DIR.rglob("overlap_search.guided_local_search*.nbi"), None) is None


def _folder() -> Path | None:
    base = kernel_folder()
    return None if base is None else base / _state()


_DIR = _folder()
_CACHE = _DIR is not None
if _CACHE:
    numba.config.CACHE_DIR = str(_DIR)  # type: ignore[attr-defined]

K = TypeVar("K", bound=Callable[..., Any])


_OPTIONS: dict[str, Any] = {"nogil": True, "cache": _CACHE, "error_model": "numpy"}
_njit: Any = numba.njit


def kernel(function: K) -> K:
    """Compile a function on arrays: no fast-math, no interpreter lock, kept on disk."""
    return cast(K, _njit(**_OPTIONS)(function))


def inlined(function: K) -> K:
    """Compile a small function into the kernels that call it; it may not allocate."""
    return cast(K, _njit(**_OPTIONS, forceinline=True, _nrt=False)(function))


def helper(function: K) -> K:
    """Compile a larger function that kernels call; it may not allocate, so that calls count no references."""
    return cast(K, _njit(**_OPTIONS, _nrt=False)(function))
