"""Damaged files through the commands: whatever a file holds, a command ends with 0, 1 or 2 and says why.

    python scripts/fuzz.py [--cases N] [--first K] [--seed S] [--kind NAME] [--keep DIR]

Each case takes a small shop with a finished plan and a book, and changes one file as someone who knows its structure
would: numbers and names of the shop file, cells of the tables, well-known text, group codes of drawings (text and
binary), values of ``plan.json``, lines of the journal; sometimes only bytes. Asked of each: no exception, exit code 0,
1 or 2, at most 20 lines for one file, no control characters on the terminal, less than ``MOST_SECONDS``.
"""

from __future__ import annotations

import argparse
import json
import os
import re
import shutil
import signal
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
from study_shops import Maker, run

# Every run is worked out anew.
os.environ["NESTYIELD_ANSWERS"] = ""

#: A case that takes longer is told, seconds of processor; one that takes ten times as long is broken off.
MOST_SECONDS = 10
MOST_LINES = 21

Rng = np.random.Generator

NUMBERS = (
    "0",
    "-1",
    "1e308",
    "-1e308",
    "1e-300",
    "nan",
    "inf",
    "-inf",
    "0.0001",
    "1e5",
    "1e7",
    "99999999999999999999",
    "-0.0",
)
TEXTS = (
    "", " ", "none", "\u202egnp", "a\u0007b", "\u001b[31mred", "x" * 5000, "../../etc/passwd", "ü" * 60, "1/0 in", "1/0",
    "=cmd", "#", '"', "''", ";", "1 3/4 in", "8' 6\"", "-1/2", "\u00a0", "1e400", "True", "[]", "{}", "\ud7ff", "NaN mm",
    "1 0/0", "0x10", "１２", "½", "5 mm mm",
)  # fmt: skip
WKTS = (
    "POLYGON ((0 0, 10 0))", "POLYGON ((0 0, 10 0, 0 0))", "POLYGON EMPTY", "POLYGON ((0 0))", "POLYGON (())",
    "CURVEPOLYGON (COMPOUNDCURVE (CIRCULARSTRING (0 0, 5 5, 10 0), (10 0, 0 0)))", "CIRCULARSTRING (0 0, 5 5, 10 0)",
    "CURVEPOLYGON ((0 0, 1 1, 2 0, 0 0))", "MULTICURVE ((0 0, 5 5), CIRCULARSTRING (4 0, 4 4, 8 4))",
    "TIN (((0 0, 0 1, 1 0, 0 0)))", "TRIANGLE ((0 0, 0 1, 1 0, 0 0))", "POLYHEDRALSURFACE (((0 0 0, 0 1 0, 1 0 0, 0 0 0)))",
    "POLYGON Z ((0 0 1, 9 0 1, 9 9 1, 0 0 1))", "POLYGON M ((0 0 1, 9 0 1, 9 9 1, 0 0 1))", "POLYGON ((nan 0, 1 0, 1 1, nan 0))",
    "GEOMETRYCOLLECTION (POLYGON ((0 0, 9 0, 9 9, 0 0)))", "MULTIPOLYGON (((0 0, 9 0, 9 9, 0 0)), ((20 0, 29 0, 29 9, 20 0)))",
    "LINESTRING (0 0)", "LINESTRING (0 0, 0 0)", "LINESTRING EMPTY", "POINT (1 1)", "POLYGON ((0 0, 1e308 0, 1e308 1e308, 0 0))",
    "POLYGON ((0 0, 400 0, 400 100, 0 100), (10 10))", "POLYGON ((0 0, 400 0, 400 100, 0 100), (10 10, 20 10))",
    "POLYGON ((0 0, 400 0, 400 100, 0 100), EMPTY)", "(" * 2000, "POLYGON" + " " * 9999, "MULTILINESTRING ((0 1, 2 3), EMPTY)",
    "POLYGON ((0 0, 20000 0, 20000 20000, 0 20000, 0 0))", "POLYGON ((0 0, 1e-9 0, 1e-9 1e-9, 0 1e-9))",
)  # fmt: skip
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?")


def pick(rng: Rng, some: Any) -> Any:
    """Return one of some things."""
    return some[int(rng.integers(len(some)))]


