"""Place one part in one blank: the best place, or the proof that there is none."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Literal, Protocol

from nestyield.geometry.boolean import SubgridPaths, combine, holds_point, to_grid
from nestyield.geometry.flatten import flatten
from nestyield.geometry.grid import CONTACT_TOL_UM, UM_PER_MM, IntPoly, Region, area_um2, bounds
from nestyield.model import (
    AngleInterval,
    Blank,
    Certificate,
    Part,
    Placement,
    ProofBranch,
    Settings,
)
from nestyield.model.facts import NoPlace, NoPlaceForBed, TooMuchFiller
from nestyield.model.micrometers import nearest_um
from nestyield.model.pose import Pose
from nestyield.placement.candidates import orientations
from nestyield.placement.check import Checker, filled_ml, most_filled_ml, reaches_past
from nestyield.placement.constraint import Constraint
from nestyield.placement.contact import contact_subgrid
from nestyield.placement.depth import ThicknessSplit, thickness_splits
from nestyield.placement.parts import part_shape, size_mm
from nestyield.placement.prefer import Score, Wishes, places
from nestyield.placement.problem import FlattenedInputs, PlacementProblem, TakenPart
from nestyield.placement.region import feasible_region
from nestyield.placement.tearout import short_grain_share
from nestyield.placement.turning import AngleSearch, Branch, Outcome, has_arcs, off_grid

Verdict = Literal["placed", "infeasible", "tight", "undecided"]

#: A place with less than this to spare need not be found, millimeters.
WITHIN_MM = 0.05
#: Most regions computed in the search over all angles.
LIMIT = 2000
# Chord error at which a place found with chords for arcs is checked, and what rounding adds, mm and um.
_CHECK_CHORD_MM = 0.0004
_CHECK_MORE_UM = 1.0
# Vertices of the part times those of its container for which fits with no play are tried so closely.
_MOST_CORNERS = 1_000_000
# Most places offered at one angle.
_OFFERED = 60
# Most defects of which every choice that keeps the limit of filler is tried.
_MOST_FILLED = 5


#: How much of what is wanted, but not demanded, a place goes without; smaller is better, none is zeros.
Unkept = tuple[int, ...]


class Wanted(Protocol):
    """Narrows the places at one angle to those that keep more of what is wanted, but not demanded."""

    def narrowed(
        self, paths: SubgridPaths, angle_deg: float, mirrored: bool, split: ThicknessSplit
    ) -> tuple[Unkept, SubgridPaths]:
        """Return what goes unkept in the best of a region, and that of it; empty when it is not worth it."""
        ...

    def unkept(self, placement: Placement) -> Unkept:
        """Return what a placement goes without."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceAnswer:
    """Where a part goes in a blank, or why it does not.

    Parameters
    ----------
    placement : Placement or None
    refusal : NoPlace, TooMuchFiller, NoPlaceForBed or None
        None when there is a placement.
    region : Region
        All allowed shifts at the chosen angle, micrometers.
    angle_deg : float
    filled_ml : float
        Filler needed.
    filled : tuple of str
        Defects to fill.
    verdict : {"placed", "infeasible", "tight", "undecided"}
        Infeasible: no placement exists. Tight: none with ``WITHIN_MM`` to spare. Undecided: effort limit, or the
        only places need too much filler or are refused by the bed.
    certificate : Certificate or None
        For ``infeasible`` and ``tight`` on a blank with nothing else on it.
    open_deg : (float, float) or None
        Widest interval of angles without an answer.
    steps : int
        Regions computed by the search over all angles.
    """

    placement: Placement | None
    refusal: NoPlace | TooMuchFiller | NoPlaceForBed | None = None
    region: Region
    angle_deg: float
    filled_ml: float = 0.0
    filled: tuple[str, ...] = ()
    verdict: Verdict = "undecided"
    certificate: Certificate | None = None
    open_deg: tuple[float, float] | None = None
    steps: int = 0


