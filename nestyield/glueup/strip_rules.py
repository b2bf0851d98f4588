"""Where the seams of strips on edge may run under a part."""

from __future__ import annotations

from dataclasses import replace

from nestyield.glueup.band import outlined
from nestyield.glueup.rules import forbidden_intervals
from nestyield.model import Blank, Outline, Part, Settings, Shape
from nestyield.model.facts import NearOutline
from nestyield.model.pose import Pose

#: Strips are narrow on purpose: their seams may come this near to a stretch of outline along them, however large the
#: shop's sliver is, millimeters (common practice, no source).
SLIVER_MM = 5.0


def rules_for(blank: Blank, settings: Settings) -> Settings:
    """Return the settings by which seams of a blank are judged: of strips the sliver is no larger than theirs."""
    if not blank.on_edge:
        return settings
    rules = settings.glueup
    return replace(settings, glueup=replace(rules, sliver_mm=min(rules.sliver_mm, SLIVER_MM)))


def barred(part: Part, settings: Settings) -> list[tuple[str, Shape]]:
    """Return regions of a part, drawing coordinates, that no seam along its grain may enter, each with a name.

    Parameters
    ----------
    part : Part
        With a grain.
    settings : Settings
        See `rules_for`.
    """
    angle = -(part.grain_deg or 0.0)
    back = Pose(angle_deg=angle).inverse()
    out = []
    for bar in forbidden_intervals(outlined(part, settings, angle, False), settings.glueup):
        box = Outline.rectangle(bar.left / 1000, bar.low / 1000, bar.right / 1000, bar.high / 1000)
        name = "outline" if isinstance(bar.rule, NearOutline) else bar.rule.zone
        out.append((name, Shape(outer=back.outline(box))))
    return out
