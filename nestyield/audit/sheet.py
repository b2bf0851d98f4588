"""The audit's working sheet: the plan, its names looked up, and what was found."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import shapely
from shapely.geometry.base import BaseGeometry

from nestyield.audit.curves import moved, points_of, polygon, region
from nestyield.model import (
    Bed,
    Blank,
    Finding,
    Layout,
    Member,
    Order,
    Part,
    Piece,
    Placement,
    Plan,
    Severity,
    Shape,
    Zone,
)
from nestyield.model.facts import BlanksKept


def cut_through(zone: Zone, part: Part) -> bool:
    """Tell whether a zone takes all of the thickness away."""
    if not zone.does.cuts or zone.does.slopes:
        return False
    if zone.face == "through" or zone.depth_mm is None:
        return True
    return zone.depth_mm >= part.thickness_mm


@dataclass
class CheckedSheet:
    """What the checks read and where they write.

    Parameters
    ----------
    plan : Plan
    """

    plan: Plan
    findings: list[Finding] = field(default_factory=list)

    @cached_property
    def parts(self) -> dict[str, Part]:
        """Parts by name."""
        return {p.name: p for p in self.plan.shop.parts}

    @cached_property
    def pieces(self) -> dict[str, Piece]:
        """Pieces by name."""
        return {p.name: p for p in self.plan.shop.pieces}

    @cached_property
    def orders(self) -> dict[str, Order]:
        """Orders by name."""
        return {o.name: o for o in self.plan.shop.orders}

    @cached_property
    def beds(self) -> dict[str, Bed]:
        """Beds by name."""
        return {b.name: b for b in self.plan.shop.beds}

    @cached_property
    def kept(self) -> set[str]:
        """Names of blanks that the plan keeps as the maker accepted them."""
        return {name for n in self.plan.notices if isinstance(n, BlanksKept) for name in n.blanks}

    def say(self, code: str, where: str, message: str, severity: Severity = "error") -> None:
        """Note a finding."""
        self.findings.append(
            Finding(code=code, severity=severity, message=message, file="plan.json", where=where)
        )


@dataclass
class CheckedPlacement:
    """One placed part as true regions in blank coordinates, millimeters.

    Parameters
    ----------
    index : int
        In the layout's placements.
    part : Part
    placement : Placement
    """

    index: int
    part: Part
    placement: Placement

    @property
    def name(self) -> str:
        """How findings call it."""
        return f"{self.part.name} ({self.placement.order}, copy {self.placement.copy})"

    @cached_property
    def outline(self) -> BaseGeometry:
        """The whole of the part, openings included."""
        return polygon(moved(points_of(self.part.outline), self.placement))

    @cached_property
    def openings(self) -> BaseGeometry:
        """Where the part is cut right through."""
        return polygon_union(
            [self.zone(z.shape) for z in self.part.zones if z.shape is not None and cut_through(z, self.part)]
        )

    def zone(self, shape: Shape) -> BaseGeometry:
        """Return a zone's region where it lies."""
        return region(shape, self.placement)


def polygon_union(shapes: list[BaseGeometry]) -> BaseGeometry:
    """Return the union of regions, an empty one for none."""
    return shapely.union_all(shapes) if shapes else shapely.Polygon()


@dataclass
class CheckedBlank:
    """One layout with its placed parts, as the checks see it."""

    sheet: CheckedSheet
    layout: Layout

    @property
    def name(self) -> str:
        """Name of the blank."""
        return self.layout.blank.name

    @cached_property
    def laid(self) -> tuple[CheckedPlacement, ...]:
        """Placed parts that the shop knows."""
        return tuple(
            CheckedPlacement(i, self.sheet.parts[p.part], p)
            for i, p in enumerate(self.layout.placements)
            if p.part in self.sheet.parts
        )

    @cached_property
    def tree(self) -> shapely.STRtree:
        """Index of the placed outlines, in the order of ``laid``."""
        return shapely.STRtree([p.outline for p in self.laid])

    @cached_property
    def flaws(self) -> shapely.STRtree:
        """Index of the blank's defects, in their order."""
        return shapely.STRtree([region(d.shape) for d in self.layout.blank.defects])

    @cached_property
    def wood(self) -> BaseGeometry:
        """The blank with its holes."""
        return region(self.layout.blank.shape)

    def say(self, code: str, message: str, where: str = "", severity: Severity = "error") -> None:
        """Note a finding about this blank."""
        place = f"blank {self.name}" + (f", {where}" if where else "")
        self.sheet.say(code, place, message, severity)


def bench_of(sheet: CheckedSheet, piece: Piece, placement: Placement) -> CheckedBlank:
    """Return a piece with one part on it; what is found about it goes to a sheet of its own."""
    blank = Blank(
        name=piece.name,
        members=(Member(piece=piece.name, copy=1),),
        species=piece.species,
        thickness_mm=piece.thickness_mm,
        shape=piece.shape,
        grain_deg=piece.grain_deg,
        seams=piece.seams,
        defects=piece.defects,
        measured_mm=piece.measured_mm,
    )
    layout = Layout(
        blank=blank,
        placements=(placement,),
        setups=(),
        chosen=None,
        part_area_mm2=0.0,
        stock_area_mm2=0.0,
        usable_area_mm2=0.0,
        board_feet=0.0,
        value=0.0,
    )
    return CheckedBlank(CheckedSheet(sheet.plan), layout)
