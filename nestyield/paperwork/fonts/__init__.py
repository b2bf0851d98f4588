"""The typeface of sheets and drawings, and how wide a text runs in it."""

from __future__ import annotations

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


def covers(text: str) -> bool:
    """Return whether every character has a glyph."""
    advances, _ = _advances(False)
    return all(ord(ch) in advances for ch in text)


def drawable(text: str) -> str:
    """Return the text with an empty box for every character that has no glyph."""
    advances, _ = _advances(False)
    return "".join(ch if ord(ch) in advances else REPLACEMENT for ch in text)


def width(text: str, size: float, bold: bool = False) -> float:
    """Return how wide a text runs, in the unit of ``size``."""
    advances, em = _advances(bold)
    box = advances[ord(REPLACEMENT)]
    return sum(advances.get(ord(ch), box) for ch in text) * size / em
