"""What the plan asks to buy, how much it says was tried, and the sums of its aims, worked out again."""

from __future__ import annotations

import math

import numpy as np

from nestyield.audit.book_match import board_of_two_leaves
from nestyield.audit.curves import points_of, polygon
from nestyield.audit.sheet import CheckedSheet
from nestyield.audit.weights import volumes
from nestyield.audit.worth import ripped_value
from nestyield.model import Layout, Objective, OrderResult, Part, Purchase
from nestyield.model.facts import SetNotWhole
from nestyield.wood.species import find

#: Volume of a board foot, cubic millimeters: 144 cubic inches.
_BOARD_FOOT_MM3 = 144.0 * 25.4**3
#: Sizes are rounded up to what the rule of a shop shows, millimeters, ...
_RULE_MM = {"mm": 0.1, "in": 25.4 / 64.0}
#: ... and tried up to two such steps larger; chords and steps of turns come to it, mm.
_CHORDS_MM = 0.3
#: Sizes are looked at in turns of this, degrees.
_TURN_DEG = 0.05
#: Densities are worked out again to this share.
_SHARE = 5e-3
#: Money and board feet of each blank are rounded on their way into an aim.
_SUM_STEP = 0.006


def check_purchases(sheet: CheckedSheet) -> None:
    """Check the shopping list: for orders that are short, as many, of a wood and a size that hold the part.

    Parameters
    ----------
    sheet : CheckedSheet
    """
    plan = sheet.plan
    short = {r.order: _missing(r) for r in plan.orders if r.placed < r.count}
    told = [(p.order, p.layer) for p in plan.purchases]
    if len(set(told)) < len(told):
        sheet.say("A615", "shopping list", "an order is there twice")
    for bought in plan.purchases:
        where = f"to buy for order {bought.order}"
        order = sheet.orders.get(bought.order)
        part = sheet.parts.get(order.part) if order is not None else None
        if part is None or bought.order not in short:
            sheet.say("A615", where, "the order is not short of anything")
            continue
        for message in _bought(sheet, bought, part, short[bought.order]):
            sheet.say("A615", where, message)
    tried = plan.tried
    if tried is not None and not (0 <= tried.rows <= tried.of_rows <= len(plan.shop.pieces)):
        sheet.say(
            "A615",
            "what was tried",
            f"{tried.rows} of {tried.of_rows} rows, the rack has {len(plan.shop.pieces)}",
        )


def _missing(result: OrderResult) -> tuple[int, tuple[str, ...]]:
    """Return for how many copies is to be bought, and which woods: of a set what is told to be missing."""
    told = [x for x in result.reasons if isinstance(x, SetNotWhole)]
    if not told:
        return result.count - result.placed, ()
    mine = [x for x in told[0].lacking if x.order == result.order]
    return sum(x.copies for x in mine), tuple(s for x in mine for s in x.species)


def _density(bought: Purchase, part: Part) -> str:
    """Return what is wrong about the density of what is bought; "" when it gives the part its weight."""
    wish = part.weight
    if wish is None or wish.lightest:
        return "a density is asked for, and the part has no range" if bought.density_kg_m3 else ""
    cubic_m = volumes(part, polygon(points_of(part.outline)))[0] / 1e9
    for told, kg in zip(bought.density_kg_m3 or (None, None), (wish.least_kg, wish.most_kg)):
        if (told is None) != (kg is None) or (told and kg and abs(told * cubic_m / kg - 1) > _SHARE):
            return f"a density of {bought.density_kg_m3} kg/m3 does not give the part its weight"
    return ""


