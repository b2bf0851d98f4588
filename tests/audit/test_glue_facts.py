"""Facts of a glue-up are worked out again: sound plans pass, and each falsified fact is found."""

import importlib.util
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from nestyield.audit.check import audit
from nestyield.audit.codes import CODES
from nestyield.audit.facts import same
from nestyield.audit.wood_facts import joints
from nestyield.model import GlueUpRules, MachineLimits, Outline, Part, Season, Shape
from nestyield.model.facts import (
    BlankRefused,
    BoardEdge,
    ClampsShort,
    CrossedJoint,
    EndGrainJoint,
    GrainOffPart,
    InNoSeamZone,
    JointOff,
    LoneDowel,
    LongGrainJoint,
    MoistureApart,
    MoistureDiffers,
    NoHiddenPlace,
    PartTooThin,
    PlaneBoards,
    SeamRuleBroken,
    SeasonalStep,
    SlantedJoint,
    TakePushStick,
    UnlikeSpecies,
    WidthMoves,
)
from nestyield.wood.joints import joint

_PATH = Path(__file__).parents[1] / "glueup" / "boards.py"
_SPEC = importlib.util.spec_from_file_location("boards", _PATH)
boards = importlib.util.module_from_spec(_SPEC)
sys.modules.setdefault("boards", boards)
_SPEC.loader.exec_module(boards)

POCKET = boards.pocket("POCKET", (150, 50, 200, 110), 36.0)
BLOCKS = [boards.pocket(f"BOX#{k}", (80 * k, 60, 80 * k + 60, 100), 38.0) for k in range(5)]
THIN = {
    "part": Part(name="plate", drawing="", outline=Outline.rectangle(0, 0, 400, 160), thickness_mm=17.0),
    "at": replace(boards.AT, top_off_mm=13.0),
    "most_planed_away_mm": 40.0,
}
LEFT = boards.pocket("LEFT", (20, 20, 170, 140), 38.0)
RIGHT = boards.pocket("RIGHT", (215, 20, 395, 140), 38.0)
CROSSED = {
    "pieces": (boards.A, replace(boards.B, grain_deg=30.0)),
    "glueup": GlueUpRules(crossed="allowed"),
}
SPLINES = {"glueup": GlueUpRules(reinforce="spline")}
DOWELS = {"glueup": GlueUpRules(reinforce="dowel")}
MINE = {"A121", "A122", "A123", "A124", "A125", "A126"}


def codes(plan):
    return {f.code for f in audit(plan)} & MINE


def found(fault, *zones, **more):
    """Codes found after a fault in the glue-up of one layout."""
    plan = boards.plan(*zones, **more)
    layout = plan.layouts[0]
    wrong = fault(layout)
    assert wrong != layout
    return codes(replace(plan, layouts=(wrong,)))


SOUND = [
    ("plain", (), {}),
    ("inches", (), {"units": "in"}),
    ("splines", (POCKET,), SPLINES),
    ("dowels", (POCKET,), DOWELS),
    ("none", (), {"glueup": GlueUpRules(reinforce="none")}),
    ("no jointing", (), {"jointing_mm": 0.0}),
    ("no place", BLOCKS, SPLINES),
    ("too thin", (), {**THIN, **SPLINES}),
    ("lone dowel", (LEFT, RIGHT), DOWELS),
    ("crossed", (POCKET,), CROSSED),
    ("moisture unknown", (), {"pieces": (boards.A, replace(boards.B, moisture_pct=None))}),
    ("moisture apart", (), {"pieces": (boards.A, replace(boards.B, moisture_pct=19.0))}),
    ("short for the planer", (), {"machines": MachineLimits(planer_rollers_mm=440.0)}),
    ("wide for the planer", (), {"machines": MachineLimits(planer_widest_mm=200.0)}),
    ("short for the jointer", (), {"machines": MachineLimits(jointer_shortest_mm=490.0)}),
    ("push stick", (), {"machines": MachineLimits(saw_push_stick_mm=600.0)}),
    (
        "unlike species",
        (),
        {
            "pieces": (boards.A, replace(boards.B, species="black cherry")),
            "glueup": GlueUpRules(mixed_species=True),
        },
    ),
    ("few clamps", (), {"glueup": GlueUpRules(clamps=4)}),
    ("one clamp", (), {"glueup": GlueUpRules(clamps=1)}),
    ("weak clamps", (), {"glueup": GlueUpRules(clamp_force_n=900.0)}),
    ("no figures", (), {"pieces": (boards.A, replace(boards.B, species="moon cheese"))}),
    (
        "an offcut to keep",
        (),
        {"pieces": (replace(boards.A, shape=Shape(outer=Outline.rectangle(0, 0, 500, 160))), boards.B)},
    ),
    ("another season", (), {"wood": Season(humidity_low=20.0, humidity_high=80.0, temperature=25.0)}),
]


