"""The published schema of ``plan.json``, made from the model and its docstrings."""

from __future__ import annotations

import dataclasses
import re
import sys
from importlib import resources
from typing import Any

from pydantic import TypeAdapter

from nestyield import model
from nestyield.model import facts
from nestyield.planfile.text import DIGEST_KEY, PlanFile, canonical

_ABOUT = """\
A finished plan of nestyield: what was read, what was decided, and nothing that cannot be rebuilt from it.

Numbers ending in _mm are millimeters, _um whole micrometers, _mm2 square millimeters, _deg degrees
counter-clockwise, _pct per cent, _ml millilitres; board_feet are board feet (144 cubic inches).

To rebuild a placement: take the part's outline in shop.parts (drawing coordinates). Vertex i joins vertex
i+1, the last joins the first, by a segment of bulge bulges[i] (tangent of a quarter of the included angle,
positive counter-clockwise, 0 a line). If the placement is mirrored, change the sign of every x and of every
bulge. Turn counter-clockwise about the origin by angle_deg: x' = x cos a - y sin a, y' = x sin a + y cos a.
Multiply by 1000 and round to whole micrometers, then add x_um and y_um. The result lies in the coordinates
of the layout's blank, seen from its top. A blank's members are rack pieces laid by the same rule. A setup
brings a blank to the bed: turn by turned_deg about the blank's origin, then add x_mm and y_mm.

inputs_sha256 is the SHA-256 of the value of "shop" as UTF-8 JSON with sorted keys, no spaces, and every
number as it stands here: a reader who recomputes it knows that the inputs were not changed afterwards.
"""


def schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of ``plan.json``."""
    made = TypeAdapter(PlanFile).json_schema()
    definitions: dict[str, Any] = made["$defs"]
    for name, definition in definitions.items():
        _describe(definition, getattr(model, name, None) or getattr(facts, name, None))
    root = definitions.pop("Plan")
    root["properties"][DIGEST_KEY] = {
        "type": "string",
        "pattern": "^[0-9a-f]{64}$",
        "description": 'SHA-256 of the value of "shop".',
    }
    root["properties"]["schema"]["const"] = model.SCHEMA
    root["required"] = sorted({*root["required"], "schema", DIGEST_KEY})
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": model.SCHEMA,
        **root,
        "description": _ABOUT,
        "$defs": definitions,
    }


def schema_text() -> str:
    """Return the text of ``plan.schema.json``."""
    return canonical(schema()) + "\n"


def published() -> str:
    """Return the schema as it lies in the package."""
    return resources.files("nestyield.planfile").joinpath("plan.schema.json").read_text(encoding="utf-8")


def _describe(definition: dict[str, Any], kind: type | None) -> None:
    """Replace pydantic's titles by what the docstring says of the class and of each field."""
    definition.pop("title", None)
    if kind is None or not dataclasses.is_dataclass(kind):
        return
    summary, fields = parameters(kind.__doc__ or "")
    definition["description"] = summary
    for name, entry in definition.get("properties", {}).items():
        entry.pop("title", None)
        if fields.get(name):
            entry["description"] = fields[name]


def parameters(doc: str) -> tuple[str, dict[str, str]]:
    """Return the text before ``Parameters`` and the description of each parameter of a numpydoc.

    Parameters
    ----------
    doc : str
        A docstring; one entry may name several parameters.
    """
    head, _, tail = doc.partition("Parameters\n")
    summary = " ".join(head.split())
    tail = re.split(r"\n\s*\n\s*\w+\n\s*-{3,}\n", tail)[0]
    lines = [line for line in tail.splitlines() if line.strip() and not set(line.strip()) <= {"-"}]
    if not lines:
        return summary, {}
    indent = min(len(line) - len(line.lstrip()) for line in lines)
    found: dict[str, str] = {}
    names: list[str] = []
    for line in lines:
        if len(line) - len(line.lstrip()) == indent:
            left, _, _ = line.strip().partition(" : ")
            names = [n.strip() for n in left.split(",")]
            found.update(dict.fromkeys(names, ""))
        else:
            for name in names:
                found[name] = f"{found[name]} {line.strip()}".strip()
    return summary, found


if __name__ == "__main__":
    sys.stdout.write(schema_text())
