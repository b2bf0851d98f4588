"""What a drawing of a blank holds: every outline with its layer, depth and name, in blank coordinates."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from nestyield.model import ROLES, Layout, Outline, Placement, Plan, Point, Zone
from nestyield.model.cutting import face_of
from nestyield.model.facts import NoWoodAtCorner
from nestyield.paperwork import bed_picture, fonts, hatch
from nestyield.paperwork.blank_picture import extent, tab_outline
from nestyield.paperwork.canvas import Canvas, Lines, Text
from nestyield.paperwork.curves import Box, Move, bounds, chords, move_of, outlines_of, reflection
from nestyield.paperwork.labels import Labels
from nestyield.paperwork.phrases.work import hole, initials
from nestyield.paperwork.words import clean
from nestyield.words import Words, listed, plural

TEXT_HEIGHT_MM = 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Feature:
    """One closed outline or open line of a drawing.

    Parameters
    ----------
    layer : str
        Plain name; the depth is part of it where there is one.
    outline : Outline or None
    line_mm : tuple of points
        When it is not closed.
    label : str
        Text to stand beside it; ``""`` for none.
    kind, name : str
        Role and name, for the data that goes with the entity.
    depth_mm : float or None
        From ``face``; None for through or where it does not apply.
    face : {"top", "bottom", "through", ""}
        Face of the blank, not of the part.
    """

    layer: str
    outline: Outline | None = None
    line_mm: tuple[Point, ...] = ()
    label: str = ""
    kind: str
    name: str
    depth_mm: float | None = None
    face: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """A text of a drawing, blank coordinates."""

    at_mm: Point
    text: str


#: Roles of zones on which no text may stand.
_DRILLED = {role.name for role in ROLES.values() if role.drawn == "hole"}


def _zone_layer(zone: Zone, face: str, words: Words) -> str:
    name = zone.does.layer
    if zone.does.depth == "none":
        return name
    if zone.depth_mm is None:
        return f"{name} THROUGH"
    return f"{name} {face.upper()} {words.number(zone.depth_mm, style='machine')} {words.units.upper()}"


def _alike(zones: tuple[Zone, ...]) -> list[int]:
    """Return for each zone how many are alike in all but place, told at the first; 0 for the others."""
    keys = [(z.role, z.name.split("#")[0], z.face, z.depth_mm) for z in zones]
    return [keys.count(key) if keys.index(key) == k else 0 for k, key in enumerate(keys)]


def _zone_features(zone: Zone, placement: Placement, move: Move, words: Words, count: int) -> list[Feature]:
    face = face_of(zone, placement)
    layer = _zone_layer(zone, face, words)
    if zone.shape is None:
        return [Feature(layer=layer, line_mm=move.points(zone.line_mm), kind=zone.role, name=zone.name)]
    label = ""
    if count and zone.depth_mm is not None:
        many = f"{count} × " if count > 1 else ""
        name = clean(zone.name.split("#")[0])
        label = f"{many}{name} {words.length(zone.depth_mm, style='fine')} deep, {face} face"
    return [
        Feature(
            layer=layer,
            outline=move.outline(outline),
            label=label if k == 0 else "",
            kind=zone.role,
            name=zone.name,
            depth_mm=zone.depth_mm,
            face=face,
        )
        for k, outline in enumerate(outlines_of(zone.shape))
    ]


def features(plan: Plan, layout: Layout) -> list[Feature]:
    """Return everything that a drawing of a blank shows, in drawing order.

    Faces are those of the wood, ``TOP`` and ``BOTTOM`` as written on it, whichever is up.
    """
    words = Words(plan.shop.units)
    blank = layout.blank
    out = [Feature(layer="BLANK", outline=o, kind="blank", name=blank.name) for o in outlines_of(blank.shape)]
    for seam in blank.seams:
        out.append(Feature(layer="SEAM", line_mm=seam.line_mm, label=seam.name, kind="seam", name=seam.name))
    for key in layout.glueup.keys if layout.glueup else ():
        label = f"{key.name}, {words.length(key.thick_mm)} wide"
        out.append(
            Feature(
                layer=key.kind.upper(),
                outline=key.outline,
                label=label,
                kind=key.kind,
                name=key.name,
                depth_mm=key.below_top_mm,
                face="top",
            )
        )
    for defect in blank.defects:
        for k, outline in enumerate(outlines_of(defect.shape)):
            out.append(
                Feature(
                    layer="DEFECT",
                    outline=outline,
                    label=defect.kind if k == 0 else "",
                    kind=defect.kind,
                    name=defect.name,
                    depth_mm=defect.depth_mm,
                    face=defect.face,
                )
            )
    for placement in layout.placements:
        part = plan.shop.part(placement.part)
        move = move_of(placement)
        for zone, count in zip(part.zones, _alike(part.zones)):
            out += _zone_features(zone, placement, move, words, count)
        out.append(
            Feature(
                layer="PART",
                outline=move.outline(part.outline),
                label=f"{clean(part.name)}, {words.thickness(part.thickness_mm)} thick",
                kind="part",
                name=part.name,
            )
        )
    for leftover in layout.leftovers:
        if not leftover.usable:
            continue
        for k, outline in enumerate(outlines_of(leftover.shape)):
            label = f"leftover {clean(leftover.name)}" if k == 0 else ""
            out.append(
                Feature(layer="LEFTOVER", outline=outline, label=label, kind="leftover", name=leftover.name)
            )
        x, y, length, width = leftover.rectangle_mm
        turn = Move(angle_deg=blank.grain_deg or 0.0)
        out.append(
            Feature(
                layer="LEFTOVER RECTANGLE",
                outline=turn.outline(Outline.rectangle(x, y, x + length, y + width)),
                kind="leftover rectangle",
                name=leftover.name,
            )
        )
    for watch in layout.watch:
        out.append(Feature(layer="WATCH", line_mm=watch.line_mm, kind=watch.kind, name=watch.kind))
    return out + _meetings(layout) + _work(plan, layout)


def _meetings(layout: Layout) -> list[Feature]:
    """Return the lines across the blank on which its sections meet."""
    if layout.chosen is None:
        return []
    setup = layout.setups[layout.chosen]
    upright = bed_picture.long_axis(setup) == "X"
    lines: list[tuple[Point, Point]] = []
    meet: list[tuple[Point, Point]] = []
    for section in setup.sections:
        x0, y0, x1, y1 = bed_picture.blank_extent_on_bed(layout, section)
        back = Move(angle_deg=-section.turned_deg)
        for at in (section.from_mm, section.to_mm):
            ends = ((at, y0), (at, y1)) if upright else ((x0, at), (x1, at))
            a, b = sorted(back.point((x - section.x_mm, y - section.y_mm)) for x, y in ends)
            if any(math.dist(a, c) + math.dist(b, d) < 0.05 for c, d in lines):
                meet.append((a, b))
            lines.append((a, b))
    return [
        Feature(layer="SECTION", line_mm=line, label="sections meet", kind="section", name="sections meet")
        for line in meet
    ]


def in_sections(sections: tuple[int, ...]) -> str:
    """Return in which sections a screw is driven: `` (section 2)``; ``""`` for always."""
    if not sections:
        return ""
    return f" ({plural(len(sections), 'section')} {listed(str(n) for n in sections)})"


def _work(plan: Plan, layout: Layout) -> list[Feature]:
    out: list[Feature] = []
    work = layout.work
    if work is None:
        return out
    for pin in work.pins:
        out.append(
            Feature(
                layer="PIN",
                outline=Outline.circle(pin.x_mm, pin.y_mm, pin.diameter_mm / 2),
                label=f"{hole(pin.name)} ({pin.use})",
                kind=f"pin {pin.use}",
                name=pin.name,
            )
        )
    for hold in work.hold_downs:
        out.append(
            Feature(
                layer="HOLD DOWN",
                outline=Outline.circle(hold.x_mm, hold.y_mm, hold.diameter_mm / 2),
                label=initials(hold.name) + in_sections(hold.sections),
                kind="hold down",
                name=hold.name,
            )
        )
    for tab in work.tabs:
        out.append(
            Feature(
                layer="TAB",
                outline=tab_outline(tab, plan.shop.settings.cutter_diameter_mm),
                label=initials(tab.name),
                kind="tab",
                name=tab.name,
            )
        )
    if work.flip_axis_mm is not None:
        out.append(
            Feature(
                layer="FLIP AXIS",
                line_mm=work.flip_axis_mm,
                label="flip axis",
                kind="flip axis",
                name="flip axis",
            )
        )
    return out


def has_bottom(layout: Layout) -> bool:
    """Return whether something is cut with the blank's bottom face up, so that it needs its own drawing."""
    work = layout.work
    return work is not None and work.flip_axis_mm is not None and any(p.mirrored for p in work.positions)


