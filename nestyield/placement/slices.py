"""What a layer of a part's thickness is: a part of its own, with what its zones take of the layer."""

from __future__ import annotations

from dataclasses import replace

from nestyield.model import Part, Zone

#: Depths closer than this are the same, millimeters.
_SAME_MM = 1e-6


def slice_of(part: Part, low_mm: float, high_mm: float) -> Part:
    """Return what of a finished part lies between two depths below its front face, front face up.

    Zones take of the layer what they take of the part there; those that do not reach it stay as regions in
    which nothing is cut, so that what they tolerate holds. A contour is kept in the layer of its own face, no
    deeper than the layer: so more wood stays than in truth, never less.

    Parameters
    ----------
    part : Part
    low_mm, high_mm : float
    """
    zones = (_zone(zone, part.thickness_mm, low_mm, high_mm) for zone in part.zones)
    return replace(
        part,
        thickness_mm=round(high_mm - low_mm, 6),
        zones=tuple(z for z in zones if z is not None),
        species=(),
        show_face="top",
        mirrored="only" if part.mirrored == "only" else "no",
        cap=(),
        cap_mm=0.0,
        weight=None,
    )


def _zone(zone: Zone, whole: float, low: float, high: float) -> Zone | None:
    if zone.shape is None:
        return None
    if not zone.does.cuts or zone.goes_through(whole):
        return zone
    front = zone.face == "front"
    deep = whole if zone.depth_mm is None else min(zone.depth_mm, whole)
    into = deep - low if front else high - (whole - deep)
    thick = high - low
    if zone.does.slopes:
        at_its_face = low <= _SAME_MM if front else high >= whole - _SAME_MM
        into = min(into, thick) if at_its_face else 0.0
        return replace(zone, depth_mm=round(into, 6)) if into > _SAME_MM else _uncut(zone)
    if into <= _SAME_MM:
        return _uncut(zone)
    if into >= thick - _SAME_MM:
        return replace(zone, role="cutout", face="through", depth_mm=None)
    return replace(zone, depth_mm=round(into, 6))


def _uncut(zone: Zone) -> Zone:
    return replace(zone, role="no_seam", face="front", depth_mm=None)
