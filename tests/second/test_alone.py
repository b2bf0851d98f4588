"""The second checker shares nothing with the project but the words of its files."""

from __future__ import annotations

import ast
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).parent
#: What it may import beside the standard library.
LIBRARIES = {"numpy", "shapely", "ezdxf"}


def imported(path: Path) -> set[str]:
    """Return top names of what a module imports; ``.`` for its neighbors."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {name.name.partition(".")[0] for name in node.names}
        elif isinstance(node, ast.ImportFrom):
            found.add("." * node.level or (node.module or "").partition(".")[0])
        elif isinstance(node, ast.Call) and getattr(node.func, "attr", getattr(node.func, "id", "")) in (
            "import_module",
            "__import__",
            "exec",
            "eval",
        ):
            found.add("by name")
    return found


@pytest.mark.parametrize("path", [*sorted(HERE.glob("[!t]*.py")), HERE / "told.py"], ids=lambda p: p.name)
def test_no_code_of_the_project_is_imported(path: Path) -> None:
    """No module of the checker imports anything but its neighbors, shapely, numpy, ezdxf and the standard library."""
    assert imported(path) <= {".", *LIBRARIES, *sys.stdlib_module_names}


def test_the_look_at_imports_sees_them(tmp_path: Path) -> None:
    """An import inside a function, or one by name, is seen."""
    hidden = tmp_path / "hidden.py"
    hidden.write_text("def f():\n    from nestyield.audit import check\n    __import__('x')\n")
    assert imported(hidden) == {"nestyield", "by name"}