def place_part(
    part: Part,
    blank: Blank,
    settings: Settings,
    *,
    taken: Sequence[TakenPart] = (),
    order: str = "",
    copy: int = 1,
    accept: Callable[[Placement], bool] | None = None,
    allowed: Callable[[Placement], SubgridPaths | None] | None = None,
    within_mm: float = WITHIN_MM,
    limit: int | None = None,
    constraints: Sequence[Constraint] = (),
    wanted: Wanted | None = None,
) -> PlaceAnswer:
    """Find the best place for a part in a blank, or prove that there is none.

    First the angles nearest to the grain are tried; then all angles by halving intervals. When every place
    that comes up needs more filler than the part's limit, the question is asked again with some defects left
    unfilled, so that the others keep the limit even when filled whole. What this may miss is a place that
    keeps the limit only because it holds no more than a part of a defect.

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
    allowed : callable, optional
        Called with a placement that was not accepted; returns the shifts at its angle and face that may be, on the
        subgrid, or None when that is not known. Places there are tried when none of the first was accepted.
    within_mm : float
        A place with less than this to spare need not be found, above 0.
    limit : int, optional
        Most regions computed in the search over all angles; by default 2000 on an empty blank, none beside
        other parts.
    constraints : sequence of Constraint
        Pairs of regions that must stay clear of each other beside what the model demands.
    wanted : Wanted, optional
        Among the places at the angles nearest to the grain, one that keeps most of it comes first.

    Returns
    -------
    PlaceAnswer
    """
    if limit is None:
        limit = 0 if taken else LIMIT
    single = SinglePart(
        part,
        blank,
        settings,
        taken,
        order,
        copy,
        accept,
        constraints=constraints,
        wanted=wanted,
        allowed=allowed,
    )
    answer = single.answer(within_mm, limit)
    if answer.placement is None and single.too_full:
        for unfilled in single.left_unfilled():
            fewer = SinglePart(
                part, blank, settings, taken, order, copy, accept, unfilled, constraints, wanted, allowed
            )
            other = fewer.answer(within_mm, limit)
            if other.placement is not None:
                return other
    return answer


#: A branch, an angle, the problem there and its feasible shifts on the subgrid.
_Near = tuple[int, float, PlacementProblem, SubgridPaths]


