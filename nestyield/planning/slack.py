"""The room around each placement of a layout, and its edges to watch."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from nestyield.geometry.boolean import components
from nestyield.geometry.grid import UM_PER_MM
from nestyield.model import (
    Blank,
    Fill,
    Outline,
    Part,
    Placement,
    Settings,
    Shape,
    Slack,
    TearOutRisk,
)
from nestyield.model.pose import Pose
from nestyield.placement.check import filled_ml
from nestyield.placement.play import play_of, problem_of
from nestyield.placement.tearout import tear_out

#: Less filler than this is not told, millilitres.
LEAST_ML = 0.0005


def rooms_of(blank: Blank, laid: Sequence[tuple[Part, Placement]], settings: Settings) -> tuple[Slack, ...]:
    """Return the room around each placement, all others left where they lie.

    Parameters
    ----------
    blank : Blank
    laid : sequence of (Part, Placement)
        Of the whole layout, in its order.
    settings : Settings
    """
    out = []
    for k, (part, at) in enumerate(laid):
        play = play_of(part, blank, settings, at, [*laid[:k], *laid[k + 1 :]])
        slide = None
        for outer, holes in components(play.shifts):
            rings = [
                Outline.polygon(
                    [((x - at.x_um) / UM_PER_MM, (y - at.y_um) / UM_PER_MM) for x, y in r.tolist()]
                )
                for r in (outer, *holes)
            ]
            slide = Shape(outer=rings[0], holes=tuple(rings[1:]))
        out.append(
            Slack(
                placement=k,
                along_mm=round(play.along_mm, 3),
                across_mm=round(play.across_mm, 3),
                slide=slide,
                from_deg=play.from_deg,
                to_deg=play.to_deg,
            )
        )
    return tuple(out)


def fills_of(blank: Blank, laid: Sequence[tuple[Part, Placement]], settings: Settings) -> tuple[Fill, ...]:
    """Return the defects that stay in parts and are filled, in the order of placements and defects.

    Parameters
    ----------
    blank : Blank
    laid : sequence of (Part, Placement)
    settings : Settings
    """
    out = []
    for k, (part, at) in enumerate(laid):
        if not blank.defects:
            break
        problem = problem_of(part, blank, settings, at)
        amounts: dict[str, float] = {}
        for filling in problem.fillings:
            one = replace(problem, fillings=(filling,))
            ml, _ = filled_ml(one, Pose.of(at))
            if ml >= LEAST_ML:
                amounts[filling.defect.name] = amounts.get(filling.defect.name, 0.0) + ml
        names = [d.name for d in blank.defects if d.name in amounts]
        out += [Fill(placement=k, defect=n, volume_ml=round(amounts[n], 4)) for n in dict.fromkeys(names)]
    return tuple(out)


def watch_of(
    blank: Blank, laid: Sequence[tuple[Part, Placement]], settings: Settings
) -> tuple[TearOutRisk, ...]:
    """Return the stretches of outline where the edge may tear, in the order of the placements.

    Parameters
    ----------
    blank : Blank
    laid : sequence of (Part, Placement)
    settings : Settings
        ``feed`` and ``narrow_point_mm`` of ``prefer``.
    """
    return tuple(
        TearOutRisk(
            placement=k,
            line_mm=tuple((round(x, 3), round(y, 3)) for x, y in s.line_mm),
            length_mm=round(s.length_mm, 3),
            angle_deg=round(s.angle_deg, 3),
            rule=s.rule,
        )
        for k, (part, at) in enumerate(laid)
        for s in tear_out(
            part,
            at,
            blank.grain_deg,
            feed=settings.prefer.feed,
            narrow_mm=settings.prefer.narrow_point_mm,
        )
    )
