"""A plan as it is told, with the figures that many checks ask for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from . import shapes

#: Kinds that do not weaken the wood beside them (README: a pin or screw beside stain or sapwood holds).
SOUND = ("stain", "sapwood")
CUTS = ("cutout", "pocket", "contour", "hole")
#: What the README calls sheets, with other names of the trade.
SHEETS = frozenset(
    [
        "mdf",
        "medium density fibreboard",
        "medium density fiberboard",
        "fibreboard",
        "fiberboard",
        "plywood",
        "ply",
        "birch plywood",
        "birch ply",
        "baltic birch",
        "baltic birch plywood",
    ]
)


def may_be_of(part: Mapping[str, Any], species: str) -> bool:
    """Tell whether a part may be of a wood: one that it names, or any; a sheet only when named or without grain."""
    if part.get("species"):
        return species in part["species"]
    return part.get("grain_deg", 0.0) is None or species.strip().lower() not in SHEETS


@dataclass
class Findings:
    """What is wrong, as ``(check, where, what)``; ``looked`` counts what was looked at."""

    found: list[tuple[str, str, str]] = field(default_factory=list)
    looked: dict[str, int] = field(default_factory=dict)

    def say(self, check: str, where: str, what: str) -> None:
        self.found.append((check, where, what))

    def expect(self, right: bool, check: str, where: str, what: str) -> None:
        """Count a look, and say what is wrong unless ``right``."""
        self.looked[check] = self.looked.get(check, 0) + 1
        if not right:
            self.say(check, where, what)


class Told:
    """``plan.json`` as read, and what of the shop it holds by name."""

    def __init__(self, plan: Mapping[str, Any]) -> None:
        self.plan = plan
        self.shop = plan["shop"]
        self.settings = self.shop["settings"]
        self.parts = {p["name"]: p for p in self.shop["parts"]}
        self.pieces = {p["name"]: p for p in self.shop["pieces"]}
        self.orders = {o["name"]: o for o in self.shop["orders"]}
        self.beds = {b["name"]: b for b in self.shop["beds"]}
        self._outlines: dict[str, BaseGeometry] = {}

    @cached_property
    def gap(self) -> float:
        told = self.settings.get("between_parts_mm")
        return self.settings["cutter_diameter_mm"] + 3.0 if told is None else told

    @cached_property
    def cutter(self) -> float:
        return self.settings["cutter_diameter_mm"]

    def outline(self, part: str) -> BaseGeometry:
        if part not in self._outlines:
            self._outlines[part] = shapes.of_outline(self.parts[part]["outline"])
        return self._outlines[part]

    def rule(self, section: str, key: str, default: Any) -> Any:
        return self.settings.get(section, {}).get(key, default)


class Laid:
    """One layout: its blank and parts as polygons, with what each part takes of the blank."""

    def __init__(self, told: Told, layout: Mapping[str, Any]) -> None:
        self.told, self.layout = told, layout
        self.blank = layout["blank"]
        self.name = self.blank["name"]
        self.placements = layout["placements"]

    @cached_property
    def wood(self) -> BaseGeometry:
        return shapes.region(self.blank["shape"])

    @cached_property
    def parts(self) -> list[BaseGeometry]:
        return [shapes.placed(self.told.outline(p["part"]), p) for p in self.placements]

    @cached_property
    def is_sheet(self) -> bool:
        return self.blank["grain_deg"] is None

    @cached_property
    def thickest(self) -> float:
        return max((self.told.parts[p["part"]]["thickness_mm"] for p in self.placements), default=0.0)

    def layers(self, placement: Mapping[str, Any]) -> tuple[float, float]:
        """Return where a part begins and ends below the blank's top face, mm."""
        thick, part = self.blank["thickness_mm"], self.told.parts[placement["part"]]["thickness_mm"]
        if self.is_sheet:
            return 0.0, thick
        off = placement.get("top_off_mm")
        top = (thick - part) / 2.0 if off is None else off
        return top, top + part

    def zones(self, placement: Mapping[str, Any]) -> list[tuple[Mapping[str, Any], BaseGeometry, str]]:
        """Return zones of a part as laid, each with the blank's face it is cut from."""
        found = []
        for zone in self.told.parts[placement["part"]].get("zones", []):
            if zone.get("shape") is None:
                continue
            face = zone.get("face", "through")
            if zone.get("depth_mm") is None or face == "through":
                side = "through"
            else:
                side = "top" if (face == "front") == placement.get("front_up", True) else "bottom"
            found.append((zone, shapes.placed(shapes.region(zone["shape"]), placement), side))
        return found

    def cut(self, placement: Mapping[str, Any], zone: Mapping[str, Any], side: str) -> tuple[float, float]:
        """Return between which depths below the blank's top a zone takes wood."""
        top, bottom = self.layers(placement)
        if side == "through":
            return top, bottom
        depth = zone["depth_mm"]
        return (top, top + depth) if side == "top" else (bottom - depth, bottom)

    def flaw(self, defect: Mapping[str, Any]) -> tuple[BaseGeometry, float, float]:
        """Return a defect's region, grown by the measuring error, and its depths below the blank's top."""
        thick, error = self.blank["thickness_mm"], self.blank.get("measured_mm", 0.0)
        shape = shapes.region(defect["shape"])
        if error:
            shape = shape.buffer(error, quad_segs=32)
        depth, face = defect.get("depth_mm"), defect.get("face", "through")
        if depth is None or face == "through":
            return shape, 0.0, thick
        start = defect.get("start_mm", 0.0)
        return (shape, start, depth) if face == "top" else (shape, thick - depth, thick - start)

    @cached_property
    def cut_out(self) -> BaseGeometry:
        """The parts as one region."""
        return unary_union(self.parts)

    @cached_property
    def over(self) -> BaseGeometry:
        """What is cut of zones that run out over the edge of their part; the cutter stays within it."""
        return unary_union([z for zones in self.swept for z in zones]).difference(self.cut_out)

    @cached_property
    def swept(self) -> list[list[BaseGeometry]]:
        """The zones that are cut of each part, also where they run out over its edge."""
        return [[z for zone, z, _ in self.zones(p) if zone["role"] in CUTS] for p in self.placements]

    @cached_property
    def rows(self) -> list[str]:
        return [m["piece"] for m in self.blank["members"]]