def bytes_of(rng: Rng, data: bytes) -> bytes:
    """Flip, cut, double or put in bytes."""
    if not data:
        return b"\x00\xff"
    out = bytearray(data)
    for _ in range(int(rng.integers(1, 6))):
        at = int(rng.integers(len(out))) if out else 0
        match int(rng.integers(6)):
            case 0:
                out[at : at + 1] = bytes([int(rng.integers(256))])
            case 1:
                del out[at : at + int(rng.integers(1, 60))]
            case 2:
                out[at:at] = out[at : at + int(rng.integers(1, 400))]
            case 3:
                out[at:at] = pick(rng, (b"\0", b"\xff\xfe", b"\r", b"\x1b[2J", b"\xe2\x80\xae", b"\n\n"))
            case 4:
                del out[at:]
            case _:
                out[at : at + 4] = bytes(rng.integers(0, 256, 4, dtype=np.uint8))
    return bytes(out)


def number_in(rng: Rng, text: str, new: tuple[str, ...] = NUMBERS) -> str:
    """Change one number of a text."""
    found = list(_NUMBER.finditer(text))
    if not found:
        return text
    hit = pick(rng, found)
    value = pick(rng, (*new, hit[0] + "0000", "-" + hit[0], str(float(hit[0]) * 1.0001)))
    return text[: hit.start()] + value + text[hit.end() :]


def shop_file(rng: Rng, text: str) -> str:
    """Change a line of the shop file."""
    lines = text.split("\n")
    for _ in range(int(rng.integers(1, 4))):
        at = int(rng.integers(len(lines)))
        key, eq, value = lines[at].partition("=")
        match int(rng.integers(9)):
            case 0 | 1 | 2:
                lines[at] = number_in(rng, lines[at])
            case 3:
                if eq:
                    lines[at] = f"{key}= {json.dumps(pick(rng, TEXTS))}"
            case 4:
                if eq:
                    lines[at] = (
                        f"{key}= {pick(rng, ('true', '[]', '{}', '[1, 2]', '1979-05-27', '[[1,2],[3]]', '{a = 1}', '[[]]'))}"
                    )
            case 5:
                del lines[at]
                lines = lines or [""]
            case 6:
                lines.insert(at, pick(rng, lines))
            case 7:
                lines[at] = lines[at].replace(
                    pick(rng, ("a", "e", "_", "part", "[")), pick(rng, ("", "x", "é", ".", "]"))
                )
            case _:
                if eq and value:
                    lines[at] = f"{key}= {pick(rng, lines).partition('=')[2]}"
    return "\n".join(lines)


def table(rng: Rng, text: str) -> str:
    """Change cells of a table."""
    lines = text.split("\n")
    for _ in range(int(rng.integers(1, 4))):
        at = int(rng.integers(len(lines)))
        cells = lines[at].split(",")
        cell = int(rng.integers(len(cells)))
        match int(rng.integers(8)):
            case 0 | 1:
                cells[cell] = pick(rng, NUMBERS)
            case 2:
                cells[cell] = pick(rng, TEXTS)
            case 3 | 4:
                cells[cell] = '"' + pick(rng, WKTS) + '"'
            case 5:
                del cells[cell]
            case 6:
                cells.insert(cell, pick(rng, cells))
            case _:
                cells[cell] = pick(rng, pick(rng, lines).split(","))
        lines[at] = ",".join(cells)
        if "POLYGON" in text and rng.random() < 0.3:
            joined = "\n".join(lines)
            lines = wkt(rng, joined).split("\n")
    return "\n".join(lines)


def wkt(rng: Rng, text: str) -> str:
    """Change well-known text inside a table."""
    found = list(re.finditer(r"\([^()\n]*\)", text))
    if not found:
        return text
    hit = pick(rng, found)
    points = hit[0][1:-1].split(",")
    at = int(rng.integers(len(points)))
    match int(rng.integers(6)):
        case 0:
            points = points[:2]
        case 1:
            points[at] = number_in(rng, points[at])
        case 2:
            points[at] = pick(rng, points)
        case 3:
            points = points[::-1]
        case 4:
            points[at] += " 5"
        case _:
            points = [*points[:at], f" {pick(rng, NUMBERS)} {pick(rng, NUMBERS)}", *points[at:]]
    return text[: hit.start()] + "(" + ",".join(points) + ")" + text[hit.end() :]


