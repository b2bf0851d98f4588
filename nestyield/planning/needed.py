"""What is missing for orders, and what to buy for it: the search of a plan, for copies alone, without its papers."""

from __future__ import annotations

from dataclasses import dataclass, replace

from nestyield.model import Order, Outline, Part, Piece, Purchase, Shape, Shop
from nestyield.placement.stock import blank_of
from nestyield.planning.candidates import refused_at_once
from nestyield.planning.choice import Choice
from nestyield.planning.clock import Clock
from nestyield.planning.copies import most_copies_of
from nestyield.planning.demand import Demand, beds_of, served
from nestyield.planning.lay_parts import LayoutContext
from nestyield.planning.makeable import MOST_ON_A_PIECE, carried
from nestyield.planning.purchases import STEP_MM, round_up
from nestyield.planning.remembered import Cache
from nestyield.planning.results import purchases_for
from nestyield.planning.workers import Job

#: Boards are seldom wider (common practice, no source: 12 in), millimeters.
WIDE_BOARD_MM = 304.8
#: Several copies are tried on one board up to so many.
MOST_ON_A_BOARD = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class ToBuy:
    """What to buy for the missing copies of one order.

    Parameters
    ----------
    purchase : Purchase
        The least piece for one copy, and how many of them.
    together_mm : (length, width) or None
        One piece for all copies, tried; None for one copy, and where none was found.
    panels, a_panel : int
        Usual panels that all copies come from, and copies that one of them holds; 0 where there is no usual
        panel.
    """

    purchase: Purchase
    together_mm: tuple[float, float] | None = None
    panels: int = 0
    a_panel: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderNeed:
    """What the rack gives for one order.

    Parameters
    ----------
    order, part : str
    set, match : str
        The set that it is of, and what its wood must have in common with the rest; empty for none.
    count, placed : int
        Copies wanted, and copies that the rack makes, all orders served together by priority and due date.
    buy : ToBuy or None
        For what lacks; None where nothing does, and where no board would help since no bed takes the part.
    more : tuple of ToBuy
        What to buy beside that, for a part with a cap.
    lacking : int
        Copies that the rack lacks: those missing, or of a set fewer, where its other parts lack.
    stopped : str
        Why the search for all orders was stopped early, ``"seconds"`` or ``"interrupt"``, or empty. What a stopped
        search has not tried may be on the rack: then more copies may go, and nothing is told to buy.
    """

    order: str
    part: str
    count: int
    placed: int
    lacking: int = 0
    buy: ToBuy | None = None
    more: tuple[ToBuy, ...] = ()
    stopped: str = ""
    set: str = ""
    match: str = ""


def needed(shop: Shop, cache: Cache | None = None) -> tuple[OrderNeed, ...]:
    """Tell what the rack makes of the orders of a shop, and what to buy for the rest.

    Parameters
    ----------
    shop : Shop
    cache : Cache, optional
        Answers of earlier runs; the answer is the same with it and without.

    Returns
    -------
    tuple of OrderNeed
        In the order in which orders are served; those on hold are left out.
    """
    orders = served(shop)
    clock = Clock(seconds=shop.settings.seconds)
    choice = (
        most_copies_of(shop, orders, cache, clock=clock)[1]
        if orders
        else Choice(used=(), placed=(), objectives=())
    )
    placed, lacking = choice.placed, choice.lacking
    purchases = (
        {} if clock.reason else purchases_for(shop, orders, placed, lacking, dict(choice.lacking_species))
    )
    return tuple(
        OrderNeed(
            order=order.name,
            part=order.part,
            count=order.count,
            placed=n,
            lacking=lacking[k] if lacking and order.set else order.count - n,
            buy=next(iter(bought), None),
            more=bought[1:],
            stopped=clock.reason,
            set=order.set,
            match=order.match,
        )
        for k, (order, n) in enumerate(zip(orders, placed))
        for bought in (tuple(_to_buy(shop, order, p) for p in purchases.get(order.name, ())),)
    )


