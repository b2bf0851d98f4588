"""What can hurt, in plain words, and who has the last word.

Figures carry where they come from: a published source, or common practice of the trade without one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from nestyield.model import Layout, Plan, Units
from nestyield.model.facts import NoBed
from nestyield.paperwork import flaws, room
from nestyield.paperwork.curves import bounds, move_of
from nestyield.paperwork.phrases import phrase
from nestyield.wood.machining import MachineLimits
from nestyield.words import MM_PER_INCH, Words

PRACTICE = "common practice, no source"
SMALL_PART_MM = 76.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """One caution.

    Parameters
    ----------
    text : str
    mark : str
        Where it comes from.
    """

    text: str
    mark: str = PRACTICE


#: Who decides, at the foot of every page.
LAST_WORD = (
    "The manual of your machine, the rules where you live and a person qualified for the work have "
    "the last word."
)
OPERATOR = "Check before cutting: the operator decides."


#: Said wherever an outline is cut through.
FREE = Caution(
    text="A part is loose once its outline is cut through: leave tabs or an onion skin, and free it by hand "
    "when the spindle stands still."
)
#: A push stick is at least so long (HSE, guidance on circular saws).
_PUSH_STICK_MM = 450.0


def _safe(length_mm: float, units: Units) -> str:
    """Return a limit rounded up, to the safer side: to whole millimeters or half inches."""
    step = 1.0 if units == "mm" else MM_PER_INCH / 2.0
    return Words(units).length(math.ceil(length_mm / step - 1e-6) * step)


def general(plan: Plan) -> list[Caution]:
    """Return the cautions for any work that this plan asks for."""
    units = plan.shop.units
    limits = MachineLimits.of(plan.shop.settings.machines)
    out = [
        Caution(text=f"{LAST_WORD} {OPERATOR}", mark=""),
        Caution(
            text="Look over reclaimed wood and go over it with a metal detector before any cutter "
            "touches it: nails, screws and grit break cutters and fly."
        ),
        Caution(text="Take off loose knots and splits before machining; they come loose at the cutter."),
        Caution(
            text="Guards on, eyes and ears covered, sleeves and hair tied back, and everything off the bed "
            "before the spindle starts. Stay clear of the bed while it runs."
        ),
        Caution(
            text="Check the first run in air, above the blank: zero, direction, depth, and that clamps and "
            "pins stay clear of cutter and collet."
        ),
        FREE,
        Caution(
            text=f"At the circular saw use a push stick, at least {_safe(_PUSH_STICK_MM, units)} long, for "
            f"the last {_safe(limits.saw_push_stick_mm, units)} of a cut and for every shorter cut.",
            mark="HSE, guidance on circular saws",
        ),
        Caution(
            text="Use push blocks over the jointer for anything under "
            f"{_safe(limits.push_block_length_mm, units)} long, "
            f"{_safe(limits.push_block_width_mm, units)} wide "
            f"or {_safe(limits.push_block_thickness_mm, units)} thick. Leave pieces under "
            f"{_safe(limits.jointer_shortest_mm, units)} part of a longer one."
        ),
        Caution(
            text="Wood dust harms the lungs and can burn. Extract it at the cutter and wear a mask that "
            "suits fine dust. Limits for the air you breathe: OSHA 15 mg/m³ total and 5 mg/m³ respirable, "
            "NIOSH 1 mg/m³.",
            mark="OSHA, NIOSH",
        ),
    ]
    if any(m.name for m in plan.shop.pieces if "mdf" in m.species.casefold()):
        out.append(
            Caution(
                text="Dust of MDF is very fine and holds resin: extraction and mask even for a short cut."
            )
        )
    return out


def for_blank(plan: Plan, layout: Layout) -> list[Caution]:
    """Return the cautions of one blank, those that setup planning gave first."""
    blank = layout.blank
    out: list[Caution] = []
    if layout.work is not None:
        words = Words(plan.shop.units)
        out += [Caution(text=phrase(fact, words), mark="") for fact in layout.work.cautions]
    out += [Caution(text=text) for text in flaws.datum_edges(layout, plan.shop.units)]
    out += [Caution(text=text) for text in room.watched(plan, layout)]
    kinds = {d.kind for d in blank.defects}
    metal = sorted(kinds & {"metal", "nail hole", "screw hole"})
    if metal:
        out.append(
            Caution(
                text=f"Marked in this wood: {', '.join(metal)}. Metal may still be in it: search it first."
            )
        )
    out += [Caution(text=text) for text in flaws.under_the_cutter(plan, layout)]
    loose = sorted(kinds & {"loose knot", "split", "shake", "bark", "rot"})
    if loose:
        out.append(
            Caution(
                text=f"Knock out or cut off what is loose ({', '.join(loose)}) before the blank goes "
                "on a machine."
            )
        )
    x0, y0, x1, y1 = bounds([blank.shape.outer])
    limits = MachineLimits.of(plan.shop.settings.machines)
    shortest = max(limits.jointer_shortest_mm, limits.planer_least_length_mm)
    if max(x1 - x0, y1 - y0) < shortest:
        out.append(
            Caution(
                text=f"Shorter than {_safe(shortest, plan.shop.units)}: too short for the jointer or the "
                "planer on its own. Use a carrier, or flatten it on the router bed."
            )
        )
    for k, placement in enumerate(layout.placements, start=1):
        part = plan.shop.part(placement.part)
        px0, py0, px1, py1 = bounds([move_of(placement).outline(part.outline)])
        if min(px1 - px0, py1 - py0) < SMALL_PART_MM:
            out.append(
                Caution(
                    text=f"Part {k} is small. Leave it joined to the blank by tabs or on a carrier until it "
                    "is shaped; never hold it by hand at the cutter."
                )
            )
            break
    if layout.chosen is None:
        out.append(Caution(text=phrase(NoBed(), Words(plan.shop.units)), mark=""))
    return out
