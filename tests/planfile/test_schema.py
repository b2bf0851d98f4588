"""The published schema says what the file holds, in words and in rules."""

from __future__ import annotations

import json
import math

import jsonschema
import numpy as np
import pytest

from nestyield.model import Plan
from nestyield.planfile import dumps
from nestyield.planfile.schema import parameters, published, schema_text


def test_published_schema_is_current() -> None:
    """The schema in the repository is the one that the model gives (python -m nestyield.planfile.schema)."""
    assert published() == schema_text()


@pytest.mark.outside(source="JSON Schema draft 2020-12, by the jsonschema library", mark="S")
def test_plan_meets_schema(plan: Plan) -> None:
    """A written plan is valid by an independent validator; one with a stray or missing field is not."""
    schema = json.loads(published())
    jsonschema.Draft202012Validator.check_schema(schema)
    validator = jsonschema.Draft202012Validator(schema)
    data = json.loads(dumps(plan))
    assert list(validator.iter_errors(data)) == []
    data["layouts"][0]["placements"][0]["color"] = "red"
    del data["shop"]["pieces"][0]["thickness_mm"]
    assert len(list(validator.iter_errors(data))) == 2


def test_every_number_says_its_unit() -> None:
    """Every field of every class has a description, or a name that speaks for itself."""
    schema = json.loads(published())
    silent = {
        f"{kind}.{name}"
        for kind, definition in schema["$defs"].items()
        for name, entry in definition["properties"].items()
        if entry.get("type") == "number"
        and "description" not in entry
        and not name.endswith(("_mm", "_um", "_deg", "_pct", "_mm2", "_ml"))
    }
    assert silent <= {"Settings.seconds"}


def test_docstring_is_understood() -> None:
    """Several names on one entry share its description, and other sections are left out."""
    doc = """Head.

    Parameters
    ----------
    a, b : int
        One
        line.
    c : str

    Raises
    ------
    X
    """
    assert parameters(doc) == ("Head.", {"a": "One line.", "b": "One line.", "c": ""})


def test_placement_can_be_rebuilt_without_this_library(plan: Plan) -> None:
    """The schema's own words and plain arithmetic give every placement, with no code of ours."""
    data = json.loads(dumps(plan))
    placement = data["layouts"][0]["placements"][0]
    part = next(p for p in data["shop"]["parts"] if p["name"] == placement["part"])
    points = np.array(part["outline"]["points_mm"])
    if placement["mirrored"]:
        points[:, 0] *= -1
    a = math.radians(placement["angle_deg"])
    turned = points @ np.array([[math.cos(a), math.sin(a)], [-math.sin(a), math.cos(a)]])
    placed = np.rint(turned * 1000) + np.array([placement["x_um"], placement["y_um"]])
    # by hand: (300, 80) mirrored to (-300, 80), turned by 1.25 degrees, shifted by (310, 20.001)
    expected = [
        -300 * math.cos(a) - 80 * math.sin(a) + 310.0,
        -300 * math.sin(a) + 80 * math.cos(a) + 20.001,
    ]
    assert placed[2] / 1000 == pytest.approx(expected, abs=5e-4)
