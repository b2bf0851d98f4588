"""Parts made of layers: pieces glued face to face."""

from __future__ import annotations

import csv
import json
import math
import re
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from nestyield.audit.check import audit
from nestyield.model import Defect, GlueUpRules, Order, Outline, Plan, Shape, WeightWish, Zone
from nestyield.model.facts import LayersPull, MoistureUnknown, NotLaminated, PressShort
from nestyield.paperwork import laminate_sheet
from nestyield.paperwork.canvas import Text
from nestyield.placement.slices import slice_of
from nestyield.planfile import dumps, loads
from nestyield.planning.run import make_plan

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from second import check as second

#: Of these shops: planing of each face, margin, millimeters.
PLANING, MARGIN = 0.8, 5.0
RULES = GlueUpRules(most_layers=3, layer_cost=20.0)
ONE = [Order(name="o", part="body")]
#: Two of these come to 40 mm, planed on both faces.
HALF = 20.0 + 2 * PLANING


def planned(make: Any, pieces: list[Any], part: Any, orders: list[Order] = ONE, **more: Any) -> Plan:
    settings = {"leftover_shortest_mm": 100.0, "leftover_narrowest_mm": 40.0, "glueup": RULES, **more}
    shop = make.shop(pieces, [part], orders, settings=settings)
    return make_plan(shop, seed=1, effort=1, seconds=600.0, workers=1)


def knot(x: float, y: float, face: str = "through", depth: float | None = None, row: int = 2) -> Defect:
    shape = Shape(outer=Outline.circle(x, y, 6))
    return Defect(name=f"defects.csv row {row}", kind="knot", shape=shape, face=face, depth_mm=depth)


def body(make: Any, **more: Any) -> Any:
    return make.part("body", 380, 180, **{"thickness_mm": 40.0, "grain_tolerance_deg": 1.0, **more})


def pocket(depth: float, face: str = "front") -> Zone:
    shape = Shape(outer=Outline.rectangle(100, 60, 180, 120))
    return Zone(name="P", role="pocket", shape=shape, face=face, depth_mm=depth)


def layers_of(plan: Plan) -> list[str]:
    return [m.piece for layout in plan.layouts for m in layout.blank.members]


def sound(plan: Plan) -> bool:
    """Neither check finds anything, and the plan reads back."""
    told = json.loads(dumps(plan))
    assert audit(plan) == ()
    assert loads(dumps(plan)) == plan
    assert second.of_plan(told).found == []
    return True


def test_two_thin_boards_make_a_thick_part(make: Any) -> None:
    """Boards of 21.6 mm lose 0.8 mm on each face: two come to 40 exactly, and 21.5 mm are too thin."""
    plan = planned(make, [make.board("a", 420, 200, thickness_mm=HALF, count=2)], body(make))
    (layout,) = plan.layouts
    assert layout.blank.thickness_mm == pytest.approx(40.0 + 2 * PLANING)
    assert [(x.top_mm, x.bottom_mm) for x in layout.blank.stack] == [(0.0, 20.8), (20.8, 41.6)]
    assert sound(plan)
    thin = planned(make, [make.board("a", 420, 200, thickness_mm=HALF - 0.1, count=2)], body(make))
    assert thin.layouts == ()


def test_off_unless_asked_for(make: Any) -> None:
    """Without the setting no part is laminated that has no cap; nor is one with glue = false."""
    boards = [make.board("a", 420, 200, thickness_mm=HALF, count=2)]
    assert planned(make, boards, body(make), glueup=GlueUpRules()).layouts == ()
    assert planned(make, boards, body(make, glue=False)).layouts == ()


