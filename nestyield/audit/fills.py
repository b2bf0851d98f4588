"""The fillings told, measured again."""

from __future__ import annotations

from nestyield.audit.depth import as_it_may_be, filler_in
from nestyield.audit.sheet import CheckedBlank, CheckedSheet

#: A told volume may be off by this, and by this part of itself: chords and the drawing's own chord error.
VOLUME_TOL_ML = 0.02
VOLUME_TOL = 0.02


def check_fills(bench: CheckedBlank) -> None:
    """Every defect that stays in a part and is filled is told, with its volume, and nothing else.

    Plans written before fillings were told have neither rooms nor fillings; they pass.
    """
    layout = bench.layout
    if not layout.rooms and not layout.fills:
        return
    told: dict[tuple[int, str], float] = {}
    for fill in layout.fills:
        key = (fill.placement, fill.defect)
        told[key] = told.get(key, 0.0) + fill.volume_ml
    scratch = CheckedBlank(CheckedSheet(bench.sheet.plan), layout)
    measured: dict[tuple[int, str], float] = {}
    names: dict[tuple[int, str], str] = {}
    sloping: set[tuple[int, str]] = set()
    for laid in scratch.laid:
        for defect, flaw in zip(layout.blank.defects, scratch.flaws.geometries):
            ground = as_it_may_be(bench, flaw)
            if defect.traits.metal or not laid.outline.intersects(ground):
                continue
            key = (laid.index, defect.name)
            names[key] = laid.name
            contours = [z.shape for z in laid.part.zones if z.does.slopes and z.shape is not None]
            if any(laid.zone(shape).intersects(ground) for shape in contours):
                sloping.add(key)
            measured[key] = measured.get(key, 0.0) + filler_in(scratch, laid, defect, ground)
    for key in sorted(set(told) | set(measured)):
        said, found = told.get(key, 0.0), measured.get(key, 0.0)
        # How much of a slope is cut away is not measured here: less may be told.
        off = said - found if key in sloping else abs(said - found)
        if off > VOLUME_TOL_ML + VOLUME_TOL * found:
            where = names.get(key, f"placement {key[0]}")
            bench.say(
                "A410",
                f"{key[1]} in {where} wants {found:.3f} ml of filler as measured, {said:.3f} ml as told",
            )
