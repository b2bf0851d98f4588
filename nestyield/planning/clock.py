"""When to stop: a ceiling in seconds, or Ctrl-C."""

from __future__ import annotations

import signal
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from types import FrameType

from nestyield.ctrl_c import minded


class _Over(BaseException):
    """Breaks off work that is under way when the ceiling is reached."""


@dataclass(slots=True, kw_only=True)
class Clock:
    """Counts down from the ceiling; remembers why a run was stopped early.

    Parameters
    ----------
    seconds : float
        Ceiling for the whole search.
    stopped : str
        Why the run as a whole was stopped early: ``"seconds"``, ``"interrupt"``, or not at all.
    shortened : bool
        Whether some search ended at its share of the ceiling and not by its effort.
    """

    seconds: float
    stopped: str = ""
    shortened: bool = False
    started: float = field(default_factory=time.monotonic)
    _breakable: bool = False

    def over(self) -> bool:
        """Tell whether to stop, and remember why."""
        if not self.stopped and time.monotonic() - self.started >= self.seconds:
            self.stopped = "seconds"
        return bool(self.stopped)

    def left(self) -> float:
        """Return the seconds that are left, never below 0."""
        return max(0.0, self.seconds - (time.monotonic() - self.started))

    @property
    def reason(self) -> str:
        """Why anything was cut short: ``"interrupt"``, ``"seconds"``, or empty."""
        return self.stopped or ("seconds" if self.shortened else "")

    def share_until(self, share: float) -> float:
        """Return when a share of the ceiling will have passed, on the monotonic clock."""
        return self.started + share * self.seconds

    def interrupt(self) -> None:
        """Note that a person stopped the run."""
        self.stopped = "interrupt"

    @contextmanager
    def minding_ctrl_c(self) -> Iterator[None]:
        """Take the first Ctrl-C as the wish for the best plan so far, a second one as the end of it all.

        So is every signal that whoever runs this takes as Ctrl-C. Outside the main thread, and where somebody
        else minds a signal, nothing is changed.
        """
        before = {number: signal.getsignal(number) for number in minded()}
        for number in before:
            signal.signal(number, self._heard)
        try:
            yield
        finally:
            for number, handler in before.items():
                signal.signal(number, handler)

    def _heard(self, number: int, frame: FrameType | None) -> None:
        if self._breakable or self.stopped == "interrupt":
            raise KeyboardInterrupt
        self.interrupt()

    @contextmanager
    def may_break(self) -> Iterator[None]:
        """Break off what is done inside on Ctrl-C, and when the ceiling is reached; then `over` is true."""
        try:
            with self._alarm():
                self._breakable = True
                try:
                    yield
                finally:
                    self._breakable = False
        except KeyboardInterrupt:
            self.interrupt()
        except _Over:
            self.stopped = self.stopped or "seconds"

    @contextmanager
    def _alarm(self) -> Iterator[None]:
        """Ring when the ceiling is reached, where the system has an alarm that nobody else uses."""
        if (
            threading.current_thread() is not threading.main_thread()
            or not hasattr(signal, "setitimer")
            or signal.getsignal(signal.SIGALRM) is not signal.SIG_DFL
            or not 0.0 < self.left() < 1e6
        ):
            yield
            return

        def ring(number: int, frame: FrameType | None) -> None:
            if self._breakable:
                raise _Over

        signal.signal(signal.SIGALRM, ring)
        signal.setitimer(signal.ITIMER_REAL, self.left())
        try:
            yield
        finally:
            signal.setitimer(signal.ITIMER_REAL, 0.0)
            signal.signal(signal.SIGALRM, signal.SIG_DFL)
