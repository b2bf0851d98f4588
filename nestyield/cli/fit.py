"""Tell whether a part goes on the bed: along X and along Y, with the spare travel or what is missing.

With --piece: whether it goes on that piece of the rack and with it on a bed, where it lies, and if not what
would let it.
"""

from __future__ import annotations

import argparse
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
from nestyield.model.errors import NestyieldError
from nestyield.words import Words, fill

if TYPE_CHECKING:
    from nestyield.bed.answer import BedFit, FitAnswer
    from nestyield.model import Setup, Shop

SUMMARY = "tell whether a part goes on the bed, and which way"


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    parser.add_argument("shop", metavar="SHOP", type=Path, help="the shop folder")
    parser.add_argument("--part", metavar="P", required=True, help="a part of the shop file")
    parser.add_argument("--piece", metavar="NAME", help="a piece of the rack that it should go on")
    parser.add_argument("--bed", metavar="B", help="only this bed; left out, every bed")
    parser.add_argument(
        "--picture", metavar="FILE", type=Path, help="with --piece: draw the part on the piece, .svg or .pdf"
    )
    what_if_options(parser)
    answers_option(parser)
    output_options(parser)


def run(args: argparse.Namespace) -> int:
    """Print the answer of every bed asked, on stdout."""
    from nestyield import api

    if args.picture is not None and args.piece is None:
        raise NestyieldError("expected --piece beside --picture")
    shop = api.load_shop(args.shop, what_if(args))
    if args.piece is not None:
        return _on_piece(shop, args)
    answer = api.fit(shop, args.part, args.bed)
    if args.json:
        say_json(ok=True, **fit_data(answer))
    elif not args.quiet:
        say("\n".join(lines(answer, Words(shop.units))))
    return DONE if answer.fits else NEEDS_PERSON


def _on_piece(shop: Shop, args: argparse.Namespace) -> int:
    """Answer for one piece of the rack."""
    from nestyield import api
    from nestyield.paperwork.phrases import phrase

    with kept_answers(args) as cache:
        found = api.goes(shop, args.part, args.piece, args.bed, cache)
    drawn = args.picture is not None and found.maker is not None
    if drawn:
        api.picture(shop, found, args.picture, args.bed)
    words = Words(shop.units)
    why = None if found.refusal is None else phrase(found.refusal, words)
    if args.json:
        maker = None if found.maker is None else maker_data(found.maker)
        warnings = [phrase(caution, words) for caution in found.cautions]
        say_json(
            ok=True,
            part=found.part,
            piece=found.piece,
            goes=maker is not None,
            how=maker,
            why_not=why,
            cautions=warnings,
            picture=str(args.picture) if drawn else None,
        )
    elif not args.quiet:
        if found.maker is None:
            say(f"{found.part} on {found.piece}: no; {found.piece} {why}")
        else:
            state = "" if found.maker.status == "ready" else f", but the piece is on {found.maker.status}"
            say(f"{found.part} on {found.piece}: yes{state}")
            if found.maker.sawn_mm is not None:
                say(f"  {sawn(found.maker, words)}")
            for line in opened(found.maker, words):
                say(f"  {line}")
            say(f"  {'the part' if found.maker.half_mm else 'it'} lies at {lies(found.maker, words)}")
            for line in seam_lines(found.maker, words):
                say(f"  {line}")
            for setup in found.maker.setups:
                say(f"  bed {on_bed(setup, words)}")
            for caution in found.cautions:
                say(f"  caution: {phrase(caution, words)}")
            if drawn:
                say(f"  picture: {args.picture}")
    return DONE if found.maker is not None else NEEDS_PERSON


