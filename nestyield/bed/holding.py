"""What holds the wood around each part when its outline is cut: the order of outlines, and the screws left."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import shapely
from shapely.affinity import affine_transform
from shapely.geometry.base import BaseGeometry

from nestyield.bed.holds import HOLDS
from nestyield.bed.positions import pose_of
from nestyield.bed.sweep import grown, outline_polygon, shape_polygon
from nestyield.bed.waste import Pairs
from nestyield.model import Axis, BedPosition, Blank, HeldCut, HoldDown, Section, Settings
from nestyield.model.facts import BedCaution, HeldByFew, ScrewsCutFree
from nestyield.model.pose import Pose

#: Fewer screws than this do not hold a blank by themselves (common practice, no source).
LEAST_SCREWS = 2
# A screw so near to a piece of wood stands in it, and larger than any bed, millimeters.
_NEAR_MM = 0.05
_FAR_MM = 1e5


@dataclass(frozen=True, slots=True, kw_only=True)
class Cutting:
    """One outline that is cut right through in one position, and the wood that holds its part until then.

    Parameters
    ----------
    position : BedPosition
    placement : int
    wood : geometry
        In one piece with the part before its outline is cut, blank coordinates.
    """

    position: BedPosition
    placement: int
    wood: BaseGeometry


class Grooves:
    """What is cut right through in each position of the last face.

    Parameters
    ----------
    blank : Blank
    pairs : sequence of (Part, Placement)
    settings : Settings
    positions : sequence of BedPosition
        Of the last face, in order.
    sections : sequence of Section
        Empty when the blank is cut in one go.
    axis : {"x", "y"}
        Along which sections follow each other.
    """

    def __init__(
        self,
        blank: Blank,
        pairs: Pairs,
        settings: Settings,
        positions: Sequence[BedPosition],
        sections: Sequence[Section],
        axis: Axis,
    ) -> None:
        wide = settings.cutter_diameter_mm
        self.blank = shape_polygon(blank.shape)
        self.bodies, self.bands, self.rims = [], [], []
        for part, placement in pairs:
            pose = Pose.of(placement)
            body = outline_polygon(part.outline, pose)
            self.bodies.append(body)
            self.bands.append(grown(body, wide).difference(body))
            openings = [
                shape_polygon(z.shape, pose)
                for z in part.zones
                if z.shape is not None and z.goes_through(part.thickness_mm)
            ]
            self.rims.append(shapely.union_all([o.difference(o.buffer(-wide)) for o in openings]))
        self.positions = positions
        self.windows = [window(p, sections, axis) for p in positions]

    def cuttings(self, order: Sequence[int]) -> list[Cutting]:
        """Return the outlines as they are cut in an order of placements, each with the wood that holds it."""
        wood, out = self.blank, []
        for position, window in zip(self.positions, self.windows):
            wood = wood.difference(shapely.union_all(self.rims).intersection(window))
            for k in order:
                if not self.bodies[k].intersection(window).area > 0.0:
                    continue
                band = self.bands[k].intersection(window)
                mine = max(shapely.get_parts(wood), key=lambda piece: piece.intersection(self.bodies[k]).area)
                out.append(Cutting(position=position, placement=k, wood=mine))
                wood = wood.difference(band)
        return out

    def orders(self) -> list[list[int]]:
        """Return orders in which outlines may be cut: as numbered, backwards, and along either axis."""
        given = list(range(len(self.bodies)))
        if len(given) < 2:
            return [given]
        middle = [shapely.get_coordinates(b.centroid)[0].tolist() for b in self.bodies]
        by_x = sorted(given, key=lambda k: (round(middle[k][0], 3), round(middle[k][1], 3)))
        by_y = sorted(given, key=lambda k: (round(middle[k][1], 3), round(middle[k][0], 3)))
        found = [given, given[::-1], by_x, by_x[::-1], by_y, by_y[::-1]]
        return [order for n, order in enumerate(found) if order not in found[:n]]


def window(position: BedPosition, sections: Sequence[Section], axis: Axis) -> BaseGeometry:
    """Return where a position cuts, blank coordinates."""
    low, high = -_FAR_MM, _FAR_MM
    if position.section:
        here = sections[position.section - 1]
        low, high = here.from_mm, here.to_mm
    ends = (low, -_FAR_MM, high, _FAR_MM) if axis == "x" else (-_FAR_MM, low, _FAR_MM, high)
    return affine_transform(shapely.box(*ends), pose_of(position).inverse().matrix())


Choose = Callable[[int, BaseGeometry | None, Sequence[HoldDown]], tuple[HoldDown, ...]]


def held_down(
    grooves: Grooves, choose: Choose
) -> tuple[tuple[HoldDown, ...], tuple[HeldCut, ...], list[BedCaution]]:
    """Choose screws and the order of outlines so that the screws of a section hold every part till it is cut out.

    Parameters
    ----------
    grooves : Grooves
    choose : callable
        Gives the screws of a section (0 for a blank cut in one go) within a region, None for anywhere;
        screws of other sections, which are taken first where they serve.

    Returns
    -------
    (screws, outlines in order, cautions)
    """
    sections = list(dict.fromkeys(p.section for p in grooves.positions))
    best: dict[int, tuple[HoldDown, ...]] = {}
    kept = grooves.orders()[0]
    for order in grooves.orders():
        found: dict[int, tuple[HoldDown, ...]] = {}
        cuttings = grooves.cuttings(order)
        for section in sections:
            woods = [c.wood for c in cuttings if c.position.section == section]
            ground = shapely.intersection_all(woods) if woods else None
            found[section] = choose(section, ground, _all(found))
        if not best or _fewest(found) > _fewest(best):
            best, kept = found, order
        if _fewest(best) >= HOLDS:
            break
    for section in sections:
        if len(best[section]) < LEAST_SCREWS:
            anywhere = choose(section, None, _all({k: v for k, v in best.items() if k != section}))
            best[section] = anywhere if len(anywhere) > len(best[section]) else best[section]
    screws = _together(best)
    held = tuple(
        HeldCut(
            position=c.position.name,
            placement=c.placement,
            holds=_standing(c.wood, [s for s in screws if s.driven_in(c.position.section)]),
        )
        for c in grooves.cuttings(kept)
    )
    return screws, held, _cautions(held, screws, {p.name: p.section for p in grooves.positions})


def _fewest(found: Mapping[int, Sequence[HoldDown]]) -> int:
    return min((len(screws) for screws in found.values()), default=0)


def _all(found: Mapping[int, Sequence[HoldDown]]) -> list[HoldDown]:
    return list({(s.x_mm, s.y_mm): s for screws in found.values() for s in screws}.values())


def _together(found: Mapping[int, Sequence[HoldDown]]) -> tuple[HoldDown, ...]:
    """Return the screws of all sections once each, numbered from the left, with the sections of each."""
    if list(found) == [0]:
        return tuple(found[0])
    out = []
    for k, screw in enumerate(sorted(_all(found), key=lambda s: (s.x_mm, s.y_mm)), start=1):
        at = (screw.x_mm, screw.y_mm)
        where = tuple(n for n, screws in found.items() if at in {(s.x_mm, s.y_mm) for s in screws})
        out.append(replace(screw, name=f"screw {k}", sections=where))
    return tuple(out)


def _standing(wood: BaseGeometry, screws: Sequence[HoldDown]) -> tuple[str, ...]:
    return tuple(s.name for s in screws if wood.distance(shapely.Point(s.x_mm, s.y_mm)) <= _NEAR_MM)


def _cautions(
    held: Sequence[HeldCut], every: Sequence[HoldDown], section: Mapping[str, int]
) -> list[BedCaution]:
    """Return which screws stand in wood that is cut free before an outline, and where too few are left."""
    out: list[BedCaution] = []
    known: set[str] = set()
    for cut in held:
        screws = [s for s in every if s.driven_in(section[cut.position])]
        free = tuple(s.name for s in screws if s.name not in cut.holds and s.name not in known)
        if free:
            known.update(free)
            out.append(ScrewsCutFree(position=cut.position, placement=cut.placement, names=free))
        if len(cut.holds) < LEAST_SCREWS <= len(screws):
            out.append(HeldByFew(position=cut.position, placement=cut.placement, count=len(cut.holds)))
    return out
