"""nestyield: which pieces of the rack make which part, and how the bed takes them.

The plain functions of the first door and the errors are re-exported here, lazily, so that
``import nestyield`` stays fast and imports no compiler.

Lengths are millimeters (``*_mm``) or whole micrometers (``*_um``); angles are
degrees, counter-clockwise (``*_deg``).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from nestyield.version import VERSION as __version__

__all__ = [
    "AuditError",
    "InputError",
    "ModelError",
    "NestyieldError",
    "__version__",
    "fit",
    "load_shop",
    "plan",
    "verify",
    "write_plan",
]

_DOOR = frozenset(["fit", "load_shop", "plan", "verify", "write_plan"])

if TYPE_CHECKING:
    from nestyield.api import fit, load_shop, plan, verify, write_plan
    from nestyield.model import AuditError, InputError, ModelError, NestyieldError


def __getattr__(name: str) -> object:
    if name in _DOOR:
        from nestyield import api

        return getattr(api, name)
    if name in __all__:
        from nestyield import model

        return getattr(model, name)
    raise AttributeError(f"module 'nestyield' has no attribute {name!r}")
