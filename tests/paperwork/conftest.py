"""Plans for the paper to be drawn from, and what it looks like written out."""

import importlib.util
from pathlib import Path

import pytest

_SPEC = importlib.util.spec_from_file_location("paperwork_build", Path(__file__).with_name("build.py"))
_BUILD = importlib.util.module_from_spec(_SPEC)
_SPEC.loader.exec_module(_BUILD)

NASTY = (
    '<script>alert("x")</script>',
    '=HYPERLINK("http://x","y")',
    "+1+1",
    "-2+3",
    "@SUM(A1)",
    "\t=1",
    "שלום עולם",
    "مرحبا",
    "🪵 maple 🎸",
    "a\x00b\x1bc\nd",
    "rtl \u202e over",
    "quo\"te'd & <tag>",
    "%%c \\U+0041 ^J {\\fArial;x}",
    "../../etc/passwd",
    "CON",
    "{{ 7 * 7 }}",
    "\ud800 lone",
    "x" * 300,
)


@pytest.fixture(scope="session")
def build():
    """The module that makes plans in code."""
    return _BUILD


@pytest.fixture(scope="session")
def plan():
    """A plan of two blanks in millimeters."""
    return _BUILD.plan()


@pytest.fixture(scope="session")
def inch_plan():
    """The same plan for a shop that works in inches."""
    return _BUILD.plan(units="in")


@pytest.fixture(scope="session")
def rendered(plan):
    """Every file of the plan in millimeters."""
    from nestyield.paperwork.write import render_all

    return render_all(plan)


@pytest.fixture(scope="session")
def inch_rendered(inch_plan):
    """Every file of the plan in inches."""
    from nestyield.paperwork.write import render_all

    return render_all(inch_plan)


#: One of each sort; the others are more of the same.
FIRST = (0, 1, 7, 9, 10, 12, 16)


@pytest.fixture(
    params=[
        pytest.param(name, id=f"name{k}", marks=[] if k in FIRST else pytest.mark.study)
        for k, name in enumerate(NASTY)
    ]
)
def nasty(request):
    """A name that could do harm."""
    return request.param


@pytest.fixture(scope="session")
def glued():
    """A plan whose last blank is glued up from three pieces."""
    return _BUILD.glued_plan()
