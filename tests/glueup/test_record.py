"""What is told of a glue-up, through the layout that planning makes: figures worked by hand and sourced."""

import json
from dataclasses import replace

import boards
import pytest
import study_glueup
from scipy.optimize import brentq

from nestyield.audit.check import audit
from nestyield.glueup.find import find
from nestyield.model import Defect, GlueUpRules, MachineLimits, Outline, Plan, Season, Shape
from nestyield.model.facts import ClampsShort, LongGrainJoint
from nestyield.planfile.text import dumps, loads
from nestyield.planning.layouts import make_layout
from nestyield.wood.moisture import moisture_in_air


def told(*zones, **more):
    return boards.layout(*zones, **more).glueup


def _air_of(moisture_pct):
    """Return the humidity in which wood comes to a moisture content, percent."""
    return float(brentq(lambda humidity: moisture_in_air(humidity) - moisture_pct, 0.0, 98.0, xtol=1e-9))


def season(low_mc, high_mc):
    return Season(humidity_low=_air_of(low_mc), humidity_high=_air_of(high_mc))


def wide(species, moisture=(8.0, 8.0)):
    """Two pieces whose blank is 336.6 mm wide."""
    pieces = (
        replace(boards.A, species=species, moisture_pct=moisture[0]),
        replace(
            boards.B,
            species=species,
            moisture_pct=moisture[1],
            shape=Shape(outer=Outline.rectangle(0, 0, 480, 244.6)),
        ),
    )
    outer = [(0, 0), (500, 0), (500, 95), (510, 95), (510, 336.6), (30, 336.6), (30, 95), (0, 95)]
    blank = replace(
        boards.BLANK,
        species=species,
        members=(boards.MEMBERS[0], replace(boards.MEMBERS[1], y_um=336_600)),
        shape=Shape(outer=Outline.polygon(outer)),
    )
    return {"pieces": pieces, "blank": blank, "wood": season(8.0, 12.0)}


@pytest.mark.outside(
    source="Wood Handbook FPL-GTR-190 eq. 13-2 with table 13-5: 336.6 mm of flatsawn sugar maple, four points",
    mark="D",
)
@pytest.mark.parametrize(("species", "flat"), [("sugar maple", 4.75), ("mahogany", 1.9)])
def test_movement_of_a_body_blank(species, flat):
    """336.6 mm, four points: 4.75 mm of flatsawn maple, 1.9 mm of mahogany; its members share it by width."""
    made = told(**wide(species))
    blank = made.movement[-1]
    assert (blank.what, blank.width_mm) == ("blank", pytest.approx(336.6))
    assert blank.flatsawn_mm == pytest.approx(flat, abs=0.005)
    a, b = made.movement[:2]
    assert a.flatsawn_mm / b.flatsawn_mm == pytest.approx(95 / 241.6, rel=1e-3)
    assert made.moisture_pct == pytest.approx((8.0, 12.0))


@pytest.mark.outside(
    source="Wood Handbook FPL-GTR-190 eq. 13-2 with table 13-5: 44.5 mm of maple, two points apart; unlike rings",
    mark="D",
)
def test_steps_at_the_seam():
    """Flatsawn maple glued two points apart steps 0.15 mm; flatsawn beside quartersawn over four 0.33 mm."""
    apart = {**wide("sugar maple", (8.0, 10.0)), "wood": season(9.0, 9.0)}
    assert told(**apart).seams[0].step_flatsawn_mm == pytest.approx(44.5 * 0.00165 * 2, abs=5e-4)
    assert told(**apart).seams[0].step_flatsawn_mm == pytest.approx(0.15, abs=0.005)
    assert told(**wide("sugar maple")).seams[0].step_unlike_mm == pytest.approx(0.33, abs=0.006)
    assert told(**wide("sugar maple")).seams[0].step_flatsawn_mm == pytest.approx(0, abs=1e-4)


@pytest.mark.outside(
    source="Wood Handbook FPL-GTR-190 table 4-2 at 70 F: 30 % is 6.2, 60 % is 11.0", mark="S"
)
def test_season_of_the_shop():
    """A shop that says nothing has a year from 6.2 to 11.0 % moisture."""
    made = told()
    assert made.humidity_pct == (30.0, 60.0)
    assert made.moisture_pct == pytest.approx((6.2, 11.0), abs=0.1)


