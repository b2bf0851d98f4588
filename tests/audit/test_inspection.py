"""Faults set into the inspection of a blank's wood and into cautions, each found; sound ones pass."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import shapely

from nestyield.audit.cautions import check_cautions, check_general
from nestyield.audit.inspection import check_inspection, held_wrong
from nestyield.audit.sheet import CheckedBlank, CheckedSheet
from nestyield.model import (
    DEFECT_KINDS,
    Blank,
    Defect,
    Inspection,
    Layout,
    Leftover,
    LeftoverDefects,
    MachineLimits,
    Member,
    Outline,
    Part,
    Placement,
    Plan,
    Settings,
    Shape,
    Shop,
    Zone,
)
from nestyield.model.facts import (
    AtOutline,
    FibersRise,
    KnotUnderCutter,
    LooseInWood,
    MeasureFromOpposite,
    MetalInWood,
    MetalUnderCutter,
    NoBed,
    NoWoodAtCorner,
    PlaneEvenly,
    ShortStock,
    SmallParts,
)
from nestyield.planning.work.cautions import general_cautions
from nestyield.planning.work.inspect import with_inspection


def zone(name: str, role: Any, box: tuple[float, float, float, float], **more: Any) -> Zone:
    return Zone(name=name, role=role, shape=Shape(outer=Outline.rectangle(*box)), **more)


PART = Part(
    name="stick",
    drawing="",
    outline=Outline(points_mm=((0, 0), (200, 0), (200, 60), (0, 60)), bulges=(0.0, 0.4, 0.0, 0.0)),
    thickness_mm=20.0,
    zones=(
        zone("FRONT", "pocket", (20, 20, 50, 40), depth_mm=5.0),
        zone("BACK", "pocket", (60, 20, 90, 40), depth_mm=8.0, face="back"),
        zone("SLOT", "cutout", (100, 20, 130, 40)),
        zone("SLOPE", "contour", (170, 5, 200, 55), depth_mm=6.0),
        Zone(name="PEG", role="hole", shape=Shape(outer=Outline.circle(150, 30, 4)), face="through"),
        Zone(name="PEG#2", role="hole", shape=Shape(outer=Outline.circle(160, 30, 4)), depth_mm=12.0),
    ),
)
WHOLE = Outline.rectangle(0, 0, 400, 300)


def made(
    *defects: Defect,
    outer: Outline = WHOLE,
    thickness_mm: float = 24.0,
    grain_deg: float | None = 0.0,
    placements: tuple[Placement, ...] | None = None,
    machines: MachineLimits | None = None,
    parts: tuple[Part, ...] = (),
) -> CheckedBlank:
    settings = Settings(cutter_diameter_mm=6.0, machines=machines or MachineLimits())
    shop = Shop(name="", units="mm", settings=settings, beds=(), parts=(PART, *parts), pieces=(), orders=())
    blank = Blank(
        name="B",
        members=(Member(piece="B", copy=1),),
        species="black cherry",
        thickness_mm=thickness_mm,
        shape=Shape(outer=outer),
        grain_deg=grain_deg,
        defects=defects,
    )
    at = Placement(
        part="stick", order="order 1", copy=1, angle_deg=0.0, mirrored=False, x_um=50_000, y_um=50_000
    )
    left = Shape(outer=Outline.polygon([(0, 200), (400, 180), (400, 300), (0, 300)]))
    layout = Layout(
        blank=blank,
        placements=(at,) if placements is None else placements,
        setups=(),
        chosen=0,
        leftovers=(
            Leftover(name="B-a", shape=left, rectangle_mm=(0, 0, 1, 1), area_mm2=1, usable=True),
            Leftover(name="B-b", shape=left, rectangle_mm=(0, 0, 1, 1), area_mm2=1, usable=False),
        ),
        part_area_mm2=0,
        stock_area_mm2=0,
        usable_area_mm2=0,
        board_feet=0,
        value=0,
    )
    layout = with_inspection(layout, shop)
    plan = Plan(
        shop=shop,
        seed=1,
        effort=1,
        layouts=(layout,),
        orders=(),
        cautions=general_cautions(shop, [layout]),
    )
    return CheckedBlank(CheckedSheet(plan), layout)


def codes(bench: CheckedBlank, layout: Layout | None = None) -> set[str]:
    again = CheckedBlank(CheckedSheet(bench.sheet.plan), layout or bench.layout)
    check_inspection(again)
    check_cautions(again)
    check_general(again.sheet)
    return {f.code for f in again.sheet.findings}


def dot(kind: str, x: float, y: float, name: str = "row 1", r: float = 3.0, **more: Any) -> Defect:
    return Defect(name=name, kind=kind, shape=Shape(outer=Outline.circle(x, y, r)), **more)


def strip(kind: str, box: tuple[float, float, float, float], name: str = "row 9") -> Defect:
    return Defect(name=name, kind=kind, shape=Shape(outer=Outline.rectangle(*box)))


def by_chance(seed: int) -> CheckedBlank:
    """A crooked board with defects of all kinds on its edges, under the cutter and beside it."""
    rng = np.random.default_rng(seed)

    def along(n: int, high: float) -> list[float]:
        return sorted(float(v) for v in rng.uniform(0, high, n))

    low = [(x, float(rng.choice([0.0, 0.2, 0.7, 8.0]))) for x in along(4, 400)]
    corners = [*low, (400.0, float(rng.uniform(0, 60))), (400.0, 300.0), (float(rng.uniform(0, 60)), 300.0)]
    corners += [(0.0, y) for y in along(2, 250)[::-1]]
    bulges = [float(rng.choice([0.0, 0.0, 0.05, 0.2])) for _ in corners]
    bulges = [b if k < 5 else 0.0 for k, b in enumerate(bulges)]
    defects = []
    for k in range(14):
        kind = str(rng.choice(DEFECT_KINDS))
        where = rng.choice(["edge", "part", "any"])
        face = str(rng.choice(["top", "bottom", "through"]))
        deep = None if rng.random() < 0.3 else float(rng.uniform(0.3, 26))
        x, y = (float(v) for v in (rng.uniform(0, 400), rng.uniform(0, 300)))
        if where == "edge":
            y = float(rng.choice([0.0, 300.0]))
        if where == "part":
            x, y = (float(v) for v in (rng.uniform(40, 280), rng.uniform(40, 120)))
        w, h = (float(v) for v in rng.uniform(1, 90, 2)) if where == "edge" else (6.0, 4.0)
        turned = Outline.polygon([(x - w, y - h / 3), (x + w / 2, y - h), (x + w, y + h / 3), (x, y + h)])
        shape = Outline.circle(x, y, float(rng.uniform(0.5, 9))) if rng.random() < 0.5 else turned
        defects.append(
            Defect(
                name=f"row {k}",
                kind=kind,
                shape=Shape(outer=shape),
                face=face,  # type: ignore[arg-type]
                depth_mm=deep,
            )
        )
    front = bool(rng.integers(0, 2))
    at = Placement(
        part="stick",
        order="order 1",
        copy=1,
        angle_deg=float(rng.choice([0.0, 180.0, 7.3])),
        mirrored=not front,
        x_um=int(rng.integers(40_000, 280_000)),
        y_um=int(rng.integers(40_000, 200_000)),
        front_up=front,
        top_off_mm=None if rng.random() < 0.5 else float(rng.uniform(0.8, 3.2)),
    )
    second = replace(at, copy=2, angle_deg=0.0, mirrored=False, front_up=True, x_um=30_000, y_um=200_000)
    return made(
        *defects,
        outer=Outline(points_mm=tuple(corners), bulges=tuple(bulges)),
        grain_deg=None if rng.random() < 0.2 else 0.0,
        placements=(at, second) if rng.random() < 0.5 else (at,),
        machines=MachineLimits(push_block_width_mm=55.0) if rng.random() < 0.3 else None,
    )


@pytest.mark.parametrize("seed", range(60))
def test_what_planning_finds_is_so(seed: int) -> None:
    """Inspection and cautions of boards made by chance pass the audit's own walk along edges and depths."""
    assert codes(by_chance(seed)) == set()