def drawing(rng: Rng, data: bytes) -> bytes:
    """Change pairs of code and value of a drawing in text, among its entities for the most part."""
    text = data.decode("utf-8", "replace").replace("\r\n", "\n")
    lines = text.split("\n")
    pairs = [lines[k : k + 2] for k in range(0, len(lines) - 1, 2)]
    start = next((k for k, p in enumerate(pairs) if p[-1] == "ENTITIES"), 0) if rng.random() < 0.85 else 0
    names = ("LINE", "ARC", "SPLINE", "ELLIPSE", "INSERT", "CIRCLE", "POLYLINE", "HATCH", "3DFACE", "REGION", "LWPOLYLINE", "VERTEX", "SOLID")  # fmt: skip
    for _ in range(int(rng.integers(1, 5))):
        at = int(rng.integers(start, len(pairs)))
        match int(rng.integers(7)):
            case 0 | 1:
                pairs[at][-1] = pick(rng, NUMBERS)
            case 2:
                pairs[at][-1] = number_in(rng, pairs[at][-1])
            case 3:
                pairs[at][0] = pick(
                    rng,
                    ("  0", " 10", " 42", " 70", "  8", " 40", "210", "230", " 41", "999", "-1", "x", " 90"),
                )
            case 4:
                del pairs[at]
            case 5:
                pairs[at:at] = [list(p) for p in pairs[at : at + int(rng.integers(1, 40))]]
            case _:
                pairs[at] = ["  0", pick(rng, names)] if rng.random() < 0.5 else ["  8", pick(rng, TEXTS)]
    return "\n".join(line for p in pairs for line in p).encode("utf-8", "replace")


def tree(rng: Rng, text: str) -> str:
    """Change values of a JSON text, somewhere."""
    data = json.loads(text)
    for _ in range(int(rng.integers(1, 4))):
        here: Any = data
        while True:
            keys = list(here) if isinstance(here, dict) else list(range(len(here)))
            if not keys:
                break
            key = pick(rng, keys)
            if isinstance(here[key], (dict, list)) and here[key] and rng.random() < 0.9:
                here = here[key]
                continue
            match int(rng.integers(6)):
                case 0:
                    del here[key]
                case 1:
                    here[key] = pick(rng, TEXTS)
                case 2:
                    here[key] = pick(rng, (None, [], {}, True, -1, 0, 1e308, 10**30, -0.0, 1e-300))
                case 3:
                    if isinstance(here[key], (int, float)):
                        here[key] = here[key] * pick(rng, (2, -1, 1.001, 1e6))
                case 4:
                    if isinstance(here, list):
                        here.append(here[key])
                case _:
                    here[key] = pick(rng, list(here.values()) if isinstance(here, dict) else here)
            break
    return json.dumps(data, indent=1)


def text_of(change: Callable[[Rng, str], str]) -> Callable[[Rng, bytes], bytes]:
    """Return a change of text as one of bytes; in one case of six bytes are changed instead."""

    def changed(rng: Rng, data: bytes) -> bytes:
        if rng.random() < 1 / 6:
            return bytes_of(rng, data)
        return change(rng, data.decode()).encode("utf-8", "replace")

    return changed


def journal(rng: Rng, text: str) -> str:
    """Change one line of the journal."""
    lines = text.split("\n")
    at = int(rng.integers(len(lines)))
    lines[at] = (
        tree(rng, lines[at]).replace("\n", "") if lines[at] and rng.random() < 0.7 else pick(rng, TEXTS)
    )
    return "\n".join(lines)


#: Kind -> files of the folder, how they are changed, commands that read them.
KINDS: dict[str, tuple[str, Callable[[Rng, bytes], bytes], tuple[tuple[str, ...], ...]]] = {
    "shop": ("shop/shop.toml", text_of(shop_file), (("check", "shop"),)),
    "rack": ("shop/rack.csv", text_of(table), (("check", "shop"),)),
    "defects": ("shop/flaws.csv", text_of(table), (("check", "shop"),)),
    "drawing": ("shop/part0.dxf", drawing, (("check", "shop"),)),
    "drawing bytes": ("shop/part0.dxf", bytes_of, (("check", "shop"),)),
    "binary drawing": ("binary.dxf", bytes_of, (("check", "shop"),)),
    "plan": ("plan/plan.json", text_of(tree), (("verify", "plan"), ("verify", "plan", "--shop", "shop"), ("take", "plan", "--shop", "shop"), ("keep", "plan", "--shop", "shop"))),
    "sums": ("plan/SHA256SUMS", text_of(table), (("verify", "plan"),)),
    "journal": ("shop/.nestyield/journal", text_of(journal), (("undo", "shop"), ("check", "shop"), ("take", "plan", "--shop", "shop"))),
    "kept": ("shop/.nestyield/kept.json", text_of(tree), (("keep", "--shop", "shop"), ("check", "shop"))),
}  # fmt: skip


class TooLongError(BaseException):
    """A case that does not come to an end."""


def _ring(number: int, frame: object) -> None:
    raise TooLongError


