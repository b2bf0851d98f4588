"""What stock and leftovers are worth, worked out again."""

from __future__ import annotations

import math
from collections.abc import Sequence

import shapely

from nestyield.audit.curves import points_of, region
from nestyield.audit.joints import beyond
from nestyield.audit.sheet import CheckedBlank
from nestyield.audit.taken import taken
from nestyield.model import Blank, Layout, Piece, Settings, Shape

#: Volume of a board foot, cubic millimeters: 144 cubic inches.
BOARD_FOOT_MM3 = 144.0 * 25.4**3
#: Stock this near to the least size of a class may count as either, millimeters.
NEAR_MM = 1.0


def check_value(bench: CheckedBlank) -> None:
    """Compare the value of the stock and of each leftover with the shop file."""
    layout, settings = bench.layout, bench.sheet.plan.shop.settings
    pieces = taken(layout.blank, bench.sheet.pieces)
    known = [p for p in pieces if p is not None]
    if len(known) < len(pieces):
        return
    usual = [_table_value(p, settings) for p in known]
    low = sum(usual[k][0] if p.value is None else p.value for k, p in enumerate(known))
    high = sum(usual[k][1] if p.value is None else p.value for k, p in enumerate(known))
    if not _within(layout.value, low, high):
        bench.say("A407", f"the stock is worth {_span(low, high)}, the plan says {layout.value:.4f}")
    parts = {p.name for p in bench.sheet.plan.shop.parts}
    if not all(p.part in parts for p in layout.placements):
        return
    thick = bench.sheet.plan.leftover_thickness_mm(layout)
    told = any(left.value for left in layout.leftovers)  # plans of earlier versions do not tell it
    for left in layout.leftovers if told else ():
        worth = (0.0, 0.0)
        if left.usable:
            shares = _by_board(layout.blank, left.shape, known) or [(known, left.area_mm2)]
            told_off = [_left(some, area, thick, left.shape, layout.blank, settings) for some, area in shares]
            worth = sum(w[0] for w in told_off), sum(w[1] for w in told_off)
        if not _within(left.value, *worth):
            bench.say("A407", f"{left.name} is worth {_span(*worth)}, the plan says {left.value:.4f}")


def _left(
    pieces: Sequence[Piece], area_mm2: float, thick_mm: float, shape: Shape, blank: Blank, settings: Settings
) -> tuple[float, float]:
    """Least and most that so much of a leftover is worth, when it is off some pieces."""
    feet = sum(p.shape.area_mm2 * p.thickness_mm for p in pieces) / BOARD_FOOT_MM3
    usual, own = ([f(p, settings) for p in pieces] for f in (_table_value, worth_of))
    if feet <= 0:
        return 0.0, 0.0
    here = area_mm2 * thick_mm / BOARD_FOOT_MM3 / feet
    species = pieces[0].species if len(pieces) == 1 else blank.species
    rates = _rates(species, thick_mm, shape, blank.grain_deg, settings)
    plain = sum(v[0] for v in own) * here, sum(v[1] for v in own) * here
    return _share(plain, rates, (sum(u[0] for u in usual) / feet, sum(u[1] for u in usual) / feet))


def _by_board(blank: Blank, shape: Shape, known: Sequence[Piece]) -> list[tuple[list[Piece], float]]:
    """How much of a leftover of a glue-up is on which board's side of its seams; nothing for other blanks."""
    joined = len(blank.members) == len(blank.seams) + 1 > 1 and not blank.stack and not blank.on_edge
    if not joined or any(m.layer is not None for m in blank.members):
        return []
    boards = dict(zip(blank.copies, known, strict=True))
    wood, out = region(shape), []
    for member, seam in zip(blank.members, (*blank.seams, None)):
        above = shapely.Polygon() if seam is None else wood.intersection(beyond(seam))
        out.append(([boards[member.piece, member.copy]], float(wood.area - above.area)))
        wood = above
    return out


