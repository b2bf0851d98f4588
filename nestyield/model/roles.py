"""What each role of a zone means: one row a role, asked by every room; a new role is a new row."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

ZoneRole = Literal["cutout", "pocket", "contour", "hole", "no_seam", "screw_row", "center_line"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Role:
    """What a zone of a role does to the wood, to seams and to the drawing.

    A defect in wood that a zone takes away does no harm; in wood that stays, ``Zone.tolerates`` decides.

    Parameters
    ----------
    name : ZoneRole
        As the shop file writes it for a layer.
    title : str
        Singular, on paper.
    layer : str
        Start of the layer's name in DXF and SVG files.
    drawn : {"pocket", "contour", "cutout", "hole", "watch", "line"}
        How pictures show it.
    cuts : bool
        It takes wood away.
    depth : {"none", "optional", "required"}
        Whether it has a depth of its own. What cuts without a depth goes right through.
    slopes : bool
        Nothing at its inner edge, its depth at the part's outline; so it never goes through all over.
    line : bool
        It is a line, not a region.
    seam : {"free", "barred", "clear", "crosswise", "wanted"}
        Seams run anywhere; not through it; a clearance away from it; across it but not lengthwise through
        it; along it by preference.
    middle : bool
        The middle one of three boards should hold it when it is cut from the front on a ``wanted`` line.
    """

    name: ZoneRole
    title: str
    layer: str
    drawn: Literal["pocket", "contour", "cutout", "hole", "watch", "line"]
    cuts: bool = False
    depth: Literal["none", "optional", "required"] = "none"
    slopes: bool = False
    line: bool = False
    seam: Literal["free", "barred", "clear", "crosswise", "wanted"] = "free"
    middle: bool = False

    @property
    def always_through(self) -> bool:
        """Whether every zone of this role is an opening."""
        return self.cuts and self.depth == "none"

    @property
    def may_go_through(self) -> bool:
        """Whether a zone of this role without a depth is an opening."""
        return self.cuts and self.depth != "required"


#: Rows in the order in which pictures draw them: later ones over earlier ones.
_ROWS = (
    Role(
        name="contour",
        title="contour",
        layer="CONTOUR",
        drawn="contour",
        cuts=True,
        depth="required",
        slopes=True,
    ),
    Role(
        name="pocket",
        title="pocket",
        layer="POCKET",
        drawn="pocket",
        cuts=True,
        depth="required",
        middle=True,
    ),
    Role(name="cutout", title="cutout", layer="CUTOUT", drawn="cutout", cuts=True),
    Role(name="hole", title="hole", layer="HOLE", drawn="hole", cuts=True, depth="optional", seam="clear"),
    Role(name="no_seam", title="no seam", layer="NO SEAM", drawn="watch", seam="barred"),
    Role(name="screw_row", title="screw row", layer="SCREW ROW", drawn="watch", seam="crosswise"),
    Role(
        name="center_line", title="center line", layer="CENTER LINE", drawn="line", line=True, seam="wanted"
    ),
)

ROLES: Mapping[str, Role] = {row.name: row for row in _ROWS}
