"""What the commands for small questions share: options, and how a piece that would make a part is told."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from nestyield.words import Words, listed

if TYPE_CHECKING:
    from nestyield.model import Setup
    from nestyield.planning.questions import Maker
    from nestyield.planning.seams import SeamOnPart

#: A seam that is less aslant than this, end to end, is told by one figure.
SAME_MM = 0.1


def what_if_options(parser: argparse.ArgumentParser) -> None:
    """Declare ``--set``, and ``--cutter`` and ``--margin`` for the two that are asked most."""
    instead = "in place of the shop file's, in shop units or with its own, as '1/4 in'"
    parser.add_argument("--cutter", metavar="L", help=f"diameter of the cutter {instead}")
    parser.add_argument("--margin", metavar="L", help=f"least wood around a part {instead}")
    parser.add_argument(
        "--set",
        metavar="KEY=VALUE",
        action="append",
        default=[],
        help="any key of the shop file with another value, as bed.bench.travel_x=700; may be given again",
    )


def what_if(args: argparse.Namespace) -> list[str]:
    """Return the keys of the shop file that the question sets."""
    keys = {"cutter": "cutter.diameter", "margin": "allowance.blank_margin"}
    short = [f"{key}={value}" for name, key in keys.items() if (value := getattr(args, name)) is not None]
    return [*short, *args.set]


def stopped_early(by: str) -> str:
    """Return that a search was stopped early, and by what."""
    return f"Stopped early ({by}): what was found until then."


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
        "work": round(maker.work, 2),
        "joints": maker.joints,
        "saw_cuts": maker.cuts,
        "cost": round(maker.cost, 2),
        "used_up_board_feet": round(maker.used_up, 3),
        "seams_mm": round(maker.seams_mm, 1),
        "seams": [
            {
                "seam": s.seam,
                "boards": list(s.boards),
                "from_mm": list(s.from_mm),
                "to_mm": list(s.to_mm),
                "length_mm": s.length_mm,
                "zones": dict(s.zones),
            }
            for s in maker.seams
        ],
        "half_mm": None if maker.half_mm is None else [round(v, 3) for v in maker.half_mm],
    }


def sawn(maker: Maker, words: Words) -> str:
    """Return what is sawn off the piece first, from its corner."""
    assert maker.sawn_mm is not None
    x0, y0, x1, y1 = (words.length(v, style="fine") for v in maker.sawn_mm)
    return f"a blank is sawn off it first: {x0} to {x1} of its length, {y0} to {y1} of its width"


def lies(maker: Maker, words: Words) -> str:
    """Return where the part lies on its piece."""
    turned = maker.placement.angle_deg
    text = _box(maker.box_mm, words)
    if len(maker.blank.members) > 1:
        text += " from the corner of the glued-up blank"
    elif maker.sawn_mm is not None:
        text += " from the corner of that blank"
    if abs(turned) > 1e-9:
        text += f", turned {words.angle(turned)}"
    return text + (", mirrored" if maker.placement.mirrored else "")


def _box(box_mm: tuple[float, float, float, float], words: Words) -> str:
    x0, y0, x1, y1 = (words.length(v, style="fine") for v in box_mm)
    return f"x {x0} to {x1}, y {y0} to {y1}"


def opened(maker: Maker, words: Words) -> list[str]:
    """Return what a book match is made of, and what of its piece; nothing for what is none."""
    if maker.half_mm is None:
        return []
    thick = words.thickness(maker.blank.thickness_mm)
    return [
        f"it is resawn first; two leaves, {thick} thick, are opened like a book and glued up",
        f"each half of the part takes {_box(maker.half_mm, words)} of the piece",
    ]


def seam_lines(maker: Maker, words: Words) -> list[str]:
    """Return where seams fall on the part, a line each: ``seam 1 of A-1 and A-3: y 159.2 mm, ...``."""
    x0, y0, _, _ = maker.box_mm
    out = []
    for seam in maker.seams:
        (ax, ay), (bx, by) = seam.from_mm, seam.to_mm
        x, y, right, up = (words.length(v, style="fine") for v in (ax, ay, ax - x0, ay - y0))
        if abs(by - ay) < SAME_MM:
            where = f"y {y}, {up} above the part's lower edge"
        elif abs(bx - ax) < SAME_MM:
            where = f"x {x}, {right} right of the part's left edge"
        else:
            end_x, end_y = (words.length(v, style="fine") for v in (bx, by))
            where = f"from x {x}, y {y} to x {end_x}, y {end_y}"
        boards = f" between {listed(_boards(seam))}" if seam.boards else ""
        through = "".join(f", {words.length(mm)} through {zone}" for zone, mm in seam.zones)
        out.append(f"{seam.seam}{boards}: {where}; {words.length(seam.length_mm)} under the part{through}")
    return out


def _boards(seam: SeamOnPart) -> list[str]:
    return list(seam.boards) if len(set(seam.boards)) > 1 else [f"the leaves of {seam.boards[0]}"]


def on_bed(setup: Setup, words: Words) -> str:
    """Return one way to lie on a bed, in a few words."""
    way = f"{setup.bed}, along {setup.along.upper()}"
    if setup.sections:
        return f"{way}, in {len(setup.sections)} sections"
    spare = f"{words.length(setup.spare_x_mm)} along X, {words.length(setup.spare_y_mm)} along Y"
    return f"{way}: {spare} to spare"