def test_three_layers_where_two_are_too_thin(make: Any) -> None:
    """Three boards of 15 mm come to 40.2 mm; two layers allowed are not enough."""
    boards = [make.board("a", 420, 200, thickness_mm=15.0, count=3)]
    plan = planned(make, boards, body(make))
    assert layers_of(plan) == ["a", "a", "a"]
    (layout,) = plan.layouts
    told = layout.laminate
    assert told is not None
    # 3 x (15 - 1.6) is 0.2 mm more than 40: it comes off the lowest layer, which keeps 0.8 for later
    assert [x.planed_mm for x in told.layers] == pytest.approx([14.2, 13.4, 14.0])
    assert sound(plan)
    assert planned(make, boards, body(make), glueup=GlueUpRules(most_layers=2)).layouts == ()


def test_the_switch_comes_at_the_cost_of_the_layer(make: Any) -> None:
    """A thick board is left when two thin ones and gluing them cost a cent less, and taken when a cent more."""
    thin = [make.board(n, 396, 196, thickness_mm=HALF, value=10.0) for n in ("a", "b")]
    for value, taken in ((39.99, ["thick"]), (40.01, ["a", "b"])):
        thick = make.board("thick", 396, 196, thickness_mm=41.6, value=value)
        assert layers_of(planned(make, [thick, *thin], body(make))) == taken


def test_a_cap_lies_on_the_core_it_asks_for(make: Any) -> None:
    """A cap of 8 mm on walnut: no board of either wood makes it alone, and the glue line lies 8 mm deep."""
    part = body(make, cap=("sugar maple",), cap_mm=8.0, species=("black walnut",))
    maple = make.board("m", 420, 200, thickness_mm=10.0)
    walnut = make.board("w", 420, 200, thickness_mm=34.0, species="black walnut")
    plan = planned(make, [walnut, maple], part, glueup=GlueUpRules())
    assert layers_of(plan) == ["m", "w"]
    told = plan.layouts[0].laminate
    assert told is not None
    assert told.faces[0].below_front_mm == pytest.approx(8.0)
    (pull,) = [c for c in told.cautions if isinstance(c, LayersPull)]
    assert pull.species == ("sugar maple", "black walnut")
    assert sound(plan)
    # GTR-190: C_T of walnut and sugar maple .00274 and .00353, C_R .00190 and .00165; over the season's points
    points = told.moisture_pct[1] - told.moisture_pct[0]
    wide = max(y for _, y in plan.layouts[0].blank.shape.outer.points_mm) - min(
        y for _, y in plan.layouts[0].blank.shape.outer.points_mm
    )
    most = max(abs(a - b) for a in (0.00353, 0.00165) for b in (0.00274, 0.00190))
    assert told.faces[0].mismatch_mm == pytest.approx(wide * points * most, abs=1e-3)
    for wood in (walnut, maple):
        assert planned(make, [replace(wood, thickness_mm=44.0, count=2)], part).layouts == ()
        alone = planned(make, [replace(wood, count=2)], part)
        assert alone.layouts == ()
        (reason,) = [r for r in alone.orders[0].reasons if getattr(r, "refusal", None) is not None]
        assert isinstance(reason.refusal, NotLaminated)
        # what lacks is the other layer, planed on both faces, the margin around it
        (bought,) = alone.purchases
        thick = {"cap": 8.0, "core": 32.0}[bought.layer] + 2 * PLANING
        assert (bought.layer == "core") == (wood is maple)
        assert (bought.count, bought.thickness_mm) == (1, pytest.approx(thick))
        size = {"thickness_mm": bought.thickness_mm, "species": bought.species[0]}
        board = make.board("bought", bought.length_mm, bought.width_mm, **size)
        enough = planned(make, [wood, board], part)
        assert sorted(layers_of(enough)) == sorted([wood.name, "bought"])
        short = make.board("bought", bought.length_mm, bought.width_mm - 0.5, **size)
        assert planned(make, [wood, short], part).layouts == ()
        assert audit(alone) == ()


