"""From a chain of members to a blank: where each piece is slid, what is ripped off, what it is then."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from nestyield.geometry.boolean import SubgridPaths, combine, components, difference, intersection, union
from nestyield.geometry.flatten import flatten_shape
from nestyield.geometry.grid import CONTACT_TOL_UM, REACH_UM, SUBGRID, UM_PER_MM, IntPoly, Region, bounds
from nestyield.geometry.shape import region_to_shape
from nestyield.glueup.band import rectangle
from nestyield.glueup.chains import MemberChain, Place
from nestyield.glueup.turned import TurnedMember
from nestyield.model import Blank, Defect, Member, Placement, Point, Seam, Settings
from nestyield.model.pose import Pose


@dataclass(frozen=True, slots=True, kw_only=True)
class GlueUpLayout:
    """A glue-up that can be made.

    Parameters
    ----------
    blank : Blank
    placement : Placement
        Of the part, in the blank.
    members : tuple of Region
        Wood of each member in the blank, micrometers, lowest first.
    chain : MemberChain
    """

    blank: Blank
    placement: Placement
    members: tuple[Region, ...]
    chain: MemberChain


def slide(shifts: SubgridPaths, lowest: bool, topmost: bool) -> tuple[int, int, int]:
    """Choose where a member's seam lies and how far it may be slid along it.

    A lowest member gives up least at its upper edge, a topmost at its lower edge, one between is ripped
    from its lower side; so what is left over is one strip on the far side.

    Parameters
    ----------
    shifts : list of IntPoly
        Of the part's frame into the piece's, on the subgrid.
    lowest, topmost : bool

    Returns
    -------
    (int, int, int)
        The least and the most shift along the seam, and the shift across it, micrometers.
    """
    rings = [np.rint(p / SUBGRID).astype(np.int64) for p in shifts]
    corners = np.unique(np.concatenate(rings), axis=0)
    up = -1 if lowest and not topmost else 1
    order = np.lexsort((corners[:, 0], up * corners[:, 1]))
    x, y = (int(v) for v in corners[order[0]])
    # along an edge of the region that lies level there, all shifts are allowed
    most = x
    for ring in rings:
        for k in np.flatnonzero((ring == (x, y)).all(axis=1)).tolist():
            for step in (1, -1):
                at = k
                while int(ring[(at + step) % len(ring)][1]) == y and (at + step) % len(ring) != k:
                    at = (at + step) % len(ring)
                    most = max(most, int(ring[at][0]))
    return x, most, y


def flush(spans: Sequence[tuple[int, int]]) -> list[int]:
    """Return the ends of members, so that as many as may are flush and none has more wood there than it needs.

    Parameters
    ----------
    spans : sequence of (int, int)
        The least and the most place of each member's end, micrometers.
    """
    common = min(most for _, most in spans)
    return [max(common, least) for least, _ in spans]


def joined(woods: Sequence[Region], seams_um: Sequence[int]) -> Region:
    """Return the union of members; edges within the tolerance of contact of their seam reach it.

    Parameters
    ----------
    woods : sequence of Region
        Lowest first.
    seams_um : sequence of int
        Heights of the seams between them, micrometers.
    """
    whole = union(*woods)
    if len(components(whole)) < 2:
        return whole
    far = CONTACT_TOL_UM + 1
    bridges: list[Region] = []
    for at, below, above in zip(seams_um, woods, woods[1:]):
        for wood, low, high in ((below, at - far, at), (above, at, at + far)):
            near = intersection(wood, [rectangle(-2 * REACH_UM, low, 2 * REACH_UM, high)])
            spans = [bounds([ring]) for ring in near]
            bridges += [[rectangle(x0, low, x1, high)] for x0, _, x1, _ in spans]
    return union(whole, *bridges)


def realize(chain: MemberChain, settings: Settings, name: str) -> GlueUpLayout:
    """Make the blank of a chain.

    Parameters
    ----------
    chain : MemberChain
    settings : Settings
    name : str
        Of the blank.

    Returns
    -------
    GlueUpLayout
        Blank coordinates are the lying part's: it is placed without a shift.
    """
    lying = chain.lying
    woods: list[Region] = []
    members: list[Member] = []
    defects: list[Defect] = []
    lows = (None, *chain.seams.at_um)
    highs = (*chain.seams.at_um, None)
    for at, (x, y), low, high in zip(chain.places, _slid(chain, settings), lows, highs):
        turned = at.server.turned
        wood = [ring - np.array([x, y]) for ring in _wood(at, settings)]
        woods.append(lying.cut(wood, low, high))
        members.append(
            Member(
                piece=turned.piece.name,
                copy=at.copy,
                angle_deg=turned.angle_deg,
                mirrored=turned.mirrored,
                x_um=-x,
                y_um=-y,
                cut=at.cut,
            )
        )
        defects += defects_in(turned, -x, -y, woods[-1], settings.chord_error_mm)
    whole = max(region_to_shape(joined(woods, chain.seams.at_um)), key=lambda s: s.area_mm2)
    pieces = [at.server.turned.piece for at in chain.places]
    blank = Blank(
        name=name,
        members=tuple(members),
        species=" + ".join(dict.fromkeys(p.species for p in pieces)),
        thickness_mm=min(p.thickness_mm for p in pieces),
        shape=whole,
        grain_deg=0.0,
        seams=tuple(
            Seam(name=f"seam {k + 1}", line_mm=shared_joint(woods[k], woods[k + 1], y))
            for k, y in enumerate(chain.seams.at_um)
        ),
        defects=tuple(defects),
    )
    laid = Placement(
        part=lying.part.name,
        order="",
        copy=1,
        angle_deg=lying.angle_deg,
        mirrored=lying.mirrored,
        x_um=0,
        y_um=0,
    )
    return GlueUpLayout(blank=blank, placement=laid, members=tuple(woods), chain=chain)


def _wood(at: Place, settings: Settings) -> Region:
    """Return the wood of a member before it is slid, micrometers."""
    turned = at.server.turned
    shape = turned.blank.shape if at.cut is None else turned.pose.shape(at.cut)
    return flatten_shape(shape, settings.chord_error_mm, "inside")


def _slid(chain: MemberChain, settings: Settings) -> list[tuple[int, int]]:
    """Return the shift of each member: the seam near the edge that is ripped, left ends flush where they may be."""
    lows = (None, *chain.seams.at_um)
    highs = (*chain.seams.at_um, None)
    found: list[tuple[int, int, int]] = []
    for k, (at, low, high) in enumerate(zip(chain.places, lows, highs)):
        if at.shift is not None:
            found.append((at.shift[0], at.shift[0], at.shift[1]))
        else:
            shifts = past_metal(at, at.server.shifts(low, high), low, high, settings)
            found.append(slide(shifts, k == 0, k == len(chain.places) - 1))
    left = [bounds(_wood(at, settings))[0] for at in chain.places]
    ends = flush([(end - most, end - least) for end, (least, most, _) in zip(left, found)])
    return [(end - at, y) for end, at, (_, _, y) in zip(left, ends, found)]


def past_metal(
    at: Place, shifts: SubgridPaths, low: int | None, high: int | None, settings: Settings
) -> SubgridPaths:
    """Return the shifts at which saw and jointer keep clear of what may hold metal, all of them when none do."""
    um = UM_PER_MM
    deep = round((settings.jointing_mm + settings.machines.saw_kerf_mm) * um)
    clear = round(settings.prefer.hole_clearance_mm * um)
    bars: list[tuple[int, int]] = []
    for defect in at.server.turned.blank.defects:
        if defect.traits.may_hold_metal:
            _, y0, _, y1 = bounds([flatten_shape(defect.shape, settings.chord_error_mm, "outside")[0]])
            y0, y1 = y0 - clear, y1 + clear
            bars += [(y0 - deep - high, y1 - high)] if high is not None else []
            bars += [(y0 - low, y1 + deep - low)] if low is not None else []
    left = shifts
    for begin, end in bars:
        left = combine("difference", left, [_strip(begin, end)]) if left else left
    return left or shifts


def _strip(low: int, high: int) -> IntPoly:
    """Return all shifts from one to another across the seam, on the subgrid."""
    return rectangle(-2 * REACH_UM, low, 2 * REACH_UM, high) * SUBGRID


def defects_in(turned: TurnedMember, x_um: int, y_um: int, wood: Region, error_mm: float) -> list[Defect]:
    """Return what of a piece's defects lies in its member, each cut off at the seams."""
    out = []
    for defect in turned.blank.defects:
        shape = Pose(x_mm=x_um / UM_PER_MM, y_mm=y_um / UM_PER_MM).shape(defect.shape)
        whole = flatten_shape(shape, error_mm, "outside")
        inside = intersection(whole, wood)
        if not inside:
            continue
        if not difference(whole, wood):
            out.append(replace(defect, shape=shape))
            continue
        out += [replace(defect, shape=piece) for piece in region_to_shape(inside)]
    return out


def shared_joint(below: Region, above: Region, y: int) -> tuple[Point, Point]:
    """Return the stretch of a seam where both members are, millimeters."""
    x0 = max(bounds(below)[0], bounds(above)[0])
    x1 = min(bounds(below)[2], bounds(above)[2])
    return ((x0 / UM_PER_MM, y / UM_PER_MM), (x1 / UM_PER_MM, y / UM_PER_MM))
