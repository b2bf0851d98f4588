"""Work shared among processes; the answers are the same with any number of them."""

from __future__ import annotations

import importlib
import multiprocessing
import multiprocessing.connection
import os
import signal
import sys
import threading
import traceback
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, TypeVar

from nestyield.model import NestyieldError, Shop
from nestyield.nesting.kernel_folder import kernel_folder
from nestyield.planning.clock import Clock
from nestyield.planning.cluster import Cluster
from nestyield.planning.demand import Demand

#: Fewer pieces of work than this are done in this process: starting others would take longer.
LEAST_ROWS_TO_SHARE = 8

#: Racks of more rows than this are planned with compiled regions from the start; for fewer the compiler
#: takes longer to load than it spares.
ROWS_TO_COMPILE = 40

#: What pieces of work need: imported once, for all processes.
_OF_WORKERS = ["nestyield.planning.run", "nestyield.paperwork.write"]

K = TypeVar("K")
T = TypeVar("T")


class WorkerError(NestyieldError, RuntimeError):
    """A piece of work failed because of a fault of the program; carries the worker's own traceback."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """What every piece of work of a plan needs to know.

    Parameters
    ----------
    shop : Shop
    wants : tuple of Demand
    effort, seed : int
    """

    shop: Shop
    demands: tuple[Demand, ...]
    effort: int
    seed: int


#: A function of a module, called with the job and the arguments of one piece of work.
Work = Callable[..., T]

_job: Job | None = None


def _start(job: Job) -> None:
    global _job
    _job = job
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent decides what Ctrl-C means
    for name in ("SIGTERM", "SIGHUP"):
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), signal.SIG_DFL)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    _quicken(job)


def _quicken(job: Job) -> None:
    """Let regions be worked out by compiled code from the start where a large rack is planned."""
    if job.demands and len(job.shop.pieces) > ROWS_TO_COMPILE:
        # by name: what never plans must not reach the compiler
        importlib.import_module("nestyield.nesting.quick_convolution").install()


def _end_with_parent() -> None:
    """End this process when the one that it works for is gone, however that ended."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        multiprocessing.connection.wait([parent.sentinel])
        os._exit(1)


@dataclass(frozen=True, slots=True)
class _Fault:
    text: str


def _do(work: Work[Any], args: tuple[Any, ...]) -> Any:
    assert _job is not None
    try:
        return work(_job, *args)
    except Exception:
        return fault()


def fault(text: str = "") -> object:
    """Return an answer that stands for an error: that of now, or a text."""
    return _Fault(text or traceback.format_exc())


