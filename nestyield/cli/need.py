"""Tell what the rack lacks for the orders, and what board or sheet to buy for it. Writes no plan.

All orders that are not on hold are served together, by priority and due date, as `nestyield plan` serves
them. With --order only those named, and the rest of their sets; with --want other ones in their place.
"""

from __future__ import annotations

import argparse
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

from nestyield.cli.exit_codes import DONE, NEEDS_PERSON
from nestyield.cli.output import answers_option, kept_answers, output_options, say_json
from nestyield.cli.questions import stopped_early, what_if, what_if_options
from nestyield.cli.tell import say
from nestyield.words import Words, listed, plural

if TYPE_CHECKING:
    from nestyield.planning.needed import OrderNeed, ToBuy

SUMMARY = "tell what the rack lacks for the orders, and what to buy"


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    parser.add_argument("shop", metavar="SHOP", type=Path, help="the shop folder")
    which = parser.add_mutually_exclusive_group()
    which.add_argument(
        "--order",
        metavar="O",
        action="append",
        default=[],
        help="only this order, with the rest of its set; may be given again [all]",
    )
    which.add_argument(
        "--want",
        metavar="PART=N",
        action="append",
        default=[],
        help="in place of the orders: so many of a part; may be given again",
    )
    what_if_options(parser)
    answers_option(parser)
    output_options(parser)


def run(args: argparse.Namespace) -> int:
    """Print a line an order, then what to buy."""
    from nestyield import api

    shop = api.load_shop(args.shop, what_if(args))
    with kept_answers(args) as cache:
        found = api.need(shop, args.order, args.want, cache)
    if args.json:
        missing = sum(n.count - n.placed for n in found)
        say_json(ok=True, stopped=_stopped(found), missing=missing, orders=[asdict(n) for n in found])
    elif not args.quiet:
        say("\n".join([*_added(found, args.order), *lines(found, Words(shop.units))]))
    return DONE if all(n.placed == n.count for n in found) and not _stopped(found) else NEEDS_PERSON


def _added(found: tuple[OrderNeed, ...], asked: list[str]) -> list[str]:
    """Return which orders are served besides those asked for, since their set is of use only whole."""
    more = [n.order for n in found if asked and n.order not in asked]
    return [f"Served with it, since the set is of use only whole: {listed(more)}"] if more else []


def _stopped(found: tuple[OrderNeed, ...]) -> str:
    return next((n.stopped for n in found if n.stopped), "")


def lines(found: tuple[OrderNeed, ...], words: Words) -> list[str]:
    """Write the answer for people."""
    if not found:
        return ["There is no order."]
    short = [n for n in found if n.placed < n.count]
    if _stopped(found):
        return _found_until(found)
    out = [
        f"{n.order}: {n.placed} of {n.count} {n.part} from the rack"
        + (f", {n.count - n.placed} missing" if n in short else "")
        + (
            f", {n.lacking} of them for want of wood; its set is not whole"
            if n in short and n.lacking < n.count - n.placed
            else ""
        )
        for n in found
    ]
    short = [n for n in short if n.lacking]
    if not short:
        return [*out, "", "Nothing to buy"]
    return [*out, "", "To buy", *(line for n in short for line in _buy(n, words))]


def _found_until(found: tuple[OrderNeed, ...]) -> list[str]:
    """Write what a search that was stopped early had found."""
    out = [f"{n.order}: {n.placed} of {n.count} {n.part} found on the rack so far" for n in found]
    head = stopped_early(_stopped(found))
    if all(n.placed == n.count for n in found):
        return [head, "", *out, "", "Nothing to buy"]
    rest = "Pieces that were not tried may do for the rest, so nothing is listed to buy."
    return [f"{head} {rest}", "", *out]


def _buy(need: OrderNeed, words: Words) -> list[str]:
    if need.buy is None:
        return [f"  for {need.order}: no board helps, no bed takes the part"]
    from nestyield.paperwork.sets import rest_of

    rest = rest_of(need.set, need.match)
    return [line for buy in (need.buy, *need.more) for line in _bought(need.order, buy, rest, words)]


def _bought(order: str, buy: ToBuy, rest: str, words: Words) -> list[str]:
    found = buy.purchase
    wood = " or ".join(found.species) or "any species"
    size = words.size(found.length_mm, found.width_mm, rounding="up")
    thick = words.length(found.thickness_mm, rounding="up")
    feet = "" if buy.panels else f" ({found.board_feet:.2f} board feet)"
    layer = f", for its {found.layer}" if found.layer else ""
    out = [f"  for {order}: {found.count} x {wood}, {thick} thick, at least {size}{feet}{layer}{rest}"]
    return out + [f"      or {text}" for text in _others(buy, words)]


def _others(buy: ToBuy, words: Words) -> list[str]:
    """Return other ways to buy the same."""
    out = []
    if buy.together_mm is not None:
        out.append(f"all from one piece of at least {words.size(*buy.together_mm, rounding='up')}")
    if buy.panels and buy.purchase.panel_mm is not None:
        panel = words.size(*buy.purchase.panel_mm)
        of = f"{buy.panels} usual {plural(buy.panels, 'panel')} of {panel}"
        out.append(f"{of}, each for {buy.a_panel}" if buy.panels > 1 else of)
    return out
