"""What the pieces of a glue-up lose when they are ripped: the cut list."""

from __future__ import annotations

import numpy as np

from nestyield.geometry.grid import UM_PER_MM
from nestyield.geometry.rectangles import largest_rectangle
from nestyield.glueup.boards import Board, Frame, shapes
from nestyield.model import RipOffcut, Seam, Settings, Shape

#: Strips of less are not told, square millimeters.
LEAST_MM2 = 25.0
#: A strip narrower than this is sawdust and shavings, millimeters.
LEAST_WIDTH_MM = 0.5


def strips(board: Board, seams: dict[str, Seam], settings: Settings) -> tuple[RipOffcut, ...]:
    """Return the strips that come off one piece, lower edge first, each edge's largest first.

    Parameters
    ----------
    board : Board
    seams : dict of str to Seam
        By name.
    settings : Settings
        Jointing allowance and kerf, which go into shavings and dust, and the least size of a leftover.
    """
    found = []
    for edge in board.edges:
        frame = Frame.of(seams[edge.seam])
        off = board.whole.intersection(
            frame.half(edge.upper, settings.jointing_mm + settings.machines.saw_kerf_mm)
        )
        for shape in shapes(off, LEAST_MM2):
            length, width = _rectangle(shape, frame)
            if width < LEAST_WIDTH_MM:
                continue
            usable = length >= settings.leftover_shortest_mm and width >= settings.leftover_narrowest_mm
            found.append(
                RipOffcut(
                    seam=edge.seam,
                    shape=shape,
                    area_mm2=round(shape.area_mm2, 3),
                    length_mm=round(length, 3),
                    width_mm=round(width, 3),
                    usable=usable,
                )
            )
    return tuple(found)


def _rectangle(shape: Shape, frame: Frame) -> tuple[float, float]:
    """Return length and width of the largest rectangle along a seam."""
    rings = [
        np.rint(np.array([frame.where(p) for p in o.points_mm]) * UM_PER_MM).astype(np.int64)
        for o in (shape.outer, *shape.holes)
    ]
    _, _, length, width = largest_rectangle(rings, 0.0)
    return length, width
