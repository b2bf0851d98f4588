"""Place one part in one blank."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from nestyield.geometry.boolean import FinePaths, coarse
from nestyield.geometry.flatten import flatten
from nestyield.geometry.grid import FINE, IntPoly, Region, bounds
from nestyield.geometry.transform import place
from nestyield.model import Blank, Part, Placement, Settings
from nestyield.placement.candidates import Way, ways
from nestyield.placement.check import Checker, filled_ml
from nestyield.placement.contact import contact_fine
from nestyield.placement.depth import Facing, spare_thickness_mm
from nestyield.placement.parts import part_shape, size_mm
from nestyield.placement.problem import Problem, TakenPart, build
from nestyield.placement.region import allowed_fine

# Most places offered to ``accept`` at one angle.
_OFFERED = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceAnswer:
    """Where a part goes in a blank, or why it does not.

    Parameters
    ----------
    placement : Placement or None
    reason : str
        ``""`` when there is a placement.
    region : Region
        All allowed shifts at the chosen angle, micrometres.
    angle_deg : float
    filled_ml : float
        Filler needed.
    filled : tuple of str
        Defects to fill.
    """

    placement: Placement | None
    reason: str = ""
    region: Region
    angle_deg: float
    filled_ml: float = 0.0
    filled: tuple[str, ...] = ()


def place_part(
    part: Part,
    blank: Blank,
    settings: Settings,
    *,
    taken: Sequence[TakenPart] = (),
    order: str = "",
    copy: int = 1,
    accept: Callable[[Placement], bool] | None = None,
) -> PlaceAnswer:
    """Find the best place for a part in a blank.

    Parameters
    ----------
    part : Part
    blank : Blank
    settings : Settings
    taken : sequence of (Part, Placement)
        Parts that already lie in the blank.
    order, copy
        For the placement's record.
    accept : callable, optional
        Called with placements in order of preference; the first accepted is returned.

    Returns
    -------
    PlaceAnswer
    """
    spare = spare_thickness_mm(part, blank.thickness_mm)
    refused = False
    for group in _by_preference(ways(part, blank.grain_deg)):
        found: list[tuple[tuple[float, ...], Placement, Problem, FinePaths]] = []
        for way, angle in group:
            facing = Facing(front_up=way.front_up, top_off_mm=spare / 2)
            problem = build(part, blank, settings, facing, taken)
            paths = allowed_fine(problem, angle, way.mirrored) or contact_fine(problem, angle, way.mirrored)
            if not paths:
                continue
            checker = Checker(problem)
            for score, x, y in _places(problem, paths, angle, way.mirrored, blank, taken, settings):
                if checker.clash(angle, way.mirrored, x, y):
                    continue
                at = Placement(
                    part=part.name,
                    order=order,
                    copy=copy,
                    angle_deg=angle,
                    mirrored=way.mirrored,
                    x_um=x,
                    y_um=y,
                    front_up=way.front_up,
                )
                found.append((score, at, problem, paths))
        found.sort(key=lambda f: f[0])
        for _, at, problem, paths in found:
            ml, names = filled_ml(problem, at.angle_deg, at.mirrored, at.x_um, at.y_um)
            if part.fill_limit_ml is not None and ml > part.fill_limit_ml:
                continue
            if accept is not None and not accept(at):
                refused = True
                continue
            return PlaceAnswer(
                placement=at, region=coarse(paths), angle_deg=at.angle_deg, filled_ml=ml, filled=names
            )
    reason = "no place that the bed takes" if refused else _why(part, blank, settings)
    return PlaceAnswer(placement=None, reason=reason, region=[], angle_deg=0.0)


def _by_preference(all_ways: Sequence[Way]) -> Iterator[list[tuple[Way, float]]]:
    """Angles in groups: grain along grain first, then farther and farther off."""
    per_way = [way.angles(2) for way in all_ways]
    yield [(way, angles[0]) for way, angles in zip(all_ways, per_way)]
    rest = [(way, a) for way, angles in zip(all_ways, per_way) for a in angles[1:]]
    if rest:
        yield rest


def _places(
    problem: Problem,
    paths: FinePaths,
    angle: float,
    mirrored: bool,
    blank: Blank,
    taken: Sequence[TakenPart],
    settings: Settings,
) -> list[tuple[tuple[float, ...], int, int]]:
    """Corners of the allowed region, best first: (score, x, y)."""
    box = bounds([flatten(blank.shape.outer, settings.chord_error_mm, "inside")])
    outline = place(problem.shape.outline, angle, mirrored)
    used = [bounds([outline_of(p, at, settings)]) for p, at in taken]
    corners = np.unique(np.concatenate([np.rint(p / FINE).astype(np.int64) for p in paths]), axis=0)
    x0, y0, x1, y1 = bounds([outline])
    scored: list[tuple[tuple[float, ...], int, int]] = []
    for x, y in corners.tolist():
        boxes = [*used, (x0 + x, y0 + y, x1 + x, y1 + y)]
        left = min(b[0] for b in boxes) - box[0]
        right = box[2] - max(b[2] for b in boxes)
        below = min(b[1] for b in boxes) - box[1]
        above = box[3] - max(b[3] for b in boxes)
        strip = max(max(left, right) * (box[3] - box[1]), max(below, above) * (box[2] - box[0]))
        scored.append(
            ((-float(strip), float(min(left, right) + min(below, above)), float(x), float(y)), x, y)
        )
    scored.sort()
    return scored[:_OFFERED]


def outline_of(part: Part, at: Placement, settings: Settings) -> IntPoly:
    """Return a placed part's outline on the grid, blank coordinates."""
    shape = part_shape(part, settings.chord_error_mm)
    return place(shape.outline, at.angle_deg, at.mirrored, at.x_um, at.y_um)


def _why(part: Part, blank: Blank, settings: Settings) -> str:
    length, width = size_mm(part_shape(part, settings.chord_error_mm).outline)
    x0, y0, x1, y1 = bounds([flatten(blank.shape.outer, settings.chord_error_mm, "inside")])
    return (
        f"outline {length:.1f} x {width:.1f} mm finds no place in {blank.name} "
        f"({(x1 - x0) / 1000:.1f} x {(y1 - y0) / 1000:.1f} mm), margin {settings.blank_margin_mm:g} mm"
    )
