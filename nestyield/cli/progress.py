"""Progress on a terminal, silence elsewhere."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TextIO


@contextmanager
def progress_on(stream: TextIO) -> Iterator[Callable[[str, int, int], None] | None]:
    """Give a function that keeps one line of progress up to date, or None when nobody watches.

    The line has the phase, how much of it is done, a bar and the time since the start. It is drawn only when
    the function is called: no thread draws it, since the search starts processes.

    Parameters
    ----------
    stream : text stream
        Written to only when it is a terminal; the line is wiped at the end.
    """
    if not stream.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, SpinnerColumn, TextColumn, TimeElapsedColumn

    bar = Progress(
        SpinnerColumn(),
        TextColumn("{task.fields[phase]}", markup=False),
        BarColumn(bar_width=24),
        TimeElapsedColumn(),
        console=Console(file=stream),
        auto_refresh=False,
        transient=True,
        redirect_stdout=False,
        redirect_stderr=False,
    )
    with bar:
        task = bar.add_task("", total=None, phase="reading")

        def show(what: str, done: int, of: int) -> None:
            phase = f"{what} {done}/{of}" if of else what
            bar.update(task, phase=phase, completed=done, total=of or None)
            bar.refresh()

        yield show
