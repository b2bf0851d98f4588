"""As much value on one sheet as the effort finds: one part after the other first, then several at once."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field

import numpy as np

from nestyield.nesting.filling import FillJob, add, fill, value_of
from nestyield.nesting.open_ended import search_open_ended
from nestyield.nesting.packer import Packing

#: Share of the effort for laying one part after the other, by each of two searches; most evaluations a part.
ONE_BY_ONE, ONE_BY_ONE_MOST = 0.1, 100_000
#: Share of the effort that is left for the first try with all parts, or as many as the area may hold.
ALL_AT_ONCE = 0.75
#: So many parts as a share of those that lie there are added to them; more are laid anew.
FROM_WHAT_LIES = 0.34
#: Least effort of a try, evaluations.
LEAST_TRY = 20_000


def most_value(
    job: FillJob,
    left: Sequence[int],
    b: int,
    effort: int,
    rngs: Sequence[np.random.Generator],
    workers: int,
) -> tuple[Packing | None, int]:
    """Lay as much value on one sheet as the effort finds.

    Parameters
    ----------
    job : FillJob
    left : sequence of int
        Copies of each item that may be laid.
    b : int
        The sheet.
    effort : int
        Evaluations.
    rngs : sequence of numpy.random.Generator
        Two.
    workers : int
        Threads; the answer does not depend on them.

    Returns
    -------
    (Packing or None, int)
        What lies there, and the evaluations spent.
    """
    with ThreadPoolExecutor(max_workers=max(1, min(2, workers))) as pool:
        each = round(min(ONE_BY_ONE * effort, ONE_BY_ONE_MOST * sum(left)))
        tries = list(pool.map(lambda rng: fill(job, left, b, each, rng), rngs))
    best = max((t[0] for t in tries), key=lambda p: value_of(job, p))
    search = _Search(
        job=job, left=left, b=b, rng=rngs[0], workers=workers, best=best, spent=sum(t[1] for t in tries)
    )
    search.all_at_once(effort)
    search.one_more(effort)
    return search.best, search.spent


@dataclass(slots=True, kw_only=True)
class _Search:
    """The best layout of one sheet so far."""

    job: FillJob
    left: Sequence[int]
    b: int
    rng: np.random.Generator
    workers: int
    best: Packing | None
    spent: int
    closed: set[int] = field(default_factory=set)

    def rest(self, packing: Packing | None) -> list[int]:
        """Copies of each item that do not lie in a layout."""
        out = list(self.left)
        if packing is not None:
            for k in packing.kinds:
                out[int(k)] -= 1
        return out

    def open(self) -> list[int]:
        """Kinds of which one more copy might go on by area, dearest first."""
        have = [int(k) for k in self.best.kinds] if self.best is not None else []
        packer = self.job.packer(self.rng)
        kinds = [
            k
            for k, n in enumerate(self.rest(self.best))
            if n and self.job.may_hold([*have, k], self.b) and packer.choices(k, [self.b])
        ]
        return sorted(kinds, key=lambda k: (-self.job.values[k], k))

    def all_at_once(self, effort: int) -> None:
        """Try all parts, or as many of the dearest for their area as the sheet may hold, large ones first."""
        kinds = self.open()
        if not kinds or self.job.stop():
            return
        have = [int(k) for k in self.best.kinds] if self.best is not None else []
        rest = self.rest(self.best)
        more: list[int] = []
        worth = [round(v / w, 6) for v, w in zip(self.job.values, self.job.wood)]
        for k in sorted(kinds, key=lambda k: (-worth[k], -self.job.values[k], k)):
            for _ in range(rest[k]):
                if self.job.may_hold([*have, *more, k], self.b):
                    more.append(k)
        self.attempt(
            more, round(ALL_AT_ONCE * (effort - self.spent)), len(more) <= FROM_WHAT_LIES * len(have)
        )

    def one_more(self, effort: int) -> None:
        """Try one part more, each kind in turn, with more and more effort."""
        share = max(LEAST_TRY, (effort - self.spent) // 32)
        anew = False
        while self.spent < effort and not self.job.stop():
            kinds = self.open()
            if not kinds:
                break
            kind = next((k for k in kinds if k not in self.closed), None)
            if kind is None:
                self.closed.clear()
                share, anew = 2 * share, not anew
                continue
            if self.attempt([kind], min(share, effort - self.spent), not anew):
                self.closed.clear()
            else:
                self.closed.add(kind)

    def attempt(self, more: Sequence[int], effort: int, from_there: bool) -> bool:
        """Try to lay further parts; keep what is better, and tell whether it is."""
        there = [] if self.best is None else [int(k) for k in self.best.kinds]
        base = self.best if from_there else None
        more = more if base is not None else [*there, *more]
        got = search_open_ended(self.job, base, more, self.b, max(LEAST_TRY, effort), self.rng, self.workers)
        self.spent += max(1_000, got.evaluations)
        found = got.whole if got.whole is not None else self._topped_up(got.cut)
        if value_of(self.job, found) <= value_of(self.job, self.best) * (1.0 + 1e-12):
            return False
        self.best = found
        return True

    def _topped_up(self, packing: Packing | None) -> Packing | None:
        """Add what still goes beside the parts of a layout that lie on the sheet."""
        if packing is None:
            return None
        rest = self.rest(packing)
        packer = self.job.packer(self.rng)
        for k in sorted((k for k, n in enumerate(rest) if n), key=lambda k: (-self.job.values[k], k)):
            for _ in range(rest[k]):
                more = add(self.job, packer, packing, [k], self.b, LEAST_TRY)
                if more is None:
                    break
                packing = more
        self.spent += packer.evaluations
        return packing
