"""The runners-up: each can be made from what the rest of the plan leaves free, and costs what is said."""

from __future__ import annotations

from collections import Counter

from nestyield.audit.blanks import check_blank
from nestyield.audit.depth import check_defects
from nestyield.audit.places import check_places
from nestyield.audit.sets import sets_wrong
from nestyield.audit.sheet import CheckedBlank, CheckedSheet
from nestyield.audit.worth import BOARD_FOOT_MM3, check_value, ripped_value, worth_of
from nestyield.model import Blank, Finding, Layout, OtherWay, Plan, Settings

#: Money and areas may differ by rounding alone.
_NEAR = 1e-6


def check_other_way(plan: Plan, way: OtherWay) -> tuple[Finding, ...]:
    """Check one other way by itself: its pieces, places and defects as those of any blank, and its cost.

    What comes back is only bounded, by the wood that its parts leave: its leftovers are not in the plan.

    Parameters
    ----------
    plan : Plan
    way : OtherWay
    """
    sheet = CheckedSheet(plan)
    where = f"other way for blank {way.instead_of}"
    instead = next((x for x in plan.layouts if x.blank.name == way.instead_of), None)
    if instead is None:
        sheet.say("A612", where, "the plan has no such blank")
        return tuple(sheet.findings)
    _check_stock(sheet, way, instead, where)
    if Counter(map(_what, way.placements)) != Counter(map(_what, instead.placements)):
        sheet.say("A612", where, "it does not make what the blank makes")
    layout = Layout(
        blank=way.blank,
        placements=way.placements,
        setups=(),
        chosen=None,
        part_area_mm2=way.part_area_mm2,
        stock_area_mm2=way.stock_area_mm2,
        usable_area_mm2=0.0,
        board_feet=0.0,
        value=way.value,
    )
    here = CheckedSheet(plan)
    here.findings += sets_wrong(plan, tuple(layout if x is instead else x for x in plan.layouts))
    bench = CheckedBlank(here, layout)
    for check in (check_blank, check_places, check_defects, check_value):
        check(bench)
    for finding in here.findings:
        sheet.say("A612", where, f"{finding.code}: {finding.message}", finding.severity)
    _check_numbers(sheet, way, instead, where)
    return tuple(sheet.findings)


def _what(placement: object) -> tuple[object, ...]:
    return tuple(getattr(placement, key) for key in ("part", "order", "copy"))


def _check_stock(sheet: CheckedSheet, way: OtherWay, instead: Layout, where: str) -> None:
    held = {copy for x in sheet.plan.layouts if x is not instead for copy in x.blank.copies}
    for name, copy in way.blank.copies:
        piece = sheet.pieces.get(name)
        if piece is None:
            sheet.say("A612", where, f"piece {name} is not on the rack")
        elif piece.status != "ready" or not 1 <= copy <= piece.count:
            sheet.say("A612", where, f"copy {copy} of piece {name} is not to be had")
        elif (name, copy) in held:
            sheet.say("A612", where, f"copy {copy} of piece {name} is used by another blank")
    if Counter(n for n, _ in way.blank.copies) == Counter(n for n, _ in instead.blank.copies):
        sheet.say("A612", where, "it takes the same pieces")


def _check_numbers(sheet: CheckedSheet, way: OtherWay, instead: Layout, where: str) -> None:
    settings = sheet.plan.shop.settings
    parts = sum(
        abs(sheet.parts[p.part].outline.signed_area_mm2) for p in way.placements if p.part in sheet.parts
    )
    pieces = [sheet.pieces[name] for name, _ in way.blank.copies if name in sheet.pieces]
    stock = sum(p.shape.area_mm2 for p in pieces)
    feet = sum(p.shape.area_mm2 * p.thickness_mm for p in pieces) / BOARD_FOOT_MM3
    for told, found, what in ((way.part_area_mm2, parts, "parts"), (way.stock_area_mm2, stock, "stock")):
        if abs(told - found) > _NEAR * max(1.0, found):
            sheet.say("A612", where, f"its {what} are {found:.0f} mm2, the plan says {told:.0f}")
    # parts may lie on the boards that are worth the least
    rates = [worth_of(p, settings)[0] / p.shape.area_mm2 for p in pieces]
    most = max(0.0, way.value - min(rates, default=0.0) * parts)
    if not -_NEAR <= way.back <= most * (1.0 + _NEAR) + _NEAR:
        sheet.say("A612", where, f"{way.back:.4f} comes back of {way.value:.4f}; at most {most:.4f} can")
    if not 0.0 < way.used_up <= feet * (1.0 + _NEAR):
        sheet.say("A612", where, f"{way.used_up:.4f} board feet are used up of {feet:.4f}")
    joints = _joints(settings, way.blank)
    net = way.value - settings.leftover_worth * way.back + joints
    here = _joints(settings, instead.blank)
    rests = [r for x in (instead.laminate.layers if instead.laminate else ()) for r in x.rests]
    back = sum(left.value for left in (*instead.leftovers, *rests)) + ripped_value(instead)
    net -= instead.value - settings.leftover_worth * back + here
    if abs(net - way.costs_more) > _NEAR * max(1.0, abs(net)):
        sheet.say("A612", where, f"it costs {net:.4f} more, the plan says {way.costs_more:.4f}")


def _joints(settings: Settings, blank: Blank) -> float:
    """Return what the joints of a blank cost in the choice."""
    if blank.stack:
        return settings.glueup.layer_cost * (len(blank.stack) - 1)
    return settings.glueup.joint_cost * (len(blank.seams) if len(blank.members) > 1 else 0)
