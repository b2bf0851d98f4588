"""Numbers on the command line."""

from __future__ import annotations

import argparse
import math


def positive_int(text: str) -> int:
    """Return a whole number of at least 1."""
    try:
        value = int(text)
    except ValueError:
        value = 0
    if value < 1:
        raise argparse.ArgumentTypeError(f"expected a whole number of at least 1, got {text!r}")
    return value


def whole_number(text: str) -> int:
    """Return a whole number of at least 0."""
    try:
        value = int(text)
    except ValueError:
        value = -1
    if value < 0:
        raise argparse.ArgumentTypeError(f"expected a whole number of at least 0, got {text!r}")
    return value


def positive_float(text: str) -> float:
    """Return a finite number above 0."""
    try:
        value = float(text)
    except ValueError:
        value = 0.0
    if not (value > 0 and math.isfinite(value)):
        raise argparse.ArgumentTypeError(f"expected a number above 0, got {text!r}")
    return value
