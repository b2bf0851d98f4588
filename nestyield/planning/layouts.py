"""A chosen layout with everything that the papers say about it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from nestyield.bed.fit import setups
from nestyield.bed.work import work_plan
from nestyield.model import Bed, Blank, Layout, Placement, Setup, Shop
from nestyield.planning.leftovers import leftovers_of
from nestyield.planning.seams import seams_under
from nestyield.planning.stock import board_feet
from nestyield.wood.blank import wood_findings


def make_layout(
    shop: Shop, blank: Blank, placements: Sequence[Placement], beds: Sequence[Bed], value: float
) -> Layout:
    """Return a layout with its setups, seams, leftovers and measures.

    Parameters
    ----------
    shop : Shop
    blank : Blank
    placements : sequence of Placement
        Already checked to lie in the blank.
    beds : sequence of Bed
        Those that every order on the blank allows.
    value : float
        Of the stock taken.
    """
    laid = [(shop.part(p.part), p) for p in placements]
    tried = setups(blank, laid, beds, shop.settings, shop.units)
    left = leftovers_of(blank, laid, shop.settings)
    stock = blank.shape.area_mm2
    layout = Layout(
        blank=blank,
        placements=tuple(placements),
        setups=tried,
        chosen=best_setup(tried),
        seams=seams_under(blank, laid, shop.settings),
        leftovers=left,
        part_area_mm2=sum(abs(part.outline.signed_area_mm2) for part, _ in laid),
        stock_area_mm2=stock,
        usable_area_mm2=sum(piece.area_mm2 for piece in left if piece.usable),
        board_feet=board_feet(stock, blank.thickness_mm),
        value=value,
        findings=wood_findings(blank, {p.name: p for p in shop.pieces}, shop.settings, shop.units)
        if blank.seams
        else (),
    )
    return replace(layout, work=work_plan(layout, shop))


def best_setup(tried: Sequence[Setup]) -> int | None:
    """Return the index of the setup with the most spare travel on its tighter axis; None when none fits."""
    fitting = [i for i, s in enumerate(tried) if s.fits]
    if not fitting:
        return None
    return max(fitting, key=lambda i: (min(tried[i].spare_x_mm, tried[i].spare_y_mm), -i))
