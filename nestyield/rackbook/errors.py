"""Why the rack book would not write."""

from __future__ import annotations

from nestyield.model import NestyieldError


class RackbookError(NestyieldError, RuntimeError):
    """The rack cannot be booked; nothing was changed."""


class ChangedError(RackbookError):
    """What the plan was made with is no longer so."""


class BusyError(RackbookError):
    """Another run holds the lock of the folder."""