def base_of(folder: Path, seed: int) -> None:
    """Make a shop with a plan, one blank taken and one kept, and a binary drawing."""
    for k in range(50):
        shutil.rmtree(folder, ignore_errors=True)
        (folder / "shop").mkdir(parents=True)
        Maker(folder / "shop", np.random.default_rng([seed, k])).write()
        code, _ = run("plan", folder / "shop", "--out", folder / "first", "--workers", 1)
        blanks = list((folder / "first" / "drawings").glob("*.dxf")) if code != 2 else []
        if len(blanks) < 2 or not (folder / "shop" / "rack.csv").read_text().count("POLYGON"):
            continue
        name = json.loads((folder / "first" / "plan.json").read_text())["layouts"][0]["blank"]["name"]
        run("take", folder / "first", "--blank", name, "--shop", folder / "shop")
        run("plan", folder / "shop", "--out", folder / "plan", "--workers", 1)
        code, _ = run("keep", folder / "plan", "--shop", folder / "shop")
        shutil.rmtree(folder / "first")
        if code != 2:
            doc = ezdxf.readfile(folder / "shop" / "part0.dxf")
            doc.saveas(folder / "binary.dxf", fmt="bin")
            return
    raise RuntimeError("no shop with two blanks was drawn")


def wrong_with(code: int, said: str) -> str:
    """Return what is wrong with how a command ended, or ''."""
    if code not in (0, 1, 2):
        return f"exit code {code}"
    bad = {ch for ch in said if not ch.isprintable() and ch not in "\n\t\u00a0\u202f"}
    if bad:
        return f"control characters {bad!r} in {said[:200]!r}"
    if code == 2 and not said.strip():
        return "ended with 2 and said nothing"
    files = Counter(m[1] for m in re.finditer(r"(?m)^(?:error|warning|note) \w+: ([^:,]*)", said))
    if (files and max(files.values()) > MOST_LINES) or len(said) > 60_000:
        return f"{len(said)} characters, {files.most_common(2)}"
    return ""


def case(base: Path, scratch: Path, kind: str, rng: Rng, tally: Counter[str]) -> str:
    """Damage one file and run its commands; return what went wrong, or ''."""
    name, change, commands = KINDS[kind]
    shutil.copytree(base, scratch, dirs_exist_ok=True)
    target = scratch / ("shop/part0.dxf" if kind == "binary drawing" else name)
    target.write_bytes(change(rng, (scratch / name).read_bytes()))
    for command in commands:
        argv = [str(scratch / a) if a in ("shop", "plan") and i else a for i, a in enumerate(command)]
        begun = time.process_time()
        signal.alarm(10 * MOST_SECONDS)
        try:
            code, said = run(*argv)
            found = wrong_with(code, said)
        except TooLongError:
            found = "did not end: " + "".join(traceback.format_exc().splitlines(keepends=True)[-8:])
        except Exception:
            found = traceback.format_exc()
        finally:
            signal.alarm(0)
        tally[f"{kind}: {command[0]} ended with {code if not found else 'something wrong'}"] += 1
        spent = time.process_time() - begun
        if not found and spent > MOST_SECONDS:
            found = f"took {spent:.0f} s"
        if found:
            return f"{' '.join(command)}: {found}"
    return ""


def main() -> int:
    """Run the cases and print the table."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--cases", type=int, default=1000, help="of each kind")
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--kind", choices=list(KINDS), help="only this one")
    parser.add_argument("--keep", type=Path, help="folder for what broke something")
    args = parser.parse_args()
    signal.signal(signal.SIGALRM, _ring)
    tally: Counter[str] = Counter()
    wrong, started = 0, time.process_time()
    with tempfile.TemporaryDirectory() as place:
        base = Path(place) / "base"
        base_of(base, args.seed)
        for n, kind in enumerate(KINDS):
            if args.kind not in (None, kind):
                continue
            for k in range(args.first, args.first + args.cases):
                scratch = Path(place) / "case"
                shutil.rmtree(scratch, ignore_errors=True)
                found = case(base, scratch, kind, np.random.default_rng([args.seed, n, k]), tally)
                if found:
                    wrong += 1
                    print(f"{kind} {k}: {found}", flush=True)
                    if args.keep:
                        shutil.copytree(
                            scratch, args.keep / f"{kind.replace(' ', '-')}-{k}", dirs_exist_ok=True
                        )
    for what, n in sorted(tally.items()):
        print(f"{n:6d}  {what}")
    print(f"{wrong} with something wrong, {time.process_time() - started:.0f} s of processor")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
