"""Shortest strip: several search lines that share the best length at fixed marks of effort."""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nestyield.nesting.moves import Tables
from nestyield.nesting.search_line import Incumbent, SearchLine, Tuning


@dataclass(frozen=True, slots=True, kw_only=True)
class StripResult:
    """What a strip search found.

    Parameters
    ----------
    layouts : tuple of Incumbent
        Shortest first; the others stand by should one not survive rounding. Empty when none was found.
    evaluations : int
    rounds : int
    stopped : str
        ``"effort"``, ``"seconds"``, ``"bound"`` or ``"interrupt"``.
    """

    layouts: tuple[Incumbent, ...]
    evaluations: int
    rounds: int
    stopped: str


@dataclass(slots=True)
class Run:
    """How far a search from nothing has come; counts in evaluations of a line.

    Parameters
    ----------
    began, gained : int
        When it began, and when it last became better.
    length : float
        The best that it has.
    """

    began: int = 0
    gained: int = 0
    length: float = math.inf

    def begin(self, now: int) -> None:
        """Begin again."""
        self.began, self.gained, self.length = now, now, math.inf

    def stalled(self, now: int, best: Incumbent | None, least: int) -> bool:
        """Take note of the best layout; tell whether the last gain is too long ago."""
        if best is not None and best.length < self.length:
            self.gained, self.length = now, best.length
        return now - self.gained > max(least, self.gained - self.began)


def search_strip(
    tab: Tables,
    kinds: NDArray[np.int32],
    width: float,
    area: float,
    *,
    seed: int,
    effort: int | None = None,
    seconds: float | None = None,
    workers: int = 2,
    streams: int = 2,
    tuning: Tuning | None = None,
    round_size: int = 1_000_000,
    obstacle: int | None = None,
    longest: float = math.inf,
    obstacle_at: tuple[float, float] = (0.0, 0.0),
    start: Incumbent | None = None,
    bound: float = 0.0,
    aim: float | None = None,
    stop: Callable[[], bool] = lambda: False,
) -> StripResult:
    """Search for the shortest layout.

    The same seed and effort give the same layout with any number of workers, because every line
    has its own random numbers and lines meet only after fixed amounts of work. A run that the
    clock ends is not reproducible.

    Parameters
    ----------
    tab, kinds, width, area
        As for ``SearchLine``.
    seed : int
    effort : int, optional
        Evaluations in all lines together.
    seconds : float, optional
        Ceiling; without ``effort`` also the measure of progress.
    workers : int
        Threads.
    streams : int
        Search lines.
    tuning : Tuning, optional
    round_size : int
        Evaluations of a line between meetings.
    obstacle, longest, obstacle_at
        As for ``SearchLine``.
    start : Incumbent, optional
        A layout to begin from.
    bound : float
        The search ends when a layout is as short as this, to the grid.
    aim : float, optional
        The length that matters: of a search with a start, every second line aims at it straight away.
    stop : callable
        Ends the search after the round in which it returns True.
    """
    tuning = tuning or Tuning()
    seeds = np.random.SeedSequence(seed).spawn(streams)
    lines = [
        SearchLine(
            tab, kinds, width, area, np.random.default_rng(s), tuning, obstacle, longest, obstacle_at, bound
        )
        for s in seeds
    ]
    began = time.monotonic()
    best: Incumbent | None = None
    found: list[Incumbent] = []
    if start is not None:
        best = start.copy()
        found.append(best)
        for k, x in enumerate(lines):
            x.best = start.copy()
            first = x.next_length(start.length)
            x.target(first if aim is None or k % 2 == 0 else min(aim, first), start)
    rounds = 0
    stopped = ""
    home = Run()
    roaming: list[Run] = []  # one a line once the lines go their own ways

    def share() -> float:
        by_effort = sum(int(x.ws.tally[0]) for x in lines) / effort if effort else 0.0
        by_clock = (time.monotonic() - began) / seconds if seconds else 0.0
        return by_effort if effort else by_clock

    with ThreadPoolExecutor(max_workers=max(1, min(workers, streams))) as pool:
        try:
            while True:
                done = share()
                if best is not None and best.length <= math.ceil(bound - 1e-6) + 0.25:
                    stopped = "bound"
                    break
                if done >= 1.0:
                    stopped = "effort" if effort else "seconds"
                    break
                if stop():
                    stopped = "interrupt"
                    break
                if seconds and time.monotonic() - began >= seconds:
                    stopped = "seconds"
                    break
                left = 1.0 - done
                size = round_size
                if effort:  # at least 25 rounds, and no further than the effort goes
                    size = min(size, max(1_000, int(min(0.04, left) * effort / len(lines))))
                if not effort and seconds:  # rounds of about a fiftieth of the time, less at the end
                    spent = time.monotonic() - began
                    rate = sum(int(x.ws.tally[0]) for x in lines) / len(lines) / spent if rounds else 0.0
                    span = min(0.02 * seconds, 1.0, left * seconds)
                    size = max(20_000, min(2 * round_size, int(rate * span))) if rounds else 20_000
                if workers > 1:
                    list(pool.map(lambda x, size=size: x.advance(size), lines))
                else:
                    for x in lines:
                        x.advance(size)
                rounds += 1
                for x in lines:
                    if x.best is not None and (best is None or x.best.length < best.length):
                        best = x.best.copy()
                        found.append(best)
                        del found[:-6]
                for x, run in zip(lines, roaming):
                    if run.stalled(int(x.ws.tally[0]), x.best, tuning.stall):
                        x.restart()
                        run.begin(int(x.ws.tally[0]))
                each = sum(int(x.ws.tally[0]) for x in lines) // len(lines)
                if not roaming and home.stalled(each, best, tuning.stall):
                    for x in lines:
                        x.restart()
                        roaming.append(Run(int(x.ws.tally[0]), int(x.ws.tally[0])))
                if best is not None and not roaming:
                    for x in lines:
                        next_one = x.next_length(best.length)
                        if x.st.bin_box[0, 2] > next_one * (1.0 + 1e-12):
                            x.target(next_one, best if x.rng.random() < 0.5 else None)
        except KeyboardInterrupt:
            stopped = "interrupt"
    return StripResult(
        layouts=tuple(found[::-1]),
        evaluations=sum(int(x.ws.tally[0]) for x in lines),
        rounds=rounds,
        stopped=stopped,
    )
