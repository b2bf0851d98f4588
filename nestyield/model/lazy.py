"""Names that a package hands on, each imported when first asked for: commands start without the rest."""

from __future__ import annotations

import ast
import importlib
import sys
from collections.abc import Callable
from pathlib import Path


def lazily(package: str, source: str) -> Callable[[str], object]:
    """Return the ``__getattr__`` of a package that hands on what it imports under ``if TYPE_CHECKING``.

    Parameters
    ----------
    package : str
        Its ``__name__``.
    source : str
        Its ``__file__``, in which the imports stand once, for this and for type checkers.
    """
    homes: dict[str, str] = {}

    def find(name: str) -> object:
        if name.startswith("__"):
            raise AttributeError(f"module {package!r} has no attribute {name!r}")
        if not homes:
            for block in ast.parse(Path(source).read_text("utf-8")).body:
                for line in block.body if isinstance(block, ast.If) else ():
                    if isinstance(line, ast.ImportFrom) and line.module:
                        homes.update((alias.asname or alias.name, line.module) for alias in line.names)
        if name not in homes:
            raise AttributeError(f"module {package!r} has no attribute {name!r}")
        found: object = getattr(importlib.import_module(homes[name]), name)
        setattr(sys.modules[package], name, found)
        return found

    return find
