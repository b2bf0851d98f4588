"""The grades: what a board must hold to be called one.

Source: NHLA Rules for the Measurement and Inspection of Hardwood and Cypress, summary charts (S), but
for the points marked otherwise. Sizes in inches and feet, because the rules are.
"""

from __future__ import annotations

from dataclasses import dataclass

#: No number of cuttings is set.
NO_LIMIT = 99


@dataclass(frozen=True, slots=True, kw_only=True)
class Grade:
    """One row of the charts.

    Parameters
    ----------
    name : str
    board_in : (int, int)
        Least board: length, width, inches.
    cuttings_in : tuple of (int, int)
        Least cutting: length, width, inches; one pair is enough.
    units : int
        Clear cutting units needed for each foot of surface measure, of 12.
    count : (int, int, int)
        Cuttings allowed: (surface measure + first) / second, whole, at most third.
    extra : (int, int, int) or None
        From and to which surface measure one more cutting is allowed, and the units needed then.
    knot_limit : bool
        Whether the average diameter of a knot in inches may not exceed a third of the surface measure.
    """

    name: str
    board_in: tuple[int, int]
    cuttings_in: tuple[tuple[int, int], ...]
    units: int
    count: tuple[int, int, int]
    extra: tuple[int, int, int] | None = None
    knot_limit: bool = False

    def cuttings(self, measure: int) -> int:
        """Return how many cuttings are allowed at that surface measure."""
        add, over, most = self.count
        return min((measure + add) // over, most)

    def ways(self, measure: int) -> tuple[tuple[int, int], ...]:
        """Return the ways to make the grade: (cuttings allowed, units needed).

        Examples
        --------
        >>> FAS.ways(8)
        ((2, 80), (3, 88))
        """
        allowed = self.cuttings(measure)
        ways = [(allowed, self.units * measure)]
        if self.extra and self.extra[0] <= measure <= self.extra[1]:
            ways.append((allowed + 1, self.extra[2] * measure))
        return tuple(way for way in ways if way[0] > 0)


FAS = Grade(
    name="FAS",
    board_in=(96, 6),
    cuttings_in=((60, 4), (84, 3)),
    units=10,
    count=(0, 4, 4),
    extra=(6, 15, 11),
    knot_limit=True,
)
NO_1_COMMON = Grade(
    name="No. 1 Common",
    board_in=(48, 3),
    cuttings_in=((24, 4), (36, 3)),
    units=8,
    count=(1, 3, 5),
    extra=(3, 10, 9),
)
NO_2A_COMMON = Grade(
    name="No. 2A Common",
    board_in=(48, 3),
    cuttings_in=((24, 3),),
    units=6,
    count=(0, 2, 7),
    extra=(2, 7, 8),
)
NO_3A_COMMON = Grade(
    name="No. 3A Common",
    board_in=(48, 3),
    cuttings_in=((24, 3),),
    units=4,
    count=(NO_LIMIT, 1, NO_LIMIT),
)

#: Best first.
GRADES = (FAS, NO_1_COMMON, NO_2A_COMMON, NO_3A_COMMON)

#: A board that makes none of them.
BELOW_GRADE = "below grade"
