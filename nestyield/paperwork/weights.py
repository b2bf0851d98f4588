"""What finished parts weigh, in words: on sheets, in the report, the tables and the terminal."""

from __future__ import annotations

from nestyield.model import Layout, PartWeight, Plan, Purchase, WeighedWood, WeightWish
from nestyield.paperwork.words import clean
from nestyield.words import Words, listed

#: What a mark says of a figure.
_MARKS = {
    "S": "Wood Handbook",
    "M": "Wood Handbook, from memory",
    "D": "derived from the Wood Handbook",
    "P": "common practice, no source",
    "O": "your own figure",
}


def cells(layout: Layout, k: int, words: Words) -> list[str]:
    """Return weight and how far it may be off for a spreadsheet; empty where it is not known."""
    told = layout.weights[k] if k < len(layout.weights) else None
    if told is None or told.kg is None:
        return ["", ""]
    return [words.weight_cell(told.kg), words.weight_cell(told.off_kg)]


def each(plan: Plan, layout: Layout, words: Words) -> list[str]:
    """Return a sentence for parts alike: weight of one, how far it may be off, and what was asked of it."""
    alike: dict[tuple[str, str], int] = {}
    for placement, told in zip(layout.placements, layout.weights):
        weighs = "not known" if told.kg is None else words.weight_range(told.kg, told.off_kg)
        asked = _asked(plan.shop.part(placement.part).weight, told, words)
        key = (clean(placement.part), weighs + asked)
        alike[key] = alike.get(key, 0) + 1
    return [
        f"Weight of {name}: {text}." if n == 1 else f"Weight of each of {n} {name}: {text}."
        for (name, text), n in alike.items()
    ]


def _asked(wish: WeightWish | None, told: PartWeight, words: Words) -> str:
    """Return the range of a part's weight, and whether the part may be outside it all the same."""
    if wish is None or not wish.is_range or told.kg is None:
        return ""
    asked = wanted(wish, words)
    low, high = told.kg - told.off_kg, told.kg + told.off_kg
    loose = (wish.least_kg is not None and low < wish.least_kg) or (
        wish.most_kg is not None and high > wish.most_kg
    )
    return f", wanted {asked}" + ("; it may be outside: weigh the blank before cutting" if loose else "")


def wanted(wish: WeightWish, words: Words) -> str:
    """Return what a part is to weigh: ``1.2 kg to 1.6 kg``."""
    if wish.lightest:
        return "as light as can be"
    if wish.least_kg is None:
        return f"at most {words.weight(wish.most_kg or 0.0)}"
    if wish.most_kg is None:
        return f"at least {words.weight(wish.least_kg)}"
    return f"{words.weight(wish.least_kg)} to {words.weight(wish.most_kg)}"


def basis(layout: Layout, words: Words) -> str:
    """Return by which densities the parts of a blank are weighed."""
    woods = {w.piece: w for told in layout.weights for w in told.woods}
    said = listed(dict.fromkeys(_by(w, words) for w in woods.values()))
    if not said:
        return ""
    known = any(w.density_kg_m3 is not None for w in woods.values())
    return f"Wood alone, by {said}.{' One weight in three is farther off than the ± says.' if known else ''}"


def _by(wood: WeighedWood, words: Words) -> str:
    if wood.density_kg_m3 is None:
        return f"no known density of {clean(wood.species)}"
    density = words.density(wood.density_kg_m3)
    off = f"± {words.percent(wood.off_pct)}"
    if wood.known_by == "weighed":
        wet = "" if wood.moisture_pct is None else f" at {words.percent(wood.moisture_pct)} moisture"
        return f"the weight of {clean(wood.piece)}, {density}{wet} ({off})"
    wet = "" if wood.moisture_pct is None else f" at {words.percent(wood.moisture_pct)} moisture"
    return f"{clean(wood.species)} {density}{wet} ({off}; {_MARKS[wood.mark or 'P']})"


def lines(plan: Plan, layout: Layout, words: Words) -> list[str]:
    """Return what terminal and report tell: a line for parts alike, then the densities."""
    told = each(plan, layout, words)
    return [*told, basis(layout, words)] if told else []


def densities(purchase: Purchase, words: Words) -> str:
    """Return of which density wood to buy is, so that the part has its weight."""
    least, most = purchase.density_kg_m3 or (None, None)
    if least is None:
        return f"at most {words.density(most)}" if most is not None else ""
    return (
        f"at least {words.density(least)}"
        if most is None
        else f"{words.density(least)} to {words.density(most)}"
    )
