"""The typeface of sheets and drawings, and how wide a text runs in it."""

from __future__ import annotations

import unicodedata
from functools import lru_cache
from importlib.resources import files

from fontTools.ttLib import TTFont  # type: ignore[import-untyped]

FAMILY = "DejaVu Sans"
_FILES = {False: "DejaVuSans.ttf", True: "DejaVuSans-Bold.ttf"}
REPLACEMENT = "\u25a1"


def path(bold: bool) -> str:
    """Return the path of the font file."""
    return str(files(__package__) / _FILES[bold])


@lru_cache(maxsize=2)
def _advances(bold: bool) -> tuple[dict[int, int], float]:
    with TTFont(path(bold), lazy=True) as font:
        metrics = font["hmtx"].metrics
        advances = {code: metrics[name][0] for code, name in font.getBestCmap().items()}
        return advances, float(font["head"].unitsPerEm)


def drawable(text: str, bold: bool = False) -> str:
    """Return the text with an empty box for every character that has no glyph."""
    advances, _ = _advances(bold)
    return "".join(ch if ord(ch) in advances else REPLACEMENT for ch in text)


def visual(text: str) -> str:
    """Return a line in the order in which its letters stand from left to right.

    A plain rule for names on paper: runs of right-to-left letters are turned over, and so is the
    order of the runs when the line begins with one. Letters are not joined.
    """
    runs: list[tuple[bool, str]] = []
    for ch in text:
        kind = unicodedata.bidirectional(ch)
        right = kind in ("R", "AL")
        if not right and kind not in ("L", "EN", "AN") and runs:
            right = runs[-1][0]
        if runs and runs[-1][0] == right:
            runs[-1] = (right, runs[-1][1] + ch)
        else:
            runs.append((right, ch))
    if not any(right for right, _ in runs):
        return text
    ordered = reversed(runs) if runs[0][0] else runs
    return "".join(run[::-1] if right else run for right, run in ordered)


def width(text: str, size: float, bold: bool = False) -> float:
    """Return how wide a text runs, in the unit of ``size``."""
    advances, em = _advances(bold)
    box = advances[ord(REPLACEMENT)]
    return sum(advances.get(ord(ch), box) for ch in text) * size / em
