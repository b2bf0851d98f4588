"""In which ways a part may be laid in a blank: faces, mirror image, end for end, angle range."""

from __future__ import annotations

import math
from dataclasses import dataclass

from nestyield.model import Part


@dataclass(frozen=True, slots=True, kw_only=True)
class Orientation:
    """One way to lay a part: a range of angles with everything else fixed.

    Parameters
    ----------
    mirrored : bool
        Whether the drawing is mirrored in X before it is turned, seen from the blank's top.
    front_up : bool
        Whether the part's front face lies on top.
    middle_deg : float
        Angle at which grain lies along grain, 0 <= middle < 360.
    tolerance_deg : float
        Half the range; 180 when the grain does not matter.
    """

    mirrored: bool
    front_up: bool
    middle_deg: float
    tolerance_deg: float

    def angles(self, steps: int = 1) -> tuple[float, ...]:
        """Return the middle, the ends, and ``steps`` - 1 angles between on each side, nearest first."""
        if self.tolerance_deg >= 180.0:
            count = 4 * max(1, steps)
            return tuple((self.middle_deg + 360.0 * k / count) % 360.0 for k in range(count))
        out = [self.middle_deg]
        if self.tolerance_deg > 0:
            for k in range(1, steps + 1):
                off = self.tolerance_deg * k / steps
                out += [self.middle_deg + off, self.middle_deg - off]
        return tuple(out)


def orientations(part: Part, blank_grain_deg: float | None) -> tuple[Orientation, ...]:
    """Return every way the part may lie: front or back up, mirrored if allowed, end for end.

    Parameters
    ----------
    part : Part
    blank_grain_deg : float or None

    Returns
    -------
    tuple of Orientation
        As drawn before mirrored, front up before back up, head end first. A part that is cut as drawn
        with its back up is seen mirrored from the top.
    """
    images = {"no": (False,), "allowed": (False, True), "only": (True,)}[part.mirrored]
    out = []
    for image in images:
        for front_up in (True,) if part.show_face == "top" else (True, False):
            mirrored = image != (not front_up)
            if part.grain_deg is None or blank_grain_deg is None:
                out.append(
                    Orientation(mirrored=mirrored, front_up=front_up, middle_deg=0.0, tolerance_deg=180.0)
                )
                continue
            drawn = 180.0 - part.grain_deg if mirrored else part.grain_deg
            middle = (blank_grain_deg - drawn) % 180.0
            tolerance = min(part.grain_tolerance_deg, 90.0)
            turns = (0.0,) if tolerance >= 90.0 else (0.0, 180.0)
            if tolerance >= 90.0:
                tolerance = 180.0
            out += [
                Orientation(
                    mirrored=mirrored, front_up=front_up, middle_deg=middle + turn, tolerance_deg=tolerance
                )
                for turn in turns
            ]
    return tuple(out)


def grain_turn_deg(
    part: Part, blank_grain_deg: float | None, angle_deg: float, mirrored: bool, sign: float
) -> float:
    """Return how far a part may turn one way until its grain tolerance ends; endless when it does not.

    Parameters
    ----------
    part : Part
    blank_grain_deg : float or None
    angle_deg : float
        Of the placement.
    mirrored : bool
    sign : {1.0, -1.0}
        Counter-clockwise or clockwise.
    """
    if part.grain_deg is None or blank_grain_deg is None or part.grain_tolerance_deg >= 90.0:
        return math.inf
    drawn = 180.0 - part.grain_deg if mirrored else part.grain_deg
    off = (angle_deg + drawn - blank_grain_deg + 90.0) % 180.0 - 90.0
    return max(0.0, part.grain_tolerance_deg - sign * off)
