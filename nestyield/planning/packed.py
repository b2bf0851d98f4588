"""Many parts on one blank by the search of ``nesting``, checked part by part as any other layout."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from nestyield.geometry.boolean import coarse
from nestyield.geometry.grid import UM_PER_MM, Region
from nestyield.model import Part, Placement
from nestyield.nesting.sheet import Sheet, SheetItem, SheetPlace, nest
from nestyield.placement.candidates import ways
from nestyield.placement.check import Checker
from nestyield.placement.depth import Facing, facings
from nestyield.placement.parts import part_shape
from nestyield.placement.problem import Problem, build
from nestyield.placement.region import allowed_fine
from nestyield.planning.lay import BedTaker, Bench, Laid

#: Evaluations of the search for each step of effort.
EVALUATIONS = 150_000
#: Gaps of the search are taken this much wider, for the rounding of turned outlines, micrometres.
GAP_MORE_UM = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class _Turn:
    """One way to lay one want, planed evenly."""

    angle_deg: float
    mirrored: bool
    facing: Facing
    problem: Problem


def pack(bench: Bench, counts: Mapping[int, int], effort: int, seed: int) -> Laid:
    """Lay as much as will go of some wants on an empty blank.

    Parameters
    ----------
    bench : Bench
    counts : mapping of int to int
        Copies of each want, all of one thickness.
    effort, seed : int

    Returns
    -------
    Laid
        Every placement has been checked against the blank, the parts before it and the beds; those that do
        not pass are left out.
    """
    wants = [w for w, n in counts.items() if n > 0]
    turns = {w: _turns(bench, w) for w in wants}
    wants = [w for w in wants if turns[w]]
    if not wants:
        return ()
    regions = {
        (k, turn.angle_deg, turn.mirrored): coarse(allowed_fine(turn.problem, turn.angle_deg, turn.mirrored))
        for k, w in enumerate(wants)
        for turn in turns[w]
    }
    found = nest(
        [
            SheetItem(
                name=bench.part(w).name,
                outline=[part_shape(bench.part(w), bench.shop.settings.chord_error_mm).outline],
                count=counts[w],
                ways=tuple((t.angle_deg, t.mirrored) for t in turns[w]),
            )
            for w in wants
        ],
        [Sheet(name=bench.blank.name, region=_ground(turns[wants[0]][0].problem))],
        goal="value",
        gap_um=round(bench.shop.settings.gap_mm * UM_PER_MM) + GAP_MORE_UM,
        allowed=lambda item, way, sheet: regions[(item, *way)],
        seed=seed,
        effort=EVALUATIONS * effort,
        workers=1,
    )
    return _checked(bench, wants, turns, found.places)


def _turns(bench: Bench, want: int) -> list[_Turn]:
    """Return the ways to lay a want that the search chooses from: grain along grain, each once."""
    part, settings = bench.part(want), bench.shop.settings
    out: list[_Turn] = []
    for way in ways(part, bench.blank.grain_deg):
        facing = facings(part, bench.blank, settings.planing_mm, way.front_up)[0]
        problem = build(part, bench.blank, settings, facing)
        for angle in way.angles(1)[: 4 if way.tolerance_deg >= 180.0 else 1]:
            if all((angle, way.mirrored) != (t.angle_deg, t.mirrored) for t in out):
                out.append(_Turn(angle_deg=angle, mirrored=way.mirrored, facing=facing, problem=problem))
    return out


def _ground(problem: Problem) -> Region:
    return list(problem.container)


def _checked(
    bench: Bench, wants: Sequence[int], turns: Mapping[int, Sequence[_Turn]], places: Sequence[SheetPlace]
) -> Laid:
    laid: Laid = ()
    settings = bench.shop.settings
    for place in sorted(places, key=lambda p: (p.x_um, p.y_um, p.item)):
        want = wants[place.item]
        turn = next(t for t in turns[want] if (t.angle_deg, t.mirrored) == (place.angle_deg, place.mirrored))
        part: Part = bench.part(want)
        taken = [(bench.part(w), at) for w, at in laid]
        checker = Checker(build(part, bench.blank, settings, turn.facing, taken))
        if checker.clash(place.angle_deg, place.mirrored, place.x_um, place.y_um):
            continue
        at = Placement(
            part=part.name,
            order="",
            copy=1,
            angle_deg=place.angle_deg,
            mirrored=place.mirrored,
            x_um=place.x_um,
            y_um=place.y_um,
            front_up=turn.facing.front_up,
        )
        if bench.shop.beds and not BedTaker(bench=bench, laid=laid, want=want).takes(at):
            continue
        laid = (*laid, (want, at))
    return laid