@pytest.mark.outside(
    source="trade-facts: PVA 200-300 psi on dense woods; first clamp 1 1/2 to 2 in from the end; by hand",
    mark="P",
)
def test_clamps():
    """470 x 44.5 mm at 200 to 300 psi are 28.8 to 43.3 kN; the first clamp 44.45 mm from the seam's end at 30."""
    clamps = told().clamps
    psi = 4.4482216152605 / 25.4**2
    assert clamps.force_n == pytest.approx((470 * 44.5 * 200 * psi, 470 * 44.5 * 300 * psi), abs=0.1)
    # 28.84 kN take seven clamps of 4.45 kN; 381.1 mm between the outer ones: six spaces of 63.517
    assert (len(clamps.at_mm), clamps.needed, clamps.limit) == (7, 7, "none")
    assert clamps.at_mm[:2] == pytest.approx((74.45, 137.967), abs=1e-3)
    assert clamps.at_mm[-1] == pytest.approx(455.55, abs=1e-3)
    assert clamps.spacing_mm == pytest.approx(63.517, abs=1e-3)
    assert clamps.each_n == pytest.approx((28_840 / 7, 4450.0), abs=2)
    assert clamps.source == "PVA practice"


def test_clamps_that_do_not_do():
    """Four clamps of 4.45 kN on 470 x 44.5 mm press with 0.851 MPa, where 200 psi are 1.379: a caution."""
    made = told(glueup=GlueUpRules(clamps=4))
    assert made.clamps.reached_psi == pytest.approx(17_800 / (470 * 44.5) / 6.894757e-3, rel=1e-4)
    (short,) = (c for c in made.cautions if isinstance(c, ClampsShort))
    assert (short.needed, short.count, short.limit) == (7, 4, "owned")
    assert short.reached_mpa == pytest.approx(0.8511, abs=1e-3)
    assert short.least_mpa == pytest.approx(1.3790, abs=1e-3)


def test_seam():
    """The seam lies 95 from the lower edge, 470 long; B's edge begins 30 mm to the right of A's."""
    (seam,) = told(boards.pocket("POCKET", (150, 50, 200, 110), 19.0)).seams
    assert (seam.lower, seam.upper) == ("A", "B")
    assert seam.from_edge_mm == pytest.approx((95, 95))
    assert seam.length_mm == pytest.approx(470)
    assert seam.slide_mm == pytest.approx(30, abs=1e-3)
    assert seam.joint == LongGrainJoint(strength_pct=100.0, source="GTR-190 joints")
    assert seam.visible == ("front", "back", "edge")
    assert [(c.zone, c.wood_left_mm) for c in seam.crossings] == [("POCKET", 21.0)]
    assert seam.moisture_points == 2.0


def test_members():
    """A lies as on the rack; B is planed by 2 mm, end for end, its corner at the upper right."""
    a, b = told().members
    assert (a.letter, a.top_up, a.end_for_end, a.turned_deg, a.corner_mm) == (
        "A",
        True,
        False,
        0.0,
        (0.0, 0.0),
    )
    assert (b.letter, b.top_up, b.end_for_end, b.corner_mm) == ("B", True, True, (510.0, 212.0))
    assert (b.rough_mm, b.planed_mm, b.planed_from) == (46.5, 44.5, "down")
    assert a.loses_mm2 == pytest.approx(500 * 5, abs=1)
    assert b.loses_mm2 == pytest.approx(480 * 3, abs=1)


def test_turned_over():
    """Mirrored in x a piece lies bottom up and end for end; turned by 180 degrees more, bottom up only."""
    over = replace(boards.MEMBERS[1], mirrored=True, angle_deg=0.0, x_um=510_000, y_um=92_000)
    blank = replace(boards.BLANK, members=(boards.MEMBERS[0], over))
    b = told(blank=blank).members[1]
    assert (b.top_up, b.end_for_end, b.corner_mm) == (False, True, (510.0, 92.0))
    rolled = replace(over, angle_deg=180.0, x_um=30_000, y_um=212_000)
    b = told(blank=replace(blank, members=(boards.MEMBERS[0], rolled))).members[1]
    assert (b.top_up, b.end_for_end, b.corner_mm) == (False, False, (30.0, 212.0))


