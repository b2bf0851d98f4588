"""Tabs checked again: on the outline, in held waste beyond the groove, and told once where they are cut."""

from __future__ import annotations

import math
from collections import Counter

import shapely

from nestyield.audit.curves import points_of, polygon
from nestyield.audit.held import window
from nestyield.audit.sheet import CheckedBlank
from nestyield.model import Tab
from nestyield.model.facts import CutOutline

#: A tab's middle may be so far off the outline, and a told place so far off a section's end, mm.
OFF_MM = 0.1
#: A tab reaches so far into wood that stays, beyond the groove, mm.
INTO_MM = 3.5


def check_tabs(bench: CheckedBlank) -> None:
    """Check where the tabs of a blank are, and in which steps they are told."""
    layout, work = bench.layout, bench.layout.work
    if work is None or layout.chosen is None or not 0 <= layout.chosen < len(layout.setups):
        return
    if len({t.name for t in work.tabs}) < len(work.tabs):
        bench.say("A532", "two tabs share a name")
    holding = bench.sheet.plan.shop.settings.holding
    many = Counter(tab.placement for tab in work.tabs)
    if any(n > holding.tabs for n in many.values()):
        bench.say("A532", f"a part has more tabs than the shop wants ({holding.tabs})")
    rest = _stays(bench)
    for tab in work.tabs:
        if tab.width_mm != holding.tab_width_mm:
            bench.say(
                "A532", f"{tab.name} is {tab.width_mm:g} mm wide, the shop's are {holding.tab_width_mm:g}"
            )
        if bench.laid:
            _place(bench, tab, rest)
    _told(bench)


def _stays(bench: CheckedBlank) -> shapely.Geometry:
    """Return the waste that screws hold when every outline is cut; without screws, all of it."""
    work = bench.layout.work
    assert work is not None
    wide = bench.sheet.plan.shop.settings.cutter_diameter_mm
    gone = shapely.union_all([laid.outline.buffer(wide, quad_segs=32) for laid in bench.laid])
    rest = bench.wood.difference(gone)
    screws = [shapely.Point(h.x_mm, h.y_mm) for h in work.hold_downs]
    if screws:
        rest = shapely.union_all(
            [p for p in shapely.get_parts(rest) if any(p.distance(s) <= OFF_MM for s in screws)]
        )
    flaws = [
        polygon(points_of(d.shape.outer))
        for d in bench.layout.blank.defects
        if d.kind not in ("stain", "sapwood")
    ]
    return rest.difference(shapely.union_all(flaws))


def _place(bench: CheckedBlank, tab: Tab, rest: shapely.Geometry) -> None:
    laid = next((x for x in bench.laid if x.index == tab.placement), None)
    if laid is None:
        bench.say("A532", f"{tab.name} is at no part of the blank")
        return
    off = float(laid.outline.boundary.distance(shapely.Point(tab.x_mm, tab.y_mm)))
    if off > OFF_MM:
        bench.say("A532", f"{tab.name} lies {off:.3f} mm off the outline of {laid.name}")
    far = bench.sheet.plan.shop.settings.cutter_diameter_mm + INTO_MM
    ux, uy = math.cos(math.radians(tab.angle_deg)), math.sin(math.radians(tab.angle_deg))
    for side in (-1.0, 0.0, 1.0):
        along = side * tab.width_mm / 2.0
        end = shapely.Point(tab.x_mm + far * ux - along * uy, tab.y_mm + far * uy + along * ux)
        if not rest.covers(end):
            bench.say("A532", f"{tab.name} does not reach into sound waste that is held to the end")
            return


def _told(bench: CheckedBlank) -> None:
    """Check that each tab is told with the outline of its part, in the section where it lies."""
    work, setup = bench.layout.work, bench.layout.setups[bench.layout.chosen or 0]
    assert work is not None
    positions = {p.name: p for p in work.positions}
    told: Counter[str] = Counter()
    for stage in work.stages:
        if stage.position not in positions:
            continue
        here = window(bench, setup, positions[stage.position])
        for step in stage.steps:
            if not isinstance(step, CutOutline):
                continue
            told.update(step.tabs)
            for tab in (t for t in work.tabs if t.name in step.tabs):
                at = shapely.Point(tab.x_mm, tab.y_mm)
                if tab.placement + 1 != step.placement or here.distance(at) > OFF_MM:
                    bench.say("A532", f"{tab.name} is told with another outline than its own")
    if told != Counter(t.name for t in work.tabs):
        bench.say("A532", "the tabs told with the outlines are not those of the plan")
