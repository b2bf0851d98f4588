"""One branch of a certificate, proved again by edges along edges; see ``proof`` and ``shifts``."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np
import shapely
from shapely.affinity import affine_transform, translate
from shapely.geometry.base import BaseGeometry

from nestyield.audit.curves import points_of, polygon, region, unit
from nestyield.audit.depth import check_defects, layers_refused
from nestyield.audit.places import check_places
from nestyield.audit.sheet import CheckedBlank, CheckedPlacement, CheckedSheet, bench_of
from nestyield.audit.shifts import shifts_left
from nestyield.audit.turned import Wood
from nestyield.model import (
    AngleInterval,
    Certificate,
    Outline,
    Part,
    Piece,
    Placement,
    ProofBranch,
    Shape,
)

#: How often an interval is halved when the whole of it is not proved.
MOST_HALVINGS = 4
#: The part may be smaller, and the container larger, by this in a replay, millimeters.
LENIENT_MM = 0.004
#: As much again where arcs are replaced by fewer chords.
ARC_MM = 0.01
#: The first look at an interval is coarse by this part of what the part moves in it, the last by so much, mm.
COARSE_SHARE = 16.0
FINEST_MM = 0.001
#: Shifts closer together than this are one, millimeters.
_SAME_MM = 1e-6


class Case:
    """One branch of a certificate."""

    def __init__(
        self, sheet: CheckedSheet, proof: Certificate, branch: ProofBranch, part: Part, piece: Piece
    ) -> None:
        self.sheet, self.branch, self.part = sheet, branch, part
        self.center = complex(proof.center_um[0] / 1000.0, proof.center_um[1] / 1000.0)
        if branch.mirrored:
            self.center = -self.center.conjugate()
        self.within = proof.within_mm
        self.piece = piece
        here = self._placement(0.0, 0j)
        bench = self._bench(here)
        laid = CheckedPlacement(0, part, here)
        arcs = any(any(o.bulges) for o in (part.outline, *(z.shape.outer for z in part.zones if z.shape)))
        self._outline = Wood(
            self._about(_shrunk(_coarse(part.outline, branch.mirrored), any(part.outline.bulges)))
        )
        settings = sheet.plan.shop.settings
        self._margin = settings.blank_margin_mm + piece.measured_mm
        self._container = _container(piece.shape.outer)
        self._homes: dict[float, BaseGeometry] = {}
        # each obstacle: its ground, the room to keep from it, and the wood that must keep it
        self._obstacles: list[tuple[BaseGeometry, float, Wood]] = []
        hollow = Wood(self._about(_shrunk(laid.outline.difference(laid.openings), arcs)))
        for hole in piece.shape.holes:
            self._obstacles.append((_ground(Shape(outer=hole)), self._margin, hollow))
        for defect in piece.defects:
            ground = _ground(defect.shape)
            if defect.traits.metal:
                clear = settings.cutter_diameter_mm + piece.measured_mm
                self._obstacles.append((ground, clear, self._outline))
                continue
            minded = layers_refused(bench, laid, defect)
            if not minded.is_empty:
                self._obstacles.append((ground, piece.measured_mm, Wood(self._about(_shrunk(minded, arcs)))))

    def _placement(self, angle_deg: float, shift: complex) -> Placement:
        """A placement that turns about the center and then shifts by ``shift`` mm."""
        move = shift - self.center * unit(angle_deg)
        return Placement(
            part=self.part.name,
            order="",
            copy=1,
            angle_deg=angle_deg,
            mirrored=self.branch.mirrored,
            x_um=round(move.real * 1000.0) if angle_deg or shift else 0,
            y_um=round(move.imag * 1000.0) if angle_deg or shift else 0,
            front_up=self.branch.front_up,
            top_off_mm=self.branch.top_off_mm,
        )

    def _bench(self, placement: Placement) -> CheckedBlank:
        return bench_of(self.sheet, self.piece, placement)

    def _about(self, shape: BaseGeometry) -> BaseGeometry:
        return translate(shape, -self.center.real, -self.center.imag)

    def _turned(self, shape: BaseGeometry, angle_deg: float) -> BaseGeometry:
        u = unit(angle_deg)
        return affine_transform(shape, [u.real, -u.imag, u.imag, u.real, 0.0, 0.0])

    def halving(self, interval: AngleInterval, most: int) -> tuple[str, int, Placement | None]:
        """As ``empty``, for halves of the interval where the whole is not proved; and how many looks."""
        todo, used = [(interval, 0)], 0
        while todo:
            here, depth = todo.pop()
            state, found = self.empty(here)
            used += 1
            if state == "proved":
                continue
            if state == "open":
                middle = 0.5 * (here.from_deg + here.to_deg)
                state, found = self.empty(replace(here, from_deg=middle, to_deg=middle))
                used += 1
            if state == "false":
                return state, used, found
            if depth == MOST_HALVINGS or used >= most:
                return "open", used, None
            todo += [(replace(here, from_deg=middle), depth + 1), (replace(here, to_deg=middle), depth + 1)]
        return "proved", used, None

    def empty(self, interval: AngleInterval) -> tuple[str, Placement | None]:
        """Return ``proved``, ``open`` or ``false``, and the placement that shows it false.

        First with few corners, then with more: what has fewer is smaller, or a larger home, so that a proof
        with it holds.
        """
        middle = 0.5 * (interval.from_deg + interval.to_deg)
        half = 0.5 * (interval.to_deg - interval.from_deg)
        more = self.within if interval.kind == "tight" else 0.0
        part = self._turned(self._outline.kept(half), middle)
        if part.is_empty:
            return "open", None
        walls = [
            (_grown(g, room + more - LENIENT_MM), self._turned(w.kept(half), middle))
            for g, room, w in self._obstacles
        ]
        home = self._home(more)
        far = float(np.abs(np.array(part.bounds)).max())
        first = max(FINEST_MM, 2.0 * far * np.radians(half) / COARSE_SHARE)
        left: BaseGeometry = shapely.Polygon()
        for fine in [f for f in (first, first / 5.0) if f > FINEST_MM] + [FINEST_MM]:
            left = shifts_left(
                _more(home, fine), _less(part, fine), [(_less(g, fine), _less(w, fine)) for g, w in walls]
            )
            if left.is_empty:
                return "proved", None
        spot = _inside(left)
        found = None if spot is None else self._stands(interval, spot)
        return ("open", None) if found is None else ("false", found)

    def _home(self, more: float) -> BaseGeometry:
        """Where the outline may lie, never less than it is."""
        if more not in self._homes:
            inset = self._margin + more - LENIENT_MM
            self._homes[more] = self._container.buffer(-inset, quad_segs=16) if inset > 0 else self._container
        return self._homes[more]

    def _stands(self, interval: AngleInterval, spot: complex) -> Placement | None:
        """Return a placement near a shift at which the true part breaks no rule."""
        if interval.kind != "infeasible":
            return None  # only that is denied by a single place
        for angle in (0.5 * (interval.from_deg + interval.to_deg), interval.from_deg, interval.to_deg):
            placement = self._placement(angle, spot)
            bench = self._bench(placement)
            check_places(bench)
            if not bench.sheet.findings:
                check_defects(bench)
            if not bench.sheet.findings:
                return placement
        return None


def _grown(ground: BaseGeometry, by_mm: float) -> BaseGeometry:
    """Grow a region by chords within the true circle, so never too much."""
    return ground.buffer(by_mm, quad_segs=8) if by_mm > 0.0 else ground


def _inside(free: BaseGeometry) -> complex | None:
    """A point well inside what is left; None when nothing with a width is."""
    parts = [p for p in shapely.get_parts(free) if p.geom_type == "Polygon" and p.area > _SAME_MM**2]
    if not parts:
        return None
    widest = max(parts, key=lambda p: p.area)
    point = widest.representative_point()
    return complex(point.x, point.y)


def _less(shape: BaseGeometry, by_mm: float) -> BaseGeometry:
    """A region with fewer corners that lies in the given one, its border within twice a distance."""
    return shape.simplify(by_mm).buffer(-by_mm, join_style="mitre")


def _more(shape: BaseGeometry, by_mm: float) -> BaseGeometry:
    """A region with fewer corners that holds the given one, its border within a few times a distance."""
    return shape.simplify(by_mm).buffer(by_mm, join_style="mitre")


def _shrunk(shape: BaseGeometry, arcs: bool) -> BaseGeometry:
    """A little less than a region, with few corners where it has arcs."""
    if arcs:
        return shape.simplify(ARC_MM).buffer(-ARC_MM - LENIENT_MM / 4, join_style="mitre")
    return shape.buffer(-LENIENT_MM / 2, join_style="mitre")


@lru_cache(maxsize=64)
def _container(outer: Outline) -> BaseGeometry:
    """A little more than a blank's outer edge, with few corners where it has arcs."""
    if any(outer.bulges):
        return polygon(points_of(outer)).simplify(ARC_MM).buffer(ARC_MM, join_style="mitre")
    return polygon(points_of(outer)).buffer(LENIENT_MM / 2, join_style="mitre")


def _ground(shape: Shape) -> BaseGeometry:
    """A little less than a defect or hole, with few corners where it has arcs."""
    arcs = any(any(o.bulges) for o in (shape.outer, *shape.holes))
    return _shrunk(region(shape), arcs)


def _coarse(outline: Outline, mirrored: bool) -> BaseGeometry:
    points = points_of(outline)
    return polygon(points * (-1.0, 1.0) if mirrored else points)
