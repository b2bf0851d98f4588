"""Where the seams of a glue-up go: as near as may be to where they are wanted, never where they may not."""

from __future__ import annotations

from dataclasses import dataclass

from nestyield.geometry.grid import UM_PER_MM
from nestyield.glueup.band import Lying
from nestyield.glueup.field import Field
from nestyield.glueup.rules import centre_y, middle_span, nearest_free
from nestyield.glueup.serve import RESOLUTION_UM

#: In three pieces the seams are wanted this far beside the pockets on the centre line, millimetres.
BESIDE_POCKETS_MM = 5.0
_ROUNDS = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Seams:
    """Seams of a chain, rising, micrometres, and how far they are from where they are wanted, together."""

    at_um: tuple[int, ...]
    off_um: int


def wanted_seams(lying: Lying, members: int) -> tuple[int, ...]:
    """Return where the seams are wanted: on the centre line; around the pockets; else evenly.

    Parameters
    ----------
    lying : Lying
    members : int
        At least 2.
    """
    bottom, top = lying.span_um
    if members == 2:
        centre = centre_y(lying)
        return ((bottom + top) // 2 if centre is None else centre,)
    if members == 3:
        span = middle_span(lying)
        if span is not None:
            beside = round(BESIDE_POCKETS_MM * UM_PER_MM)
            return (span[0] - beside, span[1] + beside)
    return tuple(bottom + (top - bottom) * k // members for k in range(1, members))


def settle(field: Field, rows: tuple[int, ...]) -> Seams | None:
    """Return seams at which every row holds its band, or None when there are none.

    The lowest seams that exist are found from the bottom up with each row reaching as high as it can; then
    one seam after the other is moved towards where it is wanted as far as both its neighbours allow.

    Parameters
    ----------
    field : Field
    rows : tuple of int
        Lowest first.
    """
    wanted = wanted_seams(field.lying, len(rows))
    near = _all_near(field, rows, wanted)
    seams = near if near is not None else _greedy(field, rows)
    if seams is None:
        return None
    at = list(seams)
    for _ in range(_ROUNDS if near is None else 0):
        for k in range(len(at)):
            at[k] = _nearer(field, rows, at, k, wanted[k])
    return Seams(at_um=tuple(at), off_um=sum(abs(a - w) for a, w in zip(at, wanted)))


def _limits(field: Field, at: list[int], k: int) -> tuple[int, int]:
    bottom, top = field.lying.span_um
    below = at[k - 1] if k else bottom
    above = at[k + 1] if k + 1 < len(at) else top
    return below + field.least_um, above - field.least_um


def _serves(field: Field, rows: tuple[int, ...], at: list[int], k: int) -> bool:
    """Tell whether both rows at a seam hold their bands."""
    edges = [None, *at, None]
    return all(field.serving(rows[m], edges[m], edges[m + 1]) is not None for m in (k, k + 1))


def _all_near(field: Field, rows: tuple[int, ...], wanted: tuple[int, ...]) -> tuple[int, ...] | None:
    bottom, top = field.lying.span_um
    first, last = bottom + field.least_um, top - field.least_um
    at: list[int] = []
    for want in wanted:
        seam = nearest_free(want, field.free(first, last))
        if seam is None:
            return None
        at.append(seam)
        first = seam + field.least_um
    good = at[-1] <= last and all(_serves(field, rows, at, k) for k in range(len(at)))
    return tuple(at) if good else None


def _greedy(field: Field, rows: tuple[int, ...]) -> tuple[int, ...] | None:
    bottom, top = field.lying.span_um
    at: list[int] = []
    count = len(rows) - 1
    for k, row in enumerate(rows[:-1]):
        low = at[-1] if at else None
        high = field.highest(row, low)
        if high is None:
            return None
        start = (bottom if low is None else low) + field.least_um
        free = field.free(start, min(high, top - field.least_um * (count - k)))
        if not free:
            return None
        at.append(free[-1][1])
    if field.serving(rows[-1], at[-1], None) is not None:
        return tuple(at)
    return None


def _nearer(field: Field, rows: tuple[int, ...], at: list[int], k: int, wanted: int) -> int:
    """Return a seam's place moved towards where it is wanted."""
    low, high = _limits(field, at, k)
    target = nearest_free(wanted, field.free(low, high))
    if target is None or abs(target - wanted) >= abs(at[k] - wanted):
        return at[k]
    good, bad = at[k], target
    if _serves(field, rows, [*at[:k], target, *at[k + 1 :]], k):
        return target
    while abs(bad - good) > RESOLUTION_UM:
        middle = (good + bad) // 2
        if field.free(middle, middle) and _serves(field, rows, [*at[:k], middle, *at[k + 1 :]], k):
            good = middle
        else:
            bad = middle
    return good