class WorkerPool:
    """Processes for one plan: started when there is enough to share, ended with the plan.

    Parameters
    ----------
    job : Job
    workers : int
        Processes; 1 stays in this one.
    clock : Clock
        When it is over no more work is begun, and what is under way is given up.
    cluster : str
        Address of a Dask cluster that does the work instead; ``""`` for none.
    """

    def __init__(self, job: Job, *, workers: int, clock: Clock, cluster: str = "") -> None:
        self.job, self.workers, self.clock, self.cluster = job, workers, clock, cluster
        self._pool: ProcessPoolExecutor | Cluster | None = None
        self._others: set[int | None] = set()

    def __enter__(self) -> WorkerPool:
        _quicken(self.job)
        if self.cluster:
            self._started()  # an address that is wrong is told at once
        return self

    def __exit__(self, kind: object, *rest: object) -> None:
        self._end(given_up=kind is not None)

    def run(
        self,
        work: Work[T],
        asked: Mapping[K, tuple[Any, ...]],
        *,
        what: Callable[[K], str],
        told: Callable[[int, int], None] = lambda done, of: None,
        share_from: int = LEAST_ROWS_TO_SHARE,
        needed: bool = False,
        minds_clock: bool = False,
    ) -> dict[K, T]:
        """Do some work.

        Parameters
        ----------
        work : callable
            A function of a module; called as ``work(job, *args)``.
        asked : mapping of key to tuple
            Arguments of each piece of work, in the order in which they matter.
        what : callable
            Says what is done for a key, for the error: "trying piece M-01".
        told : callable
            Called as ``told(done, of)``.
        share_from : int
            Other processes are started for so many pieces of work.
        needed : bool
            Work that is done even when the clock is over.
        minds_clock : bool
            Work that ends by itself when its time is over, and is waited for.

        Returns
        -------
        dict
            What was finished, in the order of ``asked``.

        Raises
        ------
        WorkerError
            With the traceback of the process in which it happened.
        """
        done: dict[K, T] = {}
        running = self._pool is not None
        if (
            (self.workers > 1 or self.cluster)
            and not self.clock.stopped
            and (running or len(asked) >= share_from)
        ):
            self._share(work, asked, what, told, done, needed or minds_clock)
        for key, args in asked.items():
            if key in done:
                continue
            if needed or (minds_clock and not self.clock.over()):
                done[key] = work(self.job, *args)
            elif self.clock.over():
                break
            else:
                with self.clock.may_break():
                    done[key] = work(self.job, *args)
                    told(len(done), len(asked))
        return {key: done[key] for key in asked if key in done}

    def _share(
        self,
        work: Work[T],
        asked: Mapping[K, tuple[Any, ...]],
        what: Callable[[K], str],
        told: Callable[[int, int], None],
        done: dict[K, T],
        waits: bool,
    ) -> None:
        waiting: dict[Future[Any], K] = {}
        try:
            with _without_main(), _deaf_to_ctrl_c():
                pool = self._started()
                lost = pool.lost if isinstance(pool, Cluster) else ()
                for key, args in asked.items():
                    waiting[pool.submit(_do, work, args)] = key
            while waiting and (waits or not self.clock.over()):
                finished, _ = wait(waiting, timeout=0.5, return_when=FIRST_COMPLETED)
                for future in finished:
                    key = waiting.pop(future)
                    try:
                        answer = future.result()
                    except lost:  # with the workers that tried: this process does it
                        continue
                    if isinstance(answer, _Fault):
                        raise WorkerError(f"while {what(key)}:\n{answer.text}")
                    done[key] = answer
                told(len(done), len(asked))
                if isinstance(pool, Cluster) and not finished and not pool.alive():
                    self.cluster = ""  # and this process does the rest
                    break
        except BrokenProcessPool:  # somebody killed a process: this one does the rest
            self.workers = 1
        except KeyboardInterrupt:
            if self.clock.stopped:  # the second time
                raise
            self.clock.interrupt()
        if waiting:
            self._end(given_up=True)

    def _started(self) -> ProcessPoolExecutor | Cluster:
        if self._pool is None and self.cluster:
            self._pool = Cluster(self.cluster, self.job)
        if self._pool is None:
            kernel_folder()  # the same for all processes
            multiprocessing.set_forkserver_preload(_OF_WORKERS)
            self._others = {child.pid for child in multiprocessing.active_children()}
            self._pool = ProcessPoolExecutor(
                max_workers=self.workers,
                mp_context=multiprocessing.get_context("forkserver"),
                initializer=_start,
                initargs=(self.job,),
            )
        return self._pool

    def _end(self, *, given_up: bool) -> None:
        """End the processes; work that is given up is not waited for."""
        pool, self._pool = self._pool, None
        if pool is None:
            return
        if isinstance(pool, Cluster):
            pool.close(given_up=given_up)
            return
        pool.shutdown(wait=not given_up, cancel_futures=True)
        if given_up:
            for child in multiprocessing.active_children():
                if child.pid not in self._others:
                    child.terminate()


@contextmanager
def _without_main() -> Iterator[None]:
    """Keep new processes from running the caller's script once more.

    They need nothing of it, and a script without the usual guard would start planning again in each.
    """
    main = sys.modules["__main__"]
    names = ("__file__", "__spec__")
    hidden: dict[str, object] = {n: main.__dict__.pop(n) for n in names if n in main.__dict__}
    main.__dict__["__spec__"] = None
    try:
        yield
    finally:
        main.__dict__.update(hidden)


@contextmanager
def _deaf_to_ctrl_c() -> Iterator[None]:
    """Start processes that never hear Ctrl-C or a closed terminal, not even before they have set up themselves.

    So it is with the helpers of multiprocessing, of which one would end, and another begin, in the midst of the work.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    deaf = [signal.SIGINT, *([signal.SIGHUP] if hasattr(signal, "SIGHUP") else [])]
    before = {number: signal.signal(number, signal.SIG_IGN) for number in deaf}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
