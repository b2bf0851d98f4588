"""Plan to bytes and back, through one strict adapter over the model's dataclasses."""

from __future__ import annotations

import hashlib
import json
from functools import cache
from typing import Any

from pydantic import BaseModel, ConfigDict, TypeAdapter, ValidationError

from nestyield.model import SCHEMA, NestyieldError, Plan, Shop

#: Key of the digest in ``plan.json``; everything else there is a field of ``Plan``.
DIGEST_KEY = "inputs_sha256"


class PlanFileError(NestyieldError, ValueError):
    """The text is not a plan of this schema, or its inputs were changed since it was written."""


class PlanFile(BaseModel):
    """Carries the configuration that the plain dataclasses below it inherit."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False)
    plan: Plan


class ShopFile(BaseModel):
    """As ``PlanFile``, for the inputs alone."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False)
    shop: Shop


@cache
def _adapter() -> TypeAdapter[PlanFile]:
    return TypeAdapter(PlanFile)


def canonical(data: Any) -> str:
    """Return JSON with sorted keys; a list of plain values stays on one line, everything else is indented.

    Parameters
    ----------
    data : JSON-like
        Dictionaries, lists, strings, numbers, booleans and None; no NaN or infinity.
    """
    lines: list[str] = []
    _write(data, 0, lines)
    return "".join(lines)


def _flat(data: Any, depth: int = 2) -> bool:
    if isinstance(data, dict):
        return not data
    if isinstance(data, list):
        return depth > 0 and all(_flat(v, depth - 1) for v in data)
    return True


def _write(data: Any, level: int, out: list[str]) -> None:
    if _flat(data):
        out.append(json.dumps(data, ensure_ascii=False, allow_nan=False))
        return
    pad = " " * (level + 1)
    is_dict = isinstance(data, dict)
    items = sorted(data.items()) if is_dict else [("", v) for v in data]
    out.append("{\n" if is_dict else "[\n")
    for i, (key, value) in enumerate(items):
        out.append(pad + (json.dumps(key, ensure_ascii=False) + ": " if is_dict else ""))
        _write(value, level + 1, out)
        out.append(",\n" if i + 1 < len(items) else "\n")
    out.append(" " * level + ("}" if is_dict else "]"))


def digest(shop: Shop) -> str:
    """Return the SHA-256 of the inputs as they stand in a plan.

    Parameters
    ----------
    shop : Shop

    Returns
    -------
    str
        64 hexadecimal digits. Equal for equal inputs, whatever wrote them.
    """
    data = ShopFile(shop=shop).model_dump(mode="json")["shop"]
    return _digest_of(_settled(data))


def _settled(data: Any) -> Any:
    """Write numbers as a reader of the file will see them (an int in a float field becomes a float)."""
    return ShopFile.model_validate_json(json.dumps({"shop": data})).model_dump(mode="json")["shop"]


def _digest_of(shop: Any) -> str:
    text = json.dumps(shop, sort_keys=True, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    return hashlib.sha256(text.encode()).hexdigest()


def dumps(plan: Plan) -> bytes:
    """Return a plan as the bytes of ``plan.json``.

    UTF-8, sorted keys, shortest decimal that reads back as the same number, a newline at the end. The same
    plan always gives the same bytes, and ``loads(dumps(plan)) == plan``.

    Parameters
    ----------
    plan : Plan

    Raises
    ------
    PlanFileError
        When a value of the plan does not fit the schema, such as a number that is not finite.
    """
    try:
        data = _adapter().dump_python(PlanFile(plan=plan), mode="json", warnings="error")
        data = _adapter().validate_json(json.dumps(data)).model_dump(mode="json")["plan"]
    except (ValidationError, ValueError) as error:
        raise PlanFileError(f"the plan does not fit its schema: {_explain(error)}") from error
    data[DIGEST_KEY] = _digest_of(data["shop"])
    return (canonical(data) + "\n").encode()


def read(data: bytes) -> tuple[Plan, str, str]:
    """Return the plan, the digest of its inputs that the file states, and the one that they give.

    An earlier version knew fewer settings: inputs are as they were when either their text or all that is read
    from it gives the digest that is stated.

    Parameters
    ----------
    data : bytes
        Content of ``plan.json``.

    Raises
    ------
    PlanFileError
        When it is not UTF-8, not JSON, of another schema, or a field is missing, unknown or of the wrong
        kind; the message names the field.
    """
    try:
        raw = json.loads(data.decode(), parse_constant=_no_constant)
    except UnicodeDecodeError as error:
        raise PlanFileError(
            f"expected UTF-8 text, got byte {data[error.start]:#04x} at {error.start}"
        ) from error
    except (ValueError, RecursionError) as error:
        raise PlanFileError(f"expected JSON: {error}") from error
    if not isinstance(raw, dict):
        raise PlanFileError(f"expected a JSON object, got {type(raw).__name__}")
    if raw.get("schema") != SCHEMA:
        raise PlanFileError(f"expected schema {SCHEMA!r}, got {raw.get('schema')!r}: plan it again")
    stated = raw.pop(DIGEST_KEY, None)
    if not isinstance(stated, str):
        raise PlanFileError(f"expected text in {DIGEST_KEY}, got {stated!r}")
    try:
        plan = _adapter().validate_json(json.dumps({"plan": raw}), strict=False).plan
    except ValidationError as error:
        raise PlanFileError(_explain(error)) from error
    return plan, stated, stated if _digest_of(raw["shop"]) == stated else digest(plan.shop)


def loads(data: bytes) -> Plan:
    """Return the plan in the bytes of a ``plan.json``.

    Raises
    ------
    PlanFileError
        As in `read`, and when the inputs inside the file are not those that it was written with.
    """
    plan, stated, found = read(data)
    if stated != found:
        raise PlanFileError(
            f"the inputs in this plan were changed after it was written: {DIGEST_KEY} says {stated[:12]}..., "
            f"the inputs give {found[:12]}...; make the plan again"
        )
    return plan


def _no_constant(name: str) -> float:
    raise ValueError(f"{name} is not a number in a plan")


def _explain(error: Exception) -> str:
    if not isinstance(error, ValidationError):
        return str(error)
    problems = error.errors(include_url=False, include_input=True)
    lines = []
    for problem in problems[:5]:
        where = ""
        for step in problem["loc"][1:]:
            where += f"[{step}]" if isinstance(step, int) else ("." if where else "") + str(step)
        value = repr(problem.get("input"))
        got = f", got {value}" if len(value) <= 60 and problem["type"] != "missing" else ""
        lines.append(f"{where or 'plan'}: {problem['msg']}{got}")
    if len(problems) > 5:
        lines.append(f"and {len(problems) - 5} more")
    return "; ".join(lines)
