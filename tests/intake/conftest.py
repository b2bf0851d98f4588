"""A small good shop, and readers for single drawings."""

from __future__ import annotations

import importlib.util
from collections.abc import Callable
from pathlib import Path
from types import ModuleType
from typing import Any

import ezdxf
import pytest
from ezdxf.document import Drawing as DxfDocument

from nestyield.intake.drawing import read_drawing
from nestyield.intake.dxf_units import UnitRule
from nestyield.intake.layers import Drawing
from nestyield.intake.outlines import Closed, closed_outlines
from nestyield.intake.problems import Problems
from nestyield.model import Finding


@pytest.fixture(scope="session")
def malformed() -> ModuleType:
    """The corpus of malformed shops, loaded by path."""
    path = Path(__file__).with_name("malformed.py")
    spec = importlib.util.spec_from_file_location("intake_malformed", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture
def good_shop(tmp_path: Path, malformed: ModuleType) -> Path:
    """A minimal shop without any finding."""
    folder = tmp_path / "shop"
    malformed.make_good_shop(folder)
    return folder


class Read:
    """What was read of one drawing."""

    def __init__(self, drawing: Drawing | None, closed: dict[str, list[Closed] | None], problems: Problems):
        self.drawing = drawing
        self.closed = closed
        self.findings: list[Finding] = problems.findings
        self.codes = [f.code for f in problems.findings]

    def areas(self, layer: str = "BODY") -> list[float]:
        """Areas of the outlines of a layer, without sign."""
        found = self.closed[layer]
        assert found is not None, [str(f) for f in self.findings]
        return [abs(c.outline.signed_area_mm2) for c in found]

    def one(self, code: str) -> Finding:
        """The one finding of a code."""
        found = [f for f in self.findings if f.code == code]
        assert len(found) == 1, [str(f) for f in self.findings]
        return found[0]


def read_file(path: Path, rule: UnitRule | None = None, chaining: float = 0.1) -> Read:
    """Read every layer of a DXF file."""
    problems = Problems()
    drawing = read_drawing(path, path.read_bytes(), path.name, rule or UnitRule(), "part test", problems)
    closed = {}
    if drawing is not None:
        for layer in drawing.layers.values():
            closed[layer.name] = closed_outlines(drawing, layer, chaining, problems)
    return Read(drawing, closed, problems)


@pytest.fixture
def read(tmp_path: Path) -> Callable[..., Read]:
    """Save a document and read every layer of it; or read a file."""

    def run(doc: DxfDocument | Path, *, binary: bool = False, **kw: Any) -> Read:
        if isinstance(doc, Path):
            return read_file(doc, **kw)
        path = tmp_path / "test.dxf"
        doc.saveas(path, fmt="bin" if binary else "asc")
        return read_file(path, **kw)

    return run


@pytest.fixture
def new() -> Callable[..., tuple[DxfDocument, Any]]:
    """Make a document in millimeters and return it with a model space that draws on layer BODY."""

    def make(version: str = "R2010", units: int = 4) -> tuple[DxfDocument, Any]:
        doc = ezdxf.new(version, units=units)
        return doc, doc.modelspace()

    return make
