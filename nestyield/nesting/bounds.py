"""Bounds that every layout keeps: what cannot be done better."""

from __future__ import annotations

import math
from collections.abc import Sequence


def least_length(areas: Sequence[float], lengths: Sequence[float], width: float) -> float:
    """Least used length of parts in a width: their area, their longest part, and the parts that cannot pass.

    Parameters
    ----------
    areas, lengths : sequence of float
        Area and least extent along the length of each part.
    width : float
    """
    if not areas:
        return 0.0
    return max(sum(areas) / width, max(lengths))


def fewest_sheets(areas: Sequence[float], sheets: Sequence[float]) -> int:
    """Fewest sheets by area and by parts of which no two share a sheet.

    Sheets are taken largest first; parts larger than half the largest sheet each need their own.

    Returns
    -------
    int
        More than there are sheets when the area does not go in at all.
    """
    if not areas:
        return 0
    need = sum(areas) * (1.0 - 1e-12)
    got = 0.0
    count = len(sheets) + 1
    for k, s in enumerate(sorted(sheets, reverse=True), start=1):
        got += s
        if got >= need:
            count = k
            break
    largest = max(sheets, default=0.0)
    return max(count, sum(a > largest / 2.0 for a in areas))


def greatest_value(items: Sequence[tuple[float, float, int]], area: float) -> float:
    """Most value that an area can hold when parts may be cut up: the fractional knapsack.

    Parameters
    ----------
    items : sequence of (area, value, count)
    area : float
    """
    total = 0.0
    left = area
    for a, v, n in sorted(items, key=lambda t: -t[1] / t[0] if t[0] > 0 else -math.inf):
        take = min(float(n), left / a) if a > 0 else float(n)
        total += take * v
        left -= take * a
        if left <= 0:
            break
    return total
