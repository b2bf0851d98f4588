"""What stock and leftovers are worth, worked out again."""

from __future__ import annotations

import math

from nestyield.audit.curves import points_of
from nestyield.audit.sheet import CheckedBlank
from nestyield.audit.taken import taken
from nestyield.model import Piece, Settings, Shape

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
    feet = sum(p.shape.area_mm2 * p.thickness_mm for p in known) / BOARD_FOOT_MM3
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
        if left.usable and feet > 0 and high > 0:
            here = left.area_mm2 * thick / BOARD_FOOT_MM3
            rates = _rates(layout.blank.species, thick, left.shape, layout.blank.grain_deg, settings)
            least, most = sum(u[0] for u in usual) / feet, sum(u[1] for u in usual) / feet
            worth = _share((low / feet * here, high / feet * here), rates, (least, most))
        if not _within(left.value, *worth):
            bench.say("A407", f"{left.name} is worth {_span(*worth)}, the plan says {left.value:.4f}")


def worth_of(piece: Piece, settings: Settings) -> tuple[float, float]:
    """Least and most that one copy of a piece is worth."""
    return _table_value(piece, settings) if piece.value is None else (piece.value, piece.value)


def left_worth(
    piece: Piece, shape: Shape, settings: Settings, thick_mm: float | None = None
) -> tuple[float, float]:
    """Least and most that a rough rest of a piece is worth: its share, less if its size is worth less.

    A leaf has ``thick_mm`` of its thickness.
    """
    thick = piece.thickness_mm if thick_mm is None else thick_mm
    share = shape.area_mm2 / piece.shape.area_mm2 * thick / piece.thickness_mm
    feet = piece.shape.area_mm2 * piece.thickness_mm / BOARD_FOOT_MM3
    low, high = _table_value(piece, settings)
    rates = _rates(piece.species, thick, shape, piece.grain_deg, settings)
    own = (low, high) if piece.value is None else (piece.value, piece.value)
    return _share((own[0] * share, own[1] * share), rates, (low / feet, high / feet))


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
