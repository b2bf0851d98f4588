"""Reading a shop folder while nobody is half through writing it."""

from __future__ import annotations

import contextlib
import errno
import time
from collections.abc import Iterator
from pathlib import Path

from nestyield.rackbook.commit import open_book
from nestyield.rackbook.errors import BusyError
from nestyield.rackbook.journal import FOLDER

#: How long a reader waits for a booking, which takes a moment.
WAIT_S = 10.0


@contextlib.contextmanager
def settled(shop: Path) -> Iterator[None]:
    """Hold a shop folder still while it is read, with a booking that was cut short finished first.

    A folder in which nothing was ever booked, or that cannot be written, is read as it is.

    Parameters
    ----------
    shop : Path

    Raises
    ------
    BusyError
        When a booking holds it for longer than `WAIT_S`.
    RackbookError
        When a booking was cut short and cannot be finished.
    """
    if not (shop / FOLDER).is_dir():
        yield
        return
    with contextlib.ExitStack() as stack:
        end = time.monotonic() + WAIT_S
        while True:
            try:
                stack.enter_context(open_book(shop, "reading"))
                break
            except BusyError:
                if time.monotonic() > end:
                    raise
                time.sleep(0.05)
            except PermissionError:
                break
            except OSError as error:
                if error.errno != errno.EROFS:
                    raise
                break
        yield
