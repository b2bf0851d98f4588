"""Answers kept between runs, so that a run looks only at what changed.

An answer is kept under everything that it rests on: pieces, parts, beds, settings, seed, effort, and the
code that gave it. What is read back is checked by type; nothing is ever unpickled.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache as once
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any, Protocol, TypeVar

from pydantic import BaseModel, ConfigDict, ValidationError, create_model

from nestyield.model import Blank, Piece, Shop
from nestyield.planning.candidates import RowAnswer, most_copies
from nestyield.planning.lay_parts import Laid
from nestyield.planning.saw_first import SawnFirst
from nestyield.planning.workers import Job

#: Libraries on which answers rest beside the project's own code.
LIBRARIES = ("numpy", "numba", "ortools", "pyclipper", "pydantic", "scipy", "shapely")

K = TypeVar("K")
T = TypeVar("T")


class Cache(Protocol):
    """Bytes by key; what was put may be gone at any time."""

    def get(self, key: str) -> bytes | None:
        """Return what was put under a key, None when it is not there."""
        ...

    def put(self, key: str, data: bytes) -> None:
        """Keep bytes under a key."""
        ...


@once
def code_digest() -> str:
    """Return a SHA-256 of the project's code and the versions of the libraries that it uses."""
    root = Path(__file__).parents[1]
    told = hashlib.sha256()
    for path in sorted(root.rglob("*.py")):
        told.update(f"{path.relative_to(root).as_posix()}\0".encode())
        told.update(hashlib.sha256(path.read_bytes()).digest())
    for name in ("nestyield", *LIBRARIES):
        try:
            told.update(f"{name} {version(name)}\0".encode())
        except PackageNotFoundError:
            continue
    return told.hexdigest()


@once
def _kept(kind: Any) -> type[BaseModel]:
    """Return what writes and reads answers of a kind as JSON."""
    config = ConfigDict(ser_json_inf_nan="strings", extra="forbid")
    return create_model("Kept", __config__=config, answer=(kind, ...))


def remembered(
    cache: Cache | None,
    name: str,
    kind: Any,
    bases: Mapping[K, object],
    ask: Callable[[Sequence[K]], Mapping[K, T]],
    *,
    keep: Callable[[], bool] = lambda: True,
) -> dict[K, T]:
    """Return answers, asking only for those that are not remembered; equal questions are asked once.

    Parameters
    ----------
    cache : Cache or None
    name : str
        What kind of question it is.
    kind : type
        Of an answer: a dataclass, or a tuple of such.
    bases : mapping of key to object
        All that each answer rests on beside the code, plain values and dataclasses; equal bases have equal
        answers.
    ask : callable
        Answers some of the keys; those that it leaves out are left out.
    keep : callable
        Tells, after they were given, whether fresh answers are good enough to be kept.

    Returns
    -------
    dict
        In the order of ``bases``.
    """
    code = "" if cache is None else code_digest()
    keys = {k: f"{name} {_sha(f'{code} {basis!r}')}" for k, basis in bases.items()}
    found: dict[str, T] = {}
    first: dict[str, K] = {}
    for k, key in keys.items():
        if key in found or key in first:
            continue
        data = None if cache is None else cache.get(key)
        answer = None if data is None else _read(kind, data)
        if answer is None:
            first[key] = k
        else:
            found[key] = answer
    fresh = ask(list(first.values())) if first else {}
    for key, k in first.items():
        if k in fresh:
            found[key] = fresh[k]
            if cache is not None and keep():
                data = _kept(kind)(answer=fresh[k]).model_dump_json().encode()
                cache.put(key, data)
                found[key] = _read(kind, data)  # as it will come back: later questions rest on it
    return {k: found[key] for k, key in keys.items() if key in found}


