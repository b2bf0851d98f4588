"""One part and one blank as regions: what must hold the outline, and what must stay clear of what."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from nestyield.geometry.boolean import difference, union
from nestyield.geometry.flatten import flatten, flatten_shape, opposite
from nestyield.geometry.grid import UM_PER_MM, Region, area_um2, ring_area_um2
from nestyield.geometry.offset import OffsetSide, grow, shrink
from nestyield.model import Blank, Defect, Part, Placement, Settings, Verdict
from nestyield.model.pose import Pose
from nestyield.placement.constraint import Constraint, constraints_on
from nestyield.placement.depth import Span, ThicknessSplit, defect_span, layers, wood_that_stays
from nestyield.placement.parts import PART_SIDE, PartShape, Rounding, part_shape

TakenPart = tuple[Part, Placement]
# Rounded corners of margins and gaps lie this close to their arcs, micrometers.
_ARC_TOL_UM = 1.0
_MINDING: tuple[Verdict, ...] = ("refused", "filled")


@dataclass(frozen=True, slots=True, kw_only=True)
class Obstacle:
    """Something of the blank that a region of the part must stay clear of.

    Parameters
    ----------
    names : tuple of str
    fixed : Region
        Blank coordinates.
    moving : Region
        Drawing coordinates of the part.
    """

    names: tuple[str, ...]
    fixed: Region
    moving: Region


@dataclass(frozen=True, slots=True, kw_only=True)
class FilledZone:
    """A defect that may be filled, and the wood that would hold it in one layer of the part's thickness."""

    defect: Defect
    fixed: Region
    moving: Region
    depth_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacementProblem:
    """All that decides whether a part may lie somewhere, for one choice of faces.

    Parameters
    ----------
    part : Part
    shape : PartShape
    split : ThicknessSplit
    container : Region
        Where the outline may lie, margin taken off; holes of the blank are obstacles.
    obstacles : tuple of Obstacle
    fillings : tuple of FilledZone
    """

    part: Part
    shape: PartShape
    split: ThicknessSplit
    container: Region
    obstacles: tuple[Obstacle, ...]
    fillings: tuple[FilledZone, ...]


def with_openings(shape: PartShape) -> Region:
    """Return the outline with the openings that lie wholly inside it as holes."""
    if not shape.openings:
        return [shape.outline]
    left = difference([shape.outline], shape.openings)
    return [shape.outline, *(r for r in left if ring_area_um2(r) < 0)]