@pytest.mark.parametrize(
    ("flaw", "depth", "fits"),
    [
        ((140, 90, "through", None), 20.0, True),  # in the cap, under the pocket: gone
        ((140, 90, "through", None), 6.0, False),  # the pocket ends in the cap: 2 mm of the knot stay
        ((300, 90, "bottom", 1.5), 20.0, True),  # no deeper than what is planed off the glued face
        ((300, 90, "bottom", 2.5), 20.0, False),
        ((300, 90, "top", 0.7), 20.0, True),  # planed off after gluing
    ],
)
def test_a_flaw_counts_in_its_own_layer_alone(
    make: Any, flaw: tuple[Any, ...], depth: float, fits: bool
) -> None:
    """A cap with a knot serves where a pocket or the planer takes the knot away, as deep as it is."""
    part = body(make, cap=("sugar maple",), cap_mm=8.0, species=("black walnut",), zones=(pocket(depth),))
    size = (380 + 2 * MARGIN, 180 + 2 * MARGIN)
    x, y, face, deep = flaw
    # 1.4 mm are too much: they come off the face that is glued, beside the 0.8
    shut = [knot(x + MARGIN, y + MARGIN, face, deep), knot(380 + MARGIN - x, 180 + MARGIN - y, face, deep, 3)]
    other = [k for k in shut[1:] if fits is False]
    maple = make.board("m", *size, thickness_mm=11.0, defects=(shut[0], *other))
    walnut = make.board("w", *size, thickness_mm=34.0, species="black walnut")
    plan = planned(make, [maple, walnut], part)
    assert layers_of(plan) == (["m", "w"] if fits else [])
    assert sound(plan)


def test_a_knot_of_the_core_is_told_at_its_depth(make: Any) -> None:
    """A knot 6 mm into the core lies under 8 mm of cap: a pocket of 15 mm takes it, one of 13 does not."""
    size = (380 + 2 * MARGIN, 180 + 2 * MARGIN)
    maple = make.board("m", *size, thickness_mm=9.6)
    flaws = (knot(140 + MARGIN, 90 + MARGIN, "top", PLANING + 6.0),)
    # end for end it would lie clear of the pocket, in wood that stays
    walnut = make.board("w", *size, thickness_mm=33.6, species="black walnut", defects=flaws)
    for depth, fits in ((15.0, True), (13.0, False)):
        zones = (pocket(depth),)
        part = body(make, cap=("sugar maple",), cap_mm=8.0, species=("black walnut",), zones=zones)
        plan = planned(make, [maple, walnut], part)
        assert layers_of(plan) == (["m", "w"] if fits else [])
        assert sound(plan)
        if fits:
            (defect,) = plan.layouts[0].blank.defects
            assert defect.span_mm(plan.layouts[0].blank.thickness_mm) == pytest.approx((8.8, 14.8))


def test_layers_of_other_outlines_cover_the_part(make: Any) -> None:
    """Each piece needs to hold the part alone, turned as it lies: a slanting one under a straight one."""
    c, s = math.cos(math.radians(20)), math.sin(math.radians(20))
    corners = [(0, 0), (392, 0), (392, 192), (0, 192)]
    slant = Shape(outer=Outline.polygon([(c * x - s * y, s * x + c * y) for x, y in corners]))
    boards = [
        make.board("a", 600, 300, thickness_mm=HALF),
        make.board("b", 0, 0, thickness_mm=HALF, shape=slant, grain_deg=20.0),
    ]
    plan = planned(make, boards, body(make))
    assert sorted(layers_of(plan)) == ["a", "b"]
    assert sound(plan)
    shape = Shape(
        outer=Outline.polygon(
            [(c * x - s * y, s * x + c * y) for x, y in [*corners[:2], (392, 188), (0, 188)]]
        )
    )
    small = [boards[0], replace(boards[1], shape=shape)]
    assert planned(make, small, body(make)).layouts == ()


