"""What to buy for orders that the rack cannot meet."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from nestyield.bed.fit import setups
from nestyield.model import Bed, Blank, Member, Order, Outline, Part, Purchase, Settings, Shape, Units
from nestyield.placement.single import place_part
from nestyield.placement.weight import solid_of
from nestyield.planning.extents import smallest_boards
from nestyield.planning.worth import board_feet
from nestyield.wood.species import is_sheet, usual_panel

#: Sizes are rounded up to what a rule of the shop shows, millimeters.
STEP_MM: dict[Units, float] = {"mm": 0.1, "in": 25.4 / 64.0}
#: Round outlines are flattened from outside: a size may pass a step by so many chord errors, and is tried without.
CHORD_ERRORS = 4.0


def purchase_for(
    part: Part,
    order: Order,
    missing: int,
    beds: Sequence[Bed],
    settings: Settings,
    units: Units = "mm",
) -> Purchase | None:
    """Return the least board, one for each missing copy, from which an order could be met.

    The board is tried: the part is laid on it and the blank on the beds.

    Parameters
    ----------
    part : Part
    order : Order
    missing : int
        Copies not placed.
    beds : sequence of Bed
        Those that the order allows; empty when the shop has none.
    settings : Settings
    units : {"mm", "in"}
        Of the shop: usual panels are told in their own size there.

    Returns
    -------
    Purchase or None
        None when no board helps, because no bed takes the part.
    """
    sheets = bool(part.species) and all(is_sheet(name) for name in part.species)
    planing = 0.0 if sheets or part.grain_deg is None else 2 * settings.planing_mm
    thickness = part.thickness_mm + planing
    for size in sizes_to_try(smallest_boards(part, settings), settings, units):
        blank = Blank(
            name="board to buy",
            members=(Member(piece="board to buy", copy=1),),
            species=part.species[0] if part.species else "",
            thickness_mm=thickness,
            shape=Shape(outer=Outline.rectangle(0.0, 0.0, *size)),
            grain_deg=None if sheets or part.grain_deg is None else 0.0,
        )
        found = place_part(part, blank, settings).placement
        if found is None:
            continue
        if beds and not any(s.is_usable for s in setups(blank, [(part, found)], beds, settings)):
            return None
        return Purchase(
            order=order.name,
            count=missing,
            species=part.species,
            thickness_mm=round_up(thickness, units),
            length_mm=size[0],
            width_mm=size[1],
            board_feet=missing * board_feet(size[0] * size[1], thickness),
            panel_mm=usual_panel(blank.species, *size, units),
            density_kg_m3=_densities(part),
        )
    return None


def _densities(part: Part) -> tuple[float | None, float | None] | None:
    """Return the least and the most density with which a part is in its range of weight."""
    wish = part.weight
    if wish is None or not wish.is_range:
        return None
    cubic_m = solid_of(part).volume_mm3 / 1e9
    ends = (wish.least_kg, wish.most_kg)
    return ends[0] and ends[0] / cubic_m, ends[1] and ends[1] / cubic_m


def sizes_to_try(
    least: Iterable[tuple[float, float]], settings: Settings, units: Units
) -> Iterator[tuple[float, float]]:
    """Give lengths and widths, in steps of the shop's rule, from a little less than each of some sizes on."""
    step = STEP_MM[units]
    for length, width in least:
        small = CHORD_ERRORS * settings.chord_error_mm
        yield from dict.fromkeys(
            (round_up(length - short + more * step, units), round_up(width - narrow + more * step, units))
            for more in range(3)
            for short, narrow in ((small, small), (0.0, small), (small, 0.0), (0.0, 0.0))
        )


def round_up(mm: float, units: Units) -> float:
    """Round up to the step of the shop, but not for noise in the last digits."""
    steps = -((-mm + 1e-6) // STEP_MM[units])
    return round(steps * STEP_MM[units], 6)