@pytest.mark.parametrize(
    ("mirrored", "face", "side"),
    [(False, "top", "up"), (False, "bottom", "down"), (True, "top", "down"), (True, "bottom", "up")],
)
def test_shallow_flaws_are_planed_away(mirrored, face, side):
    """A piece is planed from the face that has a shallow flaw, as it lies."""
    flaw = Defect(
        name="d", kind="dent", shape=Shape(outer=Outline.circle(50, 60, 4)), face=face, depth_mm=1.0
    )
    member = boards.MEMBERS[1]
    if mirrored:
        member = replace(member, mirrored=True, angle_deg=0.0, x_um=510_000, y_um=92_000)
    made = told(
        pieces=(boards.A, replace(boards.B, defects=(flaw,))),
        blank=replace(boards.BLANK, members=(boards.MEMBERS[0], member)),
    )
    assert made.members[1].planed_from == side


def test_planed_after():
    """From 44.5 to 40 mm: 2.5 off the upper face as the placement says, so 2.0 off the lower one."""
    made = told()
    assert (made.top_off_mm, made.bottom_off_mm) == (2.5, 2.0)
    made = told(at=replace(boards.AT, top_off_mm=None))
    assert (made.top_off_mm, made.bottom_off_mm) == (2.25, 2.25)


def test_no_glue_up():
    """A blank of one piece has none."""
    alone = replace(
        boards.BLANK,
        members=boards.MEMBERS[:1],
        seams=(),
        shape=boards.A.shape,
    )
    at = replace(boards.AT, x_um=0, y_um=0)
    assert boards.layout(blank=alone, at=at).glueup is None


def test_plan_file_keeps_it():
    """The record goes through plan.json and back unchanged."""
    plan = boards.plan(glueup=GlueUpRules(reinforce="spline"))
    again = loads(dumps(plan))
    assert again.layouts[0].glueup == plan.layouts[0].glueup
    assert json.loads(dumps(plan))["layouts"][0]["glueup"]["members"][0]["letter"] == "A"


@pytest.mark.parametrize(("members", "seed"), [(2, 3), pytest.param(3, 2, marks=pytest.mark.study)])
def test_glue_ups_found_in_planted_racks_are_told_right(members, seed):
    """What is told of glue-ups that the search finds in hard racks is what the audit measures."""
    planted = study_glueup.plant(seed, members, 3, True)
    settings = replace(study_glueup.SETTINGS, glueup=GlueUpRules(reinforce="spline"))
    part = replace(planted.part, thickness_mm=40.0)
    found = find(part, planted.pieces, settings, lambda p: p.shape.area_mm2, wanted=2)
    assert found
    shop = replace(boards.shop(part=part, pieces=planted.pieces), settings=settings)
    for glued in found[:2]:
        layout = make_layout(shop, glued.blank, [replace(glued.placement, order="o")], (), 0.0)
        assert len(layout.glueup.members) == len(glued.blank.members)
        plan = Plan(shop=shop, seed=1, effort=1, layouts=(layout,), orders=())
        assert [f for f in audit(plan) if f.code in ("A099", "A118", "A119")] == []


@pytest.mark.parametrize("reinforce", ["spline", "dowel"])
def test_facts_come_back_from_the_plan_file(reinforce):
    """Steps, rules, conflicts, cautions and facts of the wood come back from plan.json as they were."""
    blocks = [boards.pocket(f"BOX#{k}", (80 * k, 60, 80 * k + 60, 100), 38.0) for k in range(5)]
    pieces = (boards.A, replace(boards.B, grain_deg=30.0, moisture_pct=19.0))
    for zones in ((), blocks):
        plan = boards.plan(
            *zones,
            pieces=pieces,
            glueup=GlueUpRules(reinforce=reinforce, crossed="allowed"),
            machines=MachineLimits(
                jointer_shortest_mm=490.0, saw_push_stick_mm=600.0, planer_widest_mm=200.0
            ),
        )
        back = loads(dumps(plan)).layouts[0]
        assert back.glueup == plan.layouts[0].glueup
        assert back.wood == plan.layouts[0].wood
        assert bool(back.glueup.conflicts) == bool(zones)
