"""The direction of the grain by the figure of the wood.

The structure tensor (J. Bigun and G. Granlund, Optimal orientation detection of linear symmetry, 1987) sums the
slopes of the light over the face; along the grain they are least. Shares of the face that disagree, and slopes
that have no direction, make it unreliable.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nestyield.photo.needs import opencv

Array = NDArray[np.float64]

#: Below this coherence, or above this spread of the shares (degrees), the grain counts as not seen.
LEAST_COHERENCE, MOST_SPREAD_DEG = 0.18, 12.0
#: Shares of the face each way, and the least pixels of one that is asked.
_SHARES, _LEAST_PIXELS = 5, 400


@dataclass(frozen=True, slots=True, kw_only=True)
class Grain:
    """The grain of a face.

    Parameters
    ----------
    angle_deg : float
        From X toward Y, in (-90, 90].
    coherence : float
        0 for no direction, 1 for lines and nothing else.
    spread_deg : float
        How far shares of the face disagree, standard deviation.
    """

    angle_deg: float
    coherence: float
    spread_deg: float

    @property
    def seen(self) -> bool:
        """Whether it can be relied on."""
        return self.coherence >= LEAST_COHERENCE and self.spread_deg <= MOST_SPREAD_DEG


def grain_of(face: NDArray[np.float32], inside: NDArray[np.bool_]) -> Grain:
    """Return the direction of the grain.

    Parameters
    ----------
    face : array (h, w)
        Light of the face, rows along Y upward, columns along X.
    inside : array (h, w) of bool
        What of it is wood, well inside the edges.
    """
    cv2 = opencv()
    log = np.log(np.maximum(face, 1e-4)).astype(np.float32)
    log = np.where(inside, log, np.median(log[inside]) if inside.any() else 0.0).astype(np.float32)
    fine = cv2.GaussianBlur(log, (0, 0), 1.3)
    fine = fine - cv2.GaussianBlur(log, (0, 0), 12.0)
    gx, gy = cv2.Scharr(fine, cv2.CV_32F, 1, 0), cv2.Scharr(fine, cv2.CV_32F, 0, 1)
    core = cv2.erode(inside.astype(np.uint8), np.ones((9, 9), np.uint8)) > 0
    # a few strong slopes, as of a scratch or a letter, count no more than the rest
    strong = np.hypot(gx, gy)
    most = float(np.percentile(strong[core], 98)) if core.any() else 1.0
    cap = np.minimum(1.0, most / np.maximum(strong, 1e-9))
    sums = np.stack([(gx * cap) ** 2, (gy * cap) ** 2, gx * gy * cap**2])
    whole = _direction(sums[:, core].sum(axis=1, dtype=float)) if core.any() else (0.0, 0.0)
    return Grain(angle_deg=whole[0], coherence=whole[1], spread_deg=_spread(sums, core, whole[0]))


def _direction(tensor: Array) -> tuple[float, float]:
    xx, yy, xy = (float(v) for v in tensor)
    total = xx + yy
    if total <= 0:
        return 0.0, 0.0
    across = 0.5 * np.degrees(np.arctan2(2 * xy, xx - yy))
    angle = (across + 90.0 + 90.0) % 180.0 - 90.0
    return float(angle if angle > -90.0 else 90.0), float(np.hypot(xx - yy, 2 * xy) / total)


def _spread(sums: NDArray[np.float32], core: NDArray[np.bool_], angle_deg: float) -> float:
    rows, columns = np.flatnonzero(core.any(axis=1)), np.flatnonzero(core.any(axis=0))
    off, weights = [], []
    for r in np.array_split(rows, _SHARES):
        for c in np.array_split(columns, _SHARES):
            if not (len(r) and len(c)):
                continue
            where = np.ix_(r, c)
            share = core[where]
            if share.sum() < _LEAST_PIXELS:
                continue
            angle, coherence = _direction(np.array([s[where][share].sum(dtype=float) for s in sums]))
            off.append((angle - angle_deg + 90.0) % 180.0 - 90.0)
            weights.append(coherence * share.sum())
    if len(off) < 2:
        return 90.0
    return float(np.sqrt(np.average(np.square(off), weights=np.maximum(weights, 1e-9))))
