"""Drawings of a shop folder, read once each."""

from __future__ import annotations

from pathlib import Path

import ezdxf
import pytest

from nestyield.intake.drawings import Drawings
from nestyield.intake.files import ShopFiles
from nestyield.intake.problems import Problems


@pytest.fixture
def drawings(tmp_path: Path) -> Drawings:
    doc = ezdxf.new(units=0)
    doc.modelspace().add_circle((0, 0), 5, dxfattribs={"layer": "A"})
    doc.modelspace().add_line((20, 0), (30, 0), dxfattribs={"layer": "B"})
    doc.saveas(tmp_path / "a.dxf")
    return Drawings(files=ShopFiles(folder=tmp_path, problems=Problems()), chaining_mm=0.1)


def get(drawings: Drawings, stated: str | None):  # type: ignore[no-untyped-def]
    return drawings.get("a.dxf", stated, False, "shop.toml", "part.x", "part x", "D001")


def test_each_drawing_is_read_once(drawings: Drawings) -> None:
    """The same file in the same unit is the same object, in another unit another."""
    assert get(drawings, "mm") is get(drawings, "mm")
    assert get(drawings, "mm") is not get(drawings, "in")


def test_a_problem_is_told_once(drawings: Drawings) -> None:
    """A drawing without unit, and an open outline, are told once however often they are used."""
    assert get(drawings, None) is None
    assert get(drawings, None) is None
    drawing = get(drawings, "mm")
    for _ in range(2):
        assert drawings.closed(drawing, drawing.layers["b"]) is None
        assert len(drawings.closed(drawing, drawing.layers["a"]) or []) == 1
    assert [f.code for f in drawings.problems.findings] == ["D003", "D007"]
