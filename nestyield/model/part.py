"""What the shop makes: parts and the zones where wood is taken away or watched."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from nestyield.model.arc import Point
from nestyield.model.errors import ModelError
from nestyield.model.outline import Outline, Shape
from nestyield.model.roles import ROLES, Role, ZoneRole
from nestyield.model.weight import WeightWish

PartFace = Literal["front", "back", "through"]
Mirrored = Literal["no", "allowed", "only"]
ShowFace = Literal["either", "top"]
Strips = Literal["no", "allowed", "only"]
Verdict = Literal["refused", "filled", "allowed"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Zone:
    """A region of a part with a meaning of its own.

    Parameters
    ----------
    name : str
        Layer name of the drawing, with ``#2``, ``#3`` ... for further outlines on it.
    role : ZoneRole
        ``cutout`` goes right through; ``pocket`` from ``face`` to ``depth_mm``; ``contour`` slopes
        from nothing at its inner edge to ``depth_mm`` at the outline; ``hole`` is drilled;
        ``no_seam`` and ``screw_row`` are for seams only; ``center_line`` is a line. What each does
        stands in ``ROLES``.
    shape : Shape or None
        Region in the part's drawing coordinates; None for a ``center_line``.
    line_mm : tuple of points
        Only for ``center_line``.
    face : {"front", "back", "through"}
        Face the zone is cut from.
    depth_mm : float or None
        Depth from that face; None means through.
    tolerates : dict of str to {"refused", "filled", "allowed"}
        What a defect of that kind means if wood that stays at this zone holds it. Kinds not
        named follow the part.
    """

    name: str
    role: ZoneRole
    shape: Shape | None = None
    line_mm: tuple[Point, ...] = ()
    face: PartFace = "front"
    depth_mm: float | None = None
    tolerates: dict[str, Verdict] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if self.role not in ROLES:
            raise ModelError(f"zone {self.name!r}: expected a role of {', '.join(ROLES)}, got {self.role!r}")
        if self.depth_mm is not None and not self.depth_mm > 0:
            raise ModelError(f"expected depth_mm > 0 in zone {self.name!r}, got {self.depth_mm}")
        if self.does.line != (self.shape is None):
            what = "a line and no shape" if self.does.line else "a shape"
            raise ModelError(f"zone {self.name!r}: a {self.role} has {what}")
        if self.depth_mm is not None and self.does.depth == "none":
            raise ModelError(f"zone {self.name!r}: a {self.role} has no depth, got depth_mm {self.depth_mm}")
        if self.does.depth == "required" and (self.depth_mm is None or self.face == "through"):
            got = "none" if self.depth_mm is None else "face through"
            raise ModelError(f"zone {self.name!r}: a {self.role} has a depth from front or back, got {got}")

    @property
    def does(self) -> Role:
        """What its role does."""
        return ROLES[self.role]

    def goes_through(self, thickness_mm: float) -> bool:
        """Whether it is an opening of a part of a thickness: it takes all of the wood away."""
        if not self.does.cuts or self.does.slopes:
            return False
        return self.face == "through" or self.depth_mm is None or self.depth_mm >= thickness_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A part to be cut from a blank.

    Parameters
    ----------
    name : str
        Key in the shop file.
    drawing : str
        Drawing file relative to the shop folder.
    outline : Outline
        True outer edge in drawing coordinates, millimeters, front face up.
    zones : tuple of Zone
        Everything inside, in drawing order.
    thickness_mm : float
        Finished thickness.
    species : tuple of str
        Any of these serve; empty means any.
    grain_deg : float or None
        Direction of the wood's grain in the drawing; None when it does not matter.
    grain_tolerance_deg : float
        Largest allowed angle between the part's grain and the wood's, 0 to 90.
    mirrored : {"no", "allowed", "only"}
        Whether the part may be cut as its mirror image.
    show_face : {"either", "top"}
        ``top`` keeps the front face on the top of every piece, for stock with one good face.
    tolerates : dict of str to {"refused", "filled", "allowed"}
        By kind of defect; kinds not named are refused.
    fill_limit_ml : float or None
        Most filler for the whole part; None for no limit.
    glue : bool
        Whether it may be cut from a blank that is glued up for it.
    book_match : bool
        Whether it is only cut from two neighboring leaves of one board, opened like a book about the joint on
        its center line.
    cap : tuple of str
        Woods of its top layer, any of which serve: it is made of layers then, ``species`` are those of the
        rest. Empty for one that may be of one piece.
    cap_mm : float
        Finished thickness of the cap; 0 without one.
    strips : {"no", "allowed", "only"}
        Whether it may be cut from a blank of strips on edge: ripped off boards, turned by a quarter, glued
        face to face.
    each : float or None
        What one brings, in the maker's money; None where that is not known.
    weight : WeightWish or None
        What it is to weigh; None where that does not matter.
    """

    name: str
    drawing: str
    outline: Outline
    zones: tuple[Zone, ...] = ()
    thickness_mm: float
    species: tuple[str, ...] = ()
    grain_deg: float | None = 0.0
    grain_tolerance_deg: float = 5.0
    mirrored: Mirrored = "no"
    show_face: ShowFace = "either"
    tolerates: dict[str, Verdict] = field(default_factory=dict)
    fill_limit_ml: float | None = None
    glue: bool = True
    book_match: bool = False
    cap: tuple[str, ...] = ()
    cap_mm: float = 0.0
    strips: Strips = "no"
    each: float | None = None
    weight: WeightWish | None = None

    def __post_init__(self) -> None:
        if not self.thickness_mm > 0:
            raise ModelError(f"expected thickness_mm > 0 for part {self.name!r}, got {self.thickness_mm}")
        if not 0 <= self.grain_tolerance_deg <= 90:
            raise ModelError(
                f"expected 0 <= grain_tolerance_deg <= 90 for part {self.name!r}, "
                f"got {self.grain_tolerance_deg}"
            )
        if self.cap and not 0 < self.cap_mm < self.thickness_mm:
            raise ModelError(f"expected 0 < cap_mm < thickness_mm for part {self.name!r}, got {self.cap_mm}")
