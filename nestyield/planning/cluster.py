"""Pieces of work done on an existing Dask cluster (extra ``cluster``), in place of processes of one's own.

A piece of work is small and pure, so that it does not matter where, how often and in which order it is done: one that
is lost with its worker is done once more elsewhere, and here where it is lost again and again. Functions go by
name only: a worker needs the same program and libraries, and says so where it has others.
"""

from __future__ import annotations

import pickle
import threading
import time
from collections.abc import Callable
from concurrent.futures import Future
from typing import Any

from nestyield.model import NestyieldError

#: How long one waits for the scheduler, and how long for a first worker after the last one has gone, seconds.
CONNECT_S, NO_WORKER_S = 10, 30.0
# A worker may have several threads; the program's searches share what they remember, so one runs at a time.
_one_at_a_time = threading.Lock()


class ClusterError(NestyieldError, RuntimeError):
    """There is no cluster at the address, or it cannot be used."""


class Cluster:
    """A cluster that is there already; takes work as an executor of ``concurrent.futures`` does.

    Parameters
    ----------
    address : str
        Of its scheduler, as ``tcp://10.0.0.5:8786``.
    job : object
        What every piece of work needs to know; goes to each worker once.

    Raises
    ------
    ClusterError
        When it does not answer, has no worker, or Dask is not installed.
    """

    def __init__(self, address: str, job: object) -> None:
        try:
            import distributed
        except ImportError as error:
            how = "pip install 'nestyield[cluster]'"
            raise ClusterError(f"a cluster needs Dask: {how}") from error
        try:
            self._client: Any = distributed.Client(address, timeout=CONNECT_S, set_as_default=False)
        except (OSError, ValueError, TypeError) as error:
            raise ClusterError(
                f"no cluster answers at {address!r}: {' '.join(str(error).split())[:150]}"
            ) from None
        #: Errors of work that is lost, not wrong.
        self.lost: tuple[type[BaseException], ...] = (
            distributed.KilledWorker,
            distributed.client.FutureCancelledError,
            distributed.comm.CommClosedError,
        )
        if not self._workers():
            self._client.close()
            raise ClusterError(f"the cluster at {address!r} has no worker")
        self._executor = self._client.get_executor(pure=False)
        # a piece of work like any other: made again where it is lost with all workers that have it
        self._job = self._client.submit(pickle.loads, pickle.dumps(job), pure=False)
        self._seen = time.monotonic()

    def submit(self, _: object, work: Callable[..., Any], args: tuple[Any, ...]) -> Future[Any]:
        """Begin a piece of work: ``work(job, *args)``, with a fault's traceback as the answer where it fails."""
        future: Future[Any] = self._executor.submit(do_there, self._job, _digest(), work, args)
        return future

    def alive(self) -> bool:
        """Tell whether there is hope of answers: a worker is there, or was so a moment ago."""
        now = time.monotonic()
        if self._client.status == "running" and self._workers():
            self._seen = now
        return now - self._seen < NO_WORKER_S

    def close(self, *, given_up: bool) -> None:
        """Leave the cluster as it was; work that is given up is not waited for."""
        self._executor.shutdown(wait=not given_up)
        self._client.close()

    def _workers(self) -> int:
        return len(self._client.scheduler_info(n_workers=-1)["workers"])


def do_there(job: object, digest: str, work: Callable[..., Any], args: tuple[Any, ...]) -> Any:
    """Do a piece of work in a worker of a cluster.

    Parameters
    ----------
    job : Job
    digest : str
        Of the code and the libraries of the program that asks.
    work : callable
    args : tuple
    """
    from nestyield.planning.workers import fault

    if _digest() != digest:
        return fault("this worker has another version of nestyield or of its libraries\n")
    with _one_at_a_time:
        try:
            return work(job, *args)
        except Exception:
            return fault()


def _digest() -> str:
    from nestyield.planning.remembered import code_digest  # which rests on the work shared here

    return code_digest()
