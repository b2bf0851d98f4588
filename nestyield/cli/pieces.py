"""Find what of the rack would make a part, the cheapest first, and why the others would not.

Pieces, blanks sawn off them, and glue-ups of pieces that are too small, for one copy. They are ranked by
their value less that of the leftovers worth keeping, with what joints and saw cuts cost. Several parts on one
piece are what `nestyield make` and `nestyield plan` look for.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from nestyield.cli.exit_codes import DONE, NEEDS_PERSON
from nestyield.cli.output import answers_option, kept_answers, output_options, say_json
from nestyield.cli.questions import (
    lies,
    maker_data,
    on_bed,
    opened,
    sawn,
    seam_lines,
    what_if,
    what_if_options,
)
from nestyield.cli.tell import say
from nestyield.words import Words, plural

if TYPE_CHECKING:
    from nestyield.model import Shop
    from nestyield.planning.questions import Maker, Makers

SUMMARY = "find the pieces and glue-ups of the rack that would make a part"
#: Pieces that are shown unless all are asked for.
MOST_SHOWN = 10


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    parser.add_argument("shop", metavar="SHOP", type=Path, help="the shop folder")
    parser.add_argument("--part", metavar="P", required=True, help="a part of the shop file")
    parser.add_argument("--bed", metavar="B", help="only this bed; left out, any bed")
    what_if_options(parser)
    answers_option(parser)
    output_options(parser)


def run(args: argparse.Namespace) -> int:
    """Print the pieces, the cheapest first."""
    from nestyield import api
    from nestyield.paperwork.phrases import phrase

    shop = api.load_shop(args.shop, what_if(args))
    with kept_answers(args) as cache:
        found = api.pieces(shop, args.part, args.bed, cache)
    words = Words(shop.units, currency=shop.settings.currency)
    if args.json:
        say_json(
            ok=True,
            part=found.part,
            makers=[maker_data(m) for m in found.makers],
            refused=dict(found.refused),
            reasons=[phrase(r, words) for r in found.reasons],
        )
    elif not args.quiet:
        say("\n".join(lines(found, shop, words, all_of_them=args.verbose)))
    return DONE if any(m.status == "ready" for m in found.makers) else NEEDS_PERSON


def lines(found: Makers, shop: Shop, words: Words, *, all_of_them: bool = False) -> list[str]:
    """Write the answer for people, one line a piece."""
    from nestyield.model.totals import knows_money
    from nestyield.paperwork.phrases import phrase

    if not found.makers:
        return [
            f"{found.part}: no piece and no glue-up of the rack makes it",
            *(f"  {phrase(r, words)}" for r in found.reasons),
            *_layers(found, shop),
        ]
    money = knows_money(shop)
    shown = found.makers if all_of_them else found.makers[:MOST_SHOWN]
    glued = sum(m.joints > 0 for m in found.makers)
    counts = ((len(found.makers) - glued, "piece"), (glued, "glue-up"))
    told = " and ".join(f"{n} {plural(n, what)}" for n, what in counts if n)
    out = [f"{found.part}: {told} {'makes' if len(found.makers) == 1 else 'make'} it"]
    for maker in shown:
        cost = f"value {words.money(maker.value)}, back {words.money(maker.back)}, " if money else ""
        work = "".join(_work(maker, words, money))
        names = " + ".join(maker.pieces) + (", glued up" if maker.joints else "")
        state = "" if maker.status == "ready" else f" (on {maker.status})"
        out.append(
            f"  {names}{state}: {maker.blank.species}, {words.length(maker.blank.thickness_mm)}; "
            f"{cost}{work}{maker.used_up:.2f} board feet used up"
        )
        if maker.sawn_mm is not None:
            out.append(f"      {sawn(maker, words)}")
        out += [f"      {line}" for line in (*opened(maker, words), *seam_lines(maker, words))]
        if all_of_them:
            out.append(f"      the part lies at {lies(maker, words)}")
            out += [f"      bed {on_bed(setup, words)}" for setup in maker.setups]
    if more := len(found.makers) - len(shown):
        out.append(f"  ... and {more} more; --verbose shows them")
    if found.refused:
        out.append(f"  the other rows: {', '.join(f'{n} {cause}' for cause, n in found.refused)}")
        if shop.settings.machines.resaw_height_mm is not None and not shop.part(found.part).book_match:
            out.append(
                "  leaves of boards that are resawn are not looked at here; need and make look at them"
            )
    return [*out, *_layers(found, shop)]


def _layers(found: Makers, shop: Shop) -> list[str]:
    """Return that laminated blanks are not looked at, where the part may be one."""
    part = shop.part(found.part)
    if part.strips != "no":
        return ["  strips on edge are not looked at here; need and make look at them"]
    if not part.cap and (shop.settings.glueup.most_layers < 2 or not part.glue or part.book_match):
        return []
    return ["  boards glued face to face are not looked at here; need and make look at them"]


def _work(maker: Maker, words: Words, money: bool) -> Iterator[str]:
    """Give what joints and saw cuts cost."""
    for n, what in ((maker.joints, "joint"), (maker.cuts, "saw cut")):
        if n:
            yield f"{n} {plural(n, what)}, "
    if money and maker.work:
        yield f"work {words.money(maker.work)}, "
