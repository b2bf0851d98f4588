"""The room around each placement of a layout, and its edges to watch."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from nestyield.bed.waste import WEB_MM, clear_of_outline_mm
from nestyield.bed.work import faces_of
from nestyield.geometry.boolean import SubgridPaths, combine, components, difference
from nestyield.geometry.flatten import flatten, flatten_shape
from nestyield.geometry.grid import UM_PER_MM
from nestyield.geometry.minkowski import no_fit_subgrid
from nestyield.geometry.offset import disc, grow, shrink
from nestyield.model import (
    Blank,
    Fill,
    HoldDown,
    Outline,
    Part,
    Pin,
    Placement,
    Settings,
    Shape,
    Slack,
    TearOutRisk,
)
from nestyield.model.pose import Pose
from nestyield.placement.check import filled_ml
from nestyield.placement.play import Keeping, play_of, problem_of
from nestyield.placement.region import window_of
from nestyield.placement.tearout import Feed, tear_out
from nestyield.planning.keep_clear import KeepClear

_OTHER: dict[Feed, Feed] = {"conventional": "climb", "climb": "conventional"}
#: Less filler than this is not told, millilitres.
LEAST_ML = 0.0005


#: Outlines are drawn so near to their arcs where pins and screws are kept clear, which stand ``SPARE_MM`` farther off.
_ERROR_MM = 0.02


def rooms_of(
    blank: Blank,
    laid: Sequence[tuple[Part, Placement]],
    settings: Settings,
    held: Sequence[Pin | HoldDown] = (),
) -> tuple[Slack, ...]:
    """Return the room around each placement, all others left where they lie.

    Margins, gaps and defects are kept, metal and holes have no less room than they have (in steps of a quarter
    of the clearance), and pins and screws stay where they are, clear of the cutter.

    Parameters
    ----------
    blank : Blank
    laid : sequence of (Part, Placement)
        Of the whole layout, in its order.
    settings : Settings
    held : sequence of Pin or HoldDown
        Pins and screws in the blank.
    """
    out = []
    for k, (part, at) in enumerate(laid):
        clear = KeepClear(part, blank, settings, at).keeping(at)
        beside = _beside(part, settings, held)

        def keeping(
            paths: SubgridPaths,
            angle_deg: float,
            mirrored: bool,
            clear: Keeping = clear,
            beside: Keeping = beside,
        ) -> SubgridPaths:
            return beside(clear(paths, angle_deg, mirrored), angle_deg, mirrored)

        play = play_of(part, blank, settings, at, [*laid[:k], *laid[k + 1 :]], keeping)
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


def _beside(part: Part, settings: Settings, held: Sequence[Pin | HoldDown]) -> Keeping:
    """Return what takes away shifts at which the cutter comes too near to a pin or a screw."""
    error, um = min(settings.chord_error_mm, _ERROR_MM), float(UM_PER_MM)
    near = grow([flatten(part.outline, error, "outside")], clear_of_outline_mm(settings) * um, "outside")
    inset = (settings.cutter_diameter_mm + WEB_MM) * um
    for zone in part.zones:
        if zone.shape is not None and zone.goes_through(part.thickness_mm):
            core = shrink(flatten_shape(zone.shape, error, "inside"), inset)
            near = difference(near, core) if core else near
    spots = [
        disc(h.diameter_mm / 2 * um, "outside") + np.array([round(h.x_mm * um), round(h.y_mm * um)])
        for h in held
    ]

    def keep(paths: SubgridPaths, angle_deg: float, mirrored: bool) -> SubgridPaths:
        moving = Pose(angle_deg=angle_deg, mirrored=mirrored).on_grid(near)
        for spot in spots if paths else ():
            taken = no_fit_subgrid([spot], moving, window_of(paths)) if paths else []
            paths = combine("difference", paths, taken) if taken else paths
        return paths

    return keep


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
    # Seen from the top, the cutter goes round the other way where outlines are cut with the bottom up.
    feed = settings.prefer.feed
    last = faces_of(laid)[0][-1] if laid else "top"
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
            feed=feed if last == "top" else _OTHER[feed],
            narrow_mm=settings.prefer.narrow_point_mm,
        )
    )
