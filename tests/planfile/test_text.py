"""plan.json: write, read back, and tell clearly what is wrong."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from nestyield.model import Plan
from nestyield.planfile import PlanFileError, digest, dumps, loads, read


def test_reads_back_what_was_written(plan: Plan) -> None:
    """Nothing is lost or changed by writing a plan and reading it."""
    back = loads(dumps(plan))
    assert dumps(back) == dumps(plan)
    assert back.layouts == plan.layouts
    assert back.shop.parts == plan.shop.parts
    assert back == plan


def test_bytes_are_settled(plan: Plan) -> None:
    """Keys are sorted, text is UTF-8 as it stands, floats are floats, and there is a newline at the end."""
    text = dumps(plan).decode()
    assert text.endswith("}\n")
    assert "lap steel – neck" in text
    data = json.loads(text)
    assert list(data) == sorted(data)
    assert '"table_x_mm": [0.0, 600.0]' in text


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=60, deadline=None)
@given(value=st.floats(allow_nan=False, allow_infinity=False), name=st.text())
def test_any_number_and_text_survive(plan: Plan, value: float, name: str) -> None:
    """Every finite float and every text that UTF-8 can hold comes back the same."""
    changed = replace(
        plan, shop=replace(plan.shop, name=name), layouts=(replace(plan.layouts[0], value=value),)
    )
    if any(0xD800 <= ord(c) < 0xE000 for c in name):
        return
    assert loads(dumps(changed)) == changed


@pytest.mark.parametrize("value", [float("nan"), float("inf")])
def test_no_number_that_is_not_finite(plan: Plan, value: float) -> None:
    """NaN and infinity never reach a file."""
    with pytest.raises(PlanFileError):
        dumps(replace(plan, layouts=(replace(plan.layouts[0], value=value),)))


def test_changed_inputs_are_noticed(plan: Plan) -> None:
    """A plan whose inputs were edited afterwards is refused, though every field is well formed."""
    text = dumps(plan).replace(b'"thickness_mm": 44.5', b'"thickness_mm": 44.4')
    with pytest.raises(PlanFileError, match="inputs in this plan were changed"):
        loads(text)
    changed, stated, given = read(text)
    assert changed.shop.parts[0].thickness_mm == 44.4
    assert stated == digest(plan.shop) != digest(changed.shop) == given


def test_a_plan_of_a_version_with_fewer_settings_is_not_called_changed(plan: Plan) -> None:
    """Without a setting that the version did not have, the digest is that of the text as it stands."""
    import hashlib

    data = json.loads(dumps(plan))
    del data["shop"]["settings"]["machines"]["saw_cut_cost"]
    text = json.dumps(data["shop"], sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    data["inputs_sha256"] = hashlib.sha256(text.encode()).hexdigest()
    old = loads(json.dumps(data).encode())
    assert old.shop == plan.shop
    data["shop"]["parts"][0]["thickness_mm"] += 0.1
    with pytest.raises(PlanFileError, match="inputs in this plan were changed"):
        loads(json.dumps(data).encode())


def test_digest_can_be_recomputed_by_anyone(plan: Plan) -> None:
    """The digest follows from the file and the schema's own words, without this library."""
    import hashlib

    data = json.loads(dumps(plan))
    text = json.dumps(data["shop"], sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    assert hashlib.sha256(text.encode()).hexdigest() == data["inputs_sha256"] == digest(plan.shop)


def _with(plan: Plan, path: list[str | int], value: object) -> bytes:
    data = json.loads(dumps(plan))
    inner = data
    for step in path[:-1]:
        inner = inner[step]
    inner[path[-1]] = value
    return json.dumps(data).encode()


@pytest.mark.parametrize(
    ("path", "value", "says"),
    [
        (["layouts", 0, "blank", "thickness_mm"], "thick", "layouts[0].blank.thickness_mm"),
        (["layouts", 0, "placements", 0, "x_um"], 1.5, "layouts[0].placements[0].x_um"),
        (["layouts", 0, "placements", 0, "color"], 1, "layouts[0].placements[0].color"),
        (["shop", "parts", 0, "thickness_mm"], -1, "thickness_mm > 0"),
        (["shop", "units"], "furlong", "shop.units"),
        (["schema"], "nestyield plan 99", "expected schema"),
        (["schema"], "nestyield plan 1", "plan it again"),
        (["inputs_sha256"], None, "inputs_sha256"),
        (["layouts"], None, "layouts"),
    ],
)
def test_error_names_the_field(plan: Plan, path: list[str | int], value: object, says: str) -> None:
    """A wrong field is named by its path."""
    with pytest.raises(PlanFileError) as error:
        loads(_with(plan, path, value))
    assert says in str(error.value)
    assert "\n" not in str(error.value)


@pytest.mark.parametrize("data", [b"", b"\xff\xfe", b"[]", b"{", b'{"schema": NaN}', b"[" * 100_000])
def test_not_a_plan(data: bytes) -> None:
    """Anything that is not a plan gives our own error."""
    with pytest.raises(PlanFileError):
        loads(data)
