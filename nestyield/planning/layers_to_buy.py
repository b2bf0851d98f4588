"""What to buy for parts with a cap: boards for the layers that the rack lacks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Literal

from nestyield.model import Bed, Order, Part, Purchase, Shop
from nestyield.placement.slices import slice_of
from nestyield.placement.stock import SAME_MM
from nestyield.planning.demand import Demand
from nestyield.planning.laminate import LayerSearch, may_be_layer
from nestyield.planning.laminated_blank import LayerCut
from nestyield.planning.purchases import purchase_for
from nestyield.planning.workers import Job


def layers_to_buy(
    shop: Shop, part: Part, order: Order, missing: int, beds: Sequence[Bed], used: Mapping[str, int]
) -> tuple[Purchase, ...]:
    """Return the least boards for the layers of a part with a cap, less what the rack still has for one of them.

    Nothing where no bed takes it. What the rack has of both, and does not go together, is bought anew.

    Parameters
    ----------
    shop : Shop
    part : Part
    order : Order
    missing : int
        Copies.
    beds : sequence of Bed
        Those that the order allows.
    used : mapping of str to int
        Copies of each row that the plan takes.
    """
    job = Job(
        shop=shop, demands=(Demand(part=part.name, beds=(), orders=(), count=missing),), effort=0, seed=0
    )
    search = LayerSearch(job=job, want=0)
    spans = {"cap": (0.0, part.cap_mm), "core": (part.cap_mm, part.thickness_mm)}
    woods = {"cap": part.cap, "core": part.species}
    lacking = {layer: missing - _ready(search, *spans[layer], woods[layer], used) for layer in spans}
    if max(lacking.values()) <= 0 or set(part.cap) & set(part.species) or not part.species:
        lacking = dict.fromkeys(spans, missing)
    found = []
    for layer, (low, high) in spans.items():
        alone = replace(slice_of(part, low, high), species=woods[layer])
        board = purchase_for(alone, order, missing, beds, shop.settings, shop.units)
        if board is None:
            return ()
        n = lacking[layer]
        if n > 0:
            feet = board.board_feet * n / missing
            kind: Literal["cap", "core"] = "cap" if layer == "cap" else "core"
            found.append(replace(board, count=n, board_feet=feet, layer=kind, density_kg_m3=None))
    return tuple(found)


def _ready(
    search: LayerSearch, low: float, high: float, woods: Sequence[str], used: Mapping[str, int]
) -> int:
    """Return how many free pieces of the rack hold a layer of a part."""
    shop, settings, found = search.shop, search.shop.settings, 0
    for row, piece in enumerate(shop.pieces):
        free = piece.count - used.get(piece.name, 0)
        over = piece.thickness_mm - (high - low)
        if free <= 0 or not may_be_layer(shop, search.part, row, woods):
            continue
        if not 2 * settings.planing_mm - SAME_MM <= over <= settings.most_planed_away_mm + SAME_MM:
            continue
        cut = LayerCut(row=row, low=low, high=high, first=settings.planing_mm)
        found += free if search.place(cut) is not None else 0
    return found
