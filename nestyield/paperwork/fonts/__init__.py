"""The typeface of sheets and drawings, and how wide a text runs in it."""

from __future__ import annotations

import unicodedata
from functools import lru_cache
from importlib.resources import files

from fontTools.ttLib import TTFont  # type: ignore[import-untyped]

from nestyield.paperwork.joining import joined

FAMILY = "DejaVu Sans"
_FILES = {False: "DejaVuSans.ttf", True: "DejaVuSans-Bold.ttf"}
REPLACEMENT = "\u25a1"
_LONGEST_NAME = 24


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
    """Return the text with something to draw for every character, in the order of reading.

    Arabic letters take their joined shapes; a picture sign that the typeface lacks is told by its Unicode
    name, as ``[guitar]``; any other character without a glyph becomes an empty box.
    """
    if text.isascii():
        return text
    advances, _ = _advances(bold)
    shaped = joined(text)
    # Signs of joining, direction and color that show nothing by themselves.
    kept = [ch for ch in shaped if unicodedata.category(ch) != "Cf" and not _is_selector(ch)]
    return "".join(ch if ord(ch) in advances else _stand_in(ch) for ch in kept)


def _is_selector(ch: str) -> bool:
    return "\ufe00" <= ch <= "\ufe0f" or "\U0001f3fb" <= ch <= "\U0001f3ff"


def _stand_in(ch: str) -> str:
    name = unicodedata.name(ch, "") if unicodedata.category(ch) == "So" else ""
    return f"[{name.lower()}]" if 0 < len(name) <= _LONGEST_NAME else REPLACEMENT


@lru_cache(maxsize=20000)
def width(text: str, size: float, bold: bool = False) -> float:
    """Return how wide a text runs as it is drawn, in the unit of ``size``."""
    advances, em = _advances(bold)
    return sum(advances[ord(ch)] for ch in drawable(text, bold)) * size / em