@pytest.mark.parametrize(("name", "zones", "more"), SOUND, ids=[s[0] for s in SOUND])
def test_sound_facts_pass(name, zones, more):
    """What planning finds about boards of every kind is what the audit works out."""
    plan = boards.plan(*zones, **more)
    assert [str(f) for f in audit(plan) if f.code in MINE] == []


def glueup(layout, **changes):
    return replace(layout, glueup=replace(layout.glueup, **changes))


def seam(layout, **changes):
    return glueup(layout, seams=(replace(layout.glueup.seams[0], **changes),))


def rules(layout, k, *told):
    members = list(layout.glueup.members)
    members[k] = replace(members[k], machine_rules=told)
    return glueup(layout, members=tuple(members))


def steps(layout, kind, **changes):
    return glueup(
        layout, steps=tuple(replace(s, **changes) if isinstance(s, kind) else s for s in layout.glueup.steps)
    )


def swapped(layout):
    first, second, *rest = layout.glueup.steps
    return glueup(layout, steps=(second, first, *rest))


def wood(layout, kind, **changes):
    return replace(
        layout, wood=tuple(replace(f, **changes) if isinstance(f, kind) else f for f in layout.wood)
    )


PUSH = {"machines": MachineLimits(saw_push_stick_mm=600.0)}
HAND = {"machines": MachineLimits(jointer_shortest_mm=490.0)}
APART = {"pieces": (boards.A, replace(boards.B, moisture_pct=11.0))}
STICK = TakePushStick(value_um=480_000, least_um=600_000, stick_um=450_000)

FAULTS = [
    ("softer wood", "A121", (), {}, lambda x: glueup(x, clamps=replace(x.glueup.clamps, density="soft"))),
    ("less pressure", "A121", (), {}, lambda x: glueup(x, clamps=replace(x.glueup.clamps, pressure_psi=(100.0, 150.0)))),
    ("another joint", "A121", (), {}, lambda x: seam(x, joint=SlantedJoint(run=12, strength_pct=90.0, source="GTR-190 scarf"))),
    ("joint too strong", "A121", (), CROSSED, lambda x: seam(x, joint=replace(x.glueup.seams[0].joint, strength_pct=90.0))),
    ("moisture of neighbors", "A121", (), {}, lambda x: seam(x, moisture_points=0.0)),
    ("moisture made known", "A121", (), {"pieces": (boards.A, replace(boards.B, moisture_pct=None))}, lambda x: seam(x, moisture_points=1.0)),
    ("a step too small", "A121", (), {}, lambda x: seam(x, step_unlike_mm=0.0)),
    ("no mismatch", "A121", (), CROSSED, lambda x: seam(x, mismatch_mm=0.0)),
    ("movement halved", "A121", (), {}, lambda x: glueup(x, movement=tuple(replace(r, flatsawn_mm=r.flatsawn_mm / 2) for r in x.glueup.movement))),
    ("another season", "A121", (), {}, lambda x: glueup(x, moisture_pct=(7.0, 8.0))),
    ("push stick left out", "A122", (), PUSH, lambda x: rules(x, 1)),
    ("a limit of no machine", "A122", (), PUSH, lambda x: rules(x, 1, replace(STICK, least_um=500_000))),
    ("push stick too short", "A122", (), PUSH, lambda x: rules(x, 1, replace(STICK, stick_um=300_000))),
    ("a rule where none is", "A122", (), {}, lambda x: rules(x, 0, STICK)),
    ("jointer allowed", "A122", (), HAND, lambda x: rules(x, 1)),
    ("steps swapped", "A123", (), {}, swapped),
    ("a step left out", "A123", (), {}, lambda x: glueup(x, steps=x.glueup.steps[:-1])),
    ("planed too thin", "A123", (), {}, lambda x: steps(x, PlaneBoards, to_um=44_000)),
    ("sawn, not jointed", "A123", (), {}, lambda x: steps(x, JointOff, edges=(BoardEdge(board="A", seam="seam 1"),))),
    ("planed from the other face", "A123", (), {}, lambda x: glueup(x, members=(x.glueup.members[0], replace(x.glueup.members[1], planed_from="up")))),
    ("thin wood kept quiet", "A124", (POCKET,), {}, lambda x: glueup(x, cautions=x.glueup.cautions[1:])),
    ("less moisture apart", "A124", (), {}, lambda x: glueup(x, cautions=(MoistureDiffers(difference_points=1.0, limit_points=2.0), *x.glueup.cautions[1:]))),
    ("clamps that do not do kept quiet", "A124", (), {"glueup": GlueUpRules(clamps=4)}, lambda x: glueup(x, cautions=tuple(c for c in x.glueup.cautions if not isinstance(c, ClampsShort)))),
    ("clamps that do", "A124", (), {"glueup": GlueUpRules(clamps=4)}, lambda x: glueup(x, cautions=tuple(replace(c, count=6) if isinstance(c, ClampsShort) else c for c in x.glueup.cautions))),
    ("the usual left out", "A124", (), {}, lambda x: glueup(x, cautions=x.glueup.cautions[:-1])),
    ("a blank refused by nobody", "A124", (), {}, lambda x: glueup(x, cautions=(BlankRefused(rule=STICK), *x.glueup.cautions))),
    ("splines left out", "A125", (), SPLINES, lambda x: glueup(x, keys=())),
    ("splines left out, with a reason", "A125", (), SPLINES, lambda x: glueup(x, keys=(), conflicts=(NoHiddenPlace(seam="seam 1", part="plate", kind="spline", zones=(), clearance_um=12_000),))),
    ("not too thin", "A125", (), SPLINES, lambda x: glueup(x, keys=(), conflicts=(PartTooThin(seam="seam 1", part="plate", kind="spline", thick_um=6350, thickness_um=17_000),))),
    ("conflict kept quiet", "A125", BLOCKS, SPLINES, lambda x: glueup(x, conflicts=())),
    ("conflict of another zone", "A125", BLOCKS, SPLINES, lambda x: glueup(x, conflicts=(replace(x.glueup.conflicts[0], zones=("NECK",)),))),
    ("a lone dowel kept quiet", "A125", (LEFT, RIGHT), DOWELS, lambda x: glueup(x, conflicts=())),
    ("dowels that are not alone", "A125", (), DOWELS, lambda x: glueup(x, conflicts=(LoneDowel(seam="seam 1", part="plate"),))),
    ("conflict at no seam", "A125", (), DOWELS, lambda x: glueup(x, conflicts=(LoneDowel(seam="seam 9", part="plate"),))),
    ("width moves less", "A126", (), {}, lambda x: wood(x, WidthMoves, flatsawn_um=1)),
    ("a step kept quiet", "A126", (), {}, lambda x: replace(x, wood=tuple(f for f in x.wood if not isinstance(f, SeasonalStep)))),
    ("moisture apart kept quiet", "A126", (), APART, lambda x: replace(x, wood=tuple(f for f in x.wood if not isinstance(f, MoistureApart)))),
    ("moisture limit widened", "A126", (), APART, lambda x: wood(x, MoistureApart, limit_points=2.5)),
    ("grain off kept quiet", "A126", (), CROSSED, lambda x: replace(x, wood=tuple(f for f in x.wood if not isinstance(f, GrainOffPart)))),
    ("species mixed", "A126", (), {}, lambda x: replace(x, wood=(*x.wood, UnlikeSpecies(species=("sugar maple", "black cherry"))))),
    ("a rule that is kept", "A126", (POCKET,), {}, lambda x: replace(x, wood=(*x.wood, SeamRuleBroken(seam="seam 1", placement=0, part="plate", rule=InNoSeamZone(zone="POCKET"), inside_um=5000)))),
]  # fmt: skip


