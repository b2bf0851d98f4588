"""Phrases of beds and their cautions, read back in both units."""

from __future__ import annotations

import dataclasses
import re
import typing
from dataclasses import replace

import pytest

from nestyield.bed.fit import part_fit
from nestyield.cli.fit import lines
from nestyield.model import Bed, KeepOut, Outline, Part, Settings
from nestyield.model.facts import (
    AnyKeepOutInTheWay,
    BedCaution,
    BedRefusal,
    BlankNote,
    HolesInLeftover,
    MixedFaces,
    SectionOutcome,
    TravelShort,
)
from nestyield.paperwork.phrases import phrase
from nestyield.words import Words

FACTS = [
    kind
    for union in (BedRefusal, SectionOutcome, BlankNote, BedCaution)
    for kind in typing.get_args(typing.get_args(union)[0])
]


def example(kind: type) -> object:
    """A fact with plain figures, by the names of its fields."""
    values: dict[str, object] = {
        "axis": "x", "fence": "x", "along": "y", "end": "x-", "name": "A", "names": ("pin 1", "pin 2"), "blank": "B",
        "bed": "b", "pin": "pin 1", "leftover": "B-L1", "front_up": (0,), "back_up": (1, 2),
        "position": "A",
    }  # fmt: skip
    filled = {
        f.name: values.get(f.name, 25_400 if f.name.endswith("_um") else 2)
        for f in dataclasses.fields(kind)
        if f.name != "code"
    }
    return kind(**filled)


@pytest.mark.parametrize("kind", FACTS, ids=lambda k: k.__name__)
@pytest.mark.parametrize("units", ["mm", "in"])
def test_each_fact_has_one_plain_phrase(kind: type, units: str) -> None:
    """Every fact of beds is full sentences in the shop's own unit, with no field left open."""
    text = phrase(example(kind), Words(units))  # type: ignore[arg-type]
    assert text[0].isupper() and text.endswith(".")  # noqa: PT018
    assert not re.search(r"[{}]|  |_um", text)
    assert not re.search(r"\d in\b" if units == "mm" else r"\bmm\b", text)


def test_numbers_stand_in_the_shops_unit() -> None:
    """28.4 mm short is 1 1/8 in short in an inch shop: 28.4 / 25.4 is 71.56 of 64ths, rounded up to 72."""
    fact = TravelShort(axis="x", needs_um=628_400, travel_um=600_000, short_um=28_400)
    metric, inch = phrase(fact, Words("mm")), phrase(fact, Words("in"))
    assert "628.4 mm" in metric
    assert "28.4 mm short" in metric
    assert "1 1/8 in short" in inch


def test_names_stand_as_drawings_call_them() -> None:
    """Holes for pins are H1, screws S2, parts counted from one, and keep-outs in quotes."""
    words = Words("mm")
    told = phrase(HolesInLeftover(leftover="L", names=("pin 1", "screw 2")), words)
    assert told == "H1 and S2 go through leftover L: write the holes on it; take books them with it."
    assert phrase(MixedFaces(front_up=(0, 2), back_up=(1,)), words).startswith("Parts 1 and 3 have their")
    assert "'a' or 'b'" in phrase(AnyKeepOutInTheWay(names=("a", "b")), words)


@pytest.mark.parametrize(("x_mm", "y_mm"), [(650, 390), (900, 100), (594, 300), (640, 20), (200, 100)])
def test_an_inch_shop_reads_no_millimeters_from_fit(x_mm: float, y_mm: float) -> None:
    """The answer of fit, with every kind of no and note, never names a millimeter in an inch shop."""
    part = Part(
        name="p", drawing="", outline=Outline.rectangle(0, 0, x_mm, y_mm), thickness_mm=44.5, grain_deg=0.0
    )
    closed = Bed(
        name="closed",
        travel_x_mm=600.0,
        travel_y_mm=400.0,
        travel_z_mm=40.0,
        table_x_mm=(0.0, 600.0),
        table_y_mm=(0.0, 400.0),
        keep_outs=(KeepOut(name="post", outline=Outline.rectangle(290, 190, 310, 210)),),
    )
    opened = replace(
        closed, name="open", travel_z_mm=None, open_ends=("x-", "x+"), pin_diameter_mm=6.0, keep_outs=()
    )
    answer = part_fit(part, (closed, opened), Settings(cutter_diameter_mm=6.0), units="in")
    text = "\n".join(lines(answer, Words("in")))
    assert "mm" not in text
    assert " in" in text
    assert "mm" in "\n".join(lines(answer, Words("mm")))
