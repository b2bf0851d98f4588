"""By how much a blank can be off, as a sentence that shows the sum."""

from __future__ import annotations

from nestyield.model import Layout, OffTerm
from nestyield.words import Words, listed

_BY = {
    "measured": "by its measuring",
    "saw cut": "by the saw cut to its outline",
    "seam": "by a seam",
    "layer": "by a layer in the clamps",
    "turned over": "each time it is turned over",
    "moved on": "each time it is moved on",
}


def lines(layout: Layout, words: Words) -> list[str]:
    """Return by how much edges, seams and flaws, and what is cut later, can be off; empty for nothing.

    Parameters
    ----------
    layout : Layout
    words : Words
    """
    off = layout.off
    if off is None:
        return []
    out = []
    if off.wood_um:
        near = ""
        if off.edge_um is not None:
            edge = words.length(off.edge_um / 1000, style="fine", rounding="down")
            near = f" A part comes within {edge} of its edge."
        total = words.length(off.wood_um / 1000, style="fine", rounding="up")
        out.append(
            f"Edges, seams and flaws can lie up to {total} off where the plan has them "
            f"({_sum(off.wood, words)}).{near}"
        )
    if off.positions_um:
        total = words.length(off.positions_um / 1000, style="fine", rounding="up")
        out.append(
            f"What is cut in a later position can lie up to {total} off ({_sum(off.positions, words)})."
        )
    return out


def _sum(terms: tuple[OffTerm, ...], words: Words) -> str:
    return listed(
        (f"{t.count} × " if t.count > 1 else "")
        + f"{words.length(t.each_um / 1000, style='fine', rounding='up')} {_BY[t.source]}"
        for t in terms
    )
