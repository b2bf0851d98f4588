"""Packages that hand on names import each of them when it is first asked for."""

import subprocess
import sys
from pathlib import Path

import pytest

import nestyield.model
import nestyield.model.facts

SHOP = str(Path(__file__).parents[2] / "fixtures" / "demo-shop")


@pytest.mark.parametrize("package", [nestyield.model, nestyield.model.facts])
def test_every_name_that_a_package_hands_on_is_there(package):
    """A name of ``__all__`` that the package does not import would fail only when somebody asks for it."""
    for name in package.__all__:
        assert getattr(package, name) is not None
    with pytest.raises(AttributeError, match="Nothing"):
        package.Nothing  # noqa: B018


def test_help_imports_no_library_of_numbers():
    """Help is there at once: it loads neither arrays nor geometry, drawings, solver or compiler, nor the model's types."""
    heavy = ["numpy", "shapely", "scipy", "numba", "ortools", "ezdxf", "pydantic", "rich"]
    heavy += ["nestyield.model.plan", "nestyield.model.part", "nestyield.paperwork", "nestyield.intake.shop"]
    code = (
        "import sys, nestyield.cli as c; c.main(['--help']); "
        f"print('loaded', sorted(set({heavy}) & set(sys.modules)))"
    )
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert told.splitlines()[-1] == "loaded []"


def test_check_imports_no_search():
    """Reading a shop needs neither the solver nor the compiler."""
    code = (
        f"import sys, nestyield.api as a; a.check_shop({SHOP!r}); "
        "print(sorted({'scipy', 'numba', 'ortools', 'reportlab', 'jinja2'} & set(sys.modules)))"
    )
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert told.strip() == "[]"