def _to_buy(shop: Shop, order: Order, bought: Purchase) -> ToBuy:
    part, beds = shop.part(order.part), beds_of(order, shop)
    if bought.layer:
        return ToBuy(purchase=bought)
    if bought.panel_mm is not None:
        a_panel = _on_panel(shop, part, beds, bought)
        return ToBuy(purchase=bought, panels=-(-bought.count // a_panel) if a_panel else 0, a_panel=a_panel)
    return ToBuy(purchase=bought, together_mm=_together(shop, part, beds, bought))


def _stock(part: Part, bought: Purchase, size: tuple[float, float]) -> Piece:
    """Return a clear piece of new stock."""
    return Piece(
        name="to buy",
        species=part.species[0] if part.species else "",
        thickness_mm=bought.thickness_mm,
        shape=Shape(outer=Outline.rectangle(0.0, 0.0, *size)),
        grain_deg=None if part.grain_deg is None else 0.0,
    )


def _on_panel(shop: Shop, part: Part, beds: tuple[str, ...], bought: Purchase) -> int:
    """Return how many copies one usual panel holds, whole or sawn into blanks first."""
    assert bought.panel_mm is not None
    piece = _stock(part, bought, bought.panel_mm)
    want = Demand(part=part.name, beds=beds, orders=(), count=min(bought.count, MOST_ON_A_PIECE))
    job = Job(shop=replace(shop, pieces=(piece,)), demands=(want,), effort=0, seed=0)
    if refused_at_once(job.shop, part, piece) is not None:
        return 0
    return max((made[0] for made in carried(job, 0, [0])), default=0)


def _together(shop: Shop, part: Part, beds: tuple[str, ...], bought: Purchase) -> tuple[float, float] | None:
    """Return one board for all copies: side by side, or end to end where that would be too wide."""
    n = bought.count
    if not 1 < n <= MOST_ON_A_BOARD:
        return None
    rows = [_row(size, n, shop) for size in (bought.length_mm, bought.width_mm)]
    sizes = [(bought.length_mm, rows[1]), (rows[0], bought.width_mm)]
    want = Demand(part=part.name, beds=beds, orders=(), count=n)
    for least in sorted(sizes, key=lambda s: s[1] > WIDE_BOARD_MM):
        short, enough = -1, 2 * n
        if not _all_on(shop, want, _stock(part, bought, _longer(shop, bought, least, enough))):
            continue
        while enough - short > 1:
            steps = (short + enough) // 2
            if _all_on(shop, want, _stock(part, bought, _longer(shop, bought, least, steps))):
                enough = steps
            else:
                short = steps
        return _longer(shop, bought, least, enough)
    return None


def _longer(shop: Shop, bought: Purchase, least: tuple[float, float], steps: int) -> tuple[float, float]:
    """Return a board for a row of copies, so many steps of the shop's rule longer the way the row runs."""
    more = steps * STEP_MM[shop.units]
    length, width = least
    if length > bought.length_mm:
        return round_up(length + more, shop.units), width
    return length, round_up(width + more, shop.units)


def _all_on(shop: Shop, want: Demand, piece: Piece) -> bool:
    """Tell whether one piece takes all copies of a want."""
    bench = LayoutContext(shop=shop, demands=(want,), blank=blank_of(piece))
    laid = bench.add((), 0)[0]
    while laid is not None and len(laid) < want.count:
        laid = bench.add(laid, 0)[0]
    return laid is not None


def _row(size_mm: float, n: int, shop: Shop) -> float:
    """Return how long n copies in a row are with their margins, at the least: each size was rounded up by a step."""
    step = STEP_MM[shop.units]
    inside = size_mm - 2.0 * shop.settings.blank_margin_mm - step
    return size_mm - step + (n - 1) * (inside + shop.settings.gap_mm)
