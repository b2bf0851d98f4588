"""Faults put into sound plans one by one, and what the audit must say to each."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
import shapely

import nestyield.audit
from nestyield.audit.check import audit
from nestyield.audit.codes import CODES
from nestyield.audit.curves import moved, points_of
from nestyield.model import (
    Defect,
    Finding,
    Layout,
    Objective,
    Outline,
    Placement,
    Plan,
    Purchase,
    Shape,
    Slack,
    TearOutRisk,
    WeightWish,
)
from nestyield.model.arcs import box_of
from nestyield.model.facts import (
    BedPassedOver,
    BlanksKept,
    DetailRejected,
    LayoutRejected,
    LayoutsTried,
    RisingGrain,
    StoppedEarly,
)
from nestyield.model.pose import Pose


def codes(plan: Plan) -> set[str]:
    return {f.code for f in audit(plan)}


def with_layout(plan: Plan, change: Callable[[Layout], Layout], index: int = 0) -> Plan:
    layouts = list(plan.layouts)
    layouts[index] = change(layouts[index])
    return replace(plan, layouts=tuple(layouts))


def with_placement(
    plan: Plan, change: Callable[[Placement], Placement], index: int = 0, layout: int = 0
) -> Plan:
    def swap(one: Layout) -> Layout:
        placements = list(one.placements)
        placements[index] = change(placements[index])
        return replace(one, placements=tuple(placements))

    return with_layout(plan, swap, layout)


def with_blank(plan: Plan, **more: object) -> Plan:
    return with_layout(plan, lambda one: replace(one, blank=replace(one.blank, **more)))


def with_setup(plan: Plan, index: int = 0, **more: object) -> Plan:
    def swap(one: Layout) -> Layout:
        setups = list(one.setups)
        setups[index] = replace(setups[index], **more)
        return replace(one, setups=tuple(setups))

    return with_layout(plan, swap)


def studies(seeds: range, kept: int) -> list[object]:
    """The first seeds, and the others as studies."""
    return [k if k < seeds.start + kept else pytest.param(k, marks=pytest.mark.study) for k in seeds]


EVIDENCE = Finding(code="A408", severity="error", message="as measured")


def rejecting(plan: Plan, **more: object) -> Plan:
    """A plan that says that a detail of its first blank was rejected."""
    told = {"blank": plan.layouts[0].blank.name, "detail": "play", "evidence": (EVIDENCE,), **more}
    return replace(plan, notices=(*plan.notices, DetailRejected(**told)))


def with_play(plan: Plan) -> Plan:
    def still(one: Layout) -> Layout:
        rooms = (
            Slack(placement=k, along_mm=0, across_mm=0, slide=None, from_deg=p.angle_deg, to_deg=p.angle_deg)
            for k, p in enumerate(one.placements)
        )
        return replace(one, rooms=tuple(rooms))

    return with_layout(plan, still)


def without_rooms(plan: Plan) -> Plan:
    """The plan without what it tells of play, which takes most of the time to check."""
    return replace(plan, layouts=tuple(replace(one, rooms=()) for one in plan.layouts))


def in_one_set(plan: Plan) -> Plan:
    """The plan with its first and last order of one set: of the last nothing is placed."""
    orders = list(plan.shop.orders)
    for k in (0, -1):
        orders[k] = replace(orders[k], set="pair")
    return with_shop(plan, orders=tuple(orders))


def with_weight(plan: Plan, **more: object) -> Plan:
    def swap(one: Layout) -> Layout:
        first, *rest = one.weights
        return replace(one, weights=(replace(first, **more), *rest))

    return with_layout(plan, swap)


def with_wish(plan: Plan, wish: WeightWish) -> Plan:
    return with_shop(plan, parts=tuple(replace(q, weight=wish) for q in plan.shop.parts))


def with_shop(plan: Plan, **more: object) -> Plan:
    return replace(plan, shop=replace(plan.shop, **more))


def with_piece(plan: Plan, **more: object) -> Plan:
    first, *rest = plan.shop.pieces
    return with_shop(plan, pieces=(replace(first, **more), *rest))


def with_order(plan: Plan, index: int = 0, **more: object) -> Plan:
    orders = list(plan.shop.orders)
    orders[index] = replace(orders[index], **more)
    return with_shop(plan, orders=tuple(orders))


def with_result(plan: Plan, index: int = 0, **more: object) -> Plan:
    results = list(plan.orders)
    results[index] = replace(results[index], **more)
    return replace(plan, orders=tuple(results))


def with_defect(plan: Plan, kind: str, x: float, y: float, r: float, **more: object) -> Plan:
    """A defect in the rack and in the blank alike."""
    defect = Defect(name="defects.csv row 99", kind=kind, shape=Shape(outer=Outline.circle(x, y, r)), **more)
    plan = with_piece(plan, defects=(*plan.shop.pieces[0].defects, defect))
    return with_blank(plan, defects=(*plan.layouts[0].blank.defects, defect))


def with_leftover(plan: Plan, **more: object) -> Plan:
    def swap(one: Layout) -> Layout:
        first, *rest = one.leftovers
        return replace(one, leftovers=(replace(first, **more), *rest))

    return with_layout(plan, swap)


def moved_shape(shape: Shape, dx: float, dy: float) -> Shape:
    def move(o: Outline) -> Outline:
        return replace(o, points_mm=tuple((x + dx, y + dy) for x, y in o.points_mm))

    return Shape(outer=move(shape.outer), holes=tuple(move(h) for h in shape.holes))


def first_of(plan: Plan, part: str) -> tuple[int, int]:
    """Layout and placement of the first copy of a part."""
    for k, layout in enumerate(plan.layouts):
        for i, p in enumerate(layout.placements):
            if p.part == part:
                return k, i
    pytest.skip(f"no {part} in this plan")
    raise AssertionError


def middle_of(plan: Plan) -> tuple[float, float]:
    """A point well inside the first part of the first blank."""
    part = next(p for p in plan.shop.parts if p.name == plan.layouts[0].placements[0].part)
    p = plan.layouts[0].placements[0]
    box = box_of(part.outline, Pose.of(p))
    return box.x0 + box.width * 0.25, box.y0 + box.height * 0.5


def below(plan: Plan) -> tuple[float, float]:
    """A point 4 mm below the lowest point of the first part, in the margin."""
    p = plan.layouts[0].placements[0]
    part = next(q for q in plan.shop.parts if q.name == p.part)
    points = moved(points_of(part.outline), p)
    x, y = points[points[:, 1].argmin()]
    return float(x), float(y) - 4.0


def seam(plan: Plan, **more: object) -> Plan:
    def swap(one: Layout) -> Layout:
        first, *rest = one.seams
        return replace(one, seams=(replace(first, **more), *rest))

    return with_layout(plan, swap)


def longer_seam(plan: Plan) -> Plan:
    return seam(plan, length_mm=plan.layouts[0].seams[0].length_mm + 0.2)


def nonfitting(plan: Plan) -> int:
    return next(i for i, s in enumerate(plan.layouts[0].setups) if not s.fits)


def wider_room(plan: Plan) -> Plan:
    """Slack to shift the first part 2 mm farther to the left than the plan found."""

    def swap(one: Layout) -> Layout:
        first, *rest = one.rooms
        points = first.slide.outer.points_mm if first.slide else ((0.0, 0.0), (0.001, 0.0), (0.0, 0.001))
        low = min(x for x, _ in points) - 2.0
        hull = shapely.MultiPoint([*points, (low, points[-1][1])]).convex_hull
        slide = Shape(outer=Outline.polygon(list(hull.exterior.coords)[:-1]))
        grown = replace(first, slide=slide, along_mm=max(x for x, _ in points) - low)
        return replace(one, rooms=(grown, *rest))

    return with_layout(plan, swap)


def with_watch(plan: Plan, x: float, y: float) -> Plan:
    """A stretch to watch where there is no outline."""
    watch = TearOutRisk(
        placement=0,
        line_mm=((x, y), (x + 3.0, y + 4.0)),
        length_mm=5.0,
        angle_deg=40.0,
        rule=RisingGrain(from_deg=15.0, to_deg=75.0),
    )
    return with_layout(plan, lambda one: replace(one, watch=(*one.watch, watch)))


def placed_first(plan: Plan) -> float:
    """Copies placed of the first order."""
    name = plan.shop.orders[0].name
    return float(sum(at.order == name for layout in plan.layouts for at in layout.placements))


def aiming(plan: Plan, **more) -> Plan:
    """The plan with one aim of its choice, for the first order."""
    aim = {
        "goal": "copies",
        "orders": (plan.shop.orders[0].name,),
        "value": 0.0,
        "bound": 0.0,
        "proven": True,
    }
    return replace(plan, objectives=(Objective(**{**aim, **more}),))


def buying(plan: Plan, **more: object) -> Plan:
    """A shopping list of one line for the first order that is short, with something wrong in it."""
    result = next(r for r in plan.orders if r.placed < r.count)
    order = next(o for o in plan.shop.orders if o.name == result.order)
    part = next(p for p in plan.shop.parts if p.name == order.part)
    right = next((p for p in plan.purchases if p.order == order.name), None)
    line = right or Purchase(
        order=order.name,
        count=result.count - result.placed,
        species=part.species,
        thickness_mm=part.thickness_mm,
        length_mm=9e3,
        width_mm=9e3,
        board_feet=1.0,
    )
    return replace(plan, purchases=(replace(line, **more),))


FAULTS: list[tuple[str, Callable[[Plan], Plan], str]] = [
    ("room that is not there", wider_room, "A408"),
    ("set that is not whole", in_one_set, "A613"),
    ("another weight", lambda p: with_weight(p, kg=0.5), "A411"),
    ("weights of a blank left out", lambda p: with_layout(p, lambda one: replace(one, weights=())), "A411"),
    ("part outside its range of weight", lambda p: with_wish(p, WeightWish(most_kg=0.001)), "A136"),
    ("edge to watch away from the outline", lambda p: with_watch(p, *middle_of(p)), "A409"),
    (
        "a tenth over the low edge",
        lambda p: with_placement(p, lambda q: replace(q, y_um=q.y_um - 100)),
        "A204",
    ),
    (
        "a tenth over the left edge",
        lambda p: with_placement(p, lambda q: replace(q, x_um=q.x_um - 100)),
        "A204",
    ),
    ("a part far outside", lambda p: with_placement(p, lambda q: replace(q, x_um=q.x_um + 10**7)), "A204"),
    (
        "two parts in one place",
        lambda p: with_placement(
            p, lambda q: replace(p.layouts[0].placements[0], copy=q.copy, order=q.order, part=q.part), 1
        ),
        "A206",
    ),
    ("unknown part", lambda p: with_placement(p, lambda q: replace(q, part="fretless")), "A201"),
    ("unknown order", lambda p: with_placement(p, lambda q: replace(q, order="order 77")), "A601"),
    (
        "order of another part",
        lambda p: with_placement(p, lambda q: replace(q, order="too much", part="body")),
        "A601",
    ),
    ("copy beyond the count", lambda p: with_placement(p, lambda q: replace(q, copy=40)), "A603"),
    (
        "blank a millimeter longer",
        lambda p: with_blank(p, shape=moved_shape(p.layouts[0].blank.shape, 1.0, 0.0)),
        "A109",
    ),
    (
        "a hole of the blank forgotten",
        lambda p: with_blank(p, shape=replace(p.layouts[0].blank.shape, holes=())),
        "A109",
    ),
    ("blank thicker than its piece", lambda p: with_blank(p, thickness_mm=43.0), "A110"),
    (
        "nothing planed off the top",
        lambda p: with_placement(p, lambda q: replace(q, top_off_mm=0.0)),
        "A114",
    ),
    (
        "more planed off the top than there is",
        lambda p: with_placement(p, lambda q: replace(q, top_off_mm=2.1)),
        "A114",
    ),
    (
        "part of another wood",
        lambda p: with_shop(p, parts=tuple(replace(q, species=("black walnut",)) for q in p.shop.parts)),
        "A106",
    ),
    ("blank of other grain", lambda p: with_blank(p, grain_deg=3.0), "A110"),
    ("sheet for board", lambda p: with_blank(p, grain_deg=None), "A110"),
    ("blank of other species", lambda p: with_blank(p, species="black cherry"), "A110"),
    ("defect left out of the blank", lambda p: with_blank(p, defects=p.layouts[0].blank.defects[1:]), "A111"),
    (
        "defect made smaller",
        lambda p: with_blank(
            p,
            defects=tuple(
                replace(d, shape=Shape(outer=Outline.circle(*d.shape.outer.points_mm[0], 1.0)))
                for d in p.layouts[0].blank.defects
            ),
        ),
        "A111",
    ),
    (
        "defect made shallower",
        lambda p: with_blank(
            p, defects=(replace(p.layouts[0].blank.defects[0], depth_mm=5.0), *p.layouts[0].blank.defects[1:])
        ),
        "A111",
    ),
    ("seam left out of the blank", lambda p: with_blank(p, seams=()), "A112"),
    ("blank of no piece", lambda p: with_blank(p, members=()), "A105"),
    ("piece not on the rack", lambda p: with_shop(p, pieces=p.shop.pieces[1:]), "A101"),
    ("piece on hold", lambda p: with_piece(p, status="hold"), "A103"),
    ("piece taken before", lambda p: with_piece(p, status="taken"), "A103"),
    ("row with none left", lambda p: with_piece(p, count=0), "A102"),
    ("one piece spent twice", lambda p: with_blank(p, members=p.layouts[1].blank.members), "A102"),
    ("two blanks of one name", lambda p: with_blank(p, name=p.layouts[1].blank.name), "A104"),
    ("stock too thin", lambda p: with_blank(with_piece(p, thickness_mm=41.0), thickness_mm=41.0), "A107"),
    ("stock too thick", lambda p: with_blank(with_piece(p, thickness_mm=60.0), thickness_mm=60.0), "A108"),
    ("knot in wood that stays", lambda p: with_defect(p, "knot", *middle_of(p), 2.0), "A301"),
    ("metal under a part", lambda p: with_defect(p, "metal", *middle_of(p), 1.0), "A302"),
    ("metal where the cutter runs", lambda p: with_defect(p, "metal", *below(p), 1.0), "A302"),
    ("longer seam reported", longer_seam, "A401"),
    ("seam not reported", lambda p: with_layout(p, lambda one: replace(one, seams=one.seams[1:])), "A401"),
    ("seam under no part", lambda p: seam(p, placement=17), "A401"),
    ("seam of another name", lambda p: seam(p, seam="seam 9"), "A401"),
    ("seam through a zone it does not cross", lambda p: seam(p, zones=(("LABEL", 12.0),)), "A402"),
    (
        "leftover a tenth nearer to the part",
        lambda p: with_leftover(p, shape=moved_shape(p.layouts[0].leftovers[0].shape, -0.1, 0.0)),
        "A404",
    ),
    (
        "leftover past the blank",
        lambda p: with_leftover(p, shape=moved_shape(p.layouts[0].leftovers[0].shape, 0.1, 0.0)),
        "A403",
    ),
    (
        "leftover's rectangle too long",
        lambda p: with_leftover(
            p,
            rectangle_mm=tuple(v + d for v, d in zip(p.layouts[0].leftovers[0].rectangle_mm, (0, 0, 0.1, 0))),
        ),
        "A405",
    ),
    (
        "scrap called usable",
        lambda p: with_leftover(
            with_shop(p, settings=replace(p.shop.settings, leftover_shortest_mm=500.0)), usable=True
        ),
        "A405",
    ),
    (
        "leftover of wrong area",
        lambda p: with_leftover(p, area_mm2=p.layouts[0].leftovers[0].area_mm2 + 50),
        "A406",
    ),
    (
        "one leftover twice",
        lambda p: with_layout(p, lambda one: replace(one, leftovers=(*one.leftovers, one.leftovers[0]))),
        "A403",
    ),
    (
        "wrong area of parts",
        lambda p: with_layout(p, lambda one: replace(one, part_area_mm2=one.part_area_mm2 + 10)),
        "A406",
    ),
    (
        "wrong area of stock",
        lambda p: with_layout(p, lambda one: replace(one, stock_area_mm2=one.stock_area_mm2 * 1.001)),
        "A406",
    ),
    ("wrong usable area", lambda p: with_layout(p, lambda one: replace(one, usable_area_mm2=0.0)), "A406"),
    (
        "wrong board feet",
        lambda p: with_layout(p, lambda one: replace(one, board_feet=one.board_feet + 0.01)),
        "A407",
    ),
    ("wrong value", lambda p: with_layout(p, lambda one: replace(one, value=one.value + 0.01)), "A407"),
    (
        "wrong value of a leftover",
        lambda p: with_layout(
            p,
            lambda one: replace(
                one, leftovers=tuple(replace(left, value=left.value + 0.01) for left in one.leftovers)
            ),
        ),
        "A407",
    ),
    ("unknown bed", lambda p: with_setup(p, bed="laser"), "A501"),
    (
        "a direction not answered",
        lambda p: with_layout(p, lambda one: replace(one, setups=one.setups[:1])),
        "A502",
    ),
    ("no setup chosen", lambda p: with_layout(p, lambda one: replace(one, chosen=None)), "A503"),
    (
        "a setup chosen that does not fit",
        lambda p: with_layout(p, lambda one: replace(one, chosen=nonfitting(p))),
        "A503",
    ),
    (
        "a setup chosen that does not exist",
        lambda p: with_layout(p, lambda one: replace(one, chosen=9)),
        "A503",
    ),
    (
        "chosen bed not allowed by the order",
        lambda p: with_order(
            with_order(with_order(p, 0, beds=("little",)), 1, beds=("little",)), 2, beds=("little",)
        ),
        "A504",
    ),
    (
        "beds in another order than in the shop file",
        lambda p: with_shop(p, beds=p.shop.beds[::-1]),
        "A531",
    ),
    (
        "a bed passed over that comes later",
        lambda p: with_layout(
            p, lambda one: replace(one, passed_over=(BedPassedOver(bed="little", along="x", why=()),))
        ),
        "A531",
    ),
    ("directions swapped", lambda p: with_setup(p, along="y"), "A505"),
    ("laid askew", lambda p: with_setup(p, turned_deg=1.0), "A505"),
    (
        "wrong travel needed",
        lambda p: with_setup(p, needs_x_mm=p.layouts[0].setups[0].needs_x_mm - 0.1),
        "A506",
    ),
    (
        "wrong travel to spare",
        lambda p: with_setup(p, spare_y_mm=p.layouts[0].setups[0].spare_y_mm + 0.1),
        "A506",
    ),
    ("small bed said to fit", lambda p: with_setup(p, nonfitting(p), fits=True, refusals=()), "A507"),
    ("a no without a reason", lambda p: with_setup(p, nonfitting(p), refusals=()), "A505"),
    ("blank beyond the table", lambda p: with_setup(p, x_mm=-20.1), "A508"),
    ("cutter beyond the travel", lambda p: with_setup(p, y_mm=p.shop.beds[0].travel_y_mm), "A507"),
    (
        "blank over a keep-out",
        lambda p: with_setup(
            p,
            x_mm=1615.0 - p.layouts[0].blank.shape.outer.points_mm[1][0],
            y_mm=615.0 - p.layouts[0].blank.shape.outer.points_mm[2][1],
        ),
        "A509",
    ),
    (
        "Z too short",
        lambda p: with_shop(p, beds=(replace(p.shop.beds[0], travel_z_mm=39.0), p.shop.beds[1])),
        "A507",
    ),
    ("one too many counted", lambda p: with_result(p, 0, placed=p.orders[0].placed + 1), "A602"),
    ("a result missing", lambda p: replace(p, orders=p.orders[1:]), "A602"),
    (
        "more placed than ordered",
        lambda p: with_order(p, next(i for i, r in enumerate(p.orders) if r.placed > 1), count=1),
        "A603",
    ),
    ("another count ordered", lambda p: with_result(p, 3, count=7), "A602"),
    ("unmet without a reason", lambda p: with_result(p, 3, reasons=()), "A604"),
    ("more copies reached than placed", lambda p: aiming(p, value=99.0, bound=99.0), "A611"),
    ("a bound that is beaten", lambda p: aiming(p, value=placed_first(p), bound=0.0, proven=False), "A611"),
    ("proven below its bound", lambda p: aiming(p, value=placed_first(p), bound=99.0), "A611"),
    ("seams that are not there", lambda p: aiming(p, goal="seams", orders=(), value=5e5, bound=5e5), "A611"),
    ("wood that is not used up", lambda p: aiming(p, goal="wood", orders=(), value=9e3, bound=9e3), "A611"),
    ("value that is not there", lambda p: aiming(p, goal="value", orders=(), value=9e3, bound=9e3), "A611"),
    ("nothing told of play", lambda p: with_layout(p, lambda one: replace(one, rooms=())), "A408"),
    ("a leftover of another blank", lambda p: with_leftover(p, name="Z-9-a"), "A403"),
    (
        "a setup that does not fit and may stand off",
        lambda p: with_setup(p, nonfitting(p), clearance_mm=3.0),
        "A506",
    ),
    (
        "more room on the bed than there is",
        lambda p: with_setup(
            p, next(i for i, s in enumerate(p.layouts[0].setups) if s.fits), clearance_mm=900.0
        ),
        "A506",
    ),
    (
        "a flaw deeper than in its piece",
        lambda p: with_blank(
            p, defects=tuple(replace(d, depth_mm=39.0, face="top") for d in p.layouts[0].blank.defects)
        ),
        "A111",
    ),
    ("a blank of another name", lambda p: with_blank(p, name="Z-9"), "A104"),
    ("a board that is too short to buy", lambda p: buying(p, length_mm=50.0), "A615"),
    ("more to buy than is missing", lambda p: buying(p, count=99), "A615"),
    ("another wood to buy", lambda p: buying(p, species=("balsa",)), "A615"),
    ("to buy for an order that is met", lambda p: buying(p, order=p.orders[0].order), "A615"),
    (
        "more rows tried than there are",
        lambda p: replace(p, tried=LayoutsTried(layouts=1, rows=98, of_rows=99, glue_ups=0)),
        "A615",
    ),
    ("short without a warning", lambda p: replace(p, notices=()), "A608"),
    (
        "another number missing",
        lambda p: replace(p, notices=(replace(p.notices[0], missing=1, count=7), *p.notices[1:])),
        "A608",
    ),
    ("warned of twice", lambda p: replace(p, notices=(*p.notices, p.notices[0])), "A608"),
    ("said to be stopped", lambda p: replace(p, notices=(StoppedEarly(by="seconds"), *p.notices)), "A608"),
    ("a stop without a warning", lambda p: replace(p, stopped="interrupt"), "A608"),
    ("kept, and not there", lambda p: replace(p, notices=(*p.notices, BlanksKept(blanks=("?",)))), "A608"),
    ("a detail left out of no blank", lambda p: rejecting(p, blank="?"), "A609"),
    ("play left out, and shown", lambda p: rejecting(with_play(p)), "A609"),
    (
        "edges left out, and shown",
        lambda p: rejecting(with_watch(p, 0.0, 0.0), detail="edges to watch"),
        "A609",
    ),
    ("left out without evidence", lambda p: rejecting(p, detail="screws", evidence=()), "A609"),
    (
        "a layout left out on no piece",
        lambda p: replace(
            p, notices=(*p.notices, LayoutRejected(pieces=("?",), parts=("p",), evidence=(EVIDENCE,)))
        ),
        "A609",
    ),
    (
        "held order placed",
        lambda p: with_order(p, next(i for i, r in enumerate(p.orders) if r.placed), hold=True),
        "A605",
    ),
]


@pytest.mark.parametrize("seed", studies(range(20), 6))
def test_sound_plans_pass(seed, make_sound):
    """Plans laid within a tenth of a millimeter of every limit have no finding; made without play, they lack it only."""
    papers = seed < 4
    plan = make_sound(seed, papers=papers)
    lacking = [] if papers else [("A408", f"blank {layout.blank.name}") for layout in plan.layouts]
    assert [(f.code, f.where) for f in audit(plan)] == lacking


@pytest.mark.parametrize(("name", "fault", "code"), FAULTS, ids=[f[0] for f in FAULTS])
@pytest.mark.parametrize("which", studies(range(2), 1))
def test_each_fault_is_found(name, fault, code, which, sound_plans):
    """Every fault of the table gives a finding of its own code, in two different plans; the play is told where it counts."""
    plan = sound_plans[which] if code == "A408" else without_rooms(sound_plans[which])
    assert code in codes(fault(plan)), name


def test_every_code_has_a_fault():
    """No check is without a fault that proves it works, and every code is explained."""
    folder = Path(nestyield.audit.__file__).parent
    texts = [f.read_text() for f in folder.glob("*.py") if f.name != "codes.py"]
    written = set(re.findall(r'"(A[0-9]{3})"', "".join(texts)))
    assert written == set(CODES)
    elsewhere = {
        "A610",
        "A612",
        "A202",
        "A203",
        "A205",
        "A207",
        "A208",
        "A113",
        "A115",
        "A116",
        "A117",
        "A118",
        "A119",
        "A120",
        "A121",
        "A122",
        "A123",
        "A124",
        "A125",
        "A126",
        "A127",
        "A128",
        "A129",
        "A130",
        "A131",
        "A132",
        "A133",
        "A134",
        "A137",
        "A138",
        "A139",
        "A303",
        "A410",
        "A412",
        "A510",
        "A511",
        "A512",
        *(f"A{n}" for n in range(513, 531)),
        "A532",
        "A606",
        "A607",
        "A614",
        "A099",
    }
    files = {c for c in written if c < "A010"}
    assert written - {code for _, _, code in FAULTS} == elsewhere | files


@pytest.mark.parametrize("seed", studies(range(20, 25), 1))
def test_a_tenth_of_a_millimeter_is_caught(seed, make_sound):
    """Any part that has less than 0.1 mm of play is caught when it is shifted 0.1 mm over its limit."""
    plan = make_sound(seed, row=5, papers=False)
    tried = 0
    for layout in plan.layouts:
        alone = replace(plan, layouts=(layout,))
        placed = layout.placements
        for i, placement in enumerate(placed):
            assert "A204" in codes(with_placement(alone, lambda q: replace(q, y_um=q.y_um - 100), i))
            tried += 1
            if i + 1 < len(placed) and "body" not in (placement.part, placed[i + 1].part):
                assert "A206" in codes(with_placement(alone, lambda q: replace(q, x_um=q.x_um + 100), i))
                tried += 1
        assert "A204" in codes(with_placement(alone, lambda q: replace(q, x_um=q.x_um - 100), 0))
    assert tried >= 10


@pytest.mark.parametrize("seed", studies(range(5), 1))
def test_turned_and_mirrored_parts_are_caught(seed, make_sound):
    """A part turned past its grain tolerance, or cut as the image that it does not allow, is found."""
    plan = make_sound(seed, row=6, papers=False)
    k, i = first_of(plan, "bar")
    assert "A202" in codes(with_placement(plan, lambda q: replace(q, angle_deg=q.angle_deg + 4.01), i, k))
    assert "A202" not in codes(with_placement(plan, lambda q: replace(q, angle_deg=q.angle_deg + 3.99), i, k))
    assert "A203" in codes(with_placement(plan, lambda q: replace(q, mirrored=not q.mirrored), i, k))
    assert "A203" in codes(with_placement(plan, lambda q: replace(q, front_up=not q.front_up), i, k))
    k, i = first_of(plan, "rosette")
    assert "A203" not in codes(with_placement(plan, lambda q: replace(q, front_up=not q.front_up), i, k))
    only = tuple(replace(p, mirrored="only") if p.name == "rosette" else p for p in plan.shop.parts)
    assert "A203" in codes(with_shop(plan, parts=only))


def test_senseless_numbers_give_a_finding_and_no_traceback(make_sound):
    """Numbers that no shop has are told as such."""
    plan = make_sound(0)
    for big in (10**18, 10**400):
        assert codes(with_placement(plan, lambda q, big=big: replace(q, x_um=big)))
    wild = replace(plan.shop.parts[0], outline=replace(plan.shop.parts[0].outline, bulges=(1e200, 1e-200)))
    assert codes(with_shop(plan, parts=(wild, *plan.shop.parts[1:])))
    line = replace(plan.shop.parts[1], outline=Outline.polygon([(0, 0), (1, 0), (2, 0)]))
    assert codes(with_shop(plan, parts=(plan.shop.parts[0], line, plan.shop.parts[2])))
