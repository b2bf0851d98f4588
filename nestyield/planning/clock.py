"""When to stop: a ceiling in seconds, or Ctrl-C."""

from __future__ import annotations

import time
from dataclasses import dataclass, field


@dataclass(slots=True, kw_only=True)
class Clock:
    """Counts down from the ceiling; remembers why a run was stopped early.

    Parameters
    ----------
    seconds : float
        Ceiling for the whole search.
    """

    seconds: float
    stopped: str = ""
    started: float = field(default_factory=time.monotonic)

    def over(self) -> bool:
        """Tell whether to stop, and remember why."""
        if not self.stopped and time.monotonic() - self.started >= self.seconds:
            self.stopped = "seconds"
        return bool(self.stopped)

    def left(self) -> float:
        """Return the seconds that are left, never below 0."""
        return max(0.0, self.seconds - (time.monotonic() - self.started))

    def interrupt(self) -> None:
        """Note that a person stopped the run."""
        self.stopped = "interrupt"