@pytest.mark.parametrize(
    ("code", "zones", "more", "fault"), [f[1:] for f in FAULTS], ids=[f[0].replace(" ", "-") for f in FAULTS]
)
def test_each_falsified_fact_is_found(code, zones, more, fault):
    """A fact that is changed, made up or left out is found under the code of its kind."""
    assert code in found(fault, *zones, **more)


def test_every_code_is_met_here():
    """Each code of these checks is explained, and has a fault that makes it speak."""
    assert {f[1] for f in FAULTS} == MINE <= CODES.keys()


@pytest.mark.outside(source="GTR-190 ch. 10, FPL Report 1522; slopes from memory", mark="S")
@pytest.mark.parametrize(
    ("grains", "kind", "pct"),
    [
        ((0, 0, 0), LongGrainJoint, 100.0),
        ((180, 0, 90.0), EndGrainJoint, 25.0),
        ((-7.125, -7.125, 0.0), SlantedJoint, 80.0),  # 1 in 8
        ((6, -6, 0), CrossedJoint, 33.33),
    ],
)
def test_joints_of_the_audit(grains, kind, pct):
    """The audit's own joints have the quoted strengths."""
    made, _ = joints(*grains, 10.0)
    assert isinstance(made, kind)
    assert made.strength_pct == pytest.approx(pct, abs=0.01)


def test_both_ways_to_a_joint_agree():
    """Joint kinds and strengths of the wood room and of the audit agree at every angle."""
    for one in range(-90, 91, 3):
        for other in range(-90, 91, 7):
            true, near = joints(one, other, 1.5, 10.0)
            assert any(same(joint(one, other, 1.5), n) for n in (true, *near)), (one, other)