class SinglePart:
    """One question, with what is worked out once."""

    def __init__(
        self,
        part: Part,
        blank: Blank,
        settings: Settings,
        taken: Sequence[TakenPart],
        order: str,
        copy: int,
        accept: Callable[[Placement], bool] | None,
        unfilled: frozenset[str] = frozenset(),
        constraints: Sequence[Constraint] = (),
        wanted: Wanted | None = None,
        allowed: Callable[[Placement], SubgridPaths | None] | None = None,
    ) -> None:
        self.allowed = allowed
        self._within: dict[tuple[float, bool], SubgridPaths] = {}
        self.unfilled, self.constraints, self.wanted = unfilled, constraints, wanted
        self.part, self.blank, self.settings, self.taken = part, blank, settings, taken
        self.order, self.copy, self.accept = order, copy, accept
        self.inputs = FlattenedInputs(
            part, blank, settings, taken, unfilled=unfilled, constraints=constraints
        )
        self.branches = branches(part, blank, settings, taken, self.inputs)
        self.weights = settings.prefer
        self.box = bounds([flatten(blank.shape.outer, settings.chord_error_mm, "inside")])
        self.used = [bounds([outline_of(p, at, settings)]) for p, at in taken]
        self.had_room = self.refused = self.too_full = False
        self._answer: PlaceAnswer | None = None
        self._problems: dict[ThicknessSplit, PlacementProblem] = {}
        self._fine_problems: dict[ThicknessSplit, PlacementProblem] = {}

    def answer(self, within_mm: float, limit: int) -> PlaceAnswer:
        """Answer by the angles near the grain, then by all angles."""
        search = self.search(within_mm, limit) if limit > 0 else None
        found = self.near_grain(search)
        if found is not None:
            return found
        if search is None or self.had_room:
            return PlaceAnswer(placement=None, refusal=self.why(), region=[], angle_deg=0.0)
        return self.all_angles(search, within_mm)

    def left_unfilled(self) -> list[frozenset[str]]:
        """Sets of defects to leave unfilled so that the rest, filled whole, keeps the limit; smallest first.

        Of more than ``_MOST_FILLED`` defects that may be filled all are left unfilled.
        """
        most_ml: dict[str, float] = {}
        for split in sorted({b.split for b in self.branches}, key=lambda f: (f.front_up, f.top_off_mm)):
            here: dict[str, float] = {}
            for f in self.problem(split).fillings:
                ml = area_um2(f.fixed) / UM_PER_MM**2 * f.depth_mm / UM_PER_MM
                here[f.defect.name] = here.get(f.defect.name, 0.0) + ml
            most_ml.update({n: max(ml, most_ml.get(n, 0.0)) for n, ml in here.items()})
        names = sorted(most_ml)
        if len(names) > _MOST_FILLED:
            return [frozenset(names)]
        limit, out = self.part.fill_limit_ml or 0.0, list[frozenset[str]]()
        for count in range(1, len(names) + 1):
            for some in combinations(names, count):
                fits = sum(most_ml[n] for n in names if n not in some) <= limit
                if fits and not any(smaller <= set(some) for smaller in out):
                    out.append(frozenset(some))
        return out

    def near_grain(self, search: AngleSearch | None) -> PlaceAnswer | None:
        """Try grain along grain, then a few angles of the tolerance.

        When a search over all angles follows, ways that it rules out at a glance are left out
        after the first look, and fits with no play are left to it.
        """
        best: tuple[Unkept, PlaceAnswer] | None = None
        for n, group in enumerate(self.groups()):
            if search is not None and n > 0:
                ruled_out = {k: search.ruled_out(k) for k in sorted({k for k, _ in group})}
                group = [(k, a) for k, a in group if not ruled_out[k]]
            answer = self._best_of(group, feasible_region)
            if answer is None and search is None:
                answer = self._beside(group)
            if answer is None:
                continue
            if self.wanted is None or answer.placement is None:
                return answer
            unkept = self.wanted.unkept(answer.placement)
            if best is None or unkept < best[0]:
                best = unkept, answer
            if not any(unkept):
                break
        return best[1] if best is not None else None

    def _no_play(self, tight: list[tuple[int, float, float]]) -> bool:
        """Try the same angles for fits with no play, where some angle nearby leaves next to no room.

        Where there are arcs the angles are tried once more with chords that hardly differ from them: an arc
        that touches a straight edge has more than that edge to itself when it is drawn with coarser ones.
        """
        problems = [self.problem]
        if has_arcs(self.part, self.blank, self.taken):
            problems.append(self._fine_problem)
        for problem in problems:
            for group in self.groups():
                near = [
                    (k, a)
                    for k, a in group
                    if any(b == k and low - 1e-9 <= a <= high + 1e-9 for b, low, high in tight)
                ]
                self._answer = self._best_of(near, contact_subgrid, problem)
                if self._answer is not None:
                    return True
        return False

    def _beside(self, group: list[tuple[int, float]]) -> PlaceAnswer | None:
        """The best place with no play at any of some angles, beside other parts.

        Closely only at angles at which the part would have room if all arcs were a little smaller and nothing were
        rounded against it.
        """
        answer = self._best_of(group, contact_subgrid)
        arcs = has_arcs(self.part, self.blank, self.taken)
        if answer is not None or not (arcs or off_grid(self.part, self.blank)):
            return answer

        def lenient(chord_error_mm: float | None = None) -> FlattenedInputs:
            return FlattenedInputs(
                self.part,
                self.blank,
                self.settings,
                self.taken,
                "lenient",
                tighter_mm=-CONTACT_TOL_UM / 2.0 / UM_PER_MM,
                chord_error_mm=chord_error_mm,
                unfilled=self.unfilled,
                constraints=self.constraints,
            )

        def regions(of: FlattenedInputs, some: list[tuple[int, float]]) -> list[_Near]:
            out = []
            for k, a in some:
                problem = of.problem(self.branches[k].split)
                if _corners(problem) > _MOST_CORNERS:
                    continue
                mirrored = self.branches[k].orientation.mirrored
                paths = feasible_region(problem, a, mirrored) or contact_subgrid(problem, a, mirrored)
                if paths:
                    out.append((k, a, problem, paths))
            return out

        near = [(k, a) for k, a, _, _ in regions(lenient(), group)]
        if not near:
            return None
        if arcs:
            answer = self._best_of(near, contact_subgrid, self._fine_problem)
        if answer is None and any(
            self._take(*found, True) for found in regions(lenient(_CHECK_CHORD_MM), near)
        ):
            answer, self._answer = self._answer, None
        return answer

    def _fine_problem(self, split: ThicknessSplit) -> PlacementProblem:
        """Return the problem with chords that hardly differ from their arcs; the usual one when they are too many."""
        if split not in self._fine_problems:
            problem = self._fine().problem(split)
            many = _corners(problem) > _MOST_CORNERS
            self._fine_problems[split] = self.problem(split) if many else problem
        return self._fine_problems[split]

    def _fine(self) -> FlattenedInputs:
        """Return the inputs with chords that hardly differ from their arcs."""
        return FlattenedInputs(
            self.part,
            self.blank,
            self.settings,
            self.taken,
            chord_error_mm=_CHECK_CHORD_MM,
            unfilled=self.unfilled,
            constraints=self.constraints,
        )

    def _best_of(
        self,
        group: list[tuple[int, float]],
        region: Callable[[PlacementProblem, float, bool], SubgridPaths],
        problem_of: Callable[[ThicknessSplit], PlacementProblem] | None = None,
    ) -> PlaceAnswer | None:
        """The best place at any of some angles."""
        found: list[tuple[Score, int, Placement, PlacementProblem, SubgridPaths]] = []
        for k, angle in group:
            branch = self.branches[k]
            problem = (problem_of or self.problem)(branch.split)
            paths = region(problem, angle, branch.orientation.mirrored)
            if paths:
                found += self._offers(k, angle, problem, paths)
        found.sort(key=lambda f: f[:2])
        for _, _, at, problem, paths in found:
            answer = self.settled(at, problem, paths)
            if answer is not None:
                return answer
        regions = {(k, at.angle_deg): (problem, paths) for _, k, at, problem, paths in found}
        more = [offer for key, of in regions.items() for offer in self._more_offers(*key, *of)]
        for _, _, at, problem, paths in sorted(more, key=lambda f: f[:2]):
            answer = self.settled(at, problem, paths)
            if answer is not None:
                return answer
        return None

    def _may_be(self, at: Placement) -> bool:
        """Tell whether a placement may be accepted, as far as is known."""
        within = self._within.get((at.angle_deg, at.mirrored))
        return within is None or holds_point(within, at.x_um, at.y_um)

    def _more_offers(
        self, k: int, angle_deg: float, problem: PlacementProblem, paths: SubgridPaths
    ) -> list[tuple[Score, int, Placement, PlacementProblem, SubgridPaths]]:
        """Places at one angle that may be accepted, best first, after others were not; none when that is not known."""
        within = self._within.get((angle_deg, self.branches[k].orientation.mirrored))
        kept = combine("intersection", paths, within) if within else []
        if not kept:
            return []
        return [(s, j, at, problem, paths) for s, j, at, _, _ in self._offers(k, angle_deg, problem, kept)]

    def search(self, within_mm: float, limit: int) -> AngleSearch:
        """Return the search over all allowed angles, not yet begun."""
        return AngleSearch(
            self.branches,
            self.part,
            self.blank,
            self.settings,
            self.taken,
            within_mm=within_mm,
            limit=limit,
            take=self._take,
            unfilled=self.unfilled,
            constraints=self.constraints,
            contact=self._no_play,
        )

    def all_angles(self, search: AngleSearch, within_mm: float) -> PlaceAnswer:
        """Search all allowed angles."""
        outcome = search.run()
        if self._answer is not None:
            return _with_steps(self._answer, outcome.steps)
        verdict: Verdict = "infeasible"
        widest = None
        if outcome.open_ or self.refused or self.too_full:
            verdict = "undecided"
            spans = [(b - a, -k, a, b) for k, a, b in outcome.open_]
            widest = max(spans)[2:] if spans else None
        elif any(leaf.kind == "tight" for leaf in outcome.leaves):
            verdict = "tight"
        proof = None
        if verdict != "undecided" and not self.taken:
            proof = self._certificate(outcome, search.center_um, within_mm)
        return PlaceAnswer(
            placement=None,
            refusal=self.why(),
            region=[],
            angle_deg=0.0,
            verdict=verdict,
            certificate=proof,
            open_deg=widest,
            steps=outcome.steps,
        )

    def groups(self) -> Iterator[list[tuple[int, float]]]:
        """Angles in groups: grain along grain first, then farther and farther off."""
        if self.weights.short_grain > 0:
            yield [(k, a) for k, b in enumerate(self.branches) for a in b.orientation.angles(2)]
            return
        yield [(k, b.orientation.angles(2)[0]) for k, b in enumerate(self.branches)]
        rest = [(k, a) for k, b in enumerate(self.branches) for a in b.orientation.angles(2)[1:]]
        if rest:
            yield rest

    def problem(self, split: ThicknessSplit) -> PlacementProblem:
        """Return what must stay clear of what for one way through the thickness."""
        if split not in self._problems:
            self._problems[split] = self.inputs.problem(split)
        return self._problems[split]

    def _offers(
        self, k: int, angle_deg: float, problem: PlacementProblem, paths: SubgridPaths
    ) -> list[tuple[Score, int, Placement, PlacementProblem, SubgridPaths]]:
        """Places at one angle as placements, best first."""
        branch = self.branches[k]
        outline = Pose(angle_deg=angle_deg, mirrored=branch.orientation.mirrored).on_grid(
            problem.shape.outline
        )
        grain = self.blank.grain_deg
        short = short_grain_share(outline / UM_PER_MM, grain) if self.weights.short_grain else 0.0
        wishes = Wishes(self.weights, outline, self.box, self.used, grain, short)
        unkept: Unkept = ()
        kept = paths
        if self.wanted is not None:
            unkept, kept = self.wanted.narrowed(paths, angle_deg, branch.orientation.mirrored, branch.split)
        spots = places(kept, wishes.score, _OFFERED) if kept else []
        return [
            ((*unkept, *score), k, self.placement(k, angle_deg, x, y), problem, paths)
            for score, x, y in spots
        ]

    def placement(self, k: int, angle_deg: float, x: int, y: int) -> Placement:
        """Return the placement of a branch at an angle and a shift, micrometers."""
        branch = self.branches[k]
        even = (self.blank.thickness_mm - self.part.thickness_mm) / 2
        top_off = branch.split.top_off_mm
        return Placement(
            part=self.part.name,
            order=self.order,
            copy=self.copy,
            angle_deg=angle_deg,
            mirrored=branch.orientation.mirrored,
            x_um=x,
            y_um=y,
            front_up=branch.orientation.front_up,
            top_off_mm=None if abs(top_off - max(even, 0.0)) < 1e-9 else top_off,
        )

    def settled(self, at: Placement, problem: PlacementProblem, paths: SubgridPaths) -> PlaceAnswer | None:
        """Check a placement, its filler and the caller's word."""
        if not self._may_be(at) or Checker.of(problem).clash(Pose.of(at)):
            return None
        return self._accepted(at, problem, paths)

    def _accepted(self, at: Placement, problem: PlacementProblem, paths: SubgridPaths) -> PlaceAnswer | None:
        """Answer with a placement that holds, if its filler and the caller allow it."""
        self.had_room = True
        limit = self.part.fill_limit_ml
        if limit is not None and most_filled_ml(problem) > limit < filled_ml(problem, Pose.of(at))[0]:
            self.too_full = True
            return None
        if self.accept is not None and not self.accept(at):
            self.refused = True
            key = (at.angle_deg, at.mirrored)
            if self.allowed is not None and key not in self._within:
                within = self.allowed(at)
                if within is not None:
                    self._within[key] = within
            return None
        ml, names = filled_ml(problem, Pose.of(at))
        return PlaceAnswer(
            placement=at,
            region=to_grid(paths),
            angle_deg=at.angle_deg,
            filled_ml=ml,
            filled=names,
            verdict="placed",
        )

    def _take(
        self, k: int, angle_deg: float, problem: PlacementProblem, paths: SubgridPaths, arcs: bool
    ) -> bool:
        """Settle the search on a region if a place in it passes; with arcs as chords, by the true curves."""
        if not arcs:
            for offers in (self._offers, self._more_offers):
                for _, _, at, _, _ in offers(k, angle_deg, problem, paths):
                    self._answer = self.settled(at, problem, paths)
                    if self._answer is not None:
                        return True
            return False
        strict = self._fine().problem(self.branches[k].split)
        checker = Checker.of(strict, _CHECK_MORE_UM)
        edge = self.blank.shape.outer
        margin = self.settings.blank_margin_mm + self.blank.measured_mm
        for _, _, at, _, _ in self._offers(k, angle_deg, problem, paths):
            if not self._may_be(at) or reaches_past(self.part.outline, edge, margin, at, CONTACT_TOL_UM):
                continue
            if not checker.over(Pose.of(at)):
                self._answer = self._accepted(at, strict, paths)
                if self._answer is not None:
                    return True
        return False

    def _certificate(self, outcome: Outcome, center: tuple[float, float], within_mm: float) -> Certificate:
        made = []
        for k, branch in enumerate(self.branches):
            intervals = tuple(
                AngleInterval(from_deg=f.from_deg, to_deg=f.to_deg, kind=f.kind)
                for f in outcome.leaves
                if f.branch == k
            )
            made.append(
                ProofBranch(
                    front_up=branch.orientation.front_up,
                    mirrored=branch.orientation.mirrored,
                    top_off_mm=branch.split.top_off_mm,
                    intervals=intervals,
                )
            )
        return Certificate(
            part=self.part.name,
            blank=self.blank.name,
            within_mm=within_mm,
            center_um=center,
            branches=tuple(made),
            steps=outcome.steps,
        )

    def why(self) -> NoPlace | TooMuchFiller | NoPlaceForBed:
        """Return why there is no placement."""
        name = self.blank.name
        if self.refused:
            return NoPlaceForBed(piece=name)
        if self.too_full and self.part.fill_limit_ml is not None:
            return TooMuchFiller(piece=name, limit_ml=self.part.fill_limit_ml)
        length_mm, width_mm = size_mm(part_shape(self.part, self.settings.chord_error_mm).outline)
        x0, y0, x1, y1 = self.box
        return NoPlace(
            piece=name,
            length_um=nearest_um(length_mm),
            width_um=nearest_um(width_mm),
            piece_length_um=int(x1 - x0),
            piece_width_um=int(y1 - y0),
            margin_um=nearest_um(self.settings.blank_margin_mm),
            measured_um=nearest_um(self.blank.measured_mm),
        )


