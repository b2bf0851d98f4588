"""One DXF a blank, for any CAM: named layers, closed polylines with true arcs, units in the header."""

from __future__ import annotations

import io
from collections.abc import Iterator
from contextlib import contextmanager

from ezdxf import bbox, options  # type: ignore[attr-defined]
from ezdxf.document import Drawing
from ezdxf.filemanagement import new

from nestyield.model import ROLES, Layout, Outline, Plan
from nestyield.paperwork.curves import Move, circle_of
from nestyield.paperwork.features import TEXT_HEIGHT_MM, Content, Feature, content
from nestyield.paperwork.words import clean
from nestyield.words import MM_PER_INCH, Words

APP = "NESTYIELD"
# The format gives the height of capitals; this is their share of the size of the type.
CAPITALS = 0.729
# $INSUNITS of the DXF reference: 1 inches, 4 millimeters; $MEASUREMENT: 0 inch patterns, 1 metric.
_UNITS = {"mm": (4, 1), "in": (1, 0)}
# How zones are drawn (``Role.drawn``) -> the same.
_ZONE_COLORS = {
    "cutout": (7, False),
    "pocket": (5, False),
    "contour": (4, False),
    "hole": (6, False),
    "line": (8, True),
    "watch": (8, True),
}
# First word of a layer -> color number of the reference, and whether it is dashed.
_COLORS = {
    "BLANK": (8, False),
    "PART": (7, False),
    **{role.layer.split()[0]: _ZONE_COLORS[role.drawn] for role in ROLES.values()},
    "SEAM": (6, True),
    "SECTION": (6, True),
    "SPLINE": (6, True),
    "DOWEL": (6, True),
    "DEFECT": (1, False),
    "WATCH": (1, False),
    "LEFTOVER": (3, True),
    "PIN": (4, False),
    "HOLD": (4, True),
    "TAB": (2, False),
    "FLIP": (6, True),
    "ZERO": (1, False),
    "TEXT": (7, False),
}
_ROUND = {"PIN", "HOLD", *(r.layer.split()[0] for r in ROLES.values() if r.drawn == "hole")}
_WATCHED = {"DEFECT", "WATCH", *(r.layer.split()[0] for r in ROLES.values() if r.drawn == "watch")}


@contextmanager
def _no_clock() -> Iterator[None]:
    """Keep dates, versions and random identifiers out of the file."""
    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = before


def text_of(text: str) -> str:
    """Return text in which nothing is read as a control code of the format."""
    line = clean(text).replace("\\", "/").replace("^", "^ ")
    while "%%" in line:
        line = line.replace("%%", "% %")
    return line


def _layer(doc: Drawing, name: str, below: str = "BOTTOM") -> str:
    """Return a layer by its name, made when it is new; what is cut from the face below is dashed."""
    if name not in doc.layers:
        color, dashed = _COLORS.get(name.split(" ")[0], (7, False))
        hidden = f" {below} " in f"{name} "
        layer = doc.layers.add(name, color=color, linetype="UNDER" if dashed or hidden else "Continuous")
        if name.split(" ")[0] in _WATCHED:
            layer.dxf.plot = 0
    return name


def _n(value: float) -> float:
    return round(value, 6) + 0.0


class _Writer:
    def __init__(self, doc: Drawing, scale: float, over: bool) -> None:
        self.doc = doc
        self.below = "TOP" if over else "BOTTOM"
        self.space = doc.modelspace()
        self.move = Move(scale=scale)
        self.scale = scale

    def outline(self, outline: Outline, layer: str) -> object:
        moved = self.move.outline(outline)
        circle = circle_of(moved)
        attribs = {"layer": _layer(self.doc, layer, self.below)}
        if circle and layer.split(" ")[0] in _ROUND:
            return self.space.add_circle((_n(circle[0]), _n(circle[1])), _n(circle[2]), dxfattribs=attribs)
        rows = [(_n(x), _n(y), round(b, 12) + 0.0) for (x, y), b in zip(moved.points_mm, moved.bulges)]
        return self.space.add_lwpolyline(rows, format="xyb", close=True, dxfattribs=attribs)

    def add(self, feature: Feature) -> None:
        if feature.outline is not None:
            entity = self.outline(feature.outline, feature.layer)
        else:
            points = [(_n(x), _n(y)) for x, y in self.move.points(feature.line_mm)]
            layer = _layer(self.doc, feature.layer, self.below)
            entity = self.space.add_lwpolyline(points, dxfattribs={"layer": layer})
        data: list[tuple[int, object]] = [
            (1000, f"kind={feature.kind}"),
            (1000, f"name={text_of(feature.name)[:200]}"),
        ]
        if feature.face:
            data.append((1000, f"face={feature.face}"))
        if feature.depth_mm is not None:
            data += [(1000, "depth"), (1040, _n(feature.depth_mm * self.scale))]
        entity.set_xdata(APP, data)  # type: ignore[attr-defined]

    def extents(self) -> None:
        """Set the extents of the drawing in the header: the box around outlines, lines and texts."""
        box = bbox.extents(self.space, fast=True)
        low, high = ((_n(p.x), _n(p.y), 0.0) for p in (box.extmin, box.extmax))
        self.doc.header["$EXTMIN"], self.doc.header["$EXTMAX"] = low, high
        self.space.reset_extents(low, high)

    def text(self, text: str, x: float, y: float) -> None:
        p = self.move.point((x, y))
        self.space.add_text(
            text_of(text),
            height=_n(TEXT_HEIGHT_MM * CAPITALS * self.scale),
            dxfattribs={"layer": _layer(self.doc, "TEXT"), "insert": (_n(p[0]), _n(p[1]))},
        )


def drawing(plan: Plan, layout: Layout, over: bool = False, held: Content | None = None) -> bytes:
    """Return the DXF (R2010, UTF-8) of a blank in the shop's units, zero at its datum corner.

    With ``over`` it shows the blank turned over about its flip axis, the bottom face up. ``held`` is what it
    holds, where that has been made.

    Outlines are closed ``LWPOLYLINE`` entities whose bulges are the arcs of the part's own drawing;
    round holes, pins and hold-downs are ``CIRCLE`` entities. The depth stands in the layer's name,
    in a text and in the entity's extended data.
    """
    words = Words(plan.shop.units)
    with _no_clock():
        doc = new("R2010", setup=False)
        doc.appids.add(APP)
        # Dashes of 4 mm, gaps of 2 mm, in the drawing's unit.
        k = 1.0 if words.units == "mm" else 1.0 / MM_PER_INCH
        doc.linetypes.add("UNDER", [_n(v * k) for v in (6.0, 4.0, -2.0)], description="Under __ __ __")
        doc.header["$INSUNITS"], doc.header["$MEASUREMENT"] = _UNITS[words.units]
        doc.header["$LUNITS"] = 2
        writer = _Writer(doc, 1.0 if words.units == "mm" else 1.0 / MM_PER_INCH, over)
        held = held or content(plan, layout, over)
        for feature in held.features:
            writer.add(feature)
        for note in held.notes:
            writer.text(note.text, *note.at_mm)
        writer.extents()
        # The library adds these in the order of a set, which changes from run to run.
        doc.classes.add_required_classes(doc.dxfversion)
        doc.classes.classes = dict(sorted(doc.classes.classes.items()))
        stream = io.StringIO()
        doc.write(stream)
        return doc.encode(stream.getvalue())
