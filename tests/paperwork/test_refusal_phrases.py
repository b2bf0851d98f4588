"""What sentences of refusals and of the datum corner say, in the units of the shop."""

from __future__ import annotations

from dataclasses import replace

import pytest

from nestyield.model.facts import (
    ClosestRefusal,
    NoWoodAtCorner,
    SheetTooThick,
    TooThick,
    TooThin,
    TooThinWhenPlaned,
)
from nestyield.paperwork.phrases import phrase
from nestyield.words import Words


@pytest.mark.parametrize("enough", [True, False])
@pytest.mark.parametrize(
    ("refusal", "change"),
    [
        (TooThin(piece="P", thickness_um=12_000, far_um=700), "raise [allowance] thickness_tolerance"),
        (SheetTooThick(piece="P", thickness_um=12_700, far_um=500), "give the part that thickness"),
        (TooThick(piece="P", thickness_um=50_000, far_um=500), "raise [allowance] most_planed_away"),
        (
            TooThinWhenPlaned(piece="P", thickness_um=45_000, planed_um=43_400, far_um=600),
            "plane less ([allowance] planing)",
        ),
    ],
)
def test_a_thickness_refusal_says_what_to_change(refusal, change, enough):
    """Every reason about thickness ends with the remedy, after what else may be in the way."""
    reason = ClosestRefusal(
        species=("birch plywood",), thickness_um=12_700, refusal=replace(refusal, enough=enough), used=False
    )
    text = phrase(reason, Words("mm"))
    assert change in text.rpartition("; ")[2]
    assert ("may have no place for the part besides; " in text) is not enough


def test_a_rough_corner_is_not_called_missing():
    """Wood that is rough at the datum corner is named as it is; only where none is, there is said to be none."""
    rough = phrase(NoWoodAtCorner(kind="rough edge"), Words("mm"))
    assert "not sound (rough edge)" in rough
    assert "no wood" not in rough
    assert phrase(NoWoodAtCorner(), Words("mm")).startswith("There is no wood at the datum corner.")