def turned_over(listed: list[Feature], axis: tuple[Point, Point]) -> list[Feature]:
    """Return features as they lie after the blank was turned over about an axis."""
    return _moved(listed, reflection(*axis))


def _moved(listed: list[Feature], move: Move) -> list[Feature]:
    return [
        replace(
            feature,
            outline=move.outline(feature.outline) if feature.outline else None,
            line_mm=move.points(feature.line_mm),
        )
        for feature in listed
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class Content:
    """Everything that a drawing of a blank holds.

    Parameters
    ----------
    features : tuple of Feature
        Leaders of texts included.
    notes : tuple of Note
    box : (x0, y0, x1, y1)
        Around all outlines, millimeters.
    """

    features: tuple[Feature, ...]
    notes: tuple[Note, ...]
    box: Box


def quarter_turned(listed: list[Feature]) -> list[Feature]:
    """Return features of a blank that lies a quarter turn to the left, its box in the corner at the zero."""
    turn = Move(angle_deg=90.0)
    x0, y0, _, _ = bounds([turn.outline(f.outline) for f in listed if f.layer == "BLANK" and f.outline])
    return _moved(listed, turn.then(Move(dx=-x0, dy=-y0)))


def to_drawing(layout: Layout, over: bool = False) -> Move:
    """Return the move from blank coordinates to those of a drawing, whose zero is the datum corner.

    Turned over about the flip axis the zero stays where it is on the bed.
    """
    x0, y0, _, _ = bounds([layout.blank.shape.outer])
    to_zero = Move(dx=-x0, dy=-y0)
    if not over:
        return to_zero
    assert layout.work is not None
    assert layout.work.flip_axis_mm is not None
    return reflection(*layout.work.flip_axis_mm).then(to_zero)


def other_way_fits(layout: Layout) -> bool:
    """Tell whether some bed takes the blank with its length along Y."""
    return any(s.along == "y" and s.is_usable for s in layout.setups)


def content(plan: Plan, layout: Layout, over: bool = False, quarter: bool = False) -> Content:
    """Return outlines and texts of a drawing; ``over`` for the blank turned over about its flip axis.

    With ``quarter`` the blank lies a quarter turn to the left, its length along Y, its box at the zero.
    A text stands at each labeled outline, none on another; the heading stands below the blank.
    """
    move = to_drawing(layout, over)
    listed = _moved(features(plan, layout), move)
    box = bounds([move.outline(Outline.rectangle(*extent(plan, layout)))])
    if quarter:
        listed = quarter_turned(listed)
        box = bounds([f.outline for f in listed if f.outline])
    listed += _zero_mark()
    x0, y0, x1, y1 = box
    x0, y0, x1, y1 = min(x0, -_ARM_MM), min(y0, -_ARM_MM), max(x1, _ARM_MM), max(y1, _ARM_MM)
    box = (x0, y0, x1, y1)
    scratch = Canvas(width_mm=x1 - x0, height_mm=y1 - y0)
    labels = Labels(canvas=scratch, window=(x0, y0, max(x1, x0 + 200.0), y1))
    for feature in listed:
        if feature.kind in _DRILLED and feature.outline:
            labels.block(bounds([feature.outline]))
    rings = [[*chords(f.outline, 0.5), f.outline.points_mm[0]] for f in listed if f.outline]
    lines = [*rings, *(f.line_mm for f in listed if f.line_mm)]
    labels.keep_off(lines)
    busy = [hatch.band(line, 1.0) for line in lines]
    for feature in listed:
        if not feature.label:
            continue
        if feature.outline is None:
            labels.put(feature.line_mm[0], feature.label, TEXT_HEIGHT_MM, "plain")
            continue
        fx0, fy0, fx1, fy1 = bounds([feature.outline])
        low = min(fx1 - fx0, fy1 - fy0) / 2
        wide = fonts.width(feature.label, TEXT_HEIGHT_MM) > fx1 - fx0
        at = hatch.center([feature.outline])
        if feature.kind == "part":
            wide_mm = fonts.width(feature.label, TEXT_HEIGHT_MM) + 2.0
            at, _ = hatch.quiet_place(feature.outline, busy, wide_mm, TEXT_HEIGHT_MM * 1.2)
        if wide and low < 4 * TEXT_HEIGHT_MM:
            labels.put(at, feature.label, TEXT_HEIGHT_MM, "plain", reach=low)
        else:
            labels.put(at, feature.label, TEXT_HEIGHT_MM, "plain", beyond=low)
    notes = []
    for item in scratch.items:
        if isinstance(item, Text):
            notes.append(Note(at_mm=(item.x - fonts.width(item.text, item.size) / 2, item.y), text=item.text))
        elif isinstance(item, Lines):
            listed += [
                Feature(layer="TEXT", line_mm=line, kind="leader", name="leader") for line in item.lines
            ]
    notes += [
        Note(at_mm=(x0, y0 - 12.0 - 9.0 * k), text=line)
        for k, line in enumerate(_heading(plan, layout, over, quarter))
    ]
    return Content(features=tuple(listed), notes=tuple(notes), box=box)


#: Arms of the cross at a drawing's zero, millimeters.
_ARM_MM = 8.0


def _zero_mark() -> list[Feature]:
    """Return the cross at a drawing's zero."""
    arms = (((-_ARM_MM, 0.0), (_ARM_MM, 0.0)), ((0.0, -_ARM_MM), (0.0, _ARM_MM)))
    return [
        Feature(layer="ZERO", line_mm=line, label="" if k else "zero", kind="zero", name="zero")
        for k, line in enumerate(arms)
    ]


def zero_reference(layout: Layout, over: bool) -> tuple[str, Point] | None:
    """Return by what the zero of a drawing is found, and where that is in it; None where the zero is plain.

    It is plain where the datum corner is the zero and has wood. In the setup that comes first no pin is there
    yet: the zero is found from the datum corner, named ``"corner"``; later from a pin, named as on the sheet.

    Parameters
    ----------
    layout : Layout
    over : bool
        For the drawing of the blank turned over.
    """
    work = layout.work
    if over:
        if not has_bottom(layout) or work is None or work.flip_axis_mm is None:
            return None
    elif not any(isinstance(c, NoWoodAtCorner) for c in layout.cautions):
        return None
    move, corner = to_drawing(layout, over), bounds([layout.blank.shape.outer])[:2]
    if work is None or not work.pins or work.positions[0].mirrored == over:
        return "corner", move.point(corner)
    pin = work.pins[0]
    return hole(pin.name), move.point((pin.x_mm, pin.y_mm))


def _zero_words(layout: Layout, words: Words, over: bool) -> str:
    """Return where the zero of a drawing lies."""
    found = zero_reference(layout, over)
    if found is not None:
        name, (x, y) = found
        at = f"X {words.number(x, style='machine')}, Y {words.number(y, style='machine')}"
        if name == "corner" and not over:
            return f"The datum corner, where the datum edges meet beyond the wood, is at {at}."
        what = "The datum corner" if name == "corner" else f"Hole {name}"
        return f"{what} is at {at}: find the zero from there."
    return "Zero: the datum corner, lower left."


_QUARTER = (
    "A quarter turn to the left: its length along Y. Zero: the lower left corner of its box as it lies here."
)


def _heading(plan: Plan, layout: Layout, over: bool, quarter: bool) -> list[str]:
    blank = layout.blank
    words = Words(plan.shop.units)
    seen = "turned over about the flip axis, seen from the bottom" if over else "seen from the top"
    cut = sorted({plan.shop.part(p.part).thickness_mm for p in layout.placements})
    as_cut = listed(words.thickness(t) for t in cut) if blank.grain_deg is not None else ""
    thick = f"stock {words.length(blank.thickness_mm)} thick{f', as cut {as_cut}' if as_cut else ''}"
    out = [
        f"{clean(blank.name)}: {clean(blank.species)}, {thick}, {seen}",
        f"Lengths in {words.unit()}. {_QUARTER if quarter else _zero_words(layout, words, over)}",
    ]
    if blank.grain_deg is not None and not over and not quarter:
        grain = words.angle(blank.grain_deg)
        out.append("Grain along X." if grain in ("0°", "180°") else f"Grain at {grain} from X.")
    return out
