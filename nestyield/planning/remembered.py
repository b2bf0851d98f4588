"""Answers about rows kept between runs, so that a run tries only the rows that changed."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from importlib.metadata import version
from typing import Protocol

from pydantic import BaseModel, ConfigDict, ValidationError

from nestyield.model import Shop
from nestyield.planning.candidates import RowAnswer, most_copies
from nestyield.planning.wants import Want


class Cache(Protocol):
    """Bytes by key; what was put may be gone at any time."""

    def get(self, key: str) -> bytes | None:
        """Return what was put under a key, None when it is not there."""
        ...

    def put(self, key: str, data: bytes) -> None:
        """Keep bytes under a key."""
        ...


class _Kept(BaseModel):
    model_config = ConfigDict(ser_json_inf_nan="strings", extra="forbid")
    answer: RowAnswer


def answered(
    shop: Shop,
    wants: Sequence[Want],
    rows: Mapping[int, tuple[int, ...]],
    cache: Cache | None,
    *,
    effort: int,
    seed: int,
    ask: Callable[[Mapping[int, tuple[int, ...]]], dict[int, RowAnswer]],
) -> dict[int, RowAnswer]:
    """Return what each row could carry, asking only about those that are not remembered.

    Parameters
    ----------
    shop : Shop
    wants : sequence of Want
    rows : mapping of int to tuple of int
        Indices of pieces, in the order in which they matter, and the wants to try on each.
    cache : Cache or None
    effort, seed : int
    ask : callable
        Answers about the rows it is given.

    Returns
    -------
    dict of int to RowAnswer
        In the order of ``rows``; equal to ``ask(rows)``.
    """
    if cache is None:
        return ask(rows)
    keys = _keys(shop, wants, rows, effort, seed)
    answers = _recall(cache, keys, rows, len(wants))
    fresh = ask({row: asked for row, asked in rows.items() if row not in answers})
    for row, answer in fresh.items():
        kept = _moved(answer, row, {want: k for k, want in enumerate(rows[row])}, len(rows[row]))
        cache.put(keys[row], _Kept(answer=kept).model_dump_json().encode())
    answers |= fresh
    return {row: answers[row] for row in rows if row in answers}


def _keys(
    shop: Shop, wants: Sequence[Want], rows: Mapping[int, tuple[int, ...]], effort: int, seed: int
) -> dict[int, str]:
    """Return a key for each row: equal when everything that the answer about it rests on is equal."""
    settings = replace(shop.settings, seconds=0.0, workers=1, seed=seed, effort=effort)
    basis = hashlib.sha256(repr((shop.units, settings, shop.beds)).encode()).hexdigest()
    parts = {w.part: hashlib.sha256(repr(shop.part(w.part)).encode()).hexdigest() for w in wants}
    keys = {}
    for row, asked in rows.items():
        piece = replace(shop.pieces[row], shelf="", note="", parent="", count=1, row=0, status="ready")
        told = [(parts[wants[w].part], wants[w].beds, most_copies(shop, wants[w], row)) for w in asked]
        keys[row] = f"row {version('nestyield')} {basis} {told!r} {piece!r}"
    return keys


def _recall(
    cache: Cache, keys: Mapping[int, str], rows: Mapping[int, tuple[int, ...]], wants: int
) -> dict[int, RowAnswer]:
    found = {}
    for row, key in keys.items():
        data = cache.get(key)
        if data is None:
            continue
        try:
            answer = _Kept.model_validate_json(data).answer
            found[row] = _moved(answer, row, dict(enumerate(rows[row])), wants)
        except (ValidationError, KeyError):
            continue
    return found


def _moved(answer: RowAnswer, row: int, to: Mapping[int, int], size: int) -> RowAnswer:
    """Return an answer about a row with other numbers for row and wants."""

    def made(old: Sequence[int]) -> tuple[int, ...]:
        new = [0] * size
        for want, n in enumerate(old):
            if n:
                new[to[want]] = n
        return tuple(new)

    return RowAnswer(
        candidates=tuple(
            replace(c, rows=(row,), made=made(c.made), laid=tuple((to[w], p) for w, p in c.laid))
            for c in answer.candidates
        ),
        refusals=tuple((to[w], refusal) for w, refusal in answer.refusals),
    )
