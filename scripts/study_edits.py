"""Single edits of every kind of field of a `plan.json`, sums made anew: which does `nestyield verify` notice?

    python scripts/study_edits.py [--plan DIR] [--shop DIR] [--each N] [--seed S] [--only PATH] [--second] [--write]

A kind of field is a path with its indices left out and the code of each fact in their place (`layouts[].cautions[fibers
rise].total_um`). Of each kind N places are drawn; each is edited in the ways that its value allows: a number gets something
that matters to a maker added (3 mm, 1.5 degrees, 5 %), a choice another value that the schema allows, a flag is flipped, a name exchanged for
another of its kind, of a list the last item is dropped and two unlike ones change places. The inputs are compared with
the shop folder, as `verify --shop` does. `--second` asks the second checker about what `verify` misses.
"""

from __future__ import annotations

import argparse
import copy
import json
import random
import re
import sys
import time
from collections import Counter, defaultdict
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from plan_edits import Watch

ROOT = Path(__file__).resolve().parents[1]
PAGE = ROOT / "scripts" / "RESULTS-hostile.md"
Step = str | int
#: Fields that are sums of others, or name the file's form.
SEALS = ("inputs_sha256", "schema")


def places(
    node: Any, path: tuple[Step, ...] = (), kind: str = ""
) -> Iterator[tuple[str, tuple[Step, ...], Any]]:
    """Return every value below a node with its kind and path, lists and leaves."""
    if isinstance(node, dict):
        for key in sorted(node):
            if not path and key in SEALS:
                continue
            yield from places(node[key], (*path, key), f"{kind}.{key}" if kind else key)
    elif isinstance(node, list):
        yield kind, path, node
        for k, item in enumerate(node):
            code = item.get("code", "") if isinstance(item, dict) else ""
            yield from places(item, (*path, k), f"{kind}[{code}]")
    else:
        yield kind, path, node


def choices(schema: dict[str, Any]) -> dict[str, list[list[str]]]:
    """Return, by name of field, the lists of values that the schema allows for it."""
    found: dict[str, list[list[str]]] = defaultdict(list)
    for definition in schema["$defs"].values():
        for name, field in definition.get("properties", {}).items():
            for one in (field, field.get("items", {})):
                if "enum" in one and one["enum"] not in found[name]:
                    found[name].append(one["enum"])
    return found


def number(name: str, value: float) -> float:
    """Return a number that differs by what matters to a maker."""
    if name.endswith("_um"):
        return value + 3000
    if isinstance(value, int):
        return value + 1
    if name.endswith("_deg"):
        return value + 1.5
    if name.endswith(("_mm2", "_n", "_psi", "_pct", "_ml", "_feet")):
        return value * 1.05 + 0.5
    return value + 3.0


def edits(
    kind: str, value: Any, others: list[Any], allowed: dict[str, list[list[str]]], draw: random.Random
) -> Iterator[tuple[str, Any]]:
    """Return edits of a value, each with what it does."""
    name = re.sub(r"(\[[^\]]*\])+$", "", kind).rpartition(".")[2]
    if isinstance(value, bool):
        yield "flag flipped", not value
    elif isinstance(value, int | float):
        yield "number", number(name, value)
    elif isinstance(value, str):
        if name == "code":
            return
        other = [v for enum in allowed.get(name, ()) if value in enum for v in enum if v != value]
        if other:
            yield "other choice", draw.choice(other)
        else:
            unlike = sorted({o for o in others if isinstance(o, str) and o != value})
            yield "other text", draw.choice(unlike) if unlike else value + "x"
    elif isinstance(value, list) and value:
        yield "last dropped", value[:-1]
        if len(value) > 1 and value[0] != value[-1] and not kind.endswith("points_mm"):
            yield "two exchanged", [value[-1], *value[1:-1], value[0]]


def put(raw: Any, path: tuple[Step, ...], value: Any) -> Any:
    """Return a copy of a plan with another value at a path; only what is on the way is copied."""
    if not path:
        return value
    fresh = copy.copy(raw)
    fresh[path[0]] = put(raw[path[0]], path[1:], value)
    return fresh


def main() -> int:
    """Make the edits and print what is missed, by kind."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--plan", type=Path, required=True, help="folder of a sound plan")
    parser.add_argument("--each", type=int, default=1, help="places of each kind")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="", help="kinds that begin so")
    parser.add_argument("--after", default="", help="kinds that come later than this one by name")
    parser.add_argument("--but", default="", help="kinds that do not begin so")
    parser.add_argument("--second", action="store_true")
    parser.add_argument("--write", action="store_true")
    args = parser.parse_args()
    raw = json.loads((args.plan / "plan.json").read_text(encoding="utf-8"))
    schema = json.loads((ROOT / "nestyield" / "planfile" / "plan.schema.json").read_text(encoding="utf-8"))
    kinds: dict[str, list[tuple[tuple[Step, ...], Any]]] = defaultdict(list)
    for kind, path, value in places(raw):
        if kind.startswith(args.only) and kind > args.after and not (args.but and kind.startswith(args.but)):
            kinds[kind].append((path, value))
    watch, allowed, tried, caught = Watch(raw), choices(schema), Counter(), Counter()
    started, missed = time.process_time(), []
    for kind in sorted(kinds):
        draw = random.Random(f"{args.seed} {kind}")
        others = [v for _, v in kinds[kind]]
        for path, value in draw.sample(kinds[kind], min(args.each, len(kinds[kind]))):
            for how, other in edits(kind, value, others, allowed, draw):
                room = kind.split(".")[0].partition("[")[0]
                tried[room] += 1
                bad = put(raw, path, other)
                by = watch.verify(bad)
                caught[room] += bool(by)
                if not by:
                    also = watch.second(bad) if args.second else []
                    missed.append((kind, how, str(value)[:40], str(other)[:40], ", ".join(also)))
                    print("missed:", " | ".join(missed[-1]), f"| {path}", flush=True)
    for room, n in sorted(tried.items()):
        print(f"{room:12} {n:5d} edits, {caught[room]:5d} noticed")
    total, seen = sum(tried.values()), sum(caught.values())
    print(
        f"{len(kinds)} kinds, {total} edits, {seen} noticed ({100 * seen / max(total, 1):.1f} %),"
        f" {time.process_time() - started:.0f} s of processor"
    )
    if args.write:
        write(tried, caught, missed, len(kinds), args)
    return 0


def write(
    tried: Counter[str],
    caught: Counter[str],
    missed: list[tuple[str, ...]],
    kinds: int,
    args: argparse.Namespace,
) -> None:
    """Put the table into the page of results, in place of an earlier one."""
    text = PAGE.read_text(encoding="utf-8")
    head = "# Single edits of every field"
    text = re.sub(rf"\n{head}\n.*?(?=\n# |\Z)", "", text, flags=re.S)
    rows = [f"| `{room}` | {n} | {caught[room]} |" for room, n in sorted(tried.items())]
    left = [f"| `{kind}` | {how} | {was} | {now} |" for kind, how, was, now, _ in missed]
    text = text.rstrip("\n") + "\n".join(
        [
            f"\n\n{head}\n",
            f"`python scripts/study_edits.py --plan DEMO --each {args.each} --seed {args.seed} --write`: {kinds} kinds of field of the demo's plan.",
            f"{sum(tried.values())} edits, {sum(caught.values())} noticed by `nestyield verify --shop`.\n",
            "| part of the plan | edits | noticed |\n|---|---|---|",
            *rows,
            "\nMissed:\n\n| field | edit | was | became |\n|---|---|---|---|",
            *left,
            "",
        ]
    )
    PAGE.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    sys.exit(main())
