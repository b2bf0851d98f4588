"""Beds of the shop file."""

from __future__ import annotations

from functools import partial
from typing import Any

import shapely
from shapely.validation import explain_validity

from nestyield.intake import remedies
from nestyield.intake.keys import BED_FIELDS, keys_of
from nestyield.intake.problems import shown
from nestyield.intake.values import Values
from nestyield.model import Bed, KeepOut, Outline

#: Shorter travel is told, by the unit of the shop (a bare 3 in inches may be feet); longer, too.
SHORTEST_TRAVEL_MM = {"mm": 60.0, "in": 100.0}
LONGEST_TRAVEL_MM = 10_000.0
#: A keep-out over so much of the travel looks like a mistake.
MOST_KEPT_OUT = 0.7


def read_beds(shop: Values) -> list[Bed]:
    """Read every ``[bed.NAME]``.

    Parameters
    ----------
    shop : Values
        The whole shop file.

    Returns
    -------
    list of Bed
        Those that could be read; problems went to ``shop.problems``.
    """
    section = shop.table("bed")
    if section is None:
        return []
    beds = []
    if section.refuse_without_name("bed"):
        return []
    section.refuse_alike()
    for name in section.data:
        values = section.table(name)
        if values is not None:
            bed = _bed(name, values)
            if bed is not None:
                beds.append(bed)
    return beds


def _bed(name: str, values: Values) -> Bed | None:
    v = values.read("bed.*")
    tables = enumerate(values.tables("keep_out"))
    keep_outs = [(t, k) for i, t in tables if (k := _keep_out(t, i)) is not None]
    if v["travel_x"] is None or v["travel_y"] is None:
        return None
    for axis in ("travel_x", "travel_y"):
        if not SHORTEST_TRAVEL_MM[values.units] <= v[axis] <= LONGEST_TRAVEL_MM:
            _tell_travel(values, axis, v[axis])
    bed = Bed(
        name=name,
        **{key.stored_as: v[key.name] for key in keys_of("bed.*") if key.stored_as in BED_FIELDS},
        table_x_mm=_extent(values, "table_x", v["table_x"], v["travel_x"]),
        table_y_mm=_extent(values, "table_y", v["table_y"], v["travel_y"]),
        open_ends=v["open_ends"],
        keep_outs=tuple(k for _, k in keep_outs),
    )
    for table, keep_out in keep_outs:
        _tell_place(table, keep_out, bed)
    return bed


def _tell_travel(values: Values, axis: str, travel: float) -> None:
    if values.problems.told(values.file, values.where(axis)):
        return
    size = values.words.length(travel, style="setting")
    only = "only " if travel < SHORTEST_TRAVEL_MM[values.units] else ""
    other = remedies.in_other_unit(values.data[axis], axis, values.units)
    if only and values.units == "in" and isinstance(values.data[axis], int | float):
        other = f'if feet are meant, write {axis} = "{values.data[axis]} ft"'
    values.warning("S012", f"the cutter moves {only}{size} along {axis[-1].upper()}; {other}", axis)


def _tell_place(values: Values, keep_out: KeepOut, bed: Bed) -> None:
    """Warn of a keep-out off the bed, and of one over nearly all of it: places are ends, not sizes."""
    x0, y0, x1, y1 = shapely.Polygon(keep_out.outline.points_mm).bounds
    ends_x = (min(0.0, bed.table_x_mm[0]), max(bed.travel_x_mm, bed.table_x_mm[1]))
    ends_y = (min(0.0, bed.table_y_mm[0]), max(bed.travel_y_mm, bed.table_y_mm[1]))
    say = partial(values.words.length, style="setting")
    key = "rectangle" if "rectangle" in values.data else "polygon"
    for axis, (low, high), (first, last) in (("X", (x0, x1), ends_x), ("Y", (y0, y1), ends_y)):
        if low >= last or high <= first:
            bed_is = f"the bed {say(first)} to {say(last)}"
            message = f"the keep-out lies off the bed: {axis} {say(low)} to {say(high)}, {bed_is}; correct it"
            values.warning("S012", message, key)
            return
    bed_area = bed.travel_x_mm * bed.travel_y_mm
    on_bed = shapely.box(0.0, 0.0, bed.travel_x_mm, bed.travel_y_mm)
    part = shapely.Polygon(keep_out.outline.points_mm).intersection(on_bed).area / bed_area
    if part < MOST_KEPT_OUT:
        return
    such = "left, front, right, back, not place and size"
    raw = values.data.get("rectangle")
    if isinstance(raw, list) and all(map(_is_number, raw)) and (raw[2] < raw[0] or raw[3] < raw[1]):
        such += f": [{raw[0]:g}, {raw[1]:g}, {raw[0] + raw[2]:g}, {raw[1] + raw[3]:g}]"
    values.warning("S012", f"the keep-out covers {100 * part:.0f} % of the bed; write {such}", key)


