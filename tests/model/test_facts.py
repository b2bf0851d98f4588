"""Facts are data that plan.json can hold: frozen, named by a code of their own, without prose."""

from __future__ import annotations

import dataclasses
import importlib
import pkgutil
import typing

import pytest
from pydantic import TypeAdapter

from nestyield.model import facts
from nestyield.model.facts import ClosestRefusal, FitsIfRelaxed, NarrowerMargin, Reason, WiderPiece

CLASSES = sorted(
    {
        kind
        for module in pkgutil.iter_modules(facts.__path__)
        for kind in vars(importlib.import_module(f"{facts.__name__}.{module.name}")).values()
        if dataclasses.is_dataclass(kind)
        and isinstance(kind, type)
        and kind.__module__.startswith(facts.__name__)
    },
    key=lambda kind: kind.__name__,
)


def codes(kind: type) -> list[str]:
    return list(typing.get_args(typing.get_type_hints(kind)["code"]))


@pytest.mark.parametrize("kind", CLASSES, ids=lambda kind: kind.__name__)
def test_a_fact_is_frozen_and_its_first_field_is_its_code(kind: type) -> None:
    """A fact cannot be changed, takes no positional arguments, and carries exactly one code as its default."""
    first = dataclasses.fields(kind)[0]  # type: ignore[arg-type]
    assert first.name == "code"
    assert codes(kind) == [first.default]
    assert kind.__dataclass_params__.frozen  # type: ignore[attr-defined]
    assert all(f.kw_only for f in dataclasses.fields(kind))  # type: ignore[arg-type]
    assert "__slots__" in vars(kind)


def test_codes_are_unique() -> None:
    """No two facts share a code."""
    every = [code for kind in CLASSES for code in codes(kind)]
    assert len(every) > 20
    assert sorted(every) == sorted(set(every))


def test_facts_are_exported() -> None:
    """Every fact can be had from nestyield.model.facts."""
    assert {kind.__name__ for kind in CLASSES} <= set(facts.__all__)


def test_nested_facts_read_back() -> None:
    """A reason with a refusal with relaxations comes back from JSON as the same classes."""
    adapter: TypeAdapter[Reason] = TypeAdapter(Reason)
    fact = ClosestRefusal(
        species=("sugar maple",),
        thickness_um=44_500,
        refusal=FitsIfRelaxed(
            piece="W-01",
            relaxations=(NarrowerMargin(required_um=6350, reachable_um=2240), WiderPiece(missing_um=8700)),
            far_um=4110,
        ),
    )
    assert adapter.validate_json(adapter.dump_json(fact)) == fact
