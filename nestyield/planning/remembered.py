"""Answers about rows kept between runs, so that a run tries only the rows that changed."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Protocol

from pydantic import BaseModel, ConfigDict, ValidationError

from nestyield import __version__
from nestyield.model import Shop
from nestyield.planning.candidates import RowAnswer
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
    rows: Sequence[int],
    cache: Cache | None,
    *,
    effort: int,
    seed: int,
    ask: Callable[[Sequence[int]], dict[int, RowAnswer]],
) -> dict[int, RowAnswer]:
    """Return what each row could carry, asking only about those that are not remembered.

    Parameters
    ----------
    shop : Shop
    wants : sequence of Want
    rows : sequence of int
        Indices of pieces, in the order in which they matter.
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
    answers = _recall(cache, keys)
    fresh = ask([row for row in rows if row not in answers])
    for row, answer in fresh.items():
        cache.put(keys[row], _Kept(answer=answer).model_dump_json().encode())
    answers |= fresh
    return {row: answers[row] for row in rows if row in answers}


def _keys(shop: Shop, wants: Sequence[Want], rows: Sequence[int], effort: int, seed: int) -> dict[int, str]:
    """Return a key for each row: equal when everything that the answer about it rests on is equal."""
    parts = [shop.part(name) for name in sorted({want.part for want in wants})]
    settings = replace(shop.settings, seconds=0.0, workers=1, seed=seed, effort=effort)
    asked = [(w.part, w.beds, w.count) for w in wants]
    basis = hashlib.sha256(repr((shop.units, settings, shop.beds, parts, asked)).encode()).hexdigest()
    keys = {}
    for row in rows:
        piece = replace(shop.pieces[row], shelf="", note="", parent="", count=1, row=0, status="ready")
        keys[row] = f"row {__version__} {basis} {piece!r}"
    return keys


def _recall(cache: Cache, keys: dict[int, str]) -> dict[int, RowAnswer]:
    found = {}
    for row, key in keys.items():
        data = cache.get(key)
        if data is None:
            continue
        try:
            answer = _Kept.model_validate_json(data).answer
        except ValidationError:
            continue
        found[row] = replace(answer, candidates=tuple(replace(c, row=row) for c in answer.candidates))
    return found