def _corners(problem: PlacementProblem) -> int:
    """Return the vertices of a part times those of all that it must fit or avoid."""
    fixed = [*problem.container, *(r for o in problem.obstacles for r in o.fixed)]
    return len(problem.shape.outline) * sum(map(len, fixed))


def _with_steps(answer: PlaceAnswer, steps: int) -> PlaceAnswer:
    return replace(answer, steps=steps)


def branches(
    part: Part, blank: Blank, settings: Settings, taken: Sequence[TakenPart], inputs: FlattenedInputs
) -> tuple[Branch, ...]:
    """Return every way to lay the part and plane the blank that may be better than another.

    A choice of planing is left out when the wood that minds each defect is no less than for another choice
    of the same faces; beside parts that lie there, the blank is planed as they say.
    """
    out: list[Branch] = []
    fixed = [at.top_off_mm for _, at in taken]
    for way in orientations(part, blank.grain_deg):
        kept: list[tuple[ThicknessSplit, list[float]]] = []
        choices = thickness_splits(part, blank, settings.planing_mm, way.front_up)
        if fixed and fixed[0] is None:
            choices = choices[:1]
        elif fixed and fixed[0] is not None:
            choices = (ThicknessSplit(front_up=way.front_up, top_off_mm=fixed[0]),)
        for split in choices:
            minded = inputs.minded(split)
            if not any(all(a <= b for a, b in zip(other, minded)) for _, other in kept):
                kept = [(f, m) for f, m in kept if not all(a <= b for a, b in zip(minded, m))]
                kept.append((split, minded))
        out += [Branch(way, split) for split, _ in kept]
    return tuple(out)


def outline_of(part: Part, at: Placement, settings: Settings) -> IntPoly:
    """Return a placed part's outline on the grid, blank coordinates."""
    shape = part_shape(part, settings.chord_error_mm)
    return Pose.of(at).on_grid(shape.outline)
