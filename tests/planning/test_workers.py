"""Work shared among processes."""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from typing import Any

import pytest

from nestyield.model import Order
from nestyield.planfile import dumps
from nestyield.planning.run import make_plan
from nestyield.planning.workers import LEAST_ROWS_TO_SHARE

HOW = {"seed": 1, "effort": 1, "seconds": 300.0}


def shop_of(make: Any) -> Any:
    rows = LEAST_ROWS_TO_SHARE + 4
    return make.shop(
        [make.board(f"R{k}", 320 + k, 100 + k % 3) for k in range(rows)],
        [make.part("p", 300, 80), make.part("q", 150, 60)],
        [Order(name="o", part="p", count=3), Order(name="u", part="q", count=3, priority=2)],
    )


@pytest.mark.study
def test_a_process_that_is_killed_is_made_up_for(make: Any) -> None:
    """When the system kills a process, this one does the rest, and the plan is the same."""
    killed: list[int] = []

    def kill(what: str, done: int, of: int) -> None:
        if what == "trying pieces" and not killed:
            for child in multiprocessing.active_children():
                assert child.pid is not None
                killed.append(child.pid)
                os.kill(child.pid, signal.SIGKILL)

    made = make_plan(shop_of(make), **HOW, workers=2, progress=kill)
    assert killed
    assert made.stopped == ""
    assert dumps(made) == dumps(make_plan(shop_of(make), **HOW, workers=1))


@pytest.mark.parametrize(
    "phase",
    [
        "choosing",
        *(pytest.param(p, marks=pytest.mark.study) for p in ("writing up", "looking into what is missing")),
    ],
)
def test_ctrl_c_in_any_phase(make: Any, phase: str) -> None:
    """The first Ctrl-C after the pieces were tried still gives a checked plan, marked as stopped."""
    if threading.current_thread() is not threading.main_thread():
        pytest.skip("Ctrl-C is heard by the main thread only")
    before = signal.signal(signal.SIGINT, signal.default_int_handler)

    def press(what: str, done: int, of: int) -> None:
        if what == phase:
            signal.raise_signal(signal.SIGINT)

    try:
        made = make_plan(shop_of(make), **HOW, workers=1, progress=press)
        assert signal.getsignal(signal.SIGINT) is signal.default_int_handler
    finally:
        signal.signal(signal.SIGINT, before)
    assert made.stopped == "interrupt"
    assert sum(r.placed for r in made.orders) == 6
