"""Names written by people, made harmless: for drawings, table cells and file names."""

from __future__ import annotations

import functools
import unicodedata
from collections.abc import Iterable

from nestyield.model import Plan

# Characters that turn the direction of whatever follows; isolation is done by the paper itself.
_DIRECTION = frozenset("\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
# What starts a formula in a spreadsheet, in any shape of such signs (small, full width, minus).
_FORMULA = frozenset("=+-@\u2212")
# Device names that a common desktop system keeps for itself.
_RESERVED = frozenset(
    ["con", "prn", "aux", "nul", *(f"com{i}" for i in range(10)), *(f"lpt{i}" for i in range(10))]
)
_LONGEST_BYTES = 80


@functools.lru_cache(maxsize=4096)
def clean(text: str) -> str:
    """Return one line of text without control, direction or broken characters.

    White space of any kind becomes one space; control characters and lone surrogates become
    the replacement character, so that one sees that something stood there.
    """
    out = []
    for ch in text:
        if ch in _DIRECTION:
            continue
        category = unicodedata.category(ch)
        if ch.isspace() or category in ("Zl", "Zp"):
            out.append(" ")
        elif category in ("Cc", "Cs") or (ord(ch) & 0xFFFE) == 0xFFFE or 0xFDD0 <= ord(ch) <= 0xFDEF:
            out.append("\ufffd")
        else:
            out.append(ch)
    return " ".join("".join(out).split())


def _starts_formula(text: str) -> bool:
    """Return whether the first sign that shows could start a formula."""
    for ch in text:
        if ch.isspace() or unicodedata.category(ch) in ("Cf", "Mn", "Me"):
            continue
        return unicodedata.normalize("NFKC", ch)[:1] in _FORMULA
    return False


def cell(text: str) -> str:
    """Return text for a table cell that no spreadsheet runs as a formula.

    A text that would start a formula gets an apostrophe in front, the spreadsheet's own sign for text;
    so does what follows a semicolon, where spreadsheets of many countries begin the next cell.
    """
    parts = clean(text).split(";")
    safe = []
    for part in parts:
        head = part[: len(part) - len(part.lstrip())]
        safe.append(f"{head}'{part.lstrip()}" if _starts_formula(part) else part)
    return ";".join(safe)


def listed(names: Iterable[str]) -> str:
    """Return names as one writes them in a sentence: ``P1, P2 and P3``."""
    kept = [n for n in names if n]
    return kept[0] if len(kept) == 1 else f"{', '.join(kept[:-1])} and {kept[-1]}" if kept else ""


def short(text: str, most: int) -> str:
    """Return cleaned text of at most ``most`` characters, with an ellipsis where it was cut."""
    line = clean(text)
    return line if len(line) <= most else line[: most - 1].rstrip() + "…"


def stem(name: str) -> str:
    """Return a file name without ending that every usual file system takes.

    Letters and digits of any script stay; everything else becomes a hyphen.
    """
    line = unicodedata.normalize("NFC", clean(name))
    kept = "".join(ch if ch.isalnum() or ch in "_-" else "-" for ch in line)
    kept = "-".join(p for p in kept.split("-") if p)
    while len(kept.encode("utf-8")) > _LONGEST_BYTES:
        kept = kept[:-1]
    kept = kept or "blank"
    return f"{kept}-blank" if kept.casefold() in _RESERVED else kept


def stems(names: Iterable[str]) -> list[str]:
    """Return one file stem a name, unique even where upper and lower case are the same."""
    taken: set[str] = set()
    out = []
    for name in names:
        base = stem(name)
        candidate, n = base, 1
        while unicodedata.normalize("NFKC", candidate).casefold() in taken:
            n += 1
            candidate = f"{base}-{n}"
        taken.add(unicodedata.normalize("NFKC", candidate).casefold())
        out.append(candidate)
    return out


def currency_of(plan: Plan) -> str:
    """Return what the name of a column of money ends in: ``_EUR``; ``""`` without a currency."""
    currency = clean(plan.shop.settings.currency)
    return f"_{currency}" if currency else ""