def bench() -> CheckedBlank:
    return made(
        dot("knot", 85, 80),
        dot("screw hole", 47, 80, "row 2", face="bottom", depth_mm=6.0),
        dot("nail hole", 300, 250, "row 3"),
        dot("knot", 120, 250, "row 4", face="top", depth_mm=5.0),
        strip("wane", (0, 0, 330, 9)),
    )


def changed(of: CheckedBlank, change: Callable[[Inspection], Inspection]) -> Layout:
    assert of.layout.inspection is not None
    return replace(of.layout, inspection=change(of.layout.inspection))


def edge(k: int, **change: Any) -> Callable[[Inspection], Inspection]:
    def put(told: Inspection) -> Inspection:
        edges = list(told.edges)
        edges[k] = replace(edges[k], **change)
        return replace(told, edges=tuple(edges))

    return put


def gap(by_um: int) -> Callable[[Inspection], Inspection]:
    def put(told: Inspection) -> Inspection:
        (first,) = told.edges[0].gaps
        return edge(0, gaps=(replace(first, to_um=first.to_um + by_um),))(told)

    return put


def under(k: int, **change: Any) -> Callable[[Inspection], Inspection]:
    def put(told: Inspection) -> Inspection:
        some = list(told.under_cutter)
        some[k] = replace(some[k], **change)
        return replace(told, under_cutter=tuple(some))

    return put