def fit_data(answer: FitAnswer) -> dict[str, object]:
    """Return the answer as it stands in JSON."""
    return {
        "part": answer.part.name,
        "fits": answer.fits,
        "length_mm": answer.length_mm,
        "width_mm": answer.width_mm,
        "beds": [
            {
                "bed": found.bed.name,
                "fits": found.fits,
                "along_x": _setup_data(found.along_x),
                "along_y": _setup_data(found.along_y),
                "at_an_angle": None if found.askew is None else _setup_data(found.askew),
                "sections": None if found.sectioned is None else len(found.sectioned.sections),
                "least_x_mm": found.least_x_mm and found.least_x_mm[0],
                "least_y_mm": found.least_y_mm and found.least_y_mm[0],
            }
            for found in answer.beds
        ],
    }


def _setup_data(setup: Setup) -> dict[str, object]:
    return {
        "fits": setup.fits,
        "turned_deg": setup.turned_deg,
        "needs_x_mm": setup.needs_x_mm,
        "needs_y_mm": setup.needs_y_mm,
        "spare_x_mm": setup.spare_x_mm,
        "spare_y_mm": setup.spare_y_mm,
    }


def lines(answer: FitAnswer, words: Words) -> list[str]:
    """Write the answer for people, one line each."""
    part = answer.part
    head = {
        "name": part.name,
        "length_mm": answer.length_mm,
        "width_mm": answer.width_mm,
        "way": "along the grain" if part.grain_deg is not None else "along the drawing's X",
        "thickness_mm": part.thickness_mm,
        "cutter_mm": answer.cutter_diameter_mm,
    }
    text = (
        "{name}: {length_mm:fine} {way}, {width_mm:fine} across it, {thickness_mm:fine} thick; "
        "cutter {cutter_mm:setting}"
    )
    out = [fill(text, head, words)]
    for found in answer.beds:
        out += _bed_lines(found, words)
    return out


def _bed_lines(found: BedFit, words: Words) -> list[str]:
    from nestyield.paperwork.phrases import phrase

    bed = found.bed
    out = [f"bed {bed.name}: travel {words.size(bed.travel_x_mm, bed.travel_y_mm, style='fine')}"]
    out += [f"  along {name}: {_way(s, words)}" for name, s in (("X", found.along_x), ("Y", found.along_y))]
    if found.askew is not None and found.tilt is not None:
        spare = words.length(found.tilt.spare_mm, style="fine", rounding="down")
        out.append(f"  at an angle: yes, turned {words.angle(found.askew.turned_deg)}; {spare} to spare")
    elif not found.along_x.fits and not found.along_y.fits:
        out.append("  at an angle: no" + ("" if found.tilt is None else ", for the other reasons"))
        for name, other, least in (("X", "Y", found.least_x_mm), ("Y", "X", found.least_y_mm)):
            if least is not None:
                needs = words.length(least[0], style="fine", rounding="up")
                turn = words.angle(least[1] % 180.0)
                out.append(f"  {needs} of {name} travel would do, turned {turn}, with {other} as it is")
    if found.sectioned is not None and found.sectioned.in_sections is not None and found.board_mm is not None:
        board = words.size(*found.board_mm, style="fine", rounding="up")
        how = phrase(found.sectioned.in_sections, words)
        out.append(
            f"  in sections: yes, lying along {found.sectioned.along.upper()} on a board of {board}. {how}"
        )
    elif found.no_sections is not None:
        out.append(f"  in sections: no. {phrase(found.no_sections, words)}")
    if bed.travel_z_mm is None:
        out.append("  Z travel is not in the shop file: check that it clears work and cutter")
    return out + [f"  note: {phrase(note, words)}" for note in found.notes]


def _way(setup: Setup, words: Words) -> str:
    """Return whether a bed takes the part one way round, with numbers."""
    from nestyield.paperwork.phrases.beds import setup_says

    needs = words.size(setup.needs_x_mm, setup.needs_y_mm, style="fine", rounding="up")
    says = setup_says(setup, words)
    if not setup.fits:
        return f"no. {says} It would need {needs} of travel."
    turned = ", end for end" if setup.turned_deg >= 180.0 else ""
    return f"yes{turned}. It needs {needs} of travel: {says}"
