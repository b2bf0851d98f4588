"""Running dimensions from a datum edge: a tick and a figure each, spread so that none covers another."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from nestyield.paperwork import fonts
from nestyield.paperwork.canvas import Canvas
from nestyield.paperwork.look import LETTER_MM
from nestyield.words import Words


@dataclass(frozen=True, slots=True, kw_only=True)
class Ordinate:
    """One running dimension.

    Parameters
    ----------
    value_mm : float
        From the datum edge.
    at : float
        Where it stands on the canvas, along the datum.
    what : str
        What is there, short.
    """

    value_mm: float
    at: float
    what: str = ""


def merge(ordinates: Iterable[Ordinate], words: Words) -> list[Ordinate]:
    """Return ordinates in order; those that read the same become one."""
    by_value: dict[str, list[Ordinate]] = {}
    for o in sorted(ordinates, key=lambda o: (o.value_mm, o.what)):
        by_value.setdefault(words.column(o.value_mm), []).append(o)
    out = []
    for same in by_value.values():
        what = ", ".join(sorted({o.what for o in same if o.what}, key=_natural))
        out.append(Ordinate(value_mm=same[0].value_mm, at=same[0].at, what=what))
    return out


def _natural(text: str) -> list[tuple[int, str]]:
    """Return a key that sorts ``part 2`` before ``part 10``."""
    return [(int(t), "") if t.isdigit() else (-1, t) for t in re.split(r"(\d+)", text)]


def spread(at: list[float], step: float, low: float, high: float) -> list[float]:
    """Return places near ``at`` (rising) at least ``step`` apart, inside low to high when they can be."""
    groups = [[a, a, 1] for a in at]  # mean place, sum of wishes, how many
    merged: list[list[float]] = []
    for g in groups:
        merged.append([float(v) for v in g])
        while len(merged) > 1:
            p, q = merged[-2], merged[-1]
            if p[0] + step * (p[2] + q[2]) / 2 <= q[0]:
                break
            total, n = p[1] + q[1], p[2] + q[2]
            merged[-2:] = [[total / n, total, n]]
    out: list[float] = []
    for mean, _, n in merged:
        out += [mean + step * (k - (n - 1) / 2) for k in range(int(n))]
    # Push back into the window from both ends.
    for k in range(len(out)):
        out[k] = max(out[k], low + step * k)
    for k in range(len(out) - 1, -1, -1):
        out[k] = min(out[k], high - step * (len(out) - 1 - k))
    return out


def depth(ordinates: Iterable[Ordinate], words: Words, size: float = LETTER_MM) -> float:
    """Return how much room beside the datum the figures want, mm."""
    texts = [_text(o, words) for o in merge(ordinates, words)]
    return 6.5 + max((fonts.width(t, size) for t in texts), default=0.0)


def _text(o: Ordinate, words: Words) -> str:
    number = words.number(o.value_mm)
    return f"{number}  {o.what}" if o.what else number


def below(
    canvas: Canvas,
    ordinates: Iterable[Ordinate],
    y: float,
    words: Words,
    window: tuple[float, float],
    size: float = LETTER_MM,
) -> None:
    """Draw ordinates along X under a figure whose lower edge is at ``y``; figures read upwards."""
    listed = merge(ordinates, words)
    places = spread([o.at for o in listed], size * 1.25, *window)
    for o, x in zip(listed, places):
        canvas.lines([((o.at, y - 0.6), (o.at, y - 2.2), (x, y - 4.6), (x, y - 5.6))], "dim")
        canvas.text((x + size * 0.36, y - 6.0), _text(o, words), size, "plain", "end", 90.0)


def beside(
    canvas: Canvas,
    ordinates: Iterable[Ordinate],
    x: float,
    words: Words,
    window: tuple[float, float],
    size: float = LETTER_MM,
) -> None:
    """Draw ordinates along Y left of a figure whose left edge is at ``x``."""
    listed = merge(ordinates, words)
    places = spread([o.at for o in listed], size * 1.25, *window)
    for o, y in zip(listed, places):
        canvas.lines([((x - 0.6, o.at), (x - 2.2, o.at), (x - 4.6, y), (x - 5.6, y))], "dim")
        canvas.text((x - 6.0, y - size * 0.36), _text(o, words), size, "plain", "end")