FAULTS: list[tuple[str, Callable[[Inspection], Inspection], str]] = [
    ("a bad edge called sound", edge(0, sound=True), "A516"),
    ("a sound edge called bad", edge(2, sound=False), "A516"),
    ("a gap left out", edge(0, gaps=()), "A516"),
    ("a gap 3 mm longer", gap(3_000), "A516"),
    ("more wood than there is", edge(2, wood_um=410_000), "A516"),
    ("an edge left out", lambda t: replace(t, edges=t.edges[1:]), "A516"),
    ("no wood at a corner with wood", lambda t: replace(t, corner=not t.corner), "A516"),
    ("another planing", lambda t: replace(t, planing=PlaneEvenly(to_um=20_000, each_um=1_000)), "A516"),
    ("no planing", lambda t: replace(t, planing=None), "A516"),
    ("a knot under the cutter dropped", lambda t: replace(t, under_cutter=t.under_cutter[1:]), "A517"),
    ("a place too many", under(0, places=(AtOutline(placement=0),)), "A517"),
    ("of another kind", under(1, kind="metal"), "A517"),
    ("a defect that is not there", under(1, defect="row 7"), "A517"),
    (
        "a leftover's defect dropped",
        lambda t: replace(t, leftovers=(replace(t.leftovers[0], defects=("row 3",)),)),
        "A518",
    ),
    (
        "a defect elsewhere",
        lambda t: replace(t, leftovers=(replace(t.leftovers[0], defects=("row 1", "row 3", "row 4")),)),
        "A518",
    ),
    (
        "a clear rectangle over a defect",
        lambda t: replace(t, leftovers=(replace(t.leftovers[0], clear_mm=(0.0, 200.0, 400.0, 100.0)),)),
        "A518",
    ),
    ("a leftover forgotten", lambda t: replace(t, leftovers=()), "A518"),
]


@pytest.mark.parametrize(("name", "fault", "code"), FAULTS, ids=[f[0] for f in FAULTS])
def test_faults_in_the_inspection_are_found(
    name: str, fault: Callable[[Inspection], Inspection], code: str
) -> None:
    """Each fault gives a finding of its own code."""
    of = bench()
    assert codes(of) == set()
    assert code in codes(of, changed(of, fault)), name


def test_a_blank_without_inspection_is_found() -> None:
    """A layout that lost its inspection does not pass."""
    of = bench()
    assert codes(of, replace(of.layout, inspection=None)) == {"A516"}


def test_faults_in_cautions_are_found() -> None:
    """A caution left out, one too many, or one with another number is found (A519)."""
    of = bench()
    told = of.layout.cautions
    kinds = [type(c) for c in told]
    assert (
        kinds
        == [
            MeasureFromOpposite,
            NoWoodAtCorner,
            MetalUnderCutter,
            MetalInWood,
            KnotUnderCutter,
        ]
        or kinds[-1] is SmallParts
    )
    for k in range(len(told)):
        assert codes(of, replace(of.layout, cautions=(*told[:k], *told[k + 1 :]))) == {"A519"}
    for more in (
        NoBed(),
        LooseInWood(kinds=("rot",)),
        ShortStock(length_um=300_000, least_um=304_800),
        NoWoodAtCorner(kind="bark"),
        FibersRise(feed="climb", total_um=9_000),
    ):
        assert codes(of, replace(of.layout, cautions=(*told, more))) == {"A519"}
    measure = told[0]
    assert isinstance(measure, MeasureFromOpposite)
    for wrong in (
        replace(measure, size_um=290_000),
        replace(measure, opposite="right"),
        replace(measure, gaps=()),
    ):
        assert codes(of, replace(of.layout, cautions=(wrong, *told[1:]))) == {"A519"}
    assert codes(of, replace(of.layout, chosen=None)) == {"A519"}


