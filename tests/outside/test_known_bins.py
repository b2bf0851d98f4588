"""Layouts of known optimum from open data: every bin is full, so the audit must accept each and no shift."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from nestyield.model import Outline

BINS = Path(__file__).parents[3] / "shared" / "bench" / "bins"
ESICUP = (
    "ESICUP Cutting & Packing Datasets (CC0), irregular bins with known optimum; Terashima-Marin et al. 2010"
)
NAMES = ("TA001", "TB001C10", "TC001", "TF001C5", "TM001", "TN001", "TS001C5", "TX001C8C5", "TZ001C20")


def read(name):
    path = BINS / f"{name}.json"
    if not path.exists():
        pytest.skip("the open benchmark data is not beside the project (../shared/bench/bins)")
    return json.loads(path.read_text())


def lengths(polygon):
    """Return the sides of a polygon, sorted: the same for every turned or mirrored copy."""
    pairs = zip(polygon, polygon[1:] + polygon[:1], strict=True)
    return sorted(round(((a - c) ** 2 + (b - d) ** 2) ** 0.5, 6) for (a, b), (c, d) in pairs)


@pytest.mark.outside(source=ESICUP, mark="S")
@pytest.mark.parametrize("name", [*NAMES[:4], *(pytest.param(n, marks=pytest.mark.study) for n in NAMES[4:])])
def test_known_layout_is_accepted(jigsaw, name):
    """Each bin of the published layout holds the instance's pieces, is full, and passes the audit."""
    data = read(name)
    width, height = data["bin_width"], data["bin_height"]
    bins = data["optimum_placement"]
    assert len(bins) == data["known_optimum_bins"]
    wanted = sorted(lengths(p["polygon"]) for p in data["parts"] for _ in range(p["demand"]))
    assert sorted(lengths(p) for full in bins for p in full) == wanted
    for full in bins[:4]:
        laid = [jigsaw.lay_polygon(f"p{i}", p, 17.0 * i, i % 3 == 0) for i, p in enumerate(full)]
        plan = jigsaw.make_plan(Outline.rectangle(0, 0, width, height), laid)
        assert jigsaw.errors(plan) == []
        assert plan.layouts[0].part_area_mm2 == pytest.approx(width * height)
        found = jigsaw.errors(jigsaw.shifted(plan, len(full) // 2, 50, 30))
        assert {f.code for f in found} & {"A204", "A206"}
