"""Rules about seams that a blank breaks.

Codes: ``G720`` a seam where none may run, ``G721`` grain off the part's, ``G722`` unlike species.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping, Sequence

import numpy as np
from shapely import LineString, Polygon

from nestyield.geometry.grid import UM_PER_MM
from nestyield.glueup.band import OrientedPart, outlined
from nestyield.glueup.rules import forbidden_intervals
from nestyield.glueup.strip_rules import rules_for
from nestyield.model import Blank, Part, Piece, Placement, Seam, Settings
from nestyield.model.facts import GrainOffPart, SeamRule, SeamRuleBroken, UnlikeSpecies, WoodFact
from nestyield.model.pose import Pose
from nestyield.wood.blank import grain_in_blank
from nestyield.wood.joints import acute_deg

#: A rule broken by less is kept, millimeters.
KEPT_MM = 0.002
# A seam that runs less than this under a part does not run under it, micrometers.
_LEAST_UM = 50.0


def broken_rules(
    seams: Sequence[Seam], part: Part, placement: Placement, settings: Settings, index: int = 0
) -> Iterator[SeamRuleBroken]:
    """Give the rules about where seams run that seams break under a part, once each, by how far at most.

    Parameters
    ----------
    seams : sequence of Seam
        Blank coordinates.
    part : Part
    placement : Placement
    settings : Settings
    index : int
        Of the placement in its layout.
    """
    worst: dict[tuple[str, SeamRule], int] = {}
    for seam in seams:
        for (x0, y0), (x1, y1) in itertools.pairwise(seam.line_mm):
            if math.hypot(x1 - x0, y1 - y0) == 0.0:
                continue
            direction = math.degrees(math.atan2(y1 - y0, x1 - x0))
            lying = outlined(part, settings, placement.angle_deg - direction, placement.mirrored)
            ends = [
                [x * UM_PER_MM - placement.x_um, y * UM_PER_MM - placement.y_um]
                for x, y in ((x0, y0), (x1, y1))
            ]
            (first, at), (last, _) = Pose(angle_deg=-direction).array(np.array(ends)).tolist()
            if not _under(lying, first, last, at):
                continue
            for bar in forbidden_intervals(lying, settings.glueup):
                mm = min(at - bar.low, bar.high - at) / UM_PER_MM
                if mm > KEPT_MM and first < bar.right and last > bar.left:
                    key = (seam.name, bar.rule)
                    worst[key] = max(worst.get(key, 0), round(mm * UM_PER_MM))
    for (name, rule), inside in worst.items():
        yield SeamRuleBroken(seam=name, placement=index, part=part.name, rule=rule, inside_um=inside)


def _under(lying: OrientedPart, first: float, last: float, at: float) -> bool:
    """Tell whether a level stretch of seam runs under the outline of a lying part."""
    low, high = min(p[1] for p in lying.outline.tolist()), max(p[1] for p in lying.outline.tolist())
    if not low < at < high:
        return False
    line = LineString([(first, at), (last, at)])
    return bool(line.intersection(Polygon(lying.outline.tolist())).length > _LEAST_UM)


def rule_facts(
    blank: Blank,
    laid: Sequence[tuple[Part, Placement]],
    pieces: Mapping[str, Piece],
    settings: Settings,
) -> tuple[WoodFact, ...]:
    """Return the rules that a blank with seams breaks: no place kept them, or the shop lets them be broken.

    Parameters
    ----------
    blank : Blank
    laid : sequence of (Part, Placement)
    pieces : mapping of str to Piece
        By name, all members of the blank.
    settings : Settings
    """
    out: list[WoodFact] = []
    for index, (part, placement) in enumerate(laid):
        out += broken_rules(blank.seams, part, placement, rules_for(blank, settings), index)
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
