"""The table of keys and the README say the same."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from dataclasses import fields
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from nestyield.intake.defects import DEFECT_COLUMNS
from nestyield.intake.keys import FREE_SECTIONS, KEYS, REQUIRED, TYPED_SECTIONS, Key, keys_of, sections
from nestyield.intake.rack import RACK_COLUMNS
from nestyield.intake.shop import read_shop
from nestyield.model import DEFECT_KINDS, GlueUpRules, MachineLimits, Preferences, Season, Settings

README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
FORMAT = README[README.index("## Reference") :]
EXAMPLE = tomllib.loads(FORMAT.split("```toml")[1].split("```")[0])


def documented() -> Iterator[tuple[str, str]]:
    """Section pattern and key of everything in the README's shop file."""

    def walk(pattern: str, table: dict[str, Any]) -> Iterator[tuple[str, str]]:
        for key, value in table.items():
            yield pattern, key
            inner = f"{pattern}.{key}"
            if inner == "part.*.layers":
                for spec in value.values():
                    if isinstance(spec, dict):
                        yield from walk("part.*.layers.*", spec)
            elif isinstance(value, list) and value and isinstance(value[0], dict):
                for item in value:
                    yield from walk(inner, item)

    for section, content in EXAMPLE.items():
        if section in ("bed", "part", "species"):
            for table in content.values():
                yield from walk(f"{section}.*", table)
        elif section == "order":
            for table in content:
                yield from walk("order", table)
        elif section == "rack_layers":
            for spec in content.values():
                if isinstance(spec, dict):
                    yield from walk("rack_layers.*", spec)
        elif section == "value":
            for table in content["class"]:
                yield from walk("value.class", table)
        elif section not in FREE_SECTIONS:
            yield from walk(section, content)


def test_every_documented_key_is_accepted() -> None:
    """What README shows in the shop file is in the table of keys."""
    known = {(k.section, k.name) for k in KEYS}
    assert [d for d in documented() if d not in known] == []
    assert set(EXAMPLE) <= set(sections())


@pytest.mark.parametrize("key", KEYS, ids=lambda k: f"{k.section}.{k.name}")
def test_every_accepted_key_is_documented(key: Key) -> None:
    """What the table of keys accepts is in README: in the shop file, or by name in its comments."""
    shown = set(documented())
    assert (key.section, key.name) in shown or re.search(rf"\b{key.name}\b", FORMAT)


def test_defaults_in_readme_are_those_of_the_table() -> None:
    """Optional keys of [allowance], [leftover] and [glueup] are shown with their defaults."""
    for section in ("allowance", "leftover", "glueup", "search"):
        for key in keys_of(section):
            if key.default is not None and key.name in EXAMPLE[section]:
                assert EXAMPLE[section][key.name] == key.default, key


def test_defaults_are_those_of_the_model() -> None:
    """A default of the table is the default of Settings."""
    defaults = {f.name: f.default for f in fields(Settings)}
    for section, prefix in (("allowance", ""), ("leftover", "leftover_"), ("search", "")):
        for key in keys_of(section):
            assert defaults[prefix + key.stored_as] == key.default


def test_columns_are_documented() -> None:
    """README names every column and every kind of defect that is read."""
    rack = FORMAT[FORMAT.index("### rack.csv") : FORMAT.index("### defects.csv")]
    for name in RACK_COLUMNS:
        assert re.search(rf"\b{name}\b", rack), name
    defects = " ".join(FORMAT[FORMAT.index("### defects.csv") :].split())
    for name in (*DEFECT_COLUMNS, *DEFECT_KINDS):
        assert re.search(rf"\b{name}\b", defects), name


def test_table_is_sound() -> None:
    """No key twice, choices where they are needed, defaults within the range."""
    assert len({(k.section, k.name) for k in KEYS}) == len(KEYS)
    for key in KEYS:
        assert bool(key.choices) == (key.kind in ("choice", "choices")), key
        assert key.doc
        if isinstance(key.default, (int, float)) and not isinstance(key.default, bool):
            assert key.low is None or key.default >= key.low
            assert key.above is None or key.default > key.above
            assert key.high is None or key.default <= key.high
    assert repr(REQUIRED) == "required"


def test_typed_sections_reach_the_settings(good_shop: Path) -> None:
    """Keys of sections such as [glueup] arrive in Settings in mm and degrees, those not given with their default."""
    text = (good_shop / "shop.toml").read_text(encoding="utf-8")
    (good_shop / "shop.toml").write_text(
        text
        + '\n[glueup]\nleast_piece_width = "2 in"\ncrossed_grain = 7\nmixed_species = true\n'
        + '[wood]\nhumidity_low = 25\n[machines]\nplaner_rollers = "10 in"\nsaw_kerf = 2.5\n'
        + '[prefer]\nfeed = "climb"\nshort_grain = 2\n',
        encoding="utf-8",
    )
    shop, _ = read_shop(good_shop)
    assert shop is not None
    settings = shop.settings
    rules = GlueUpRules(least_piece_width_mm=50.8, crossed_grain_deg=7.0, mixed_species=True)
    assert settings.glueup == rules
    assert settings.wood == Season(humidity_low=25.0)
    assert settings.machines == MachineLimits(planer_rollers_mm=254.0, saw_kerf_mm=2.5)
    assert settings.prefer == Preferences(feed="climb", short_grain=2.0)


def test_typed_sections_give_their_keys() -> None:
    """Kind, choices and default of a key are those of its field."""
    assert set(TYPED_SECTIONS) == {"glueup", "wood", "machines", "holding", "prefer"}
    kinds = {(k.section, k.name): (k.kind, k.default, k.choices) for k in KEYS}
    assert kinds["glueup", "taper"] == ("angle", 3.0, ())
    assert kinds["glueup", "most_pieces"] == ("integer", 4, ())
    assert kinds["glueup", "rules"] == ("choice", "strict", ("strict", "caution"))
    assert kinds["glueup", "mixed_species"] == ("flag", False, ())
    assert kinds["machines", "planer_widest"] == ("length", None, ())
    assert kinds["machines", "saw_kerf"] == ("length", 3.2, ())
    assert kinds["glueup", "clamp_force"] == ("force", 4450.0, ())
    assert kinds["glueup", "clamps"] == ("integer", None, ())
    assert kinds["wood", "temperature"] == ("number", 21.0, ())


def test_the_readme_shop_is_read(tmp_path: Path, malformed: ModuleType) -> None:
    """The shop file of README, with drawings to fit, is read without an error."""
    import ezdxf

    (tmp_path / "shop.toml").write_text(FORMAT.split("```toml")[1].split("```")[0], encoding="utf-8")
    doc = ezdxf.new(units=4)
    space = doc.modelspace()
    for layer, x, y, w, h in (
        ("BODY", 0, 0, 400, 250),
        ("PICKUPS", 100, 100, 90, 40),
        ("BEVEL", 300, 0, 120, 90),
    ):
        corners = [(x, y), (x + w, y), (x + w, y + h), (x, y + h)]
        space.add_lwpolyline(corners, close=True, dxfattribs={"layer": layer})
    doc.saveas(tmp_path / "mandolin.dxf")
    (tmp_path / "rack.csv").write_text("piece,species,thickness,length,width\nA,sugar maple,50,500,300\n")
    (tmp_path / "defects.csv").write_text("piece,kind,x,y,diameter\nA,knot,10,10,5\n")
    shop, findings = read_shop(tmp_path)
    assert [str(f) for f in findings if f.severity != "note"] == []
    assert shop is not None
    assert shop.parts[0].fill_limit_ml == 20
