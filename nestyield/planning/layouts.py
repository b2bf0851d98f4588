"""A chosen layout with everything that the papers say about it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Sequence
from dataclasses import replace

from nestyield.bed.fit import setups
from nestyield.bed.work import work_plan
from nestyield.glueup.broken_rules import rule_facts
from nestyield.glueup.laminate import laminate
from nestyield.glueup.on_edge import on_edge
from nestyield.model import Bed, Blank, HoldDown, Laminate, Layout, Pin, Placement, Setup, Shop
from nestyield.model.facts import BedPassedOver
from nestyield.placement.leftovers import leftovers_of
from nestyield.placement.stock import blank_of
from nestyield.placement.weight import weights_of
from nestyield.planning.ripped import glue_up_of
from nestyield.planning.seams import seams_under
from nestyield.planning.slack import fills_of, rooms_of, watch_of
from nestyield.planning.work.inspect import with_inspection
from nestyield.planning.work.stages import with_stages
from nestyield.planning.worth import board_feet, left_thickness_mm, left_value, taken_by
from nestyield.wood.blank import wood_facts


def make_layout(
    shop: Shop, blank: Blank, placements: Sequence[Placement], beds: Sequence[Bed], value: float
) -> Layout:
    """Return a layout with its setups, seams, leftovers, measures, rooms, glue-up, inspection and work.

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
    chosen = best_setup(tried)
    taken = taken_by(blank, shop.pieces)
    thickness = left_thickness_mm(blank, [part for part, _ in laid])
    left = tuple(
        replace(piece, value=left_value(blank, piece.shape, thickness, taken, shop.settings))
        if piece.usable
        else piece
        for piece in leftovers_of(blank, laid, shop.settings)
    )
    watch = watch_of(blank, laid, shop.settings)
    pieces = {p.name: p for p in shop.pieces}
    rules = rule_facts(blank, laid, pieces, shop.settings) if blank.seams else ()
    wood = wood_facts(blank, pieces, shop.settings) if blank.seams else ()
    layout = Layout(
        blank=blank,
        placements=tuple(placements),
        setups=tried,
        chosen=chosen,
        passed_over=passed_over(tried, chosen),
        seams=seams_under(blank, laid, shop.settings),
        leftovers=left,
        part_area_mm2=sum(abs(part.outline.signed_area_mm2) for part, _ in laid),
        stock_area_mm2=sum(piece.shape.area_mm2 for piece in taken),
        usable_area_mm2=sum(piece.area_mm2 for piece in left if piece.usable),
        board_feet=sum(board_feet(piece.shape.area_mm2, piece.thickness_mm) for piece in taken),
        value=value,
        wood=(*rules, *wood),
        watch=watch,
        fills=fills_of(blank, laid, shop.settings),
        weights=weights_of(blank, laid, pieces, shop.settings.own_woods),
    )
    glued, stacked = glue_up_of(layout, shop), laminate_of(layout, shop)
    ripped = sum(s.area_mm2 for m in (glued.members if glued else ()) for s in m.strips if s.usable)
    sawn = sum(r.area_mm2 for layer in (stacked.layers if stacked else ()) for r in layer.rests)
    usable = layout.usable_area_mm2 + ripped + sawn
    layout = replace(
        layout, glueup=glued, laminate=stacked, on_edge=on_edge(layout, shop), usable_area_mm2=usable
    )
    return with_rooms(with_work(layout, shop), shop)


def laminate_of(layout: Layout, shop: Shop) -> Laminate | None:
    """Return how a layout's blank is laminated, with what each rest of its pieces is worth."""
    told = laminate(layout, shop)
    if told is None:
        return None
    layers = []
    for layer, member in zip(told.layers, layout.blank.members, strict=True):
        piece = shop.piece(member.piece)
        rests = tuple(
            replace(r, value=left_value(blank_of(piece), r.shape, piece.thickness_mm, [piece], shop.settings))
            for r in layer.rests
        )
        layers.append(replace(layer, rests=rests))
    return replace(told, layers=tuple(layers))


def with_rooms(layout: Layout, shop: Shop) -> Layout:
    """Return a layout with the room around each part, its pins and screws staying where they are."""
    laid = [(shop.part(p.part), p) for p in layout.placements]
    work = layout.work
    held: list[Pin | HoldDown] = [] if work is None else [*work.pins, *work.hold_downs]
    return replace(layout, rooms=rooms_of(layout.blank, laid, shop.settings, held))


def copies_spent(layouts: Iterable[Layout]) -> Counter[str]:
    """Return how many copies of each row some layouts spend; all that is sawn off one copy spends it once."""
    return Counter(piece for piece, _ in {copy for layout in layouts for copy in layout.blank.copies})


def with_work(layout: Layout, shop: Shop, without: Collection[str] = ()) -> Layout:
    """Return a layout with the work on its chosen bed, its inspection and its cautions made anew.

    Parameters
    ----------
    layout : Layout
        With its setups and leftovers.
    shop : Shop
    without : collection of str
        Names of screws to leave out.
    """
    layout = replace(layout, work=work_plan(layout, shop, without))
    return with_stages(with_inspection(layout, shop), shop)


def best_setup(tried: Sequence[Setup]) -> int | None:
    """Return the index of the setup to use, or None when no bed serves."""
    return next(iter(setups_by_merit(tried)), None)


def setups_by_merit(tried: Sequence[Setup]) -> list[int]:
    """Return indices of the setups that serve, best first.

    One that does the job in one go comes first, then the ones in the fewest sections; among these the bed that
    comes first, and on one bed the direction with the most spare travel on its tighter axis.
    """
    serving = [i for i, s in enumerate(tried) if s.is_usable]
    rank = {name: k for k, name in enumerate(dict.fromkeys(s.bed for s in tried))}

    def merit(i: int) -> tuple[float, ...]:
        s = tried[i]
        return (len(s.sections), rank[s.bed], -min(s.spare_x_mm, s.spare_y_mm), i)

    return sorted(serving, key=merit)


def passed_over(tried: Sequence[Setup], chosen: int | None) -> tuple[BedPassedOver, ...]:
    """Return why the beds before the chosen one are not used, in their order.

    Parameters
    ----------
    tried : sequence of Setup
        By bed, the preferred first.
    chosen : int or None
        Index of the setup to use.
    """
    if chosen is None:
        return ()
    names = list(dict.fromkeys(s.bed for s in tried))
    return tuple(
        _passed_over([s for s in tried if s.bed == name]) for name in names[: names.index(tried[chosen].bed)]
    )


def _passed_over(of_bed: Sequence[Setup]) -> BedPassedOver:
    """Return why one bed is not used, in the direction in which it comes closest."""
    near = max(of_bed, key=lambda s: (s.is_usable, -len(s.sections), min(s.spare_x_mm, s.spare_y_mm)))
    return BedPassedOver(bed=near.bed, along=near.along, why=near.refusals, in_sections=near.in_sections)