def test_moisture_and_unlike_woods_keep_layers_apart(make: Any) -> None:
    """More than 2 points apart, and unlike woods where the shop does not mix them, are not glued."""
    one = make.board("a", 420, 200, thickness_mm=HALF, moisture_pct=8.0)
    for moisture, taken in ((10.0, 2), (10.1, 0)):
        other = make.board("b", 420, 200, thickness_mm=HALF, moisture_pct=moisture)
        plan = planned(make, [one, other], body(make))
        assert len(layers_of(plan)) == taken
        assert sound(plan)
    walnut = make.board("b", 420, 200, thickness_mm=HALF, species="black walnut")
    assert planned(make, [one, walnut], body(make)).layouts == ()
    mixed = planned(make, [one, walnut], body(make), glueup=replace(RULES, mixed_species=True))
    assert len(layers_of(mixed)) == 2
    assert sound(mixed)
    told = mixed.layouts[0].laminate
    assert told is not None
    assert any(isinstance(c, MoistureUnknown) for c in told.cautions)


def test_clamps_press_the_whole_face(make: Any) -> None:
    """A dense wood asks for 200 psi over the face: with 12 clamps of 1,000 lbf too little, and it is said."""
    boards = [make.board("a", 390, 190, thickness_mm=HALF, count=2, species="sugar maple")]
    plan = planned(make, boards, body(make), glueup=replace(RULES, clamps=12, clamp_force_n=4448.2216))
    told = plan.layouts[0].laminate
    assert told is not None
    low, _ = told.press.pressure_psi
    # 390 x 190 mm are 114.86 square inches
    needed = math.ceil(390 * 190 / 25.4**2 * low / 1000)
    assert (told.press.needed, told.press.count) == (needed, 12)
    (short,) = [c for c in told.cautions if isinstance(c, PressShort)]
    assert short.reached_mpa == pytest.approx(12 * 4448.2216 / (390 * 190), rel=1e-4)
    assert sound(plan)


def test_each_layer_weighs_by_its_own_wood(make: Any) -> None:
    """A cap and a core of two densities, a pocket through the cap: the closed formula, and a range that it keeps."""
    part = body(make, cap=("sugar maple",), cap_mm=8.0, species=("black walnut",), zones=(pocket(20.0),))
    maple = make.board("m", 420, 200, thickness_mm=10.0)
    walnut = make.board("w", 420, 200, thickness_mm=34.0, species="black walnut")
    plan = planned(make, [walnut, maple], part)
    (told,) = plan.layouts[0].weights
    woods = {w.piece: w for w in told.woods}
    assert woods["m"].volume_mm3 == pytest.approx((380 * 180 - 80 * 60) * 8.0)
    assert woods["w"].volume_mm3 == pytest.approx(380 * 180 * 32.0 - 80 * 60 * 12.0)
    kg = sum(w.volume_mm3 * (w.density_kg_m3 or 0.0) for w in told.woods) / 1e9
    assert told.kg == pytest.approx(kg)
    for most, made in ((kg * 1.01, 1), (kg * 0.99, 0)):
        wish = WeightWish(least_kg=None, most_kg=most)
        assert len(planned(make, [walnut, maple], replace(part, weight=wish)).layouts) == made


def test_slices_keep_what_zones_take_of_each_layer(make: Any) -> None:
    """A pocket of 20 mm is an opening of the upper 8 mm, 12 mm deep in the rest; one from the back the other way."""
    part = body(make, zones=(pocket(20.0), replace(pocket(10.0, "back"), name="B")))
    upper, lower = slice_of(part, 0.0, 8.0), slice_of(part, 8.0, 40.0)
    assert [(z.role, z.face, z.depth_mm) for z in upper.zones] == [
        ("cutout", "through", None),
        ("no_seam", "front", None),
    ]
    assert [(z.role, z.face, z.depth_mm) for z in lower.zones] == [
        ("pocket", "front", 12.0),
        ("pocket", "back", 10.0),
    ]


@pytest.fixture(scope="module")
def capped(make: Any) -> Plan:
    part = body(make, cap=("sugar maple",), cap_mm=8.0, species=("black walnut",), zones=(pocket(20.0),))
    flaws = (knot(600, 30, "top", 12.0), knot(250, 90, "top", PLANING + 6.0, 3))
    pieces = [
        make.board("m", 900, 300, thickness_mm=12.0, value=40.0, moisture_pct=8.0),
        make.board("w", 420, 200, thickness_mm=34.0, species="black walnut", defects=flaws[1:], value=30.0),
    ]
    part = replace(part, tolerates={"knot": "allowed"})
    return planned(make, pieces, part, glueup=replace(RULES, clamps=6))


