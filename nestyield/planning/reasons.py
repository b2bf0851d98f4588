"""Why an order could not be met: the nearest piece first, then the whole rack by kind of reason."""

from __future__ import annotations

from collections.abc import Sequence

from nestyield.model import Part, Settings
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


def reasons_for(part: Part, settings: Settings, refusals: Sequence[Refusal]) -> tuple[str, ...]:
    """Return the reasons for what is missing of an order, one line each, most telling first.

    Parameters
    ----------
    part : Part
    settings : Settings
    refusals : sequence of Refusal
        One a piece, in the order of the rack; pieces on hold and taken ones too.

    Returns
    -------
    tuple of str
    """
    if not refusals:
        return ("the rack is empty",)
    lines = [_nearest(part, settings, refusals)]
    lines += [f"{r.piece} {r.text}" for r in refusals if r.cause == "on hold" and r.short_mm == 0.0]
    counts = {cause: sum(r.cause == cause for r in refusals) for cause in SUMMARY}
    told = [f"{n} {SUMMARY[cause]}" for cause, n in counts.items() if n]
    rows = "1 row" if len(refusals) == 1 else f"{len(refusals)} rows"
    lines.append(f"of {rows} on the rack: {', '.join(told)}")
    return tuple(lines)


def _nearest(part: Part, settings: Settings, refusals: Sequence[Refusal]) -> str:
    wood = " or ".join(part.species) if part.species else "any species"
    of_kind = {cause: [r for r in refusals if r.cause == cause] for cause in SUMMARY}
    spent = of_kind["spent"]
    if spent:
        few = ", ".join(r.piece for r in spent[:4]) + (" ..." if len(spent) > 4 else "")
        return f"every piece that would do is spent on other orders or copies: {few}"
    if of_kind["bed"]:
        near = min(of_kind["bed"], key=lambda r: r.short_mm)
        return f"{near.piece} {near.text}"
    if of_kind["shape"]:
        near = min(of_kind["shape"], key=lambda r: r.short_mm)
        return (
            f"no piece of {wood} at least {part.thickness_mm:g} mm thick has room for it; "
            f"nearest is {near.piece}: {near.text}"
        )
    for cause in ("too thin", "too thick"):
        if of_kind[cause]:
            near = min(of_kind[cause], key=lambda r: r.short_mm)
            return (
                f"no piece of {wood} is of a thickness for {part.thickness_mm:g} mm: "
                f"nearest is {near.piece}, which {near.text}"
            )
    return f"there is no {wood} on the rack"
