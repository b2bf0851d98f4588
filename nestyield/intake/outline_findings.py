"""Findings about the lines of a layer: open, branching, doubled, gaps closed."""

from __future__ import annotations

import math
from collections.abc import Sequence

from nestyield.geometry.chain import Chain, Chains
from nestyield.intake.layers import Drawing, Layer
from nestyield.intake.problems import Problems
from nestyield.model import Point

#: Closed gaps wider than this are told.
TELL_GAP_MM = 0.01
#: A wider gap is a line that lacks.
GAP_MM = 5.0
#: Problems of one kind on one layer that are listed one by one.
MOST_LISTED = 8
#: An open end as near as this to a branch is not told a second time.
AT_BRANCH_MM = 0.02


def tell_remarks(drawing: Drawing, layer: Layer, problems: Problems) -> None:
    """Turn the remarks of a layer that is used into findings; many alike become one."""
    groups: dict[tuple[str, str, str], list[str]] = {}
    for r in layer.remarks:
        groups.setdefault((r.severity, r.code, r.message), []).append(r.where)
    for (severity, code, message), places in groups.items():
        where = places[0] + (f" and {len(places) - 1} more" if len(places) > 1 else "")
        problems.add(severity, code, message, drawing.file, where)  # type: ignore[arg-type]


def names_of(layer: Layer, sources: Sequence[int]) -> str:
    """Return the labels of some curves of a layer: the first three, and how many more."""
    labels = [layer.items[s].label for s in sources]
    return ", ".join(labels[:3]) + (f" and {len(labels) - 3} more" if len(labels) > 3 else "")


def where_of(layer: Layer, sources: Sequence[int]) -> str:
    """Return layer and labels, for a finding."""
    return f"layer {layer.name}, {names_of(layer, sources)}"


def tell_doubled(drawing: Drawing, layer: Layer, chains: Chains, problems: Problems) -> None:
    """Warn of lines that run over another and were left out."""
    for number, (left_out, kept) in enumerate(chains.doubled):
        if number == MOST_LISTED:
            problems.warning(
                "D009",
                f"{len(chains.doubled) - MOST_LISTED} more entities are drawn twice and were used once",
                drawing.file,
                f"layer {layer.name}",
            )
            break
        item = layer.items[left_out]
        problems.warning(
            "D009",
            f"drawn twice: it runs over {layer.items[kept].label}, "
            f"{drawing.place(*item.curve.points_mm[0])}; used "
            "once. Remove one of them",
            drawing.file,
            f"layer {layer.name}, {item.label}",
        )


def tell_open(
    drawing: Drawing, layer: Layer, chains: Chains, tolerance_mm: float, problems: Problems
) -> None:
    """Add errors for outlines that are open or branch."""
    for branch in chains.branches[:MOST_LISTED]:
        problems.error(
            "D011",
            f"{len(branch.sources)} lines meet {drawing.place(*branch.at_mm)}; an outline goes on one way "
            "only: "
            "remove the extra line or put it on another layer",
            drawing.file,
            where_of(layer, branch.sources),
        )
    at_branch = [b.at_mm for b in chains.branches]
    open_ = [c for c in chains.open if not _ends_at(c, at_branch)]
    ends = [p for c in chains.open for p in (c.points_mm[0], c.points_mm[-1])]
    for c in open_[:MOST_LISTED]:
        message = _open(drawing, c, ends, tolerance_mm)
        problems.error("D007", message, drawing.file, where_of(layer, c.sources))
    more = max(0, len(open_) - MOST_LISTED) + max(0, len(chains.branches) - MOST_LISTED)
    if more:
        problems.error(
            "D007",
            f"{more} more places where outlines are open or branch",
            drawing.file,
            f"layer {layer.name}",
        )


def _open(drawing: Drawing, c: Chain, ends: list[Point], tolerance_mm: float) -> str:
    """Return what is wrong with an open outline: a gap, a line that lacks, or ends that lie apart."""
    a, b = c.points_mm[0], c.points_mm[-1]
    own, near = math.dist(a, b), _gap_from(ends, a, b)
    if own > near:
        apart = (
            f"ends {drawing.place(*a)} and {drawing.place(*b)}, the nearest other {drawing.length(near)} off"
        )
        return f"the outline is open: {apart}; join the ends in the drawing"
    if own <= GAP_MM:
        closed = f"gaps up to chaining = {drawing.length(tolerance_mm)} are closed"
        return f"the outline has a gap of {drawing.length(own)} {drawing.place(*a)}; join the ends ({closed})"
    start, end = (drawing.place(*p).removeprefix("at ") for p in (a, b))
    return f"the outline is open from {start} to {end} ({drawing.length(own)}); draw the missing line"


def _ends_at(c: Chain, places: list[Point]) -> bool:
    return any(math.dist(end, p) < AT_BRANCH_MM for end in (c.points_mm[0], c.points_mm[-1]) for p in places)


def _gap_from(ends: list[Point], a: Point, b: Point) -> float:
    """Distance from the end ``b`` (or ``a``) to the nearest other loose end."""
    others = list(ends)
    others.remove(b)
    return min(math.dist(b, p) for p in others)


def tell_gaps(drawing: Drawing, layer: Layer, c: Chain, problems: Problems) -> None:
    """Note the widest gap that was closed in an outline, if it is worth telling."""
    wide = [g for g in c.gaps if g.width_mm > TELL_GAP_MM]
    if wide:
        widest = max(wide, key=lambda g: g.width_mm)
        problems.note(
            "D014",
            f"{len(wide)} gap{'s' if len(wide) > 1 else ''} of the outline closed, the widest "
            f"{drawing.length(widest.width_mm)} {drawing.place(*widest.at_mm)}",
            drawing.file,
            where_of(layer, widest.sources),
        )
