"""How near a piece came to serving a part that found no place on it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from nestyield.bed.words import say
from nestyield.geometry.flatten import flatten_shape
from nestyield.geometry.offset import grow
from nestyield.geometry.shape import region_to_shape
from nestyield.model import Blank, Part, Settings, Units
from nestyield.placement.single import place_part
from nestyield.planning.extents import SLACK_MM, shortfall
from nestyield.planning.stock import Refusal

#: Pieces that are larger than the part, yet refuse it, are looked into this often a want.
MOST_LOOKED_INTO = 6
#: A piece that is missing more than this all round is simply too small or of the wrong shape, millimetres.
MOST_GROWTH_MM = 40.0


def too_small(part: Part, blank: Blank, settings: Settings, units: Units = "mm") -> Refusal | None:
    """Refuse a blank that is shorter or narrower than the part at any allowed turn; None when it is not."""
    short = shortfall(part, blank, settings)
    if short.worst_mm <= SLACK_MM:
        return None
    return Refusal(piece=blank.name, cause="shape", text=short.text(units), short_mm=short.worst_mm)


def look_into(part: Part, blank: Blank, settings: Settings, units: Units = "mm") -> Refusal:
    """Tell what a blank that is long and wide enough is missing: a defect in the way, or its shape.

    Parameters
    ----------
    part : Part
    blank : Blank
        On which the part found no place.
    settings : Settings

    Returns
    -------
    Refusal
    """
    clear = replace(blank, defects=())
    if blank.defects and place_part(part, clear, settings).placement is not None:
        alone = [
            defect
            for defect in blank.defects
            if place_part(
                part, replace(blank, defects=tuple(d for d in blank.defects if d is not defect)), settings
            ).placement
            is not None
        ]
        if alone:
            named = " or ".join(f"the {d.kind} ({d.name})" for d in alone[:3])
            text = f"it would go there but for {named}"
        else:
            text = f"its {len(blank.defects)} defects leave no room"
        return Refusal(piece=blank.name, cause="shape", text=text, short_mm=0.5)
    grown = _growth(part, clear, settings)
    if grown is None:
        return Refusal(piece=blank.name, cause="shape", text="its shape leaves no room", short_mm=1e3)
    more = say(math.ceil(grown * 10) / 10, units)
    return Refusal(
        piece=blank.name,
        cause="shape",
        text=f"its shape leaves no room; {more} more wood all round would do",
        short_mm=grown,
    )


def _growth(part: Part, blank: Blank, settings: Settings) -> float | None:
    """Return how much wood all round would make room, to 0.1 mm; None beyond the most that is looked for."""
    stock = flatten_shape(blank.shape, settings.chord_error_mm, "inside")

    def fits(mm: float) -> bool:
        shapes = region_to_shape(grow(stock, round(mm * 1000), "inside"))
        return len(shapes) == 1 and (
            place_part(part, replace(blank, shape=shapes[0]), settings).placement is not None
        )

    low, high = 0.0, MOST_GROWTH_MM
    if not fits(high):
        return None
    while high - low > 0.1:
        middle = (low + high) / 2
        low, high = (low, middle) if fits(middle) else (middle, high)
    return high


def explain(
    part: Part, settings: Settings, refusals: Sequence[tuple[Blank, Refusal]], units: Units = "mm"
) -> tuple[Refusal, ...]:
    """Return refusals with the shape looked into where that tells more, largest blanks first.

    Parameters
    ----------
    part : Part
    settings : Settings
    refusals : sequence of (Blank, Refusal)
    """
    vague = [
        i
        for i, (_, r) in enumerate(refusals)
        if r.cause in ("shape", "on hold") and r.short_mm == float("inf")
    ]
    vague.sort(key=lambda i: (-refusals[i][0].shape.area_mm2, i))
    out = [refusal for _, refusal in refusals]
    for i in vague[:MOST_LOOKED_INTO]:
        found = look_into(part, refusals[i][0], settings, units)
        out[i] = replace(found, cause=out[i].cause)
    return tuple(out)
