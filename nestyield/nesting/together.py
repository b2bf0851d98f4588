"""All copies of some parts on as few alike sheets as will do: one search over all of them.

Parts move from sheet to sheet within the search, as they move within one. Sheets that are filled one after
the other leave the last with what fits badly; here no sheet is done before the others.
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor

import numpy as np

from nestyield.nesting.bounds import fewest_sheets
from nestyield.nesting.filling import FillJob, part_of
from nestyield.nesting.packer import Packer, Packing

#: Evaluations of the first try of each of two lines; each further try, from other places, has twice as many.
FIRST_TRY = 100_000


def on_fewest(
    job: FillJob,
    kinds: Sequence[int],
    most: int,
    effort: int,
    rngs: Sequence[np.random.Generator],
    workers: int,
) -> list[Packing]:
    """Lay all of some parts on as few of the first sheets of a job as the effort finds.

    Parameters
    ----------
    job : FillJob
        Its sheets are alike.
    kinds : sequence of int
        One a part.
    most : int
        Sheets, at the most.
    effort : int
        Evaluations, of which every number of sheets that is tried may spend what is left.
    rngs : sequence of numpy.random.Generator
        Two.
    workers : int
        Threads; the answer does not depend on them.

    Returns
    -------
    list of Packing
        By sheet; empty when not all were laid. They have passed the exact tests.
    """
    least = fewest_sheets([job.wood[k] for k in kinds], [float(job.room[0])] * most)
    packers = [job.packer(rng) for rng in rngs]
    best: list[Packing] = []
    count = most
    with ThreadPoolExecutor(max_workers=max(1, min(len(packers), workers))) as pool:
        while max(1, least) <= count:
            found = _on(job, kinds, count, effort, packers, pool)
            if found is None:
                break
            best = [p for b in range(count) if (p := part_of(found, b)) is not None]
            count = len(best) - 1
    return best


def _on(
    job: FillJob,
    kinds: Sequence[int],
    count: int,
    effort: int,
    packers: Sequence[Packer],
    pool: ThreadPoolExecutor,
) -> Packing | None:
    """Try so many sheets from places at random, with more and more effort.

    Of the lines that come to a packing in one round the first counts.
    """
    share = FIRST_TRY

    def trial(packer: Packer) -> Packing | None:
        got = packer.pack(kinds, range(count), share)
        return None if got is None else job.certifier.round_to_grid(job.tab, got, job.boxes)

    while not job.stop() and sum(p.evaluations for p in packers) < effort:
        tried = list(pool.map(trial, packers))  # all of them: which ends first must not matter
        found = next((p for p in tried if p is not None), None)
        if found is not None:
            return found
        share *= 2
    return None
