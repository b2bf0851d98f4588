"""Ctrl-C, being asked to end, and a closed terminal, taken alike; never in the middle of an import."""

from __future__ import annotations

import os
import signal
import threading
from types import FrameType

#: A signal that comes while a module is imported is sent again after this, seconds.
AGAIN_S = 0.05
#: After so many times it is felt all the same: the whole program may run inside an import.
MOST_AGAIN = 200
#: Signals that may end a run: Ctrl-C, being asked to end, a terminal that was closed.
STOPS = tuple(getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name))

_sent_again: dict[int, int] = {}


def as_ctrl_c(number: int, frame: FrameType | None) -> None:
    """Raise KeyboardInterrupt, as Python does for Ctrl-C; while a module is imported, after that.

    Libraries that are broken off in their import report errors of their own, or end the process.
    """
    if not _importing(frame) or _sent_again.get(number, 0) >= MOST_AGAIN:
        _sent_again.clear()
        raise KeyboardInterrupt
    _sent_again[number] = _sent_again.get(number, 0) + 1
    again = threading.Timer(AGAIN_S, os.kill, (os.getpid(), number))
    again.daemon = True
    again.start()


def take_as_ctrl_c() -> None:
    """Take every signal that would end the program as Ctrl-C; nothing changes outside the main thread."""
    if threading.current_thread() is threading.main_thread():
        for number in STOPS:
            if signal.getsignal(number) in (signal.SIG_DFL, signal.default_int_handler):
                signal.signal(number, as_ctrl_c)


def minded() -> list[signal.Signals]:
    """Return the signals that are taken as Ctrl-C here; none outside the main thread."""
    if threading.current_thread() is not threading.main_thread():
        return []
    return [s for s in STOPS if signal.getsignal(s) in (signal.default_int_handler, as_ctrl_c)]


def _importing(frame: FrameType | None) -> bool:
    while frame is not None:
        if frame.f_code.co_filename.startswith("<frozen importlib"):
            return True
        frame = frame.f_back
    return False
