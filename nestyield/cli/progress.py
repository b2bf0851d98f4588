"""Progress on a terminal, silence elsewhere."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TextIO


@contextmanager
def progress_on(stream: TextIO) -> Iterator[Callable[[str, int, int], None] | None]:
    """Give a function that keeps one line of progress up to date, or None when nobody watches.

    Parameters
    ----------
    stream : text stream
        Written to only when it is a terminal; the line is wiped at the end.
    """
    if not stream.isatty():
        yield None
        return

    def show(what: str, done: int, of: int) -> None:
        share = f" {done}/{of}" if of else ""
        stream.write(f"\r\x1b[K{what}{share}")
        stream.flush()

    try:
        yield show
    finally:
        stream.write("\r\x1b[K")
        stream.flush()
