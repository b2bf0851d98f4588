"""The order in which the letters of one line stand on paper, for writings that run right to left.

Unicode Standard Annex 9 for one line without explicit direction marks (names come here without them): the
weak, neutral and implicit rules, paired brackets, mirrored signs. Own code, since what reportlab takes for
this is not on PyPI (rlbidi) and the other package is LGPL (python-bidi).
"""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence

_RIGHT = frozenset(("R", "AL"))
_NEUTRAL = frozenset(("B", "S", "WS", "ON"))
#: Openers that may wait for their closers at once.
_MOST_OPEN = 63
_SIGNS = dict(zip("<>«»‹›≤≥≪≫", "><»«›‹≥≤≫≪"))


def runs_right(text: str) -> bool:
    """Return whether any letter of a text runs right to left."""
    return any(ord(ch) >= 0x590 and unicodedata.bidirectional(ch) in ("R", "AL", "AN") for ch in text)


def _partner(ch: str) -> str:
    """Return the closing bracket of an opening one and the other way round, ``""`` for anything else."""
    category = unicodedata.category(ch)
    if category not in ("Ps", "Pe") or not unicodedata.mirrored(ch):
        return ""
    step, other = (1, "Pe") if category == "Ps" else (-1, "Ps")
    for far in (1, 2):
        found = chr(ord(ch) + step * far)
        if unicodedata.category(found) == other and unicodedata.mirrored(found):
            return found
    return ""


def base_level(text: str) -> int:
    """Return 1 when the first letter with a direction runs right to left, else 0 (rules P2, P3)."""
    for ch in text:
        kind = unicodedata.bidirectional(ch)
        if kind in ("L", "R", "AL"):
            return int(kind != "L")
    return 0


def _weak(types: list[str], sos: str) -> None:
    """Rules W1 to W7, in place."""
    before = sos
    for i, t in enumerate(types):  # W1
        types[i] = before = before if t == "NSM" else t
    strong = sos
    for i, t in enumerate(types):  # W2
        if t in ("L", "R", "AL"):
            strong = t
        elif t == "EN" and strong == "AL":
            types[i] = "AN"
    types[:] = ["R" if t == "AL" else t for t in types]  # W3
    for i in range(1, len(types) - 1):  # W4
        left, right = types[i - 1], types[i + 1]
        if left == right and (
            (types[i] in ("ES", "CS") and left == "EN") or (types[i] == "CS" and left == "AN")
        ):
            types[i] = left
    i = 0
    while i < len(types):  # W5
        if types[i] != "ET":
            i += 1
            continue
        end = i
        while end < len(types) and types[end] == "ET":
            end += 1
        if (i and types[i - 1] == "EN") or (end < len(types) and types[end] == "EN"):
            types[i:end] = ["EN"] * (end - i)
        i = end
    types[:] = ["ON" if t in ("ES", "ET", "CS") else t for t in types]  # W6
    strong = sos
    for i, t in enumerate(types):  # W7
        if t in ("L", "R"):
            strong = t
        elif t == "EN" and strong == "L":
            types[i] = "L"


def _strong(t: str) -> str:
    """Return the direction that a type has beside neutrals."""
    return "L" if t == "L" else "R" if t in ("R", "EN", "AN") else ""


def _brackets(text: str, types: list[str], given: Sequence[str], sos: str, base: int) -> None:
    """Rule N0: both brackets of a pair take one direction, in place."""
    open_at: list[tuple[str, int]] = []
    pairs = []
    for i, ch in enumerate(text):
        if types[i] != "ON":
            continue
        ch = unicodedata.normalize("NFC", ch)
        partner = _partner(ch)
        if not partner:
            continue
        if unicodedata.category(ch) == "Ps":
            if len(open_at) == _MOST_OPEN:
                break
            open_at.append((partner, i))
            continue
        for k in range(len(open_at) - 1, -1, -1):
            if open_at[k][0] == ch:
                pairs.append((open_at[k][1], i))
                del open_at[k:]
                break
    embedding = "R" if base else "L"
    for a, b in sorted(pairs):
        inside = {_strong(t) for t in types[a + 1 : b]} - {""}
        if embedding in inside:
            way = embedding
        elif inside:
            before = next((s for s in (_strong(t) for t in reversed(types[:a])) if s), sos)
            way = before if before != embedding else embedding
        else:
            continue
        for at in (a, b):
            types[at] = way
            k = at + 1
            while k < len(types) and given[k] == "NSM":
                types[k] = way
                k += 1


def levels(text: str) -> list[int]:
    """Return the level of every character: odd ones run right to left.

    Parameters
    ----------
    text : str
        One line without explicit direction characters.
    """
    base = base_level(text)
    given = [unicodedata.bidirectional(ch) or "L" for ch in text]
    kept = [i for i, t in enumerate(given) if t != "BN"]
    line = "".join(text[i] for i in kept)
    original = [given[i] for i in kept]
    types = list(original)
    sos = "R" if base else "L"
    _weak(types, sos)
    _brackets(line, types, original, sos, base)
    i = 0
    while i < len(types):  # N1, N2
        if types[i] not in _NEUTRAL:
            i += 1
            continue
        end = i
        while end < len(types) and types[end] in _NEUTRAL:
            end += 1
        left = _strong(types[i - 1]) if i else sos
        right = _strong(types[end]) if end < len(types) else sos
        types[i:end] = [left if left == right else sos] * (end - i)
        i = end
    inner = []
    for t in types:  # I1, I2
        if base:
            inner.append(base + (t in ("L", "EN", "AN")))
        else:
            inner.append(1 if t == "R" else 2 if t in ("AN", "EN") else 0)
    for i in range(len(inner) - 1, -1, -1):  # L1
        if original[i] not in ("WS", "B", "S"):
            break
        inner[i] = base
    for i, t in enumerate(original):
        if t in ("B", "S"):
            k = i
            while k >= 0 and (k == i or original[k] == "WS"):
                inner[k] = base
                k -= 1
    out, last = [], base
    found = dict(zip(kept, inner))
    for i in range(len(text)):
        last = found.get(i, last)
        out.append(last)
    return out


def order(of: Sequence[int]) -> list[int]:
    """Return the places of the characters from left to right (rule L2)."""
    out = list(range(len(of)))
    odd = [v for v in of if v % 2]
    for level in range(max(of, default=0), min(odd, default=1) - 1, -1):
        edges = [k for k, v in enumerate(of) if v >= level]
        groups: list[list[int]] = []
        for k in edges:
            if groups and k == groups[-1][-1] + 1:
                groups[-1].append(k)
            else:
                groups.append([k])
        # Runs of a level or above stand together, since higher ones were turned within them.
        for g in groups:
            out[g[0] : g[-1] + 1] = out[g[0] : g[-1] + 1][::-1]
    return out


def visual(text: str) -> str:
    """Return a line in the order in which its letters stand from left to right.

    Brackets and signs within runs from right to left are mirrored. Marks stand before their letter there,
    as the typeface of the sheets wants them: without width, over what follows.
    """
    if not runs_right(text):
        return text
    of = levels(text)
    return "".join(
        _SIGNS.get(text[k]) or _partner(text[k]) or text[k] if of[k] % 2 else text[k] for k in order(of)
    )
