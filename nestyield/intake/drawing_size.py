"""Drawings that are out of all proportion: their scale or unit is doubtful."""

from __future__ import annotations

from collections.abc import Iterable

from nestyield.intake.layers import Drawing
from nestyield.intake.outlines import Closed
from nestyield.intake.problems import Problems
from nestyield.intake.reach import FARTHEST_MM, too_far_mm
from nestyield.model import Part, Shape, Zone
from nestyield.model.arcs import box_of
from nestyield.words import Words

#: Larger or smaller parts are told.
PLAUSIBLE_LENGTH_MM = (40.0, 3000.0)
#: The scale of a smaller part is doubted where the cutter does not fit it.
SMALL_PART_MM = 150.0


def is_too_far(drawing: Drawing, outline: Closed, zones: Iterable[Zone], problems: Problems) -> bool:
    """Refuse an outline or zone that lies farther from the origin than can be computed.

    Parameters
    ----------
    drawing : Drawing
    outline : Closed
    zones : iterable of Zone
    problems : Problems
    """
    shapes = [Shape(outer=outline.outline), *(z.shape for z in zones if z.shape is not None)]
    far = [reach for shape in shapes if (reach := too_far_mm(shape)) is not None]
    if not far:
        return False
    size = _size_mm(outline)
    most = f"{FARTHEST_MM / 1000:g} m"
    if size > PLAUSIBLE_LENGTH_MM[1]:
        long = f"the outline would be {drawing.length(size)} ({size / 1000:.3g} m) long"
        message = f"{long}, as the drawing is read in {drawing.unit}; {_in_other_unit(drawing, size)}"
    else:
        reach_ = f"the drawing reaches {drawing.length(max(far))} from its origin, farther than {most}"
        message = f"{reach_}; move it nearer to 0,0"
    problems.error("D023", message, drawing.file)
    return True


def tell_size(drawing: Drawing, outline: Closed, problems: Problems) -> None:
    """Ask about an outline that is very long or very short.

    Parameters
    ----------
    drawing : Drawing
    outline : Closed
    problems : Problems
    """
    size = _size_mm(outline)
    least, most = PLAUSIBLE_LENGTH_MM
    if least <= size <= most:
        return
    only = "only " if size < least else ""
    message = f"the outline is {only}{drawing.length(size)} long, as the drawing is read in {drawing.unit}"
    problems.warning("D023", f"{message}; {_in_other_unit(drawing, size)}", drawing.file)


def tell_scale(part: Part, zone: str, cutter_mm: float, words: Words, problems: Problems) -> bool:
    """Doubt the scale of a small part where the cutter does not fit a zone of it.

    Parameters
    ----------
    part : Part
    zone : str
        Which the cutter does not fit.
    cutter_mm : float
    words : Words
        In which lengths are told.
    problems : Problems

    Returns
    -------
    bool
        Whether it is doubted, with a warning at the drawing.
    """
    box = box_of(part.outline)
    size = max(box.x1 - box.x0, box.y1 - box.y0)
    if size >= SMALL_PART_MM:
        return False
    long, cutter = (words.length(v, style="setting") for v in (size, cutter_mm))
    message = f"the outline is only {long} long, and the {cutter} cutter does not fit {zone}"
    todo = "check scale and unit of the drawing, or the cutter"
    problems.warning("D023", f"{message}; {todo}", part.drawing)
    return True


def _size_mm(outline: Closed) -> float:
    x0, y0, x1, y1 = outline.polygon.bounds
    return float(max(x1 - x0, y1 - y0))


def _in_other_unit(drawing: Drawing, size_mm: float) -> str:
    """Return what to write where the drawing is in the other unit, if that makes sense of it."""
    other, name = (25.4, "in") if drawing.unit_mm == 1.0 else (1.0, "mm")
    if not PLAUSIBLE_LENGTH_MM[0] <= size_mm / drawing.unit_mm * other <= PLAUSIBLE_LENGTH_MM[1]:
        return "check scale and unit of the drawing"
    write = f'under the part write drawing_units = "{name}" and overrule_drawing = true'
    return f"if it is in {'inches' if name == 'in' else name}, {write}"
