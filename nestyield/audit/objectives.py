"""What the choice is said to have reached, and its bounds."""

from __future__ import annotations

import math

from nestyield.audit.sheet import CheckedSheet
from nestyield.audit.weights import light_kg

#: Lengths of seams are rounded once for each blank, mm.
_SEAM_STEP_MM = 1.0
#: Weights are rounded once for each blank, and measured again to a thousandth, kg.
_GRAMS_KG = 0.005


def check_objectives(sheet: CheckedSheet) -> None:
    """Count copies and boards sawn apart, add seams up; look whether bounds and what is proven can be.

    Copies and seams of blanks that the plan keeps were not chosen, and do not count.
    """
    plan = sheet.plan
    made: dict[str, int] = {}
    seams, blanks, apart, light = 0.0, 0, 0, 0.0
    for layout in plan.layouts:
        if layout.blank.name in sheet.kept:
            continue
        blanks += 1
        seams += sum(s.length_mm for s in layout.seams)
        light += light_kg(sheet, layout)
        if not any(m.layer or m.strip for m in layout.blank.members):
            apart += len(layout.blank.members) - len(layout.blank.copies)
        for at in layout.placements:
            made[at.order] = made.get(at.order, 0) + 1
    for aim in plan.objectives:
        where = f"aim {aim.goal}" + (f" of {', '.join(aim.orders)}" if aim.orders else "")
        more = aim.goal == "copies"
        beaten = aim.value - aim.bound if more else aim.bound - aim.value
        if beaten > 1e-6:
            sheet.say("A611", where, f"reaches {aim.value:g}, past its bound {aim.bound:g}")
        if aim.proven != math.isclose(aim.value, aim.bound, abs_tol=1e-6):
            sheet.say("A611", where, f"{aim.value:g} of {aim.bound:g} is called proven: {aim.proven}")
        if more and aim.value != sum(made.get(order, 0) for order in aim.orders):
            count = sum(made.get(order, 0) for order in aim.orders)
            sheet.say("A611", where, f"{count} copies are placed, the plan says {aim.value:g}")
        if aim.goal == "sawn apart" and aim.value != apart:
            sheet.say("A611", where, f"{apart} boards are sawn apart and glued, the plan says {aim.value:g}")
        if aim.goal == "weight" and abs(aim.value - light) > _GRAMS_KG * (blanks + 1):
            sheet.say("A611", where, f"parts to be light weigh {light:.3f} kg, the plan says {aim.value:g}")
        if aim.goal == "seams" and abs(aim.value - seams) > _SEAM_STEP_MM * (blanks + 1):
            sheet.say("A611", where, f"{seams:.1f} mm of seams run under parts, the plan says {aim.value:g}")
