"""Phrases: how much was tried, and the goals of the choice."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from nestyield.model import Objective, Plan
from nestyield.model.facts import GlueUpsLeft, LayoutsTried, RowsNotTried, RowsRuledOut, SearchesLeft
from nestyield.paperwork.phrases.kind import Phrase
from nestyield.words import Words, fill, listed


def _layouts_tried(tried: LayoutsTried, words: Words) -> str:
    ups = " and {glue_ups} {glue_ups:plural glue-up}" if tried.glue_ups else ""
    rows = " tried ({rows} of {of_rows} {of_rows:plural row} of the rack)"
    text = "{layouts} {layouts:plural layout}" + ups + rows
    return fill(text, tried, words)


PHRASES: Mapping[type, Phrase] = MappingProxyType(
    {
        LayoutsTried: _layouts_tried,
        RowsRuledOut: "{rows} more {rows:plural row} could not lower the value of the stock used.",
        RowsNotTried: "{rows} more {rows:plural row} that may be usable {rows:plural was were} not tried.",
        SearchesLeft: "{searches} more {searches:plural search searches} for denser layouts may gain; "
        "raise the effort.",
        GlueUpsLeft: "More glue-ups of {parts} {parts:plural part} may gain; raise the effort.",
    }
)


def goal_name(objective: Objective) -> str:
    """Return what one goal of the choice is."""
    if objective.goal == "copies":
        return f"copies of {listed(objective.orders)}"
    return {
        "sawn apart": "boards sawn from a piece to be glued to each other",
        "weight": "weight of parts that are to be light",
        "value": "value of stock used and joints, less leftovers kept",
        "wood": "wood used up",
        "seams": "seams under parts",
    }[objective.goal]


def goal_value(objective: Objective, value: float, words: Words) -> str:
    """Return a value or bound of a goal, with its unit."""
    if objective.goal == "copies":
        return f"{value:.0f}"
    if objective.goal == "weight":
        return words.weight(value)
    if objective.goal == "seams":
        return words.length(value)
    return words.money(value) if objective.goal == "value" else f"{value:.2f} board feet"


def choice_line(plan: Plan, words: Words) -> str:
    """Return what the plan is the best of, and what was not tried; empty for a plan that was not chosen."""
    if plan.tried is None:
        return ""
    loose = [o for o in plan.objectives if not o.proven]
    gaps = listed(
        f"{goal_name(o)} {goal_value(o, o.value, words)} (bound {goal_value(o, o.bound, words)})"
        for o in loose
    )
    proof = f"not proven optimal among these: {gaps}" if loose else "optimal choice among these"
    untried = (fill(str(PHRASES[type(u)]), u, words) for u in plan.untried)
    first = f"Best of the {_layouts_tried(plan.tried, words)}: {proof}; other layouts may exist."
    return " ".join([first, *untried])