def _told(d: Any) -> Any:
    return d["layouts"][0]["laminate"]


def _blank(d: Any) -> Any:
    return d["layouts"][0]["blank"]


FAULTS = [
    (lambda d: _blank(d)["stack"][0].update(bottom_mm=9.0), "A132"),
    (lambda d: _blank(d)["stack"][1].update(off_top_mm=0.1), "A132"),
    (lambda d: _blank(d)["stack"][1].update(off_top_mm=2.0), "A132"),
    (lambda d: _blank(d)["members"].reverse(), "A131"),
    (lambda d: d["shop"]["parts"][0].update(cap_mm=9.0), "A131"),
    (lambda d: d["shop"]["parts"][0].update(glue=False), "A131"),
    (lambda d: _blank(d)["members"][1].update(x_um=_blank(d)["members"][1]["x_um"] + 30000), "A109"),
    (lambda d: _blank(d)["members"][1].update(angle_deg=183.0), "A133"),
    (lambda d: d["shop"]["pieces"][1].update(moisture_pct=11.0), "A133"),
    (lambda d: _blank(d)["defects"][0].update(start_mm=10.0), "A111"),
    (lambda d: _blank(d)["defects"].clear(), "A111"),
    (lambda d: _told(d)["layers"][0].update(bottom_off_mm=1.0), "A134"),
    (lambda d: _told(d)["layers"][0]["rests"].pop(0), "A134"),
    (lambda d: _told(d)["layers"][0]["rests"][0].update(value=99.0), "A134"),
    (lambda d: _told(d)["faces"][0].update(below_front_mm=9.0), "A134"),
    (lambda d: _told(d)["faces"][0].update(mismatch_mm=0.1), "A134"),
    (lambda d: _told(d)["press"].update(needed=3), "A134"),
    (lambda d: _told(d)["press"].update(density="soft"), "A134"),
    (lambda d: _told(d)["movement"][0].update(flatsawn_mm=0.1), "A134"),
    (lambda d: _told(d)["steps"].pop(2), "A134"),
    (lambda d: _told(d)["cautions"].pop(0), "A134"),
    (lambda d: d["layouts"][0].update(laminate=None), "A134"),
    (lambda d: d["layouts"][0].update(usable_area_mm2=0.0), "A406"),
]


@pytest.mark.parametrize(("fault", "code"), FAULTS)
def test_the_audit_finds_a_wrong_layer(capped: Plan, fault: Any, code: str) -> None:
    """One wrong value in what the plan tells of a laminated blank makes the check speak."""
    assert sound(capped)
    told = json.loads(dumps(capped))
    fault(told)
    told.pop("inputs_sha256")
    from nestyield.planfile.text import PlanFile

    wrong = PlanFile.model_validate({"plan": told}).plan
    assert code in {f.code for f in audit(wrong)}


#: What the second checker notices of these by itself: it works nothing out of movement, steps and cautions.
SECOND = [k for k, (_, code) in enumerate(FAULTS) if code != "A134"]


@pytest.mark.parametrize("k", SECOND)
def test_the_second_checker_finds_it_too(capped: Plan, k: int) -> None:
    """The checker without any of the project's code finds what is wrong with layers, their flaws and sums."""
    told = json.loads(dumps(capped))
    FAULTS[k][0](told)
    assert [f for f in second.of_plan(told).found if f[0] not in ("inputs",)]


def test_a_plain_blank_is_no_cap(make: Any) -> None:
    """A plan that lays a part with a cap on one board, or a plain part on layers unasked, is rejected."""
    plan = planned(make, [make.board("b", 420, 200)], body(make))
    asked = replace(plan.shop.parts[0], cap=("sugar maple",), cap_mm=8.0)
    assert "A131" in {f.code for f in audit(replace(plan, shop=replace(plan.shop, parts=(asked,))))}
    two = planned(make, [make.board("a", 420, 200, thickness_mm=HALF, count=2)], body(make))
    off = replace(two.shop.settings, glueup=GlueUpRules())
    assert "A131" in {f.code for f in audit(replace(two, shop=replace(two.shop, settings=off)))}