def worth_of(piece: Piece, settings: Settings) -> tuple[float, float]:
    """Least and most that one copy of a piece is worth."""
    return _table_value(piece, settings) if piece.value is None else (piece.value, piece.value)


def left_worth(
    piece: Piece,
    shape: Shape,
    settings: Settings,
    thick_mm: float | None = None,
    grain_deg: float | None = None,
) -> tuple[float, float]:
    """Least and most that a rough rest of a piece is worth: its share, less if its size is worth less.

    A leaf has ``thick_mm`` of its thickness; ``grain_deg`` is the grain of a shape that lies otherwise than
    in the piece.
    """
    thick = piece.thickness_mm if thick_mm is None else thick_mm
    share = shape.area_mm2 / piece.shape.area_mm2 * thick / piece.thickness_mm
    feet = piece.shape.area_mm2 * piece.thickness_mm / BOARD_FOOT_MM3
    low, high = _table_value(piece, settings)
    grain = piece.grain_deg if grain_deg is None else grain_deg
    rates = _rates(piece.species, thick, shape, grain, settings)
    own = (low, high) if piece.value is None else (piece.value, piece.value)
    return _share((own[0] * share, own[1] * share), rates, (low / feet, high / feet))


def ripped_value(layout: Layout) -> float:
    """Return what is ripped off for a glue-up and goes back; plans of earlier versions count nothing."""
    boards = layout.glueup.members if layout.glueup is not None else ()
    return sum(s.value or 0.0 for board in boards for s in board.strips if s.usable)


def _share(
    plain: tuple[float, float], rates: tuple[float, float], usual: tuple[float, float]
) -> tuple[float, float]:
    """Lower a worth, least and most, by what wood of its size is worth against what it was cut from."""
    return (
        plain[0] * (min(1.0, rates[0] / usual[1]) if usual[1] > 0 else 1.0),
        plain[1] * (min(1.0, rates[1] / usual[0]) if usual[0] > 0 else 1.0),
    )


def _table_value(piece: Piece, settings: Settings) -> tuple[float, float]:
    """Least and most that the shop file gives a piece, whatever its row says."""
    feet = piece.shape.area_mm2 * piece.thickness_mm / BOARD_FOOT_MM3
    low, high = _rates(piece.species, piece.thickness_mm, piece.shape, piece.grain_deg, settings)
    return low * feet, high * feet


def _rates(
    species: str, thickness_mm: float, shape: Shape, grain_deg: float | None, settings: Settings
) -> tuple[float, float]:
    """Least and most money a board foot, for sizes a little smaller and a little larger."""
    table = settings.value_per_board_foot
    rate = table.get(species, table.get("", 0.0 if table else 1.0))
    if not settings.value_classes:
        return rate, rate
    turn = math.radians(grain_deg or 0.0)
    points = points_of(shape.outer)
    spans = []
    for c, s in ((math.cos(turn), math.sin(turn)), (-math.sin(turn), math.cos(turn))):
        along = points[:, 0] * c + points[:, 1] * s
        spans.append(float(along.max() - along.min()))
    length = spans[0] if grain_deg is not None else max(spans)
    width = shape.area_mm2 / length
    found = []
    for off in (-NEAR_MM, 0.0, NEAR_MM):
        here = rate
        for kind in settings.value_classes:
            if kind.species and species not in kind.species:
                continue
            have = (length + off, width + off, thickness_mm + off)
            need = (kind.least_length_mm, kind.least_width_mm, kind.least_thickness_mm)
            if all(a >= b for a, b in zip(have, need)):
                here = rate * kind.times if kind.per_board_foot is None else kind.per_board_foot
                break
        found.append(here)
    return min(found), max(found)


def _within(told: float, low: float, high: float) -> bool:
    slack = 1e-6 + 1e-5 * abs(high)
    return low - slack <= told <= high + slack


def _span(low: float, high: float) -> str:
    return f"{low:.4f}" if math.isclose(low, high, rel_tol=1e-9) else f"{low:.4f} to {high:.4f}"
