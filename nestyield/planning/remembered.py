"""Answers about rows kept between runs, so that a run tries only the rows that changed."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from typing import Protocol

from pydantic import BaseModel, ConfigDict, ValidationError

from nestyield import __version__
from nestyield.model import Shop
from nestyield.planfile import digest
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


def keys_of(
    shop: Shop, wants: Sequence[Want], rows: Sequence[int], effort: int, seed: int
) -> dict[int, str]:
    """Return a key for each row: equal when everything that the answer about it rests on is equal.

    Parameters
    ----------
    shop : Shop
    wants : sequence of Want
    rows : sequence of int
        Indices of pieces.
    effort, seed : int
    """
    parts = {want.part for want in wants}
    common = replace(
        shop,
        name="",
        pieces=(),
        parts=tuple(p for p in shop.parts if p.name in parts),
        orders=(),
        files={},
        settings=replace(shop.settings, seconds=0.0, workers=1, seed=seed, effort=effort),
    )
    basis = f"{__version__} {digest(common)} {_wants(wants)}"
    keys = {}
    for row in rows:
        piece = replace(shop.pieces[row], shelf="", note="", parent="", count=1, row=0, status="ready")
        keys[row] = f"row {row} {basis} {digest(replace(common, parts=(), beds=(), pieces=(piece,)))}"
    return keys


def recall(cache: Cache, keys: dict[int, str]) -> dict[int, RowAnswer]:
    """Return the answers that are still known, by row."""
    found = {}
    for row, key in keys.items():
        data = cache.get(key)
        if data is None:
            continue
        try:
            found[row] = _Kept.model_validate_json(data).answer
        except ValidationError:
            continue
    return found


def remember(cache: Cache, keys: dict[int, str], answers: dict[int, RowAnswer]) -> None:
    """Keep answers for later runs."""
    for row, answer in answers.items():
        cache.put(keys[row], _Kept(answer=answer).model_dump_json().encode())


def _wants(wants: Sequence[Want]) -> str:
    return json.dumps([[w.part, list(w.beds), w.count] for w in wants])