SHOP = """\
[shop]
name = "Test"
units = "mm"
rack = "rack.csv"
[cutter]
diameter = 6
[leftover]
shortest = 150
narrowest = 60
[bed.big]
travel_x = 1200
travel_y = 800
[part.steel]
drawing = "steel.dxf"
thickness = 40
cap = "sugar maple"
cap_thickness = 8
species = "black walnut"
[part.steel.layers]
EDGE = "outline"
[[order]]
part = "steel"
"""


def test_the_depth_of_a_glue_line_is_no_number_of_its_face(make: Any) -> None:
    """In inches "face 1 23/32 in" reads as one and 23/32: the sheet sets the face off from its depth."""
    plan = planned(make, [make.board("a", 420, 200, thickness_mm=HALF, count=2)], body(make))
    plan = replace(plan, shop=replace(plan.shop, units="in"))
    pages = laminate_sheet.laminate_sheet(plan, plan.layouts[0], "letter")
    said = " ".join(t.text for page in pages for t in page.items if isinstance(t, Text))
    told = said.replace("\u00a0", " ").replace("\u202f", " ")
    below_mm = plan.layouts[0].laminate.faces[0].below_front_mm
    found = re.search(r"upper face: face 1: (?:(\d+) )?(\d+)/(\d+) in\.", told)
    assert found, told
    whole, over, under = (int(v or 0) for v in found.groups())
    assert (whole + over / under) * 25.4 == pytest.approx(below_mm, abs=0.21)  # half a 64th
    assert not re.search(r"face \d+ \d", told)


def test_from_a_shop_folder_to_the_rack_and_back(tmp_path: Path) -> None:
    """Plan, verify, take and undo: both pieces are taken, what was sawn off the cap's board goes back rough."""
    import ezdxf

    from nestyield.cli import main

    drawing = ezdxf.new(units=4)
    points = [(0, 0), (600, 0), (600, 170), (0, 170)]
    drawing.modelspace().add_lwpolyline(points, close=True, dxfattribs={"layer": "EDGE"})
    drawing.saveas(tmp_path / "steel.dxf")
    (tmp_path / "shop.toml").write_text(SHOP)
    rack = tmp_path / "rack.csv"
    rows = ["piece,species,thickness_mm,length_mm,width_mm,value", "m,sugar maple,14,1100,200,40"]
    rack.write_text("\n".join([*rows, "w,black walnut,38,640,190,55"]) + "\n")
    before = rack.read_bytes()
    plan = str(tmp_path / "plan")
    assert (
        main(["plan", str(tmp_path), "--out", plan, "--workers", "1", "-q"]) == 1
    )  # a warning: unlike woods
    assert main(["verify", plan, "--shop", str(tmp_path), "-q"]) == 0
    for name in ("glue-up-1.layers-a4.pdf", "glue-up-1-a4.pdf"):
        assert (tmp_path / "plan" / "sheets" / name).stat().st_size > 1000
    assert main(["take", plan, "--shop", str(tmp_path), "-q"]) == 0
    with rack.open() as text:
        booked = {r["piece"]: r for r in csv.DictReader(text)}
    assert [booked[n]["status"] for n in ("m", "w")] == ["taken", "taken"]
    rests = [r for r in booked.values() if r["parent"] == "m"]
    assert [float(r["thickness_mm"]) for r in rests] == [14.0]
    # 1100 long, the part of 600 with 6.35 of margin on one side, 31.35 of room on the other, the saw's 3.2
    assert float(rests[0]["length_mm"]) == pytest.approx(1100 - 600 - 6.35 - 31.35 - 3.2, abs=0.05)
    assert main(["undo", str(tmp_path), "-q"]) == 0
    assert rack.read_bytes() == before
