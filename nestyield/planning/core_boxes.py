"""Which numbers of parts can never share a piece, told by rectangles inside the parts.

A part that follows the grain holds rectangles that stay inside it however it turns within its tolerance, sides
along and across the grain. In a layout these lie apart inside the box around the piece, so their sizes obey
every bound on packings of rectangles that do not turn. The bounds are the dual feasible functions of
S. P. Fekete and J. Schepers, A general framework for bounds for higher-dimensional orthogonal packing problems,
Mathematical Methods of Operations Research 60 (2004) 311-329: sides as shares of the box are rounded down in
such a way that what lies side by side never comes to more than one.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from nestyield.geometry.flatten import flatten
from nestyield.geometry.grid import UM_PER_MM
from nestyield.geometry.rectangles import largest_rectangle
from nestyield.model import Blank, Part, Settings
from nestyield.model.pose import Pose

#: Rectangles at least so wide, and so long, as a share of the part are looked for.
SHARES = (0.0, 0.4, 0.6, 0.75, 0.9)
#: Sides are also rounded down to parts of one over these numbers.
ROUNDED = (1, 2, 3, 4, 5)
#: Shares are lowered by this, and sums may pass one by the second, for rounding of numbers.
TINY, OVER = 1e-9, 1e-6
#: When a load has more mixtures than this they are not gone through.
MOST_MIXTURES = 50_000

Sizes = NDArray[np.float64]


def boxes_inside(part: Part, chord_error_mm: float) -> Sizes:
    """Return rectangles that stay inside a part at every angle within its grain tolerance.

    Parameters
    ----------
    part : Part
    chord_error_mm : float
        Of the outline with straight lines inside it.

    Returns
    -------
    ndarray of float64, shape (n, 2)
        Along and across the grain, millimeters; none for a part that may lie at any angle.
    """
    turn = math.radians(part.grain_tolerance_deg)
    if part.grain_deg is None or turn >= math.radians(45.0):
        return np.zeros((0, 2))
    outline = [flatten(part.outline, chord_error_mm, "inside")]
    ring = Pose(angle_deg=-part.grain_deg).array(outline[0]) / UM_PER_MM
    length, width = (float(v) for v in np.ptp(ring, axis=0))
    least = [(share * length, 0.0) for share in SHARES] + [(0.0, share * width) for share in SHARES[1:]]
    found = {largest_rectangle(outline, part.grain_deg, *sides)[2:] for sides in least}
    cut = {(a * f, b) for a, b in found for f in (1.0, 0.75, 0.5)}
    turned = [_turnable(a, b, turn) for a, b in sorted(cut)]
    return np.array([box for box in turned if min(box) > 0.0]).reshape(-1, 2)


def _turnable(length: float, width: float, turn: float) -> tuple[float, float]:
    """Return a rectangle that a larger one holds when it is turned both ways by up to an angle, radians."""
    c, s, both = math.cos(turn), math.sin(turn), math.cos(2.0 * turn)
    a, b = (length * c - width * s) / both, (width * c - length * s) / both
    if min(a, b) <= 0.0:
        return 0.0, 0.0

    def reach(along: float, across: float) -> float:
        """Return the most that a turned rectangle measures one way."""
        steepest = min(turn, math.atan2(across, along))
        return along * math.cos(steepest) + across * math.sin(steepest)

    shrink = min(1.0, length / reach(a, b), width / reach(b, a))
    return a * shrink, b * shrink


class CoreBoxes:
    """Tells mixtures of parts that have no room on a blank whatever the layout.

    Parameters
    ----------
    blank : Blank
    settings : Settings
        Margin of the blank and gap between parts.
    boxes : sequence of ndarray of float64, shape (n, 2)
        Of each part: rectangles that stay inside it, millimeters.
    """

    def __init__(self, blank: Blank, settings: Settings, boxes: Sequence[Sizes]) -> None:
        self._volumes = [np.zeros(1) for _ in boxes]
        if blank.grain_deg is None:
            return
        ring = flatten(blank.shape.outer, settings.chord_error_mm, "outside")
        around = np.ptp(Pose(angle_deg=-blank.grain_deg).array(ring) / UM_PER_MM, axis=0)
        # rectangles a gap apart are further apart than this along the grain or across it
        apart = settings.gap_mm / math.sqrt(2.0)
        room = around - 2.0 * (settings.blank_margin_mm + blank.measured_mm) + apart
        if room.min() <= 0.0:
            return
        self._volumes = [_volumes((sizes + apart) / room) for sizes in boxes]

    def rule_out(self, counts: Mapping[int, int]) -> bool:
        """Tell whether so many copies of each part can never lie on the blank together."""
        return bool(self.ruled_out(tuple(counts), np.array([tuple(counts.values())]))[0])

    def ruled_out(self, parts: Sequence[int], counts: NDArray[np.int64]) -> NDArray[np.bool_]:
        """Tell it of many mixtures.

        Parameters
        ----------
        parts : sequence of int
        counts : ndarray of int64, shape (n, len(parts))

        Returns
        -------
        ndarray of bool, shape (n,)
        """
        most = max(len(self._volumes[k]) for k in parts)
        each = np.array([np.broadcast_to(self._volumes[k], most) for k in parts])
        return np.asarray((counts @ each > 1.0 + OVER).any(axis=1))


def _volumes(shares: Sizes) -> NDArray[np.float64]:
    """Return the largest product of rounded sides over some rectangles, for each pair of roundings."""
    if not len(shares):
        return np.zeros((len(ROUNDED) + 1) ** 2)
    sides = np.clip(shares - TINY, 0.0, 1.0)
    rounded = np.array([sides, *(np.floor((k + 1) * sides) / k for k in ROUNDED)])  # shape (functions, n, 2)
    products = rounded[:, None, :, 0] * rounded[None, :, :, 1]
    return np.asarray(products.max(axis=2).ravel())