class FlattenedInputs:
    """A part and a blank, flattened once; gives the problem for each choice of faces.

    Parameters
    ----------
    part : Part
    blank : Blank
    settings : Settings
    taken : sequence of (Part, Placement)
        Parts that already lie in the blank.
    rounding : {"safe", "lenient", "even"}
        Which way flattening and rounding err.
    tighter_mm : float
        Slack asked for on top of every margin, gap and defect; below 0 so much less of a margin and of a gap.
    chord_error_mm : float, optional
        Instead of the setting's.
    unfilled : set of str
        Names of defects that are not to be filled, though the part would bear it.
    constraints : sequence of Constraint
        Of the caller; those about this part and this piece hold.
    """

    def __init__(
        self,
        part: Part,
        blank: Blank,
        settings: Settings,
        taken: Sequence[TakenPart] = (),
        rounding: Rounding = "safe",
        *,
        tighter_mm: float = 0.0,
        chord_error_mm: float | None = None,
        unfilled: frozenset[str] = frozenset(),
        constraints: Sequence[Constraint] = (),
    ) -> None:
        self._unfilled = unfilled
        error = settings.chord_error_mm if chord_error_mm is None else chord_error_mm
        self.part, self.blank, self.rounding, self._error_mm = part, blank, rounding, error
        self.shape = part_shape(part, error, rounding)
        side = PART_SIDE[rounding]
        # Offsets have no side between: even inputs err as safe ones do.
        grow_side: OffsetSide = "inside" if rounding == "lenient" else "outside"
        shrink_side: OffsetSide = "outside" if rounding == "lenient" else "inside"
        more = tighter_mm * UM_PER_MM
        unsure = blank.measured_mm * UM_PER_MM
        margin = max(0.0, settings.blank_margin_mm * UM_PER_MM + unsure + more)
        edge = flatten(blank.shape.outer, error, opposite(side))
        self.container = shrink([edge], margin, shrink_side, _ARC_TOL_UM)
        self._solid: list[Obstacle] = []
        if blank.shape.holes:
            holes = union(*([flatten(h, error, side)] for h in blank.shape.holes))
            self._add(("hole",), grow(holes, margin, grow_side, _ARC_TOL_UM), with_openings(self.shape))
        if taken:
            gap = max(0.0, settings.gap_mm * UM_PER_MM + more)
            rings = [Pose.of(at).on_grid(part_shape(p, error, rounding).outline) for p, at in taken]
            fixed = union(*(grow([r], gap, grow_side, _ARC_TOL_UM) for r in rings))
            self._add(("other parts",), fixed, [self.shape.outline])
        metal = [d for d in blank.defects if d.traits.metal]
        if metal:
            clear = settings.cutter_diameter_mm * UM_PER_MM + unsure + more
            regions = [flatten_shape(d.shape, error, side) for d in metal]
            fixed = union(*(grow(r, clear, grow_side, _ARC_TOL_UM) for r in regions))
            self._add(tuple(d.name for d in metal), fixed, [self.shape.outline])
        for c in constraints_on(constraints, part.name, blank):
            fixed = grow(flatten_shape(c.fixed, error, side), max(0.0, more), grow_side)
            self._add((c.name,), fixed, flatten_shape(c.moving, error, side))
        self._defects = [
            (d, grow(flatten_shape(d.shape, error, side), max(0.0, more + unsure), grow_side, _ARC_TOL_UM))
            for d in blank.defects
            if not d.traits.metal
        ]

    def _add(self, names: tuple[str, ...], fixed: Region, moving: Region) -> None:
        if fixed:
            self._solid.append(Obstacle(names=names, fixed=fixed, moving=moving))

    def wood(self, kind: str, span: Span, verdict: Verdict) -> Region:
        """Return the wood that stays for a kind and span under a verdict, drawing coordinates."""
        return wood_that_stays(self.part, self._error_mm, self.rounding, kind, span, verdict)

    def spans(self, split: ThicknessSplit) -> list[Span | None]:
        """Return the span of each defect but metal, in the order of the blank."""
        return [defect_span(d, self.blank.thickness_mm, self.part, split) for d, _ in self._defects]

    def minded(self, split: ThicknessSplit) -> list[float]:
        """Return for each defect the area of wood that must not, and that should not, hold it."""
        out: list[float] = []
        for (defect, _), span in zip(self._defects, self.spans(split)):
            for verdict in _MINDING:
                wood = [] if span is None else self.wood(defect.kind, span, verdict)
                out.append(area_um2(wood))
        return out

    def problem(self, split: ThicknessSplit, but: Sequence[str] = ()) -> PlacementProblem:
        """Return the regions for one choice of faces.

        Parameters
        ----------
        split : ThicknessSplit
        but : sequence of str
            Names of defects to leave out, as if they were filled.
        """
        groups: dict[tuple[str, Span, bool], list[tuple[Defect, Region]]] = {}
        for (defect, region), span in zip(self._defects, self.spans(split)):
            if span is not None and region and defect.name not in but:
                strict = defect.name in self._unfilled
                groups.setdefault((defect.kind, span, strict), []).append((defect, region))
        obstacles, fillings = list(self._solid), []
        for (kind, span, strict), defects in groups.items():
            refused = self.wood(kind, span, "refused")
            if strict:
                refused = union(refused, self.wood(kind, span, "filled"))
            if refused:
                fixed = union(*(r for _, r in defects))
                names = tuple(d.name for d, _ in defects)
                obstacles.append(Obstacle(names=names, fixed=fixed, moving=refused))
            for low, high in layers(self.shape, span):
                filled = self.wood(kind, (low, high), "filled")
                if filled:
                    deep = high - low
                    fillings += [
                        FilledZone(defect=d, fixed=r, moving=filled, depth_mm=deep) for d, r in defects
                    ]
        return PlacementProblem(
            part=self.part,
            shape=self.shape,
            split=split,
            container=self.container,
            obstacles=tuple(obstacles),
            fillings=tuple(fillings),
        )


def build(
    part: Part,
    blank: Blank,
    settings: Settings,
    split: ThicknessSplit,
    taken: Sequence[TakenPart] = (),
    rounding: Rounding = "safe",
    constraints: Sequence[Constraint] = (),
) -> PlacementProblem:
    """Set up the regions for one part in one blank and one choice of faces; see ``FlattenedInputs``."""
    inputs = FlattenedInputs(part, blank, settings, taken, rounding, constraints=constraints)
    return inputs.problem(split)