def _extent(values: Values, key: str, raw: Any, travel: float) -> tuple[float, float]:
    if raw is None:
        return (0.0, travel)
    if not isinstance(raw, list) or len(raw) != 2:
        end = f'"{raw.strip()}"' if isinstance(raw, str) else f"{raw:g}" if _is_number(raw) else ""
        such = f"write {key} = [0, {end}]" if end else f"write two lengths [from, to], not {shown(raw)}"
        values.error("S006", f"the table has two ends; {such}", key)
        return (0.0, travel)
    lo, hi = (values.length(x, key) for x in raw)
    if lo is None or hi is None:
        return (0.0, travel)
    if not lo < hi:
        values.error("S007", f"expected {key} to begin below its end, got {shown(raw)}", key)
        return (0.0, travel)
    return (lo, hi)


def _is_number(raw: Any) -> bool:
    return isinstance(raw, (int, float)) and not isinstance(raw, bool)


def _keep_out(values: Values, index: int) -> KeepOut | None:
    v = values.read("bed.*.keep_out")
    name = v["name"] or f"keep-out {index + 1}"
    if (v["rectangle"] is None) == (v["polygon"] is None):
        values.error("S005", f"expected either rectangle or polygon for {name!r}")
        return None
    outline = (
        _rectangle(values, v["rectangle"]) if v["rectangle"] is not None else _polygon(values, v["polygon"])
    )
    return None if outline is None else KeepOut(name=name, outline=outline, blocks=v["blocks"])


def _rectangle(values: Values, raw: Any) -> Outline | None:
    if not isinstance(raw, list) or len(raw) != 4:
        has = f"has {len(raw)} numbers and needs 4" if isinstance(raw, list) else "is four numbers"
        such = '[0, 17, "2 1/2 in", 18]' if values.units == "in" else "[0, 430, 60, 450]"
        message = f"the rectangle {has}: left, front, right, back, such as {such}"
        values.error("S006", message, "rectangle")
        return None
    numbers = [values.length(x, "rectangle") for x in raw]
    if any(n is None for n in numbers):
        return None
    x0, y0, x1, y1 = (float(n) for n in numbers if n is not None)
    if x0 == x1 or y0 == y1:
        values.error("S013", f"expected a rectangle with length and width, got {shown(raw)}", "rectangle")
        return None
    return Outline.rectangle(min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1))


def _polygon(values: Values, raw: Any) -> Outline | None:
    if not isinstance(raw, list) or len(raw) < 3 or not all(isinstance(p, list) and len(p) == 2 for p in raw):
        values.error(
            "S006", f"expected polygon = [[x, y], ...] of at least 3 points, got {shown(raw)}", "polygon"
        )
        return None
    points = [(values.length(x, "polygon"), values.length(y, "polygon")) for x, y in raw]
    good = [(x, y) for x, y in points if x is not None and y is not None]
    if len(good) != len(points):
        return None
    polygon = shapely.Polygon(good)
    if not polygon.is_valid or not polygon.area > 0:
        why = explain_validity(polygon) if not polygon.is_valid else "area 0"
        values.error("S013", f"expected a polygon that does not cross itself, got {why}", "polygon")
        return None
    if good[0] == good[-1]:
        good = good[:-1]
    return Outline.polygon(good)
