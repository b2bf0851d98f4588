"""The first door: plain functions."""

from __future__ import annotations

from pathlib import Path

import pytest

import nestyield
from nestyield import api
from nestyield.model import InputError, Outline, Part, Settings, Shop


def test_first_door_is_what_it_says() -> None:
    """The names at the top of the package are those of the first door."""
    for name in nestyield.__all__:
        assert getattr(nestyield, name) is not None
    assert nestyield.plan is api.plan
    with pytest.raises(AttributeError):
        _ = nestyield.saw


def test_input_error_carries_all(tmp_path: Path) -> None:
    """A folder that cannot be used raises one error that carries every finding, here and in plan."""
    (tmp_path / "shop.toml").write_text('[shop]\nname = "x"\nunits = "ell"\ncolor = 1\n')
    with pytest.raises(InputError) as error:
        nestyield.load_shop(tmp_path)
    assert len(error.value.findings) >= 2
    with pytest.raises(InputError):
        nestyield.plan(tmp_path)


def test_shop_made_in_code() -> None:
    """A shop need not come from a folder."""
    part = Part(name="p", drawing="", outline=Outline.rectangle(0, 0, 10, 10), thickness_mm=20)
    shop = Shop(
        name="x",
        units="mm",
        settings=Settings(cutter_diameter_mm=6),
        beds=(),
        parts=(part,),
        pieces=(),
        orders=(),
    )
    plan = nestyield.plan(shop)
    assert plan.layouts == ()
    assert not api.needs_person(plan)
    with pytest.raises(api.UnknownNameError, match="no part 'q'; known: p"):
        nestyield.fit(shop, "q")
