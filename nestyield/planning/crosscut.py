"""Glue-ups that no bed takes, because a board in them is too long: the board is crosscut before gluing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from nestyield.geometry.grid import UM_PER_MM
from nestyield.glueup.crosscut import Stretch, shortened, stretches
from nestyield.glueup.realize import GlueUpLayout, realize
from nestyield.model import Piece
from nestyield.model.arcs import box_of
from nestyield.placement.stock import blank_of
from nestyield.planning.lay_parts import Laid, LayoutContext
from nestyield.planning.saw_first import FRAME_MM, LEAST_GAIN_MM, SawnFirst, crosscut_to


@dataclass(frozen=True, slots=True, kw_only=True)
class CrosscutGlueUp:
    """A glue-up of boards of which some are crosscut first.

    Parameters
    ----------
    bench : LayoutContext
        Of its blank.
    laid : tuple of (int, Placement)
    crosscuts : tuple of SawnFirst or None
        How each copy is sawn, in the order of the blank's copies; None for one that goes in whole.
    """

    bench: LayoutContext
    laid: Laid
    crosscuts: tuple[SawnFirst | None, ...]


def crosscut_for_bed(
    bench: LayoutContext, pieces: Sequence[Piece], glued: GlueUpLayout
) -> CrosscutGlueUp | None:
    """Return a glue-up with as few boards crosscut as a bed asks for, the longest first; None where that does not help.

    Wood for a frame around what the cutter takes stays at the ends where a bed takes it so.

    Parameters
    ----------
    bench : LayoutContext
        Of the glue-up with whole boards, which no bed takes; its only want is the part.
    pieces : sequence of Piece
        By the rows of the glue-up.
    glued : GlueUpLayout
    """
    settings = bench.shop.settings
    found = [
        s for s in stretches(glued.chain, settings) if _spare_um(pieces[s.row], s) > LEAST_GAIN_MM * UM_PER_MM
    ]
    found.sort(key=lambda s: (-_long_um(pieces[s.row], s), s.row, s.copy))
    frame = max(0.0, settings.cutter_diameter_mm + FRAME_MM - settings.blank_margin_mm) * UM_PER_MM
    for more in dict.fromkeys((frame, 0.0)):
        for count in range(1, len(found) + 1):
            made = _crosscut(bench, pieces, glued, found[:count], more)
            if made is not None and any(s.is_usable for s in made.bench.setups(made.laid)):
                return made
    return None


def _ends_um(piece: Piece, stretch: Stretch) -> tuple[float, float]:
    box = box_of(piece.shape.outer)
    low, high = ((box.x0, box.x1), (box.y0, box.y1))[stretch.axis]
    return low * UM_PER_MM, high * UM_PER_MM


def _long_um(piece: Piece, stretch: Stretch) -> float:
    low, high = _ends_um(piece, stretch)
    return high - low


def _spare_um(piece: Piece, stretch: Stretch) -> float:
    """Return by how much a piece is longer than what is needed of it."""
    return _long_um(piece, stretch) - (stretch.high_um - stretch.low_um)


def _crosscut(
    bench: LayoutContext,
    pieces: Sequence[Piece],
    glued: GlueUpLayout,
    some: Sequence[Stretch],
    frame_um: float,
) -> CrosscutGlueUp | None:
    """Return a glue-up with some copies crosscut; None where no cut takes anything off one of them."""
    chain = glued.chain
    sawn: dict[tuple[str, int], SawnFirst] = {}
    for stretch in some:
        piece = pieces[stretch.row]
        ends = (stretch.low_um - frame_um, stretch.high_um + frame_um)
        here = replace(bench, blank=blank_of(piece))
        first = crosscut_to(here, piece, stretch.axis, ends, front=stretch.shift is not None)
        if first is None:
            return None
        box = box_of(first.blocks[0].cut.outer)
        low, high = ((box.x0, box.x1), (box.y0, box.y1))[stretch.axis]
        chain = shortened(chain, stretch, low * UM_PER_MM, high * UM_PER_MM, bench.shop.settings)
        sawn[piece.name, stretch.copy] = first
    made = realize(chain, bench.shop.settings, glued.blank.name)
    return CrosscutGlueUp(
        bench=replace(bench, blank=made.blank),
        laid=((0, made.placement),),
        crosscuts=tuple(sawn.get(copy) for copy in made.blank.copies),
    )
