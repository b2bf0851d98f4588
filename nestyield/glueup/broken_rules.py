"""Rules that a glue-up breaks because the shop lets them be broken.

Codes: ``G720`` a seam where none may run, ``G721`` grain off the part's, ``G722`` unlike species.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from nestyield.geometry.grid import UM_PER_MM
from nestyield.glueup.band import lay
from nestyield.glueup.rules import forbidden_intervals
from nestyield.model import Blank, Part, Piece, Placement, Seam, Settings
from nestyield.model.facts import GrainOffPart, SeamRuleBroken, UnlikeSpecies, WoodFact
from nestyield.model.pose import Pose
from nestyield.wood.blank import grain_in_blank
from nestyield.wood.joints import acute_deg

#: A rule broken by less is kept, millimetres.
KEPT_MM = 0.002


def broken_rules(
    seams: Sequence[Seam], part: Part, placement: Placement, settings: Settings
) -> Iterator[SeamRuleBroken]:
    """Give the rules about where seams run that straight seams break under a part.

    Parameters
    ----------
    seams : sequence of Seam
        Blank coordinates.
    part : Part
    placement : Placement
    settings : Settings
    """
    rules = settings.glueup
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
                yield SeamRuleBroken(
                    seam=seam.name, part=part.name, rule=bar.rule, inside_um=round(mm * UM_PER_MM)
                )


def rule_facts(
    blank: Blank,
    laid: Sequence[tuple[Part, Placement]],
    pieces: Mapping[str, Piece],
    settings: Settings,
) -> tuple[WoodFact, ...]:
    """Return the rules that a blank with seams breaks because the shop lets it.

    Parameters
    ----------
    blank : Blank
    laid : sequence of (Part, Placement)
    pieces : mapping of str to Piece
        By name, all members of the blank.
    settings : Settings
    """
    out: list[WoodFact] = []
    for part, placement in laid:
        out += broken_rules(blank.seams, part, placement, settings)
        if part.grain_deg is None or len(blank.members) < 2:
            continue
        drawn = 180.0 - part.grain_deg if placement.mirrored else part.grain_deg
        for member in blank.members:
            off = acute_deg(grain_in_blank(pieces[member.piece], member), drawn + placement.angle_deg)
            if off > part.grain_tolerance_deg + 1e-3:
                out.append(
                    GrainOffPart(
                        part=part.name,
                        piece=member.piece,
                        off_deg=round(off, 4),
                        tolerance_deg=part.grain_tolerance_deg,
                    )
                )
    kinds = tuple(dict.fromkeys(pieces[m.piece].species for m in blank.members))
    if len(kinds) > 1:
        out.append(UnlikeSpecies(species=kinds))
    return tuple(dict.fromkeys(out))
