"""All steps of the work on one blank, in their order: before the bed, in each position on it, after it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from nestyield.bed.positions import pose_of
from nestyield.bed.work import section_axis
from nestyield.model import (
    BedPosition,
    Layout,
    Part,
    Placement,
    Section,
    Shop,
    Stage,
    TablePin,
    Units,
    WorkPlan,
    Zone,
)
from nestyield.model.arcs import box_of
from nestyield.model.axis import Axis
from nestyield.model.cutting import common_name, face_of
from nestyield.model.facts import (
    CutBetween,
    CutNothing,
    CutOutline,
    CutThrough,
    CutZone,
    DrillBlank,
    DrillTable,
    DrillTableByHand,
    DrillThrough,
    DrillThroughByHand,
    FillDefect,
    FitPins,
    Flip,
    FlipOnPins,
    FreeParts,
    Hold,
    HoldOtherwise,
    HoleOnPin,
    LabelLeftovers,
    LayBlank,
    LayBlankOver,
    LayOnPins,
    MarkTop,
    MoveOn,
    RemoveBlank,
    ResawFirst,
    SawLeftover,
    SawOff,
    SearchMetal,
    TurnEndForEnd,
    WorkStep,
)
from nestyield.model.micrometers import down_um, nearest_um
from nestyield.model.outline import Outline
from nestyield.model.pose import Pose
from nestyield.model.roles import ZoneRole
from nestyield.placement.stock import SAME_MM
from nestyield.planning.work.off import with_off
from nestyield.planning.work.planing import planing_of
from nestyield.planning.work.square import square_edge

#: Pins end so far below the face that is up, and are measured in such steps (common practice, no source), mm.
_BELOW_MM: dict[Units, float] = {"mm": 2.0, "in": 25.4 / 16}
_STEP_MM: dict[Units, float] = {"mm": 1.0, "in": 25.4 / 16}


def with_stages(layout: Layout, shop: Shop) -> Layout:
    """Return a layout whose work has its stages and the edge to lay the blank square by, and by how much it is off.

    Parameters
    ----------
    layout : Layout
        With its work: positions, pins and screws; as it is when there is none.
    shop : Shop
    """
    if layout.work is not None and layout.chosen is not None:
        stages = _Stages(layout, layout.work, shop).all()
        layout = replace(layout, work=replace(layout.work, square=square_edge(layout), stages=stages))
    return with_off(layout, shop)


class _Stages:
    """The stages of one blank."""

    def __init__(self, layout: Layout, work: WorkPlan, shop: Shop) -> None:
        assert layout.chosen is not None
        self.layout, self.work, self.shop = layout, work, shop
        self.sections: Sequence[Section] = layout.setups[layout.chosen].sections
        self.axis: Axis = section_axis(layout.setups[layout.chosen])
        self.flips = [p for p in work.pins if p.use == "flip"]
        self.index = [p for p in work.pins if p.use == "index"]
        self.table = {p.name: p for p in work.table_pins}

    def all(self) -> tuple[Stage, ...]:
        stages = [self._before()]
        last = self.work.positions[-1].up if self.work.positions else "top"
        laid: BedPosition | None = None
        for k, position in enumerate(self.work.positions):
            cuts = self._cuts(position, position.up == last)
            steps: list[WorkStep] = [CutNothing()]
            if cuts:
                between = self._between(position)
                steps = [*self._come(k, laid), *([between] if between else []), *cuts]
                laid = position
            stages.append(Stage(place="on the bed", position=position.name, steps=tuple(steps)))
        return (*stages, self._after())

    def _before(self) -> Stage:
        steps: list[WorkStep] = [*self._search_metal(), *self._saw_off()]
        planing = planing_of(self.layout, self.shop)
        if planing is not None:
            steps.append(planing)
        steps.append(MarkTop())
        if self.index:
            steps.append(
                DrillBlank(
                    holes=tuple(p.name for p in self.index), diameter_um=nearest_um(self.index[0].diameter_mm)
                )
            )
        return Stage(place="before the bed", steps=tuple(steps))

    def _search_metal(self) -> list[WorkStep]:
        found = [d for d in self.layout.blank.defects if d.traits.may_hold_metal]
        if not found:
            return []
        kinds = tuple(sorted({d.kind for d in found}))
        return [SearchMetal(kinds=kinds, defects=tuple(dict.fromkeys(d.name for d in found)))]

    def _saw_off(self) -> list[WorkStep]:
        """Return how the blank is sawn off its piece; nothing where it is all of it."""
        member, *others = self.layout.blank.members
        if others or member.cut is None:
            return []
        piece = self.shop.piece(member.piece)
        if member.layer is not None:
            low, high = member.layer.top_mm, member.layer.bottom_mm
            return [
                ResawFirst(
                    piece=member.label,
                    from_um=nearest_um(low),
                    to_um=nearest_um(high),
                    top_sawn=low > 0.0,
                    bottom_sawn=high < piece.thickness_mm - SAME_MM,
                )
            ]
        box, whole = box_of(member.cut.outer), box_of(piece.shape.outer)
        return [
            SawOff(
                piece=member.label,
                from_x_um=nearest_um(box.x0 - whole.x0),
                to_x_um=nearest_um(box.x1 - whole.x0),
                from_y_um=nearest_um(box.y0 - whole.y0),
                to_y_um=nearest_um(box.y1 - whole.y0),
            )
        ]

    def _after(self) -> Stage:
        kinds = {d.name: d.kind for d in self.layout.blank.defects}
        steps: list[WorkStep] = [
            FillDefect(
                placement=fill.placement + 1,
                part=self.layout.placements[fill.placement].part,
                defect=fill.defect,
                kind=kinds[fill.defect],
                filler_ml=fill.volume_ml,
            )
            for fill in self.layout.fills
        ]
        kept = tuple(x.name for x in self.layout.leftovers if x.usable)
        straight = self.shop.settings.leftover_cut == "saw"
        steps.append(FreeParts(last=not kept))
        steps += [SawLeftover(leftover=name, straight=straight) for name in kept]
        if kept:
            steps.append(LabelLeftovers(leftovers=kept))
        return Stage(place="after the bed", steps=tuple(steps))

    def _come(self, k: int, before: BedPosition | None) -> list[WorkStep]:
        """Return how the blank comes into a position, from the one before it that is not left out."""
        here = self.work.positions[k]
        on = tuple(HoleOnPin(hole=p.holes[k], pin=p.name) for p in self.work.table_pins)
        if before is None:
            return [*self._drill_table(), *self._lay(here, on), *self._hold(here), *self._drill_through()]
        if before.up != here.up:
            # holes for flip pins were drilled into the table with the blank on it
            fit = self._fit(self.work.table_pins) if self.flips else []
            flip = FlipOnPins(setup=here.name, up=here.up, on=on) if on else Flip(setup=here.name, up=here.up)
            return [*([RemoveBlank()] if fit else []), *fit, flip, *self._hold(here)]
        if abs(math.remainder(here.angle_deg - before.angle_deg, 360.0)) > 1.0:
            return [TurnEndForEnd(setup=here.name, on=on), *self._hold(here)]
        by = here.x_mm - before.x_mm if self.axis == "x" else here.y_mm - before.y_mm
        return [MoveOn(setup=here.name, axis=self.axis, step_um=nearest_um(by), on=on), *self._hold(here)]

    def _lay(self, here: BedPosition, on: tuple[HoleOnPin, ...]) -> list[WorkStep]:
        if self.index and on:
            return [LayOnPins(setup=here.name, up=here.up, on=on)]
        if here.mirrored:
            return [LayBlankOver(setup=here.name, up=here.up)]
        return [LayBlank(setup=here.name, up=here.up)]

    def _hold(self, here: BedPosition) -> list[WorkStep]:
        holds = tuple(h.name for h in self.work.hold_downs if h.driven_in(here.section))
        return [Hold(holds=holds) if holds else HoldOtherwise()]

    def _drill_table(self) -> list[WorkStep]:
        """Return the holes for pins of the table that are there before the blank is laid, with their pins."""
        pins = self.work.table_pins
        if not self.index or not pins:
            return []
        out: list[WorkStep] = []
        for kind, by_hand in ((DrillTable, False), (DrillTableByHand, True)):
            names = tuple(p.name for p in pins if p.by_hand == by_hand)
            if names:
                depth_um = nearest_um(pins[0].depth_mm)
                out.append(kind(pins=names, diameter_um=nearest_um(pins[0].diameter_mm), depth_um=depth_um))
        return [*out, *self._fit(pins)]

    def _drill_through(self) -> list[WorkStep]:
        out: list[WorkStep] = []
        for kind, by_hand in ((DrillThrough, False), (DrillThroughByHand, True)):
            pins = [p for p in self.flips if p.by_hand == by_hand and p.name in self.table]
            if pins:
                depth_um = nearest_um(self.table[pins[0].name].depth_mm)
                names = tuple(p.name for p in pins)
                out.append(kind(holes=names, diameter_um=nearest_um(pins[0].diameter_mm), depth_um=depth_um))
        return out

    def _fit(self, pins: Sequence[TablePin]) -> list[WorkStep]:
        if not pins:
            return []
        thick = [self.shop.part(p.part).thickness_mm for p in self.layout.placements]
        planed = planing_of(self.layout, self.shop) is not None
        wood = max(thick) if planed else self.layout.blank.thickness_mm
        units = self.shop.units
        step = _STEP_MM[units]
        longest = math.floor((pins[0].depth_mm + wood - _BELOW_MM[units]) / step + 1e-6) * step
        return [
            FitPins(
                pins=tuple(p.name for p in pins),
                diameter_um=nearest_um(pins[0].diameter_mm),
                longest_um=down_um(longest),
            )
        ]

    def _between(self, position: BedPosition) -> CutBetween | None:
        if not position.section:
            return None
        section = self.sections[position.section - 1]
        return CutBetween(
            section=position.section,
            axis=self.axis,
            from_um=nearest_um(section.from_mm),
            to_um=nearest_um(section.to_mm),
        )

    def _touches(self, position: BedPosition, placement: Placement, outline: Outline) -> bool:
        """Tell whether the box of something drawn on a part touches what is cut in a position."""
        if not position.section:
            return True
        section = self.sections[position.section - 1]
        box = box_of(outline, Pose.of(placement).then(pose_of(position)))
        low, high = (box.x0, box.x1) if self.axis == "x" else (box.y0, box.y1)
        return low < section.to_mm and high > section.from_mm

    def _cuts(self, position: BedPosition, last: bool) -> list[WorkStep]:
        """Return what is cut: by depth first, then right through, outlines at the end of the last face."""
        deep: list[WorkStep] = []
        through: list[WorkStep] = []
        outlines: list[CutOutline] = []
        for number, placement in enumerate(self.layout.placements, start=1):
            part = self.shop.part(placement.part)
            here = [
                z
                for z in part.zones
                if z.shape is not None and z.does.cuts and self._touches(position, placement, z.shape.outer)
            ]
            open_ = [z for z in here if z.goes_through(part.thickness_mm)]
            deep += self._deep(
                position, number, placement, [z for z in here if not z.goes_through(part.thickness_mm)]
            )
            if last:
                through += self._through(position, number, part, open_)
                if self._touches(position, placement, part.outline):
                    outlines.append(
                        CutOutline(
                            placement=number,
                            part=part.name,
                            section=position.section,
                            tabs=self._tabs(position, number - 1),
                        )
                    )
        first = {cut.placement + 1: n for n, cut in reversed(list(enumerate(self.work.outlines)))}
        outlines.sort(key=lambda step: first.get(step.placement, len(first)))
        return [*deep, *through, *outlines]

    def _tabs(self, position: BedPosition, placement: int) -> tuple[str, ...]:
        """Return the tabs of a part that come to lie in what is cut in a position."""
        own = [tab for tab in self.work.tabs if tab.placement == placement]
        if position.section:
            here, axis = self.sections[position.section - 1], "xy".index(self.axis)
            pose = pose_of(position)
            own = [t for t in own if here.from_mm <= pose.point((t.x_mm, t.y_mm))[axis] <= here.to_mm]
        return tuple(tab.name for tab in own)

    def _deep(
        self, position: BedPosition, number: int, placement: Placement, zones: Sequence[Zone]
    ) -> list[WorkStep]:
        alike: dict[tuple[ZoneRole, str, int], list[Zone]] = {}
        for zone in zones:
            if face_of(zone, placement) == position.up and zone.depth_mm is not None:
                key = (zone.role, common_name(zone), nearest_um(zone.depth_mm))
                alike.setdefault(key, []).append(zone)
        out: list[WorkStep] = []
        for (role, name, depth_um), found in alike.items():
            out.append(
                CutZone(
                    placement=number,
                    part=placement.part,
                    zone=name,
                    zones=tuple(z.name for z in found),
                    role=role,
                    face=position.up,
                    section=position.section,
                    depth_um=depth_um,
                    count=len(found),
                )
            )
        return out

    def _through(
        self, position: BedPosition, number: int, part: Part, zones: Sequence[Zone]
    ) -> list[WorkStep]:
        alike: dict[tuple[ZoneRole, str], list[Zone]] = {}
        for zone in zones:
            alike.setdefault((zone.role, common_name(zone)), []).append(zone)
        out: list[WorkStep] = []
        for (role, name), found in alike.items():
            out.append(
                CutThrough(
                    placement=number,
                    part=part.name,
                    zone=name,
                    zones=tuple(z.name for z in found),
                    role=role,
                    section=position.section,
                    count=len(found),
                )
            )
        return out
