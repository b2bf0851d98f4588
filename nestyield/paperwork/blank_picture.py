"""The picture of one blank: wood, defects, parts with their zones, seams, leftovers."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from itertools import pairwise

from shapely.geometry import Point as ShapelyPoint
from shapely.geometry.base import BaseGeometry

from nestyield.model import (
    ROLES,
    HoldDown,
    Layout,
    Outline,
    Part,
    Pin,
    Placement,
    Plan,
    Point,
    Tab,
    WorkPlan,
    Zone,
)
from nestyield.paperwork import fonts, hatch, marks, room
from nestyield.paperwork.canvas import Canvas
from nestyield.paperwork.curves import Box, Move, bounds, join_boxes, move_of, outlines_of
from nestyield.paperwork.labels import Labels
from nestyield.paperwork.phrases.work import hole, initials
from nestyield.paperwork.words import short
from nestyield.words import Words

#: A defect that is drawn larger may have labels upon it, mm on the canvas.
_COVERED_MM = 20.0


@dataclass(slots=True, kw_only=True)
class BlankPicture:
    """One blank drawn onto a canvas.

    Parameters
    ----------
    plan : Plan
    layout : Layout
    canvas : Canvas
    at : Move
        From blank coordinates to the canvas.
    text_mm : float
        Font size of labels.
    shown : set of str
        Legend keys of what has been drawn.
    over_wood : list of (style, outlines)
        Drawn between the wood and the parts.
    """

    plan: Plan
    layout: Layout
    canvas: Canvas
    at: Move
    text_mm: float = 3.2
    shown: set[str] = field(default_factory=set)
    over_wood: list[tuple[str, list[Outline]]] = field(default_factory=list)
    labels: Labels = field(init=False)

    def __post_init__(self) -> None:
        self.labels = Labels(
            canvas=self.canvas, window=(1.0, 1.0, self.canvas.width_mm - 1.0, self.canvas.height_mm - 1.0)
        )

    def draw(self) -> set[str]:
        """Draw everything and return the legend keys of what is shown."""
        self._wood()
        self._leftovers()
        self._keep_clear()
        for style, outlines in self.over_wood:
            self.canvas.area(outlines, style)
        self._rooms()
        for placement in self.layout.placements:
            self._part(placement)
        self._watched()
        self._seams()
        self._defects()
        self._work()
        self._part_names()
        return self.shown

    # -- wood -------------------------------------------------------------------------------

    def _grain_on_canvas(self) -> float | None:
        g = self.layout.blank.grain_deg
        if g is None:
            return None
        return self.at.angle_deg + (180.0 - g if self.at.mirrored else g)

    def _wood(self) -> None:
        blank = self.layout.blank
        area = [self.at.outline(o) for o in outlines_of(blank.shape)]
        self.canvas.area(area, "wood")
        glueup = self.layout.glueup
        for member in glueup.members[1::2] if glueup else ():
            used = [self.at.outline(o) for shape in member.wood for o in outlines_of(shape)]
            if used:
                self.canvas.area(used, "wood-2")
        grain = self._grain_on_canvas()
        if grain is not None:
            self.canvas.hatch(area, "grain-line", grain, 2.1)
        self.canvas.area(area, "edge")

    def grain_arrow(self, x: float, y: float, length: float) -> None:
        """Draw the grain arrow with its middle at (x, y) on the canvas."""
        grain = self._grain_on_canvas()
        if grain is None:
            return
        turn = Move(angle_deg=grain, dx=x, dy=y)
        a, b = turn.point((-length / 2, 0.0)), turn.point((length / 2, 0.0))
        self.canvas.arrow(a, b, "grain", "grain-head", 2.4, both=True)
        self.shown.add("grain")

    # -- parts ------------------------------------------------------------------------------

    def part_of(self, placement: Placement) -> Part:
        """Return the part that a placement places."""
        return self.plan.shop.part(placement.part)

    def _part(self, placement: Placement) -> None:
        part = self.part_of(placement)
        move = move_of(placement).then(self.at)
        outline = move.outline(part.outline)
        self.canvas.area([outline], "part")
        self.shown.add("part")
        for role in ROLES:
            for zone in part.zones:
                if zone.role == role:
                    self._zone(zone, placement, move)
        self.canvas.area([outline], "outline")

    def _zone(self, zone: Zone, placement: Placement, move: Move) -> None:
        if zone.shape is None:
            self.canvas.lines([move.points(zone.line_mm)], "center")
            self.shown.add("center")
            return
        outlines = [move.outline(o) for o in outlines_of(zone.shape)]
        drawn = zone.does.drawn
        up = (zone.face == "front") == placement.front_up or zone.face == "through"
        if drawn == "watch":
            self.canvas.area(outlines, "watch")
            self.shown.add("watch")
        elif drawn == "cutout":
            marks.cutout(self.canvas, outlines)
            self.shown.add("cutout")
        elif drawn == "hole" and up:
            self.canvas.area(outlines, "hole")
            self.shown.add("hole")
        elif not up:
            if drawn == "contour":
                self.canvas.hatch(outlines, "under-hatch", 45.0, 1.8)
            self.canvas.area(outlines, "pocket-under")
            self.shown.add("contour-under" if drawn == "contour" else "pocket-under")
        elif drawn == "contour":
            self.canvas.hatch(outlines, "contour-hatch", 45.0, 1.4)
            self.canvas.area(outlines, "contour")
            self.shown.add("contour")
        else:
            self.canvas.area(outlines, "pocket")
            self.shown.add("pocket")

    def _rooms(self) -> None:
        """Draw how far each part may still be shifted."""
        for item in self.layout.rooms:
            outlines = room.reach(self.plan, self.layout, item)
            if outlines:
                self.canvas.area([self.at.outline(o) for o in outlines], "room")
                self.shown.add("room")

    def _watched(self) -> None:
        """Draw the stretches of edge that may tear: teeth, or a second line at narrow points."""
        bodies = {}
        for w in self.layout.watch:
            if w.placement not in bodies:
                placement = self.layout.placements[w.placement]
                move = move_of(placement).then(self.at)
                bodies[w.placement] = hatch.region([move.outline(self.part_of(placement).outline)])
            line = self.at.points(w.line_mm)
            draw = room.teeth if w.kind == "rising grain" else room.beside
            self.canvas.lines(draw(line, bodies[w.placement]), "tear")
            self.shown.add(w.kind)

    def _part_names(self) -> None:
        several = len(self.layout.placements) > 1
        for k, placement in enumerate(self.layout.placements):
            move = move_of(placement).then(self.at)
            outline = move.outline(self.part_of(placement).outline)
            text = f"{k + 1} {short(placement.part, 24)}" if several else short(placement.part, 24)
            busy = [
                hatch.region([move.outline(o) for o in outlines_of(zone.shape)])
                for zone in self.part_of(placement).zones
                if zone.shape is not None
            ]
            busy += [
                hatch.band(move.points(zone.line_mm), 0.6)
                for zone in self.part_of(placement).zones
                if zone.line_mm
            ]
            busy += [hatch.band(self.at.points(s.line_mm), 1.0) for s in self.layout.blank.seams]
            busy += [hatch.region([self.at.outline(d.shape.outer)]) for d in self.layout.blank.defects]
            busy += self._held(0.5)
            width = fonts.width(text, self.text_mm, True) + 0.6
            at, inside = hatch.quiet_place(outline, busy, width, self.text_mm * 1.1)
            if several and not inside:
                text = f"{k + 1}"
                width = fonts.width(text, self.text_mm, True) + 0.6
                at, inside = hatch.quiet_place(outline, busy, width, self.text_mm * 1.1)
            self.labels.put(at, text, self.text_mm, "text-bold")

    # -- seams, defects, leftovers --------------------------------------------------------------

    def _seams(self) -> None:
        for seam in self.layout.blank.seams:
            line = self.at.points(seam.line_mm)
            self.canvas.lines([line], "seam")
            self.shown.add("seam")
            end = max(line)
            for (ax, ay), (bx, by) in pairwise(line):
                n = max(1, int(math.hypot(bx - ax, by - ay) / 2.0))
                for k in range(n + 1):
                    x, y = ax + (bx - ax) * k / n, ay + (by - ay) * k / n
                    self.labels.block((x - 0.7, y - 0.7, x + 0.7, y + 0.7))
            self.labels.put(
                (end[0], end[1]), short(seam.name, 12), self.text_mm * 0.9, "text-seam", reach=0.6
            )

    def _defects(self) -> None:
        grain = self._grain_on_canvas() or 0.0
        for defect in self.layout.blank.defects:
            outlines = [self.at.outline(o) for o in outlines_of(defect.shape)]
            marks.defect(self.canvas, outlines, defect.kind, grain)
            self.shown.add(f"defect {defect.kind}")
        filled = {f.defect for f in self.layout.fills}
        for defect in self.layout.blank.defects:
            outlines = [self.at.outline(o) for o in outlines_of(defect.shape)]
            x0, y0, x1, y1 = bounds(outlines)
            if max(x1 - x0, y1 - y0) <= _COVERED_MM:
                self.labels.block((x0, y0, x1, y1))
            at = ((x0 + x1) / 2, (y0 + y1) / 2)
            reach = max(0.4, min(x1 - x0, y1 - y0) / 2)
            text = marks.letters(defect.kind) + (" fill" if defect.name in filled else "")
            self.labels.put(at, text, self.text_mm * 0.9, "text-defect", reach=reach)

    def _keep_clear(self) -> None:
        """Keep labels off pins and screws, and rather off cuts."""
        work = self.layout.work
        for placement in self.layout.placements:
            move = move_of(placement).then(self.at)
            for zone in self.part_of(placement).zones:
                if zone.shape is not None and zone.does.cuts:
                    self.labels.cut(hatch.region([move.outline(o) for o in outlines_of(zone.shape)]))
        if work is None:
            return
        held: list[Pin | HoldDown] = [*work.pins, *work.hold_downs]
        for item in held:
            x, y = self.at.point((item.x_mm, item.y_mm))
            r = max(item.diameter_mm / 2 * self.at.scale, 1.0)
            self.labels.mark((x, y))
            self.labels.block((x - r, y - r, x + r, y + r))
        for (x, y), r in self._tab_spots():
            self.labels.mark((x, y))
            self.labels.block((x - r, y - r, x + r, y + r))

    def _held(self, around: float) -> list[BaseGeometry]:
        """Return where pins, screws with their letters, and the flip axis are."""
        work = self.layout.work
        if work is None:
            return []
        out: list[BaseGeometry] = []
        held: list[Pin | HoldDown] = [*work.pins, *work.hold_downs]
        for item in held:
            x, y = self.at.point((item.x_mm, item.y_mm))
            out.append(ShapelyPoint(x, y).buffer(max(item.diameter_mm / 2 * self.at.scale, 1.0) + around))
        if work.flip_axis_mm is not None:
            out.append(hatch.band(self.at.points(work.flip_axis_mm), 0.8))
        return out

    def _work(self) -> None:
        work = self.layout.work
        if work is None:
            return
        if work.flip_axis_mm is not None:
            axis = self.at.points(work.flip_axis_mm)
            self.canvas.lines([axis], "axis")
            marks.turn_over(self.canvas, axis[0], axis[1])
            self.shown.add("axis")
        self._tabs()
        for hold in work.hold_downs:
            at = self.at.point((hold.x_mm, hold.y_mm))
            radius = max(hold.diameter_mm / 2 * self.at.scale, 1.0)
            marks.hold_down(self.canvas, at, radius)
            self.shown.add("clamp")
        for pin in work.pins:
            at = self.at.point((pin.x_mm, pin.y_mm))
            radius = max(pin.diameter_mm / 2 * self.at.scale, 1.0)
            marks.pin(self.canvas, at, radius)
            self.shown.add("pin")
        for pin in work.pins:
            at = self.at.point((pin.x_mm, pin.y_mm))
            reach = max(pin.diameter_mm / 2 * self.at.scale, 1.0)
            self.labels.put(at, hole(pin.name), self.text_mm * 0.85, "text-slate", reach=reach)
        for tab, at, reach in tab_spots(work, self.plan.shop.settings.cutter_diameter_mm, self.at):
            self.labels.put(at, initials(tab), self.text_mm * 0.85, "text-tab", reach=reach)
        for hold in work.hold_downs:
            at = self.at.point((hold.x_mm, hold.y_mm))
            reach = max(hold.diameter_mm / 2 * self.at.scale, 1.0)
            self.labels.put(at, initials(hold.name), self.text_mm * 0.85, "text-slate", reach=reach)

    def _tab_spots(self) -> list[tuple[Point, float]]:
        """Return the middle of each tab and half its extent on the canvas."""
        work, cutter = self.layout.work, self.plan.shop.settings.cutter_diameter_mm
        return [] if work is None else [(at, reach) for _, at, reach in tab_spots(work, cutter, self.at)]

    def _tabs(self) -> None:
        work, cutter = self.layout.work, self.plan.shop.settings.cutter_diameter_mm
        for tab in work.tabs if work is not None else ():
            self.canvas.area([self.at.outline(tab_outline(tab, cutter))], "tab")
            self.shown.add("tab")

    def _leftovers(self) -> None:
        grain = self.layout.blank.grain_deg or 0.0
        words = Words(self.plan.shop.units)
        for leftover in self.layout.leftovers:
            if not leftover.usable:
                continue
            marks.leftover(self.canvas, [self.at.outline(o) for o in outlines_of(leftover.shape)])
            self.shown.add("leftover")
            x, y, length, width = leftover.rectangle_mm
            turn = Move(angle_deg=grain).then(self.at)
            rectangle = turn.outline(Outline.rectangle(x, y, x + length, y + width))
            self.canvas.area([rectangle], "rectangle")
            self.shown.add("rectangle")
            letter = leftover.name.rsplit("-", 1)[-1]
            text = f"{letter}: {words.size(length, width, rounding='wood')}"
            size = self.text_mm * 0.9
            # Defects with room for their letters beside them.
            busy = [
                hatch.region([self.at.outline(d.shape.outer)]).buffer(size) for d in self.layout.blank.defects
            ]
            busy += [hatch.band(self.at.points(s.line_mm), 1.0) for s in self.layout.blank.seams]
            busy += self._held(size)
            busy += [ShapelyPoint(spot).buffer(reach + 2.0 * size) for spot, reach in self._tab_spots()]
            wide = fonts.width(text, size, True) + 0.6
            at, inside = hatch.quiet_place(rectangle, busy, wide, size * 1.1)
            if not inside:
                text = letter
                at, _ = hatch.quiet_place(rectangle, busy, fonts.width(text, size, True), size * 1.1)
            self.labels.put(at, text, size, "text-leftover")


def tab_outline(tab: Tab, cutter_mm: float) -> Outline:
    """Return a tab from the outline of its part across the groove, blank coordinates."""
    turn = Move(angle_deg=tab.angle_deg, dx=tab.x_mm, dy=tab.y_mm)
    return turn.outline(Outline.rectangle(0.0, -tab.width_mm / 2.0, cutter_mm, tab.width_mm / 2.0))


def tab_spots(work: WorkPlan, cutter_mm: float, at: Move) -> list[tuple[str, Point, float]]:
    """Return name, middle on the canvas, and half the extent of each tab."""
    out = []
    for tab in work.tabs:
        x0, y0, x1, y1 = bounds([at.outline(tab_outline(tab, cutter_mm))])
        out.append((tab.name, ((x0 + x1) / 2, (y0 + y1) / 2), max(x1 - x0, y1 - y0) / 2))
    return out


def extent(plan: Plan, layout: Layout) -> Box:
    """Return the box around a blank with all that lies on it, blank coordinates, mm."""
    boxes = [bounds([layout.blank.shape.outer])]
    boxes += [bounds([move_of(p).outline(plan.shop.part(p.part).outline)]) for p in layout.placements]
    for seam in layout.blank.seams:
        xs, ys = zip(*seam.line_mm)
        boxes.append((min(xs), min(ys), max(xs), max(ys)))
    return join_boxes(boxes)


def describe(plan: Plan, layout: Layout) -> str:
    """Return in words what the picture of a blank shows."""
    words = Words(plan.shop.units)
    blank = layout.blank
    x0, y0, x1, y1 = bounds([blank.shape.outer])
    parts = ", ".join(short(p.part, 60) for p in layout.placements) or "nothing"
    out = [f"{blank.species}, {words.size(x1 - x0, y1 - y0)}, on it {parts}"]
    if blank.grain_deg is not None:
        out.append(f"grain at {words.angle(blank.grain_deg)} from its length")
    if blank.seams:
        out.append(f"{len(blank.seams)} seam{'s' if len(blank.seams) > 1 else ''}")
    kinds = [d.kind for d in blank.defects]
    if kinds:
        out.append("defects: " + ", ".join(f"{kinds.count(k)} {k}" for k in sorted(set(kinds))))
    usable = [leftover for leftover in layout.leftovers if leftover.usable]
    if usable:
        out.append(f"{len(usable)} leftover{'s' if len(usable) > 1 else ''} to keep")
    return "; ".join(out)


def picture(plan: Plan, layout: Layout, width_mm: float = 110.0) -> tuple[Canvas, set[str]]:
    """Return the picture of a blank for the report, and the legend keys of what it shows."""
    x0, y0, x1, y1 = extent(plan, layout)
    border = 6.0
    k = min((width_mm - 2 * border) / max(x1 - x0, 1e-6), 110.0 / max(y1 - y0, 1e-6))
    top = 3.0 if layout.blank.grain_deg is not None else 0.0
    canvas = Canvas(
        width_mm=width_mm,
        height_mm=(y1 - y0) * k + 2 * border + top,
        title=f"Picture of {short(layout.blank.name, 60)}",
        description=describe(plan, layout),
    )
    left = (width_mm - (x1 - x0) * k) / 2
    at = Move(scale=k, dx=left - x0 * k, dy=border - y0 * k)
    drawn = BlankPicture(plan=plan, layout=layout, canvas=canvas, at=at)
    if top:
        drawn.grain_arrow(left + 9.0, canvas.height_mm - 4.0, 16.0)
        drawn.labels.block((left, canvas.height_mm - 8, left + 34.0, canvas.height_mm))
        canvas.text((left + 19.0, canvas.height_mm - 5.1), "grain", 3.0, "text-soft")
    drawn.draw()
    return canvas, drawn.shown
