"""What a maker is told of a glue-up that breaks a rule which the shop lets be broken.

Codes: ``G720`` a seam where none may run, ``G721`` grain off the part's, ``G722`` unlike species.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from nestyield.geometry.grid import UM_PER_MM
from nestyield.glueup.band import lay
from nestyield.glueup.rules import forbidden_intervals, rules_of
from nestyield.model import Blank, Finding, Part, Piece, Placement, Seam, Settings, Units
from nestyield.model.pose import Pose
from nestyield.wood.blank import grain_in_blank
from nestyield.wood.joints import acute_deg

#: A rule broken by less is kept, millimetres.
KEPT_MM = 0.002


@dataclass(frozen=True, slots=True, kw_only=True)
class Broken:
    """A rule that a seam breaks.

    Parameters
    ----------
    seam : str
    why : str
        The rule and the zone: ``through NO_SEAM``.
    mm : float
        How far the seam lies inside the range where none may run.
    """

    seam: str
    why: str
    mm: float


def broken_rules(
    seams: Sequence[Seam], part: Part, placement: Placement, settings: Settings
) -> Iterator[Broken]:
    """Give the rules about where seams run that straight seams break under a part.

    Parameters
    ----------
    seams : sequence of Seam
        Blank coordinates.
    part : Part
    placement : Placement
    settings : Settings
    """
    rules = rules_of(settings)
    for seam in seams:
        (x0, y0), (x1, y1) = seam.line_mm[0], seam.line_mm[-1]
        if math.hypot(x1 - x0, y1 - y0) == 0.0:
            continue
        direction = math.degrees(math.atan2(y1 - y0, x1 - x0))
        lying = lay(part, settings, placement.angle_deg - direction, placement.mirrored)
        start = np.array([[x0 * UM_PER_MM - placement.x_um, y0 * UM_PER_MM - placement.y_um]])
        at = float(Pose(angle_deg=-direction).array(start)[0, 1])
        low, high = min(p[1] for p in lying.outline.tolist()), max(p[1] for p in lying.outline.tolist())
        if not low < at < high:
            continue
        for bar in forbidden_intervals(lying, rules):
            mm = min(at - bar.low, bar.high - at) / UM_PER_MM
            if mm > KEPT_MM:
                yield Broken(seam=seam.name, why=bar.why, mm=round(mm, 3))


def told_findings(
    blank: Blank,
    laid: Sequence[tuple[Part, Placement]],
    pieces: Mapping[str, Piece],
    settings: Settings,
    units: Units = "mm",
) -> tuple[Finding, ...]:
    """Return cautions about the rules that a blank with seams breaks.

    Parameters
    ----------
    blank : Blank
    laid : sequence of (Part, Placement)
    pieces : mapping of str to Piece
        By name, all members of the blank.
    settings : Settings
    units : {"mm", "in"}
        For the texts.
    """
    out: list[Finding] = []

    def tell(code: str, where: str, message: str) -> None:
        out.append(Finding(code=code, severity="warning", message=message, where=where))

    place = f"blank {blank.name}"
    for part, placement in laid:
        for broken in broken_rules(blank.seams, part, placement, settings):
            size = f"{broken.mm:.1f} mm" if units == "mm" else f"{broken.mm / 25.4:.2f} in"
            tell(
                "G720",
                f"{place}, {broken.seam}",
                f"no seam may run {broken.why} of {part.name}; this one lies {size} inside that",
            )
        if part.grain_deg is None or len(blank.members) < 2:
            continue
        drawn = 180.0 - part.grain_deg if placement.mirrored else part.grain_deg
        for member in blank.members:
            off = acute_deg(grain_in_blank(pieces[member.piece], member), drawn + placement.angle_deg)
            if off > part.grain_tolerance_deg + 1e-3:
                tell(
                    "G721",
                    place,
                    f"grain within {part.grain_tolerance_deg:g} degrees of that of {part.name}; "
                    f"piece {member.piece} lies {off:.1f} degrees off it: weaker, with short grain",
                )
    kinds = list(dict.fromkeys(pieces[m.piece].species for m in blank.members))
    if len(kinds) > 1:
        tell(
            "G722",
            place,
            f"glued from {' and '.join(kinds)}: they move unlike amounts, and steps can show at the seams",
        )
    return tuple(out)