def _bought(
    sheet: CheckedSheet, bought: Purchase, part: Part, missing: tuple[int, tuple[str, ...]]
) -> list[str]:
    settings = sheet.plan.shop.settings
    wrong = []
    copies, woods = missing
    if part.cap or bought.layer:
        return _layer_bought(sheet, bought, part, copies)
    if bought.count != copies:
        wrong.append(f"{bought.count} pieces for {copies} copies that are missing")
    if woods and bought.species != woods:
        wrong.append(f"{', '.join(bought.species) or 'any wood'}; its set wants {', '.join(woods)}")
    if density := _density(bought, part):
        wrong.append(density)
    if part.species and (not bought.species or not set(bought.species) <= set(part.species)):
        wrong.append(f"{', '.join(bought.species) or 'any wood'}; the part allows {', '.join(part.species)}")
    sheets = bool(part.species) and all((w := find(s)) is not None and w.sheet for s in part.species)
    planed = 0.0 if sheets or part.grain_deg is None else 2.0 * settings.planing_mm
    thick = part.thickness_mm + planed
    sizes = _sizes(part, 2.0 * settings.blank_margin_mm)
    if part.book_match:
        thick, sizes = board_of_two_leaves(part, settings)
    rule = _RULE_MM[sheet.plan.shop.units]
    if not -1e-5 < bought.thickness_mm - thick < rule + 1e-5:
        wrong.append(f"{bought.thickness_mm:g} mm thick, {thick:g} mm do")
    size = np.array([bought.length_mm, bought.width_mm])
    if not (np.all(sizes <= size + _CHORDS_MM, axis=1)).any():
        wrong.append(f"{size[0]:g} x {size[1]:g} mm do not hold the part")
    elif not (np.all(sizes >= size - 3 * rule - _CHORDS_MM, axis=1)).any():
        wrong.append(f"{size[0]:g} x {size[1]:g} mm are more than the part needs")
    thick = bought.thickness_mm if part.book_match else thick
    feet = bought.count * size[0] * size[1] * thick / _BOARD_FOOT_MM3
    if not math.isclose(bought.board_feet, feet, rel_tol=1e-4):
        wrong.append(f"{bought.board_feet:.4f} board feet, it is {feet:.4f}")
    panel = bought.panel_mm
    if panel is not None and (min(panel) < size.min() - 1e-6 or max(panel) < size.max() - 1e-6):
        wrong.append(f"a panel of {panel[0]:g} x {panel[1]:g} mm is too small")
    return wrong


def _layer_bought(sheet: CheckedSheet, bought: Purchase, part: Part, copies: int) -> list[str]:
    """Return what is wrong with a board for a layer of a part with a cap; the rack may have some of these."""
    settings, cap = sheet.plan.shop.settings, bought.layer == "cap"
    if not part.cap or not bought.layer:
        return [f"a layer {bought.layer!r} of a part whose cap is {part.cap}"]
    wrong = []
    woods = part.cap if cap else part.species
    finished = part.cap_mm if cap else part.thickness_mm - part.cap_mm
    ready = sum(
        p.count
        for p in sheet.plan.shop.pieces
        if p.status == "ready" and (not woods or p.species in woods)
        if p.thickness_mm >= finished + 2 * settings.planing_mm - 1e-6
    )
    if not max(1, copies - ready) <= bought.count <= copies:
        wrong.append(f"{bought.count} pieces for {copies} copies that are missing, {ready} may be there")
    if bought.species != woods:
        wrong.append(f"{', '.join(bought.species)} for the {bought.layer}, which may be {', '.join(woods)}")
    rule = _RULE_MM[sheet.plan.shop.units]
    if not -1e-5 < bought.thickness_mm - finished - 2 * settings.planing_mm < rule + 1e-5:
        wrong.append(f"{bought.thickness_mm:g} mm thick for {finished:g} mm")
    sizes = _sizes(part, 2.0 * settings.blank_margin_mm)
    size = np.array([bought.length_mm, bought.width_mm])
    if not (np.all(sizes <= size + _CHORDS_MM, axis=1)).any():
        wrong.append(f"{size[0]:g} x {size[1]:g} mm do not hold the part")
    elif not (np.all(sizes >= size - 3 * rule - _CHORDS_MM, axis=1)).any():
        wrong.append(f"{size[0]:g} x {size[1]:g} mm are more than the part needs")
    thick = finished + 2 * settings.planing_mm
    feet = bought.count * size[0] * size[1] * thick / _BOARD_FOOT_MM3
    if not math.isclose(bought.board_feet, feet, rel_tol=1e-4):
        wrong.append(f"{bought.board_feet:.4f} board feet, it is {feet:.4f}")
    return wrong


