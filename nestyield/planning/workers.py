"""Rows tried in several processes; the answers are the same with any number of them."""

from __future__ import annotations

import multiprocessing
import signal
import sys
import threading
import traceback
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from contextlib import contextmanager

from nestyield.model import NestyieldError, Shop
from nestyield.planning.candidates import RowAnswer, try_row
from nestyield.planning.clock import Clock
from nestyield.planning.wants import Want

#: Fewer rows than this are tried in this process: starting others would take longer.
LEAST_ROWS_TO_SHARE = 8


class WorkerError(NestyieldError, RuntimeError):
    """A row could not be tried because of a fault of the program; carries the worker's own traceback."""


_job: tuple[Shop, tuple[Want, ...], int, int] | None = None


def _start(shop: Shop, wants: tuple[Want, ...], effort: int, seed: int) -> None:
    global _job
    _job = (shop, wants, effort, seed)
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent decides what Ctrl-C means


def _try(row: int, asked: tuple[int, ...]) -> RowAnswer | str:
    assert _job is not None
    try:
        return try_row(_job[0], _job[1], row, asked, _job[2], _job[3])
    except Exception:
        return f"while trying piece {_job[0].pieces[row].name}:\n{traceback.format_exc()}"


def try_rows(
    shop: Shop,
    wants: tuple[Want, ...],
    rows: Mapping[int, tuple[int, ...]],
    *,
    effort: int,
    seed: int,
    workers: int,
    clock: Clock,
    told: Callable[[int, int], None],
) -> dict[int, RowAnswer]:
    """Try rows of the rack, and return what each could carry.

    Parameters
    ----------
    shop : Shop
    wants : tuple of Want
    rows : mapping of int to tuple of int
        Indices of pieces, in the order in which they matter, and the wants to try on each.
    effort, seed : int
    workers : int
        Processes; 1 stays in this one.
    clock : Clock
        When it is over, or on Ctrl-C, the rows finished so far are returned.
    told : callable
        Called as ``told(done, of)``.

    Returns
    -------
    dict of int to RowAnswer
        In the order of ``rows``.

    Raises
    ------
    WorkerError
        With the traceback of the process in which it happened.
    """
    done: dict[int, RowAnswer] = {}
    try:
        if workers <= 1 or len(rows) < LEAST_ROWS_TO_SHARE:
            for row in rows:
                if clock.over():
                    break
                done[row] = try_row(shop, wants, row, rows[row], effort, seed)
                told(len(done), len(rows))
        else:
            _share(shop, wants, rows, effort, seed, workers, clock, told, done)
    except KeyboardInterrupt:
        clock.interrupt()
    return {row: done[row] for row in rows if row in done}


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
    """Start processes that never hear Ctrl-C, not even before they have set up themselves."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def _share(
    shop: Shop,
    wants: tuple[Want, ...],
    rows: Mapping[int, tuple[int, ...]],
    effort: int,
    seed: int,
    workers: int,
    clock: Clock,
    told: Callable[[int, int], None],
    done: dict[int, RowAnswer],
) -> None:
    others = {child.pid for child in multiprocessing.active_children()}
    pool = ProcessPoolExecutor(
        max_workers=min(workers, len(rows)),
        mp_context=multiprocessing.get_context("forkserver"),
        initializer=_start,
        initargs=(shop, wants, effort, seed),
    )
    try:
        with _without_main(), _deaf_to_ctrl_c():
            waiting: dict[Future[RowAnswer | str], int] = {
                pool.submit(_try, row, asked): row for row, asked in rows.items()
            }
        while waiting and not clock.over():
            finished, _ = wait(waiting, timeout=0.5, return_when=FIRST_COMPLETED)
            for future in finished:
                row, answer = waiting.pop(future), future.result()
                if isinstance(answer, str):
                    raise WorkerError(answer)
                done[row] = answer
            told(len(done), len(rows))
    finally:
        finished_all = sys.exc_info()[0] is None and not clock.stopped
        pool.shutdown(wait=finished_all, cancel_futures=True)
        if not finished_all:  # rows that are still being tried are not waited for
            for child in multiprocessing.active_children():
                if child.pid not in others:
                    child.terminate()
