"""nestyield: which pieces of the rack make which part, and how the bed takes them.

The plain functions of the first door are re-exported here, lazily, so that
``import nestyield`` stays fast and imports no compiler.

Lengths are millimetres (``*_mm``) or whole micrometres (``*_um``); angles are
degrees, counter-clockwise (``*_deg``).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

__version__ = "0.1.0"

__all__ = ["__version__", "fit", "load_shop", "plan", "verify"]

if TYPE_CHECKING:
    from nestyield.api import fit, load_shop, plan, verify


def __getattr__(name: str) -> object:
    if name in {"fit", "load_shop", "plan", "verify"}:
        from nestyield import api

        return getattr(api, name)
    raise AttributeError(f"module 'nestyield' has no attribute {name!r}")
