"""By how much a blank can be off, added up again."""

from __future__ import annotations

from nestyield.audit.sheet import CheckedBlank
from nestyield.model import OffTerm

#: Steps of the work after which a blank lies anew.
_TURNS = ("flip", "flip on pins")
_MOVES = ("move on", "turn end for end")
#: A part comes as near to the edge as told within this: chords, micrometers.
_NEAR_UM = 60


def check_off(bench: CheckedBlank) -> None:
    """Check what is told of how far off a blank can be: each kind once, as often as it is there.

    Parameters
    ----------
    bench : CheckedBlank
    """
    told = bench.layout.off
    if told is None:
        if any(layout.off is not None for layout in bench.sheet.plan.layouts):  # not told by earlier versions
            bench.say("A412", "it is not told by how much it can be off")
        return
    settings, blank = bench.sheet.plan.shop.settings, bench.layout.blank
    pieces = [p for m in blank.members if (p := bench.sheet.pieces.get(m.piece)) is not None]
    layers = len(blank.stack)
    seams = 0 if layers or len(blank.members) < 2 else len(blank.seams)
    sawn = layers > 0 or any(m.cut is not None for m in blank.members if m.layer is None)
    steps = [s.code for stage in (bench.layout.work.stages if bench.layout.work else ()) for s in stage.steps]
    flip, seam = settings.holding.flip_tolerance_mm, settings.glueup.seam_tolerance_mm
    wood = (
        ("measured", 1, max((p.measured_mm for p in pieces), default=0.0)),
        ("saw cut", int(sawn), settings.machines.saw_tolerance_mm),
        ("seam", seams, seam),
        ("layer", max(0, layers - 1), seam),
    )
    later = (
        ("turned over", sum(c in _TURNS for c in steps), flip),
        ("moved on", sum(c in _MOVES for c in steps), flip),
    )
    for what, mine, right in (("wood", told.wood, wood), ("positions", told.positions, later)):
        expected = [(s, n, round(1000 * e)) for s, n, e in right if n and round(1000 * e)]
        if [(t.source, t.count, t.each_um) for t in mine] != expected:
            bench.say("A412", f"its {what} can be off by {_words(mine)}, worked out {expected}")
    if not bench.laid:
        return
    near = min(float(laid.outline.boundary.distance(bench.wood.boundary)) for laid in bench.laid)
    if told.edge_um is None or abs(told.edge_um - 1000 * near) > _NEAR_UM:
        bench.say("A412", f"a part is told to come within {told.edge_um} um of its edge, it is {near:.3f} mm")


def _words(terms: tuple[OffTerm, ...]) -> str:
    return ", ".join(f"{t.count} x {t.each_um} um ({t.source})" for t in terms) or "nothing"