def test_limits_of_the_shop_are_checked() -> None:
    """Cautions made with other limits than the shop's do not pass."""
    of = made(machines=MachineLimits(push_block_width_mm=90.0))
    assert SmallParts(placements=(0,), under_um=90_000) in of.layout.cautions
    other = made()
    assert codes(of, other.layout) == {"A519"}
    plan = replace(of.sheet.plan, cautions=other.sheet.plan.cautions)
    assert codes(CheckedBlank(CheckedSheet(plan), of.layout)) == {"A519"}


def test_a_width_at_the_limit_may_count_or_not() -> None:
    """Beside a small part, one as wide as the limit, to less than the check can tell, is told as small or not."""
    disc = Part(name="disc", drawing="", outline=Outline.circle(0, 0, 38.125), thickness_mm=20)
    first = made().layout.placements[0]
    second = replace(first, part="disc", x_um=300_000, y_um=120_000)
    # its diameter, 76.25 mm, is 0.01 mm over, under, and 1 mm over the limit
    for limit, may in ((76.24, {(0,), (0, 1)}), (76.26, {(0,), (0, 1)}), (75.25, {(0,)})):
        of = made(
            placements=(first, second), machines=MachineLimits(push_block_width_mm=limit), parts=(disc,)
        )
        rest = tuple(c for c in of.layout.cautions if not isinstance(c, SmallParts))
        for told in ((0,), (0, 1)):
            small = SmallParts(placements=told, under_um=round(1000 * limit))
            found = codes(of, replace(of.layout, cautions=(*rest, small)))
            assert ("A519" not in found) == (told in may), (limit, told)


def test_general_cautions_are_all_there() -> None:
    """None of the cautions of the plan may be dropped."""
    of = bench()
    plan = of.sheet.plan
    assert len(plan.cautions) >= 9
    for k in range(len(plan.cautions)):
        fewer = replace(plan, cautions=(*plan.cautions[:k], *plan.cautions[k + 1 :]))
        assert codes(CheckedBlank(CheckedSheet(fewer), of.layout)) == {"A519"}


def test_defects_of_one_name_in_a_glue_up():
    """Two members from one row have defects of one name; a leftover holds it when one of them lies there."""
    wood = Shape(outer=Outline.rectangle(0, 0, 400, 100))
    left = Leftover(
        name="G-a", shape=wood, rectangle_mm=(0, 0, 400, 100), area_mm2=4e4, usable=True, value=0.0
    )
    knots = [
        Defect(name="defects.csv row 2", kind="knot", shape=Shape(outer=Outline.rectangle(x, 0, x + 20, 100)))
        for x in (300, 900)
    ]
    told = LeftoverDefects(leftover="G-a", defects=("defects.csv row 2",), clear_mm=(0, 0, 300, 100))
    assert list(held_wrong([left], [told], knots, 0.0)) == []
    assert list(held_wrong([left], [told], knots[1:], 0.0)) == [
        "leftover G-a does not hold defects.csv row 2"
    ]


def test_a_hole_that_is_made_in_a_leftover():
    """The clear rectangle of a leftover keeps clear of the holes that pins and screws make in it."""
    wood = Shape(outer=Outline.rectangle(0, 0, 400, 100))
    left = Leftover(
        name="G-a", shape=wood, rectangle_mm=(0, 0, 400, 100), area_mm2=4e4, usable=True, value=0.0
    )
    hole = {"G-a": [shapely.Point(350, 50).buffer(3)]}
    whole = LeftoverDefects(leftover="G-a", defects=(), clear_mm=(0, 0, 400, 100))
    assert list(held_wrong([left], [whole], [], 0.0)) == []
    assert list(held_wrong([left], [whole], [], 0.0, hole)) == [
        "the clear rectangle of leftover G-a holds a hole of a pin or screw"
    ]
    beside = replace(whole, clear_mm=(0, 0, 346, 100))
    assert list(held_wrong([left], [beside], [], 0.0, hole)) == []
