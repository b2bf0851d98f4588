"""Tell what could be made from the rack as it is: how many of each part by itself, and good mixtures.

The most value counts what parts bring, the key `each` of a part; equal counts make as many of every part as
can be, then the most value from the rest, without prices as many more as go. Sets of orders are counted
whole; else orders do not matter. All that is told can be made; more may be possible.
"""

from __future__ import annotations

import argparse
from collections import Counter
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

from nestyield.cli.exit_codes import DONE, NEEDS_PERSON
from nestyield.cli.output import answers_option, kept_answers, output_options, say_json
from nestyield.cli.questions import stopped_early, what_if, what_if_options
from nestyield.cli.tell import say
from nestyield.words import Words, listed

if TYPE_CHECKING:
    from nestyield.planning.makeable import Made, Makeable, Mix

SUMMARY = "tell what could be made from the rack: counts a part, and good mixtures"
#: Blanks that are named behind a count.
MOST_NAMED = 6


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    parser.add_argument("shop", metavar="SHOP", type=Path, help="the shop folder")
    parser.add_argument(
        "--part", metavar="P", action="append", default=[], help="only this part; may be given again [all]"
    )
    parser.add_argument("--bed", metavar="B", help="only this bed; left out, any bed")
    what_if_options(parser)
    answers_option(parser)
    output_options(parser)


def run(args: argparse.Namespace) -> int:
    """Print a line a part, then the mixtures."""
    from nestyield import api

    shop = api.load_shop(args.shop, what_if(args))
    with kept_answers(args) as cache:
        found = api.make(shop, args.part, args.bed, cache)
    if args.json:
        say_json(ok=True, **asdict(found))
    elif not args.quiet:
        say(
            "\n".join(
                lines(found, Words(shop.units, currency=shop.settings.currency), all_of_them=args.verbose)
            )
        )
    return DONE if any(m.count for m in found.alone) and not found.stopped else NEEDS_PERSON


def lines(found: Makeable, words: Words, *, all_of_them: bool = False) -> list[str]:
    """Write the answer for people."""
    width = max(len(m.part) for m in found.alone)
    more = "More may go: not every part and piece was tried."
    out = [f"{stopped_early(found.stopped)} {more}", ""] if found.stopped else []
    out.append("Each part by itself, with the whole rack for it")
    for made in found.alone:
        glued = f", {made.glued} of them glued up" if made.glued else ""
        if made.count and made.glued == made.count:
            glued = ", glued up"
        or_more = " or more" if made.full else ""
        text = f"  {made.part.ljust(width)}  {made.count}{or_more}{glued}"
        out.append(f"{text}; from {_from(made, all_of_them)}" if made.count else text)
    if found.sets:
        out += ["", "Each set by itself, whole, with the whole rack for it"]
        out += [
            f"  {s.name}  {s.count}; {listed(f'{n} {part}' if n > 1 else part for part, n in s.parts)} each"
            for s in found.sets
        ]
    for mix in found.mixes:
        out += ["", *_mix(mix, found.unpriced, words, all_of_them)]
    return out


def _mix(mix: Mix, unpriced: tuple[str, ...], words: Words, all_of_them: bool) -> list[str]:
    worth = "" if mix.worth is None else f", worth {words.money(mix.worth)}"
    if mix.goal == "value":
        head = f"The most value together{worth}"
        if unpriced:
            head += f" (without a price and left out: {listed(unpriced)})"
    else:
        rest = "as many more as go" if mix.worth is None else "the most value from the rest"
        head = f"{mix.least} of each together, and {rest}{worth}"
        if not mix.least:
            rest = "as many as go" if mix.worth is None else "the most value"
            head = f"Not one of each goes together; {rest}{worth}"
    return [head, *(f"  {m.count} {m.part}; from {_from(m, all_of_them)}" for m in mix.made)]


def _from(made: Made, all_of_them: bool) -> str:
    """Return the blanks that parts come from, those alike once."""
    counts = Counter(" + ".join(names) for names in made.pieces)
    names = [f"{n} x {name}" if n > 1 else name for name, n in counts.items()]
    if all_of_them or len(names) <= MOST_NAMED:
        return ", ".join(names)
    return f"{', '.join(names[:MOST_NAMED])} and {len(names) - MOST_NAMED} more"
