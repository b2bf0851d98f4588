"""Why an order could not be met: the nearest piece first, then the whole rack by kind of reason."""

from __future__ import annotations

from collections.abc import Sequence

from nestyield.bed.words import format_length
from nestyield.model import Part, Units
from nestyield.planning.stock import Cause, Refusal

#: How the causes read in the summary, in the order in which they are told.
SUMMARY: dict[Cause, str] = {
    "spent": "spent on other orders or copies",
    "bed": "lie on no bed that may cut it",
    "shape": "without room for it",
    "too thin": "too thin",
    "too thick": "too thick",
    "species": "of other species",
    "on hold": "on hold",
    "taken": "taken",
    "not tried": "not tried before the run was stopped",
}


def reasons_for(part: Part, refusals: Sequence[Refusal], units: Units = "mm") -> tuple[str, ...]:
    """Return the reasons for what is missing of an order, one line each, most telling first.

    Parameters
    ----------
    part : Part
    refusals : sequence of Refusal
        One a piece, in the order of the rack; pieces on hold and taken ones too.

    Returns
    -------
    tuple of str
    """
    if not refusals:
        return ("the rack is empty",)
    counts = {cause: sum(r.cause == cause for r in refusals) for cause in SUMMARY}
    told = [f"{n} {SUMMARY[cause]}" for cause, n in counts.items() if n]
    rows = "1 row" if len(refusals) == 1 else f"{len(refusals)} rows"
    return (*_nearest(part, refusals, units), f"of {rows} on the rack: {', '.join(told)}")


def _nearest(part: Part, refusals: Sequence[Refusal], units: Units) -> list[str]:
    thick = format_length(part.thickness_mm, units)
    wood = "piece of " + " or ".join(part.species) if part.species else "piece"
    of_kind = {cause: [r for r in refusals if r.cause == cause] for cause in SUMMARY}
    spent = [r.piece for r in of_kind["spent"]]
    held = [r.piece for r in of_kind["on hold"] if r.short_mm == 0.0]
    lines: list[str] = []
    if spent:
        lines.append(f"every piece that would do is spent on other orders or copies: {_few(spent)}")
    if held:
        lines.append(f"{_few(held)} would do, but {'is' if len(held) == 1 else 'are'} on hold")
    if of_kind["bed"]:
        near = min(of_kind["bed"], key=lambda r: r.short_mm)
        lines.append(f"{near.piece} {near.text}")
    if lines:
        return lines
    if of_kind["shape"]:
        near = min(of_kind["shape"], key=lambda r: r.short_mm)
        return [f"no {wood} at least {thick} thick has room for it; nearest is {near.piece}: {near.text}"]
    for cause in ("too thin", "too thick"):
        if of_kind[cause]:
            near = min(of_kind[cause], key=lambda r: r.short_mm)
            return [f"no {wood} is of a thickness for {thick}: nearest is {near.piece}, which {near.text}"]
    if of_kind["not tried"]:
        return ["the run was stopped before any piece that might do was tried"]
    return [f"there is no {wood} on the rack" + (" that is ready" if counts_held(refusals) else "")]


def counts_held(refusals: Sequence[Refusal]) -> bool:
    """Tell whether any piece is on hold or taken."""
    return any(r.cause in ("on hold", "taken") for r in refusals)


def _few(names: Sequence[str]) -> str:
    return ", ".join(names[:4]) + (" ..." if len(names) > 4 else "")
