"""Names and counts in a sentence."""

from __future__ import annotations

from collections.abc import Iterable


def listed(names: Iterable[str], last: str = "and") -> str:
    """Return names as one writes them in a sentence: ``P1, P2 and P3``.

    Parameters
    ----------
    names : iterable of str
        Empty ones are left out.
    last : str
        Word before the last name.
    """
    kept = [n for n in names if n]
    return kept[0] if len(kept) == 1 else f"{', '.join(kept[:-1])} {last} {kept[-1]}" if kept else ""


def plural(count: float, one: str, many: str = "") -> str:
    """Return the word that goes with a count: ``piece`` with 1, else ``pieces``.

    Parameters
    ----------
    count : float
    one : str
    many : str
        ``""`` for ``one`` with an s.
    """
    return one if count == 1 else many or f"{one}s"
