"""The joints of a glue-up: wood to wood along every seam under every part.

Members stand in order; seam k is the joint between member k and member k + 1. Each piece is ripped at
its joint lines, so pieces as they lie before that may overlap; what counts is that each covers its own side
of the blank, and reaches the jointing allowance past the seam where a part lies on it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from nestyield.audit.curves import TOL_MM, thickness_of
from nestyield.audit.sheet import CheckedBlank
from nestyield.model import Blank, Piece, Seam

# Longer than any blank, millimeters.
_FAR_MM = 1e5


def _frame(seam: Seam) -> tuple[complex, complex]:
    """Return the seam's start and its direction; the member above is on its left by definition of a seam."""
    (x0, y0), (x1, y1) = seam.line_mm[0], seam.line_mm[-1]
    along = complex(x1 - x0, y1 - y0)
    return complex(x0, y0), along / abs(along)


def _box(start: complex, along: complex, u0: float, u1: float, v0: float, v1: float) -> BaseGeometry:
    """Return a rectangle in the frame of a seam: u along it, v to its left."""
    corners = [start + along * complex(u, v) for u, v in ((u0, v0), (u1, v0), (u1, v1), (u0, v1))]
    return shapely.Polygon([(z.real, z.imag) for z in corners])


def beyond(seam: Seam) -> BaseGeometry:
    """Return the side of a seam on which the next member lies, as far as any blank reaches."""
    return _box(*_frame(seam), -_FAR_MM, _FAR_MM, 0.0, _FAR_MM)


@dataclass(frozen=True, slots=True, kw_only=True)
class Joined:
    """One seam of a glue-up: the members that it joins, and its frame with the upper member on the left."""

    seam: Seam
    below: int
    above: int
    frame: tuple[complex, complex]


def joints_of(bench: CheckedBlank, blank: Blank, woods: Sequence[BaseGeometry]) -> tuple[Joined, ...] | None:
    """Return the joints of a glue-up, one fewer than members; None when its seams do not tell them."""
    inner = [s for s in blank.seams if len(s.line_mm) >= 2 and s.line_mm[0] != s.line_mm[-1]]
    if len(inner) != len(blank.seams) or len(inner) < len(woods) - 1:
        bench.say("A113", f"is made of {len(woods)} pieces, but has {len(inner)} joint lines")
        return None
    out = []
    for k, seam in enumerate(inner[: len(woods) - 1]):
        out.append(Joined(seam=seam, below=k, above=k + 1, frame=_frame(seam)))
    return tuple(out)


def cells_of(bench: CheckedBlank, joints: Sequence[Joined], count: int) -> list[BaseGeometry]:
    """Return the wood of the blank on each member's side of its seams."""
    cells = [bench.wood] * count
    for joint in joints:
        for member, v0, v1 in ((joint.above, 0.0, _FAR_MM), (joint.below, -_FAR_MM, 0.0)):
            cells[member] = cells[member].intersection(_box(*joint.frame, -_FAR_MM, _FAR_MM, v0, v1))
    return cells


def check_joints(
    bench: CheckedBlank,
    joints: Sequence[Joined],
    cells: Sequence[BaseGeometry],
    where: Sequence[tuple[Piece, BaseGeometry]],
) -> None:
    """Check that each member covers its side of every seam, and more by the jointing allowance under parts.

    Parameters
    ----------
    bench : CheckedBlank
    joints, cells
        As ``joints_of`` and ``cells_of`` give them.
    where : sequence of (Piece, geometry)
        Members as they lie before they are ripped, in order.
    """
    for cell, (piece, wood) in zip(cells, where):
        bare = thickness_of(cell.difference(wood))
        if bare > TOL_MM:
            bench.say(
                "A113", f"a place {bare:.3f} mm wide on the side of piece {piece.name} is not covered by it"
            )
    for joint in joints:
        _contact(bench, joint.seam, joint.frame, (where[joint.below], where[joint.above]))


def _contact(
    bench: CheckedBlank,
    seam: Seam,
    frame: tuple[complex, complex],
    sides: tuple[tuple[Piece, BaseGeometry], tuple[Piece, BaseGeometry]],
) -> None:
    """Measure contact along one seam under each part."""
    start, along = frame
    jointed = bench.sheet.plan.shop.settings.jointing_mm
    ends = [start - along * _FAR_MM, start + along * _FAR_MM]
    line = shapely.LineString([(z.real, z.imag) for z in ends])
    drawn = shapely.LineString(seam.line_mm).buffer(TOL_MM)
    for laid in bench.laid:
        section = line.intersection(laid.outline)
        beyond = section.difference(drawn).length
        if beyond > 2 * TOL_MM:
            bench.say("A113", f"{seam.name} ends {beyond:.3f} mm short under {laid.name}")
        for stretch in shapely.get_parts(section):
            if stretch.geom_type != "LineString" or stretch.length <= TOL_MM:
                continue
            z = np.array([complex(x, y) for x, y in shapely.get_coordinates(stretch)])
            u = ((z - start) * along.conjugate()).real
            for (piece, wood), way in zip(sides, (1.0, -1.0)):
                v0, v1 = sorted((0.0, way * jointed))
                if v1 - v0 <= TOL_MM:
                    continue
                short = thickness_of(_box(start, along, u.min(), u.max(), v0, v1).difference(wood))
                if short > 2 * TOL_MM:
                    bench.say(
                        "A115",
                        f"piece {piece.name} lacks {short:.3f} mm of the jointing allowance of "
                        f"{jointed:g} mm along {seam.name} under {laid.name}",
                    )
