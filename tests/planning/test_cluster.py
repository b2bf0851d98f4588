"""Work done on a Dask cluster: three worker processes, ended as a machine ends them."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
from typing import Any

import pytest

from nestyield.model import Order
from nestyield.planfile import dumps
from nestyield.planning import cluster as module
from nestyield.planning.cluster import ClusterError
from nestyield.planning.run import make_plan
from nestyield.planning.workers import WorkerError

distributed = pytest.importorskip("distributed", reason="the extra cluster is not installed")

HOW = {"seed": 1, "effort": 1, "seconds": 3000.0, "workers": 1}
# what Dask does inside is its own affair
pytestmark = pytest.mark.filterwarnings(
    "ignore::DeprecationWarning", "ignore::ResourceWarning", "ignore::UserWarning"
)


@pytest.fixture
def cluster():
    """Give the address of a scheduler and its three workers, processes of their own."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        address = f"tcp://127.0.0.1:{free.getsockname()[1]}"
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    cli = [sys.executable, "-m"]
    port = address.rpartition(":")[2]
    scheduler = [
        *cli,
        "distributed.cli.dask_scheduler",
        "--host",
        "127.0.0.1",
        "--port",
        port,
        "--no-dashboard",
    ]
    worker = [*cli, "distributed.cli.dask_worker", address, "--nthreads", "1", "--no-nanny", "--no-dashboard"]
    started = [subprocess.Popen(scheduler, **quiet)]
    try:
        started += [subprocess.Popen(worker, **quiet) for _ in range(3)]
        with distributed.Client(address, timeout=120, set_as_default=False) as client:
            client.wait_for_workers(3, timeout=240)
        yield address, started[1:]
    finally:
        for process in reversed(started):
            process.kill()
            process.wait()


def shop_of(make: Any, rows: int = 12) -> Any:
    return make.shop(
        [make.board(f"R{k}", 320 + k, 100 + k % 3) for k in range(rows)],
        [make.part("p", 300, 80), make.part("q", 150, 60)],
        [Order(name="o", part="p", count=3), Order(name="u", part="q", count=3, priority=2)],
    )


class Killer:
    """Ends worker processes as soon as some work is done and some is not."""

    def __init__(self, workers: list[subprocess.Popen[bytes]]) -> None:
        self.workers, self.at = workers, ""

    def __call__(self, what: str, done: int, of: int) -> None:
        if not self.at and 0 < done < of:
            self.at = f"{what} {done}/{of}"
            for process in self.workers:
                os.kill(process.pid, signal.SIGKILL)


@pytest.mark.study
def test_one_of_three_is_killed_midway(make, cluster):
    """The plan is the same to the byte as of one process, with three workers and when one of them dies."""
    address, workers = cluster
    shop = shop_of(make)
    alone = dumps(make_plan(shop, **HOW))
    assert dumps(make_plan(shop, cluster=address, **HOW)) == alone
    killer = Killer(workers[:1])
    assert dumps(make_plan(shop, cluster=address, progress=killer, **HOW)) == alone
    assert killer.at
    assert workers[0].wait(10) == -signal.SIGKILL
    assert [w.poll() for w in workers[1:]] == [None, None]
    with distributed.Client(address, set_as_default=False) as client:
        assert len(client.scheduler_info(n_workers=-1)["workers"]) == 2


@pytest.mark.study
def test_all_are_killed_midway(make, cluster, monkeypatch):
    """When no worker is left this process does the rest, and the plan is the same."""
    monkeypatch.setattr(module, "NO_WORKER_S", 2.0)
    address, workers = cluster
    shop = shop_of(make)
    killer = Killer(workers)
    found = dumps(make_plan(shop, cluster=address, progress=killer, **HOW))
    assert killer.at
    assert found == dumps(make_plan(shop, **HOW))


@pytest.mark.study
def test_ctrl_c_keeps_the_best_so_far(make, cluster):
    """One Ctrl-C ends the search, the plan says so, and the workers go on living."""
    address, workers = cluster

    def interrupted(what: str, done: int, of: int) -> None:
        if done:
            signal.raise_signal(signal.SIGINT)

    plan = make_plan(shop_of(make, 40), cluster=address, progress=interrupted, **HOW)
    assert plan.stopped == "interrupt"
    assert [w.poll() for w in workers] == [None, None, None]


@pytest.mark.study
def test_a_worker_of_another_version_says_so(make, cluster, monkeypatch):
    """Work of another program's version is refused, not mixed in."""
    monkeypatch.setattr(module, "_digest", lambda: "0" * 64)
    with pytest.raises(WorkerError, match="another version of nestyield"):
        make_plan(shop_of(make), cluster=cluster[0], **HOW)


def test_a_worker_in_this_process(make):
    """The plan is the same to the byte as without a cluster, and the cluster did work."""
    shop, seen = shop_of(make), []
    with distributed.LocalCluster(
        n_workers=1, threads_per_worker=1, processes=False, protocol="tcp", dashboard_address=None
    ) as local:
        found = make_plan(shop, cluster=local.scheduler_address, progress=lambda *at: seen.append(at), **HOW)
        with distributed.Client(local, set_as_default=False) as client:
            done = client.run_on_scheduler(lambda dask_scheduler: dask_scheduler.transition_counter)
    assert seen
    assert done > 0
    assert dumps(found) == dumps(make_plan(shop, **HOW))


def test_no_cluster(make, monkeypatch):
    """An address at which nobody answers, and a missing extra, are told before any work."""
    monkeypatch.setattr(module, "CONNECT_S", 1)
    with pytest.raises(ClusterError, match=r"no cluster answers at 'tcp://127\.0\.0\.1:1'"):
        make_plan(shop_of(make), cluster="tcp://127.0.0.1:1", **HOW)
    with pytest.raises(ClusterError, match=r"no cluster answers at 'nonsense://x'"):
        make_plan(shop_of(make), cluster="nonsense://x", **HOW)
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(ClusterError, match=r"pip install 'nestyield\[cluster\]'"):
        make_plan(shop_of(make), cluster="tcp://127.0.0.1:1", **HOW)
