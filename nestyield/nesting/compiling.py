"""Compile the search before it is needed, so that somebody can be told why it takes a while."""

from __future__ import annotations

import numpy as np

from nestyield.nesting.convex import ConvexPiece
from nestyield.nesting.jit import needs_compiling
from nestyield.nesting.kernel_folder import one_at_a_time
from nestyield.nesting.settling import Body, Settling
from nestyield.nesting.sheet import Sheet, SheetItem, nest

__all__ = ["compile_kernels", "needs_compiling"]


def compile_kernels() -> None:
    """Compile the kernels of the searches, or load them; of several processes one compiles."""
    with one_at_a_time():
        _run_all()


def _run_all() -> None:
    """Run the searches on two squares."""
    square = np.array([[0, 0], [1_000, 0], [1_000, 1_000], [0, 1_000]], dtype=np.int64)
    nest(
        [SheetItem(name="square", outline=[square], count=2)],
        [Sheet(name="sheet", region=[3 * square])],
        goal="value",
        gap_um=0,
        effort=100,
        workers=1,
    )
    piece = [ConvexPiece(points=square.astype(np.float64), outer=np.ones(4, dtype=np.bool_))]
    body = Body(groups=(piece,), radius_mm=1_500.0, low_deg=0.0, high_deg=0.0)
    Settling([body], [piece], [((0, 0), (-1, 0))]).contacts(np.zeros((1, 3)), 1.0)
