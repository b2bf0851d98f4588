"""Which beds take a blank or a part, which way round, with how much to spare, or why not."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from nestyield.bed.answer import BedFit, FitAnswer
from nestyield.bed.extents import LIMIT_TOL_MM, TurnedBoxes, blank_box, cutter_box_all
from nestyield.bed.keep_outs import BedLoad
from nestyield.bed.pose import BedPose, lie
from nestyield.bed.pose import takes as bed_takes
from nestyield.bed.sections import plan_sections
from nestyield.bed.steps import um
from nestyield.bed.sweep import swept, wood
from nestyield.bed.tilt import Tilt, hull_of, least_travel, tilt
from nestyield.geometry.grid import UM_PER_MM
from nestyield.model import (
    Axis,
    Bed,
    Blank,
    Member,
    Outline,
    Part,
    Placement,
    Settings,
    Setup,
    Shape,
    Units,
)
from nestyield.model.arcs import Box, box_of
from nestyield.model.facts import (
    BlankNote,
    BlankTooLong,
    LeastBlankTooLong,
    NoSections,
    SectionsByMoving,
    SectionsByTurning,
)
from nestyield.model.pose import Pose

#: Waste about a part, beyond the margin, in which index pins of sections are looked for, millimeters.
SECTION_WASTE_MM = (0.0, 10.0, 25.0)
#: Turns of the blank that are tried for each direction.
TURNS: dict[Axis, tuple[float, float]] = {"x": (0.0, 180.0), "y": (90.0, 270.0)}


def load_of(
    blank: Blank | None,
    placements: Sequence[tuple[Part, Placement]],
    turned_deg: float,
    settings: Settings,
    boxes: TurnedBoxes | None = None,
) -> BedLoad:
    """Return what lies on the bed when a blank is turned, for ``lie``."""
    boxes = boxes or TurnedBoxes()
    radius = settings.cutter_diameter_mm / 2.0
    cut = cutter_box_all(placements, turned_deg, radius, boxes)
    if cut is None:
        raise ValueError("expected at least one placement on the blank, got none")
    return BedLoad(
        cut=cut,
        radius_mm=radius,
        blank=None if blank is None else boxes.blank(blank.shape, turned_deg),
        swept=lambda: swept(placements, turned_deg, radius),
        wood=lambda: [] if blank is None else wood(blank.shape, turned_deg),
        deep_mm=max(part.thickness_mm for part, _ in placements),
    )


def _setup(bed: Bed, along: Axis, turned_deg: float, cut: Box, answer: BedPose) -> Setup:
    return Setup(
        bed=bed.name,
        along=along,
        fits=answer.fits,
        turned_deg=turned_deg,
        x_mm=round(answer.x_mm, 3) + 0.0,
        y_mm=round(answer.y_mm, 3) + 0.0,
        spare_x_mm=round(bed.travel_x_mm - cut.width, 6) + 0.0,
        spare_y_mm=round(bed.travel_y_mm - cut.height, 6) + 0.0,
        needs_x_mm=round(cut.width, 6),
        needs_y_mm=round(cut.height, 6),
        refusals=answer.refusals,
        clearance_mm=answer.clearance_mm,
    )


def setup(
    blank: Blank | None,
    placements: Sequence[tuple[Part, Placement]],
    bed: Bed,
    along: Axis,
    settings: Settings,
    units: Units = "mm",
    sections: bool = True,
    boxes: TurnedBoxes | None = None,
) -> Setup:
    """Lay a blank along one axis of one bed, also end for end, and take the first that fits."""
    first: Setup | None = None
    for turned_deg in TURNS[along]:
        load = load_of(blank, placements, turned_deg, settings, boxes)
        found = _setup(bed, along, turned_deg, load.cut, lie(bed, load, units))
        if found.fits:
            return found
        first = first or found
    assert first is not None
    if not sections:
        return first
    return _in_sections(first, blank, placements, bed, along, settings, units)


def takes(
    blank: Blank,
    placements: Sequence[tuple[Part, Placement]],
    bed: Bed,
    along: Axis,
    settings: Settings,
    boxes: TurnedBoxes | None = None,
) -> tuple[bool, bool]:
    """Tell whether a bed takes a blank along one axis in one go, as `setup` does, and whether its travel is too short."""
    boxes = boxes or TurnedBoxes()
    short = False
    for turned_deg in TURNS[along]:
        load = load_of(blank, placements, turned_deg, settings, boxes)
        if bed_takes(bed, load):
            return True, False
        spare = min(bed.travel_x_mm - load.cut.width, bed.travel_y_mm - load.cut.height)
        short = short or round(spare, 6) < 0.0
    return False, short


def _in_sections(
    refused: Setup,
    blank: Blank | None,
    placements: Sequence[tuple[Part, Placement]],
    bed: Bed,
    along: Axis,
    settings: Settings,
    units: Units,
) -> Setup:
    """Where the travel is short along one axis, add sections, or what the search for them came to."""
    short = (refused.spare_x_mm < -LIMIT_TOL_MM, refused.spare_y_mm < -LIMIT_TOL_MM)
    if blank is None or short in ((False, False), (True, True)):
        return refused
    axis: Axis = "x" if short[0] else "y"
    found = plan_sections(blank, placements, bed, along, settings, units)
    return replace(refused, in_sections=found.outcome(axis), sections=found.sections)


def setups(
    blank: Blank,
    placements: Sequence[tuple[Part, Placement]],
    beds: Sequence[Bed],
    settings: Settings,
    units: Units = "mm",
    sections: bool = True,
) -> tuple[Setup, ...]:
    """Lay a blank along X and along Y of every bed.

    All placed parts must be within reach in one setup: the path of the cutter's center (outlines
    grown by the radius, true arcs) within the travel, the blank on the table except over open
    ends, keep-outs left alone. Each direction is tried straight and end for end.

    Parameters
    ----------
    blank : Blank
    placements : sequence of (Part, Placement)
        At least one.
    beds : sequence of Bed
        Those that the orders allow.
    settings : Settings
    units : {"mm", "in"}
        Places are whole steps of what the shop measures in.
    sections : bool
        Also look for sections where the travel is short along one axis; takes longer.

    Returns
    -------
    tuple of Setup
        Two a bed, along X then along Y. One that does not fit but has ``sections`` can be cut in those.
    """
    axes: tuple[Axis, Axis] = ("x", "y")
    boxes = TurnedBoxes()
    return tuple(
        setup(blank, placements, bed, along, settings, units, sections, boxes)
        for bed in beds
        for along in axes
    )


def part_fit(
    part: Part,
    beds: Bed | Sequence[Bed],
    settings: Settings,
    blank: Blank | None = None,
    placement: Placement | None = None,
    units: Units = "mm",
) -> FitAnswer:
    """Tell which beds take a part, along X and along Y, or laid at an angle.

    Parameters
    ----------
    part : Part
    beds : Bed or sequence of Bed
    settings : Settings
    blank, placement : Blank and Placement, optional
        With both, the blank must lie on the table too. Without a blank only the cutter counts, and a
        note says whether the least blank around the part would lie on the table. Without a
        placement the part lies with its grain along the blank's.
    units : {"mm", "in"}
        Places are whole steps of what the shop measures in.
    """
    if placement is None:
        grain = part.grain_deg or 0.0
        to = blank.grain_deg or 0.0 if blank is not None else 0.0
        placement = Placement(
            part=part.name, order="", copy=1, angle_deg=to - grain, mirrored=False, x_um=0, y_um=0
        )
        whole = None
    else:
        whole = blank
    box = box_of(part.outline, Pose(angle_deg=-(part.grain_deg or 0.0)))
    chosen = (beds,) if isinstance(beds, Bed) else tuple(beds)
    answers = tuple(_bed_fit(part, placement, whole, blank, bed, settings, units) for bed in chosen)
    return FitAnswer(
        part=part,
        cutter_diameter_mm=settings.cutter_diameter_mm,
        length_mm=round(box.width, 6),
        width_mm=round(box.height, 6),
        beds=answers,
    )


def _bed_fit(
    part: Part,
    placement: Placement,
    whole: Blank | None,
    blank: Blank | None,
    bed: Bed,
    settings: Settings,
    units: Units,
) -> BedFit:
    pair = ((part, placement),)
    along_x = setup(whole, pair, bed, "x", settings, units)
    along_y = setup(whole, pair, bed, "y", settings, units)
    cutter = settings.cutter_diameter_mm
    hull = hull_of(part.outline, Pose.of(placement))
    turned = tilt(hull, cutter, bed.travel_x_mm, bed.travel_y_mm)
    askew = None
    if turned is not None and not along_x.fits and not along_y.fits:
        askew = _askew(whole, pair, bed, turned, settings, units)
    notes: list[BlankNote] = []
    axes: tuple[Axis, Axis] = ("x", "y")
    if whole is None:
        margin = 2.0 * settings.blank_margin_mm - cutter
        for along, answer in zip(axes, (along_x, along_y)):
            if answer.fits:
                size = (answer.needs_x_mm + margin, answer.needs_y_mm + margin)
                notes += _least_blank_notes(bed, along, size, settings)
    if blank is not None and whole is None:
        box = blank_box(blank.shape, 0.0)
        for along, size in zip(axes, ((box.width, box.height), (box.height, box.width))):
            notes += _blank_notes(bed, along, size, blank.name)
    sectioned, board, refusal = None, None, None
    if whole is None and not along_x.fits and not along_y.fits and askew is None:
        sectioned, board, refusal = _on_some_board(part, bed, settings, units)
    return BedFit(
        bed=bed,
        sectioned=sectioned,
        board_mm=board,
        no_sections=refusal,
        along_x=along_x,
        along_y=along_y,
        tilt=turned,
        askew=askew,
        least_x_mm=least_travel(hull, cutter, bed.travel_y_mm),
        least_y_mm=least_travel(hull, cutter, bed.travel_x_mm),
        notes=tuple(notes),
    )


def _on_some_board(
    part: Part, bed: Bed, settings: Settings, units: Units
) -> tuple[Setup | None, tuple[float, float] | None, NoSections | None]:
    """Find the fewest sections on a board about the part: the least its margin allows, or a little larger."""
    best: tuple[Setup, tuple[float, float]] | None = None
    why: NoSections | None = None
    turn = -(part.grain_deg or 0.0)
    box = box_of(part.outline, Pose(angle_deg=turn))
    for wider in SECTION_WASTE_MM:
        edge = settings.blank_margin_mm + wider
        size = (box.width + 2.0 * edge, box.height + 2.0 * edge)
        at = Placement(
            part=part.name,
            order="",
            copy=1,
            angle_deg=turn,
            mirrored=False,
            x_um=math.ceil((edge - box.x0) * UM_PER_MM),
            y_um=math.ceil((edge - box.y0) * UM_PER_MM),
        )
        board = Blank(
            name="board",
            members=(Member(piece="board", copy=1),),
            species="",
            thickness_mm=part.thickness_mm,
            shape=Shape(outer=Outline.rectangle(0.0, 0.0, *size)),
            grain_deg=0.0,
        )
        for found in setups(board, [(part, at)], [bed], settings, units):
            if found.sections and (best is None or len(found.sections) < len(best[0].sections)):
                best = (found, size)
            if why is None and not isinstance(found.in_sections, (SectionsByMoving, SectionsByTurning)):
                why = found.in_sections
    return (None, None, why) if best is None else (*best, None)


def _askew(
    blank: Blank | None,
    pair: tuple[tuple[Part, Placement]],
    bed: Bed,
    turned: Tilt,
    settings: Settings,
    units: Units,
) -> Setup | None:
    """Find a place at an angle; where keep-outs leave none at the best angle, try every half degree."""
    turns = [turned.best_deg]
    for low, high in turned.angles_deg:
        count = max(1, int((high - low) / 0.5))
        turns += [low + (high - low) * k / count for k in range(count + 1)]
    if blank is None and not bed.keep_outs:
        turns = turns[:1]
    for turn in turns:
        load = load_of(blank, pair, turn % 360.0, settings)
        answer = lie(bed, load, units)
        if answer.fits:
            nearer: Axis = "x" if abs((turn + 90.0) % 180.0 - 90.0) <= 45.0 else "y"
            return _setup(bed, nearer, round(turn % 360.0, 9), load.cut, answer)
    return None


def _table_overhang(bed: Bed, size: tuple[float, float], i: int) -> float:
    axis = "xy"[i]
    if f"{axis}-" in bed.open_ends or f"{axis}+" in bed.open_ends:
        return 0.0
    low, high = (bed.table_x_mm, bed.table_y_mm)[i]
    return size[i] - (high - low)


def _least_blank_notes(
    bed: Bed, along: Axis, size: tuple[float, float], settings: Settings
) -> list[BlankNote]:
    axes: tuple[Axis, Axis] = ("x", "y")
    return [
        LeastBlankTooLong(
            along=along,
            axis=axes[i],
            margin_um=um(settings.blank_margin_mm),
            length_um=um(size[i]),
            over_um=um(over),
        )
        for i in (0, 1)
        if (over := _table_overhang(bed, size, i)) > LIMIT_TOL_MM
    ]


def _blank_notes(bed: Bed, along: Axis, size: tuple[float, float], name: str) -> list[BlankNote]:
    axes: tuple[Axis, Axis] = ("x", "y")
    return [
        BlankTooLong(along=along, axis=axes[i], blank=name, length_um=um(size[i]), over_um=um(over))
        for i in (0, 1)
        if (over := _table_overhang(bed, size, i)) > LIMIT_TOL_MM
    ]
