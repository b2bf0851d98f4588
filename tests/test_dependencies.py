"""What the package imports, and what it declares."""

from __future__ import annotations

import ast
import functools
import re
import sys
import tomllib
from importlib.metadata import packages_distributions
from pathlib import Path

ROOT = Path(__file__).parents[1]


@functools.cache
def imported() -> dict[str, str]:
    """Return every top-level module that the package imports from outside, with one file that does."""
    found: dict[str, str] = {}
    for path in sorted((ROOT / "nestyield").rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = []
            if isinstance(node, ast.Import):
                names = [a.name for a in node.names]
            elif isinstance(node, ast.ImportFrom) and node.level == 0 and node.module:
                names = [node.module]
            for name in names:
                top = name.partition(".")[0]
                if top != "nestyield" and top not in sys.stdlib_module_names:
                    found[top] = path.relative_to(ROOT).as_posix()
    return found


def test_every_import_is_declared() -> None:
    """The package runs where only its declared dependencies are installed, not those of its tests."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    # of the extras only those that are imported inside functions which tell how to install them
    extras = project["optional-dependencies"]
    wanted = [*project["dependencies"], *extras["plot"], *extras["photo"], *extras["sql"], *extras["cluster"]]
    declared = {re.split(r"[^\w.-]", d)[0].lower().replace("_", "-") for d in wanted}
    owners = packages_distributions()
    for module, file in imported().items():
        names = {d.lower().replace("_", "-") for d in owners.get(module, [module])}
        assert names & declared, f"{file} imports {module}, which is not among the dependencies"


def test_every_dependency_is_used() -> None:
    """Nothing is declared that the package does not import."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    owners = packages_distributions()
    used = {d.lower().replace("_", "-") for module in imported() for d in owners.get(module, [module])}
    for name in project["dependencies"]:
        assert re.split(r"[^\w.-]", name)[0].lower().replace("_", "-") in used, name
