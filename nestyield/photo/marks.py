"""Defects that someone has ringed with a colored pen or chalk: a blue ring, a green ring.

No wood is bluer or greener than white paper. The convex hull of a mark counts, so that an open ring, a cross and
a filled spot are as good as a closed ring, and the defect is never smaller than what is marked.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from nestyield.photo.ground import colors
from nestyield.photo.needs import opencv

#: Colors of marks, in the order of the options.
MARKS = ("blue", "green")
#: How far (logarithm of the ratio of light) a mark is beyond paper, and from the wood around it.
_BEYOND_PAPER, _FROM_WOOD = 0.10, 0.40
#: Gaps in a mark that are bridged, and the least mark, mm and mm2.
_GAP_MM, _LEAST_MM2 = 5.0, 20.0


def marked(
    face: NDArray[np.float32],
    inside: NDArray[np.bool_],
    white: NDArray[np.float64],
    origin_mm: tuple[float, float],
    step_mm: float,
) -> list[tuple[str, shapely.Polygon]]:
    """Return color and hull of each mark.

    Parameters
    ----------
    face : array (h, w, 3)
        Linear light, rows along Y upward, columns along X.
    inside : array (h, w) of bool
    white : array (3,)
    origin_mm : (float, float)
        Place of the first pixel.
    step_mm : float
        Size of a pixel.
    """
    if not inside.any():
        return []
    cv2 = opencv()
    ratios, _ = colors(face, white)
    wood = np.median(ratios[inside], axis=0)
    red, blue = ratios[..., 0], ratios[..., 1]
    is_blue = inside & (blue > _BEYOND_PAPER) & (blue > wood[1] + _FROM_WOOD)
    is_green = inside & ~is_blue & (red < -_BEYOND_PAPER) & (red < wood[0] - _FROM_WOOD)
    found = []
    for name, mask in zip(MARKS, (is_blue, is_green)):
        clean = cv2.medianBlur(mask.astype(np.uint8), 3)
        r = max(1, round(_GAP_MM / 2 / step_mm))
        disk = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * r + 1, 2 * r + 1))
        count, labels = cv2.connectedComponents(cv2.morphologyEx(clean, cv2.MORPH_CLOSE, disk))
        for k in range(1, count):
            rows, columns = np.nonzero((labels == k) & (clean > 0))
            if len(rows) * step_mm**2 < _LEAST_MM2:
                continue
            points = np.column_stack([columns, rows]) * step_mm + origin_mm
            hull = shapely.MultiPoint(points).convex_hull.buffer(step_mm)
            found.append((name, hull))
    return _joined(found)


def _joined(found: list[tuple[str, shapely.Polygon]]) -> list[tuple[str, shapely.Polygon]]:
    """Join hulls of one color that overlap, so that a ring in several strokes is one defect."""
    out: list[tuple[str, shapely.Polygon]] = []
    for name in MARKS:
        hulls = [h for n, h in found if n == name]
        while True:
            parts = [p.convex_hull for p in shapely.get_parts(shapely.unary_union(hulls))]
            if len(parts) == len(hulls):
                break
            hulls = parts
        out += [(name, h) for h in hulls]
    return out
