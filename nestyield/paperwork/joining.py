"""Arabic letters in the shapes that they have beside each other, as characters of their own.

Shapes and which letters join on which side are those of the Unicode presentation forms, read from the
character data that comes with Python; lam with alef becomes one sign.
"""

from __future__ import annotations

import unicodedata
from functools import lru_cache

_LAM = "\u0644"
_TATWEEL, _JOINER, _NON_JOINER = "\u0640", "\u200d", "\u200c"
_KINDS = {"<isolated>": "isolated", "<final>": "final", "<initial>": "initial", "<medial>": "medial"}


@lru_cache(maxsize=1)
def _forms() -> dict[str, dict[str, str]]:
    """Return the shapes of each letter, and of lam with each alef, by how it is joined."""
    found: dict[str, dict[str, str]] = {}
    for code in (*range(0xFB50, 0xFE00), *range(0xFE70, 0xFEFD)):
        parts = unicodedata.decomposition(chr(code)).split()
        if not parts or parts[0] not in _KINDS:
            continue
        letters = "".join(chr(int(p, 16)) for p in parts[1:])
        single = len(letters) == 1
        alef = len(letters) == 2 and letters[0] == _LAM and letters[1] in "\u0622\u0623\u0625\u0627"
        if single or alef:
            found.setdefault(letters, {}).setdefault(_KINDS[parts[0]], chr(code))
    return found


def _transparent(ch: str) -> bool:
    return unicodedata.category(ch) in ("Mn", "Me")


def _joins_next(ch: str) -> bool:
    return ch in (_TATWEEL, _JOINER) or "initial" in _forms().get(ch, ())


def _joins_last(ch: str) -> bool:
    return ch in (_TATWEEL, _JOINER) or "final" in _forms().get(ch, ())


def joined(text: str) -> str:
    """Return a text, in the order of reading, with Arabic letters in their joined shapes.

    Letters without such shapes, and all other writings, stay as they are; joiners are taken out.
    """
    if not any("\u0600" <= ch <= "\u08ff" for ch in text):
        return text
    forms = _forms()
    base = [i for i, ch in enumerate(text) if not _transparent(ch)]
    out = list(text)
    skip = -1
    for n, i in enumerate(base):
        ch = text[i]
        if i == skip or ch not in forms:
            continue
        last = n > 0 and _joins_next(text[base[n - 1]]) and _joins_last(ch)
        after = base[n + 1] if n + 1 < len(base) else None
        pair = ch + text[after] if after is not None else ""
        if after is not None and pair in forms:
            shape = forms[pair].get("final" if last else "isolated")
            if shape:
                out[i], out[after], skip = shape, "", after
                continue
        forward = after is not None and _joins_next(ch) and _joins_last(text[after])
        kind = {(True, True): "medial", (True, False): "final", (False, True): "initial"}.get(
            (last, forward), "isolated"
        )
        out[i] = forms[ch].get(kind, ch)
    return "".join(ch for ch in out if ch not in (_JOINER, _NON_JOINER))