def _sha(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


def _read(kind: Any, data: bytes) -> Any:
    try:
        return vars(_kept(kind).model_validate_json(data))["answer"]
    except ValidationError:
        return None


def settings_basis(shop: Shop) -> object:
    """Return what every answer of a shop rests on: units, settings and beds, without seed and effort."""
    return shop.units, replace(shop.settings, seconds=1.0, workers=1, seed=0, effort=0), shop.beds


def plain(piece: Piece) -> Piece:
    """Return a piece without what no answer rests on: name, shelf, note, parent, count, row, status."""
    return replace(piece, name="", shelf="", note="", parent="", count=1, row=0, status="ready")


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """What is asked about one row.

    Parameters
    ----------
    row : int
        Index into the shop's pieces.
    asked : tuple of int
        The wants that it is about, in rising order.
    copies : tuple of int
        Copies of each, where they are part of the question.
    begun : tuple of (int, Placement)
        The layout that the search begins with.
    """

    row: int
    asked: tuple[int, ...]
    copies: tuple[int, ...] = ()
    begun: Laid = ()


def _bases(job: Job, questions: Mapping[K, Question]) -> dict[K, object]:
    """Return what each answer rests on: equal for rows that are alike."""
    shop, demands = job.shop, job.demands
    settings = _sha(repr((settings_basis(shop), job.effort, job.seed)))
    parts = {w.part: _sha(repr(shop.part(w.part))) for w in demands}
    return {
        k: (
            settings,
            [
                (parts[demands[w].part], demands[w].beds, most_copies(shop, demands[w], q.row))
                for w in q.asked
            ],
            q.copies,
            [(q.asked.index(w), at) for w, at in q.begun],
            plain(shop.pieces[q.row]),
        )
        for k, q in questions.items()
    }


def answered(
    job: Job,
    name: str,
    questions: Mapping[K, Question],
    cache: Cache | None,
    ask: Callable[[Sequence[K]], Mapping[K, RowAnswer]],
    *,
    keep: Callable[[], bool] = lambda: True,
) -> dict[K, RowAnswer]:
    """Return answers about rows, asking only what is not remembered; alike rows are asked about once.

    Parameters
    ----------
    job : Job
    name : str
        What kind of question it is.
    questions : mapping of key to Question
        In the order in which they matter.
    cache : Cache or None
    ask : callable
        Answers some of the keys.
    keep : callable
        Tells whether fresh answers are good enough to be kept.

    Returns
    -------
    dict of key to RowAnswer
        In the order of ``questions``; equal to what ``ask`` says of them all.
    """

    def asked(some: Sequence[K]) -> dict[K, RowAnswer]:
        return {k: _plain_answer(answer, questions[k]) for k, answer in ask(some).items()}

    found = remembered(cache, name, RowAnswer, _bases(job, questions), asked, keep=keep)
    names = [piece.name for piece in job.shop.pieces]
    return {
        k: _moved(answer, q.row, dict(enumerate(q.asked)), len(job.demands), names[q.row])
        for k, answer in found.items()
        for q in (questions[k],)
    }


def _plain_answer(answer: RowAnswer, q: Question) -> RowAnswer:
    return _moved(answer, 0, {want: k for k, want in enumerate(q.asked)}, len(q.asked), "")


def _moved(answer: RowAnswer, row: int, to: Mapping[int, int], size: int, name: str) -> RowAnswer:
    """Return an answer about a row with other numbers for row and wants, and another name for the piece."""

    def made(old: Sequence[int]) -> tuple[int, ...]:
        new = [0] * size
        for want, n in enumerate(old):
            if n:
                new[to[want]] = n
        return tuple(new)

    return RowAnswer(
        candidates=tuple(
            replace(
                c,
                rows=(row,),
                made=made(c.made),
                laid=_renumbered(c.laid, to),
                sawn=_sawn(c.sawn, to),
                blank=_of_piece(c.blank, name),
            )
            for c in answer.candidates
        ),
        refusals=tuple((to[w], replace(refusal, piece=name)) for w, refusal in answer.refusals),
    )


def _of_piece(blank: Blank | None, name: str) -> Blank | None:
    """Return a blank made of one piece with another name for the piece."""
    if blank is None:
        return None
    return replace(blank, name=name, members=tuple(replace(m, piece=name) for m in blank.members))


def _renumbered(laid: Laid, to: Mapping[int, int]) -> Laid:
    return tuple((to[w], placement) for w, placement in laid)


def _sawn(sawn: SawnFirst | None, to: Mapping[int, int]) -> SawnFirst | None:
    if sawn is None:
        return None
    return replace(sawn, blocks=tuple(replace(b, laid=_renumbered(b.laid, to)) for b in sawn.blocks))
