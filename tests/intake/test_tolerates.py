"""What parts and zones tolerate."""

from __future__ import annotations

import pytest

from nestyield.intake.problems import Problems
from nestyield.intake.tolerates import defect_kind, read_tolerates
from nestyield.intake.values import Values
from nestyield.model import DEFECT_KINDS


def test_every_kind_is_known_by_its_name() -> None:
    """Kinds are found whatever case, hyphen or plural."""
    for kind in DEFECT_KINDS:
        assert defect_kind(kind) == kind
        assert defect_kind(kind.upper().replace(" ", "_")) == kind
        assert defect_kind(kind + "s") == kind
    assert defect_kind("gnarl") is None
    assert defect_kind("") is None


@pytest.mark.parametrize(
    ("raw", "read", "errors"),
    [
        (None, {}, 0),
        ({"stain": "allowed", "Nail Holes": "filled"}, {"stain": "allowed", "nail hole": "filled"}, 0),
        ({"stain": "yes", "knot": "refused"}, {"knot": "refused"}, 1),
        ({"gnarl": "allowed"}, {}, 1),
        ({"knot": 3}, {}, 1),
        ("allowed", {}, 1),
        (["knot"], {}, 1),
    ],
)
def test_tables(raw: object, read: dict[str, str], errors: int) -> None:
    """Good entries are read, wrong ones told."""
    values = Values(data={}, path=("part", "x"), lines={}, file="shop.toml", units="mm", problems=Problems())
    assert read_tolerates(values, raw) == read
    assert values.problems.errors == errors
