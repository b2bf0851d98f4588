"""What is planed off a blank before routing."""

from __future__ import annotations

from nestyield.model import Layout, Shop
from nestyield.model.facts import PlaneEvenly, PlaneFaces, PlaneTo, Planing
from nestyield.model.micrometers import nearest_um

#: Less than this is not planed, and shares of two faces are one, mm.
_TOL_MM = 0.01


def planing_of(layout: Layout, shop: Shop) -> Planing | None:
    """Return what is planed off a blank before routing; None for nothing and for sheets.

    Parameters
    ----------
    layout : Layout
    shop : Shop
    """
    blank = layout.blank
    thick = {shop.part(p.part).thickness_mm for p in layout.placements}
    if blank.grain_deg is None or not thick or max(thick) > blank.thickness_mm - _TOL_MM:
        return None
    whole = blank.thickness_mm - max(thick)
    to_um = nearest_um(max(thick))
    tops = {p.top_off_mm for p in layout.placements}
    if len(tops) > 1 or len(thick) > 1:
        return PlaneTo(to_um=to_um)
    (top,) = tops
    if top is None or abs(2 * top - whole) < _TOL_MM:
        return PlaneEvenly(to_um=to_um, each_um=nearest_um(whole / 2))
    return PlaneFaces(to_um=to_um, top_um=nearest_um(top), bottom_um=nearest_um(whole - top))
