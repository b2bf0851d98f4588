"""The paperwork of a plan, made by several processes at once."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from nestyield.model import Plan
from nestyield.paperwork.write import Job as PaperJob
from nestyield.paperwork.write import Maker, papers_of_job
from nestyield.planning.clock import Clock
from nestyield.planning.workers import Job, WorkerPool

#: From so many jobs on other processes are started.
LEAST_JOBS_TO_SHARE = 5


def shared_by(workers: int) -> Maker:
    """Return what makes jobs in so many processes; the files are the same with any number."""

    def make(plan: Plan, jobs: Sequence[PaperJob]) -> Iterable[dict[str, bytes]]:
        nothing_wanted = Job(shop=plan.shop, demands=(), effort=1, seed=0)
        with WorkerPool(nothing_wanted, workers=workers, clock=Clock(seconds=math.inf)) as crew:
            return crew.run(
                _made,
                {job: (plan, job) for job in jobs},
                what=lambda job: f"making the papers of {job[0]} {job[1]}",
                share_from=LEAST_JOBS_TO_SHARE,
                needed=True,
            ).values()

    return make


def _made(_: Job, plan: Plan, job: PaperJob) -> dict[str, bytes]:
    return papers_of_job(plan, job)
