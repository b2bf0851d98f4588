"""Book matches: two neighboring leaves of one board, mirrored about the joint on the middle of the part."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from nestyield.audit.curves import points_of
from nestyield.audit.sheet import CheckedBlank, CheckedPlacement
from nestyield.model import Member, Part, Seam, Settings

#: Mirrored places, and the middle of the part, lie on the joint within this, millimeters.
NEAR_MM = 0.02
#: Thicknesses and depths closer than this are the same, millimeters.
SAME_MM = 1e-3
#: A center line is one along the grain within this and the part's tolerance, degrees.
ALONG_DEG = 0.5


def check_book(bench: CheckedBlank) -> None:
    """Check that leaves are glued up for book matches alone, and that a book match is one.

    Parameters
    ----------
    bench : CheckedBlank
    """
    blank = bench.layout.blank
    leaves = [m for m in blank.members if m.layer is not None]
    book = len(blank.members) > 1 and bool(leaves)
    for laid in bench.laid:
        if laid.part.book_match != book:
            what = "is not to be book matched" if book else "is to be book matched, and is not"
            bench.say("A130", what, laid.name)
    if not book:
        return
    if len(blank.members) != 2 or len(leaves) != 2 or len(blank.seams) != 1:
        bench.say("A130", f"is made of {len(leaves)} leaves, {len(blank.members)} pieces in all")
        return
    for what in _leaves_wrong(bench, blank.members[0], blank.members[1], blank.seams[0]):
        bench.say("A130", what)
    for laid in bench.laid:
        for what in _middle_wrong(laid, blank.seams[0]):
            bench.say("A130", what, laid.name)


def _leaves_wrong(bench: CheckedBlank, one: Member, other: Member, seam: Seam) -> Iterator[str]:
    """Yield what is wrong with two leaves: of one copy, one kerf apart, each the other's mirror image."""
    if (one.piece, one.copy) != (other.piece, other.copy):
        yield "its two leaves are of two boards"
        return
    piece = bench.sheet.pieces.get(one.piece)
    if piece is None or one.layer is None or other.layer is None:
        return
    if piece.measured_mm:
        yield f"piece {piece.name} is measured to {piece.measured_mm:g} mm only"
    machines = bench.sheet.plan.shop.settings.machines
    high, low = sorted((one.layer, other.layer), key=lambda layer: layer.top_mm)
    lost = machines.resaw_kerf_mm + 2 * machines.resaw_planing_mm
    if abs(low.top_mm - high.bottom_mm - lost) > SAME_MM:
        apart = low.top_mm - high.bottom_mm
        yield f"its leaves lie {apart:g} mm apart in the board; one cut takes {lost:g} mm"
    if abs((low.bottom_mm - low.top_mm) - (high.bottom_mm - high.top_mm)) > SAME_MM:
        yield "its leaves are not of one thickness"
    if one.mirrored == other.mirrored:
        yield "neither or both of its leaves are turned over"
    start = complex(*seam.line_mm[0])
    along = complex(*seam.line_mm[-1]) - start
    along /= abs(along)
    spots = points_of(piece.shape.outer)
    first, second = (_where(spots, m) for m in (one, other))
    image = start + along * np.conj((first - start) / along)
    off = float(np.abs(image - second).max())
    if off > NEAR_MM:
        yield f"its leaves lie {off:.3f} mm off the mirror image of each other"


def _where(spots: np.ndarray, member: Member) -> np.ndarray:
    """Return where points of a piece lie in the blank, as complex numbers."""
    z = spots[:, 0] + 1j * spots[:, 1]
    z = -np.conj(z) if member.mirrored else z
    turned: np.ndarray = z * np.exp(1j * math.radians(member.angle_deg))
    return turned + complex(member.x_um, member.y_um) / 1000.0


def _middle_wrong(laid: CheckedPlacement, seam: Seam) -> Iterator[str]:
    """Yield by how much the joint misses the center line of a part, or its middle along the grain."""
    at = laid.placement
    start = complex(*seam.line_mm[0])
    along = complex(*seam.line_mm[-1]) - start
    along /= abs(along)
    z = _axis(laid.part)
    if z is None:
        yield "has no grain, and is book matched"
        return
    z = -np.conj(z) if at.mirrored else z
    z = z * np.exp(1j * math.radians(at.angle_deg)) + complex(at.x_um, at.y_um) / 1000.0
    off = float(np.abs(((z - start) / along).imag).max())
    if off > NEAR_MM:
        yield f"its middle lies {off:.3f} mm off the joint"


def _axis(part: Part) -> np.ndarray | None:
    """Return two points of a part's center line, or of its middle, as complex numbers; None without grain."""
    if part.grain_deg is None:
        return None
    way = np.exp(1j * math.radians(part.grain_deg))
    for zone in part.zones:
        if zone.does.line and len(zone.line_mm) > 1:
            ends = np.array([complex(*zone.line_mm[0]), complex(*zone.line_mm[-1])])
            off = math.degrees(np.angle((ends[1] - ends[0]) / way))
            if abs((off + 90.0) % 180.0 - 90.0) <= part.grain_tolerance_deg + ALONG_DEG:
                return ends
    spots = points_of(part.outline)
    z = (spots[:, 0] + 1j * spots[:, 1]) / way
    middle = 1j * float(z.imag.min() + z.imag.max()) / 2
    return np.array([(middle + float(z.real.min())) * way, (middle + float(z.real.max())) * way])


def board_of_two_leaves(part: Part, settings: Settings) -> tuple[float, np.ndarray]:
    """Return thickness, and length and width (shape (1, 2)), of the least board for a book match of a part.

    Parameters
    ----------
    part : Part
    settings : Settings
    """
    machines = settings.machines
    leaf = max(part.thickness_mm + 2 * settings.planing_mm, machines.resaw_thinnest_mm)
    thick = 2 * leaf + machines.resaw_kerf_mm + 2 * machines.resaw_planing_mm
    axis = _axis(part)
    if axis is None:
        return thick, np.zeros((1, 2))
    spots = points_of(part.outline)
    z = (spots[:, 0] + 1j * spots[:, 1] - axis[0]) / (axis[1] - axis[0]) * abs(axis[1] - axis[0])
    wide = float(np.abs(z.imag).max()) + settings.blank_margin_mm + settings.jointing_mm
    return thick, np.array([[float(np.ptp(z.real)) + 2 * settings.blank_margin_mm, wide]])
