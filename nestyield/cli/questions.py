"""What the commands for small questions share: options, and how a piece that would make a part is told."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from nestyield.words import Words

if TYPE_CHECKING:
    from nestyield.model import Setup
    from nestyield.planning.questions import Maker


def what_if_options(parser: argparse.ArgumentParser) -> None:
    """Declare ``--cutter`` and ``--margin``."""
    instead = "instead of the shop file's, in shop units or with its own, as '1/4 in'"
    parser.add_argument("--cutter", metavar="L", help=f"diameter of the cutter {instead}")
    parser.add_argument("--margin", metavar="L", help=f"least wood around the part {instead}")


def what_if(args: argparse.Namespace, units: str) -> dict[str, float | None]:
    """Return what ``--cutter`` and ``--margin`` say, mm.

    Raises
    ------
    LengthError
        When one is no length, or not above 0 for the cutter, or below 0.
    """
    from nestyield.intake.lengths import LengthError, parse_length

    out: dict[str, float | None] = {}
    for name, least in (("cutter", 1e-3), ("margin", 0.0)):
        text = getattr(args, name)
        value = None if text is None else parse_length(text, units)
        if value is not None and value < least:
            raise LengthError(f"expected --{name} {'> 0' if least else '>= 0'}, got {text!r}")
        out[f"{name}_mm"] = value
    return out


def maker_data(maker: Maker) -> dict[str, object]:
    """Return a piece that would make a part as it stands in JSON."""
    return {
        "pieces": list(maker.pieces),
        "status": maker.status,
        "sawn_mm": None if maker.sawn_mm is None else [round(v, 3) for v in maker.sawn_mm],
        "box_mm": [round(v, 3) for v in maker.box_mm],
        "angle_deg": maker.placement.angle_deg,
        "mirrored": maker.placement.mirrored,
        "beds": [
            {
                "bed": s.bed,
                "along": s.along,
                "spare_x_mm": s.spare_x_mm,
                "spare_y_mm": s.spare_y_mm,
                "sections": len(s.sections),
            }
            for s in maker.setups
        ],
        "value": round(maker.value, 2),
        "back": round(maker.back, 2),
        "used_up_board_feet": round(maker.used_up, 3),
        "seams_mm": round(maker.seams_mm, 1),
    }


def sawn(maker: Maker, words: Words) -> str:
    """Return what is sawn off the piece first, from its corner."""
    assert maker.sawn_mm is not None
    x0, y0, x1, y1 = (words.length(v, style="fine") for v in maker.sawn_mm)
    return f"a blank is sawn off it first: {x0} to {x1} of its length, {y0} to {y1} of its width"


def lies(maker: Maker, words: Words) -> str:
    """Return where the part lies on its piece."""
    x0, y0, x1, y1 = maker.box_mm
    turned = maker.placement.angle_deg
    text = (
        f"x {words.length(x0, style='fine')} to {words.length(x1, style='fine')}, "
        f"y {words.length(y0, style='fine')} to {words.length(y1, style='fine')}"
    )
    if abs(turned) > 1e-9:
        text += f", turned {words.angle(turned)}"
    return text + (", mirrored" if maker.placement.mirrored else "")


def on_bed(setup: Setup, words: Words) -> str:
    """Return one way to lie on a bed, in a few words."""
    way = f"{setup.bed}, along {setup.along.upper()}"
    if setup.sections:
        return f"{way}, in {len(setup.sections)} sections"
    spare = f"{words.length(setup.spare_x_mm)} along X, {words.length(setup.spare_y_mm)} along Y"
    return f"{way}: {spare} to spare"
