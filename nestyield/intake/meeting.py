"""Pockets cut from both faces of a part that meet, or leave hardly any wood between them."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

from nestyield.geometry.shape import to_shapely
from nestyield.intake.problems import Problems
from nestyield.model import Zone
from nestyield.words import Words

#: Less wood than this between two pockets breaks out (common practice, no source), millimeters.
LEAST_WEB_MM = 2.0
#: Pockets that share no more than this touch and no more, square millimeters.
TOUCH_MM2 = 1.0


def tell_meeting(
    zones: Sequence[Zone], thickness_mm: float, words: Words, problems: Problems, file: str
) -> None:
    """Warn of pockets from the front and the back that lie over each other and meet.

    Parameters
    ----------
    zones : sequence of Zone
        Of one part. Only pockets count: holes are often drilled into a pocket, and a contour slopes.
    thickness_mm : float
        Of the part.
    words : Words
        In which lengths are told.
    problems : Problems
    file : str
        The drawing.
    """
    deep = [(z, z.shape, z.depth_mm) for z in zones if z.role == "pocket"]
    for (one, here, by), (other, there, more) in combinations(deep, 2):
        if here is None or there is None or by is None or more is None:
            continue
        left = thickness_mm - by - more
        if {one.face, other.face} != {"front", "back"} or left >= LEAST_WEB_MM:
            continue
        shared = to_shapely(here).intersection(to_shapely(there))
        if shared.area <= TOUCH_MM2:
            continue
        x0, y0, x1, y1 = shared.bounds
        between = (
            f"only {words.length(left, style='setting')} of wood stays between them"
            if left > 0
            else "they meet, and a hole goes right through"
        )
        front, back = (words.length(depth, style="setting") for depth in (by, more))
        problems.warning(
            "D026",
            f"{one.name} ({front} deep from the {one.face}) and {other.name} ({back} from the {other.face}) "
            f"lie over each other on {words.size(x1 - x0, y1 - y0)}, and the part is "
            f"{words.length(thickness_mm, style='setting')} thick: {between}; move one, or make it shallower",
            file,
            f"layers {one.name} and {other.name}",
        )