def _sizes(part: Part, margin_mm: float) -> np.ndarray:
    """Return length and width of boards around the part for turns that the grain allows, shape (n, 2)."""
    tolerance = 90.0 if part.grain_deg is None else part.grain_tolerance_deg
    turns = np.arange(-tolerance, tolerance + _TURN_DEG / 2, _TURN_DEG) - (part.grain_deg or 0.0)
    points = points_of(part.outline)
    z = points[:, 0] + 1j * points[:, 1]
    laid = z[None, :] * np.exp(1j * np.radians(turns))[:, None]
    return np.column_stack([np.ptp(laid.real, axis=1), np.ptp(laid.imag, axis=1)]) + margin_mm


def check_sums(sheet: CheckedSheet) -> None:
    """Add up what the aims of value and wood come to; each aim is there once, each order in one.

    Blanks sawn off one piece share what it is worth, and are left to the check of sawing.

    Parameters
    ----------
    sheet : CheckedSheet
    """
    plan = sheet.plan
    if not plan.objectives:
        return
    chosen = [x for x in plan.layouts if x.blank.name not in sheet.kept]
    goals = [aim.goal for aim in plan.objectives if aim.goal != "copies"]
    needed = {"value", "wood"} if chosen else set()
    needed |= {"seams"} if any(x.seams for x in chosen) else set()
    if len(set(goals)) < len(goals) or not needed <= set(goals):
        sheet.say("A611", "aims", f"are {', '.join(goals)}; value, wood and seams are there once each")
    served = [name for aim in plan.objectives if aim.goal == "copies" for name in aim.orders]
    if len(set(served)) < len(served):
        sheet.say("A611", "aims", "an order is in two aims")
    if any(m.cut is not None for x in chosen for m in x.blank.members):
        return
    slack = _SUM_STEP * (1 + len(chosen))
    for aim in plan.objectives:
        if aim.goal in ("value", "wood"):
            _sum(sheet, aim, chosen, slack)


def _sum(sheet: CheckedSheet, aim: Objective, chosen: list[Layout], slack: float) -> None:
    settings = sheet.plan.shop.settings
    total = 0.0
    for one in chosen:
        if aim.goal == "value":
            rests = [r for x in (one.laminate.layers if one.laminate else ()) for r in x.rests]
            back = sum(x.value for x in (*one.leftovers, *rests)) + ripped_value(one)
            total += one.value - settings.leftover_worth * back
            rules = settings.glueup
            each = rules.layer_cost if one.blank.stack else rules.joint_cost
            total += each * (len(one.blank.members) - 1)
        else:
            thick = sheet.plan.leftover_thickness_mm(one)
            kept = sum(x.area_mm2 for x in one.leftovers if x.usable)
            total += one.board_feet - kept * thick / _BOARD_FOOT_MM3
            for layer in one.laminate.layers if one.laminate else ():
                total -= sum(r.area_mm2 for r in layer.rests) * layer.rough_mm / _BOARD_FOOT_MM3
            for board in one.glueup.members if one.glueup else ():
                off = sum(s.area_mm2 for s in board.strips if s.usable and s.value is not None)
                total -= off * board.rough_mm / _BOARD_FOOT_MM3
    if abs(total - aim.value) > slack:
        sheet.say("A611", f"aim {aim.goal}", f"comes to {total:.4f}, the plan says {aim.value:.4f}")
