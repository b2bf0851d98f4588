"""Where compiled kernels are kept, and how they are made.

Kernels are compiled on first use and kept in the user's cache directory, so that installs
that cannot be written to work too. ``NUMBA_CACHE_DIR`` wins when it is set. Each state of the
code has a folder of its own: a kernel kept on disk does not notice a change in a kernel that it calls.
Several processes may start at once: each compiles for itself and renames its finished
file into place, which is what numba's own index does.
"""

from __future__ import annotations

import hashlib
import os
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar, cast

import numba


def cache_dir() -> Path:
    """Return the directory for compiled kernels, by the platform's custom; it may not exist yet."""
    override = os.environ.get("NUMBA_CACHE_DIR")
    base = os.environ.get("XDG_CACHE_HOME")
    if override:
        kept = Path(override)
    elif sys.platform == "darwin":
        kept = Path.home() / "Library" / "Caches" / "nestyield" / "kernels"
    else:
        kept = (Path(base) if base else Path.home() / ".cache") / "nestyield" / "kernels"
    return kept / _state()


def _state() -> str:
    """Name the state of the code that kernels are made from, and of what makes them."""
    told = hashlib.sha256(f"{sys.version_info[:2]} {numba.__version__}".encode())
    for path in sorted(Path(__file__).parent.glob("*.py")):
        told.update(path.read_bytes())
    return told.hexdigest()[:16]


def needs_compiling() -> bool:
    """Tell whether the kernels of the search have to be compiled, which takes some ten seconds."""
    return not _CACHE or next(_DIR.rglob("overlap_search.guided_local_search*.nbi"), None) is None


def _writable(path: Path) -> bool:
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError:
        return False
    return os.access(path, os.W_OK)


_DIR = cache_dir()
_CACHE = _writable(_DIR)
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
