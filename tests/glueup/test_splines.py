"""Where splines and dowels go, worked by hand on two boards."""

from dataclasses import replace

import boards
import numpy as np
import pytest

from nestyield.audit.check import audit
from nestyield.glueup.splines import asked, levels
from nestyield.glueup.under import laid
from nestyield.model import GlueUpRules, Outline, Part, Shape, Zone
from nestyield.model.facts import (
    EndGrainJoint,
    LoneDowel,
    LongGrainJoint,
    NoHiddenPlace,
    PartTooThin,
    SlantedJoint,
)

SPLINE = {"reinforce": "spline", "spline_thickness_mm": 6.0}
DOWEL = {"reinforce": "dowel"}

# The part lies from x = 60 to 460 under the seam; its upper face is 2.5 mm below the blank's.
POCKET = boards.pocket("POCKET", (150, 50, 200, 110), 19.0)  # x 210 to 260


def told(*zones, rules=SPLINE, **more):
    return boards.layout(*zones, glueup=GlueUpRules(**rules), **more).glueup


def ends(made):
    return [(k.line_mm[0][0], k.line_mm[1][0]) for k in made.keys]


@pytest.mark.outside(source="trade-facts: hidden splines at least 12 mm from outline and pockets", mark="P")
def test_from_end_to_end():
    """Under a plain part the spline runs from 60 + 12 to 460 - 12, in the middle of 40 mm: 22.5 below."""
    (key,) = told().keys
    assert ends(told()) == [(pytest.approx(72, abs=0.5), pytest.approx(448, abs=0.5))]
    assert key.below_top_mm == pytest.approx(2.5 + 20)
    # the mark stands at 265
    assert key.along_mm == pytest.approx((key.line_mm[0][0] - 265, key.line_mm[1][0] - 265))


def test_a_pocket_divides_it():
    """19 mm + 12 of clearance + 6 of slot leave only 3 of 40 mm below a pocket: it is passed left and right."""
    assert ends(told(POCKET)) == [
        (pytest.approx(72, abs=0.5), pytest.approx(198, abs=0.5)),
        (pytest.approx(272, abs=0.5), pytest.approx(448, abs=0.5)),
    ]


def test_a_shallow_pocket_is_passed_below():
    """Below a pocket of 12 mm the slot lies 12 mm deeper: from 24 to 30 mm of 40, 29.5 below the blank's face."""
    (key,) = told(boards.pocket("SHALLOW", (150, 50, 200, 110), 12.0)).keys
    assert key.below_top_mm == pytest.approx(2.5 + 27)
    assert key.line_mm[1][0] - key.line_mm[0][0] == pytest.approx(376, abs=1)


def test_pocket_beside_the_seam():
    """A pocket 9.5 + 12 mm off the seam does not matter, a little nearer it does."""
    away = boards.pocket("ASIDE", (150, 75 + 21.6, 200, 110), 38.0)
    near = boards.pocket("ASIDE", (150, 75 + 21.4, 200, 110), 38.0)
    assert len(told(away).keys) == 1
    assert len(told(near).keys) == 2


def test_dowels():
    """From 76 to 444, no two more than 150 apart: four, 122.7 apart."""
    made = told(rules=DOWEL)
    spots = [a for a, _ in ends(made)]
    assert spots == pytest.approx([76, 198.67, 321.33, 444], abs=0.6)
    assert all(k.line_mm[0] == k.line_mm[1] for k in made.keys)
    assert [k.name for k in made.keys] == ["dowel 1", "dowel 2", "dowel 3", "dowel 4"]


def test_asked_or_not():
    """Long-grain seams get nothing unasked, grain that crosses a spline, and 'none' means none."""
    assert told(rules={}).keys == ()
    crossed = (boards.A, replace(boards.B, grain_deg=20.0))
    assert len(told(rules={}, pieces=crossed).keys) == 1
    assert told(rules={"reinforce": "none"}, pieces=crossed).keys == ()
    rules = GlueUpRules()
    assert asked(rules, EndGrainJoint(strength_pct=25.0, source="GTR-190 joints")) == "spline"
    assert asked(rules, SlantedJoint(run=12, strength_pct=90.0, source="GTR-190 scarf")) is None
    long = LongGrainJoint(strength_pct=100.0, source="GTR-190 joints")
    assert asked(GlueUpRules(reinforce="dowel"), long) == "dowel"


def test_conflicts_are_named():
    """Where nothing stays hidden, what stands in the way is named."""
    blocks = [boards.pocket(f"BOX#{k}", (80 * k, 60, 80 * k + 60, 100), 38.0) for k in range(5)]
    made = told(*blocks)
    assert made.keys == ()
    assert made.conflicts == (
        NoHiddenPlace(
            seam="seam 1",
            part="plate",
            kind="spline",
            zones=tuple(f"BOX#{k}" for k in range(5)),
            clearance_um=12_000,
        ),
    )
    thin = Part(name="plate", drawing="", outline=Outline.rectangle(0, 0, 400, 160), thickness_mm=17.0)
    made = told(part=thin, at=replace(boards.AT, top_off_mm=13.0), most_planed_away_mm=40.0)
    assert made.keys == ()
    assert made.conflicts == (
        PartTooThin(seam="seam 1", part="plate", kind="spline", thick_um=6000, thickness_um=17_000),
    )


def test_levels():
    """Levels worth trying keep the wall to both faces, the middle first."""
    part = boards.shop(POCKET).parts[0]
    found = levels(laid(0, part, boards.AT), 6.0, 4.0)
    assert found[0] == 20.0
    assert min(found) >= 9.0
    assert max(found) <= 31.0
    assert 19 + 4 + 3 in found


@pytest.mark.parametrize("seed", range(12))
def test_the_audit_agrees_with_random_parts(seed):
    """Splines and dowels among pockets, holes and openings laid at random pass the audit's own measure."""
    rng = np.random.default_rng([7, seed])
    zones = []
    for k in range(6):
        x, y = rng.uniform(5, 360), rng.uniform(5, 130)
        if rng.random() < 0.4:
            shape = Shape(outer=Outline.circle(x + 12, y + 12, rng.uniform(2, 10)))
        else:
            shape = Shape(
                outer=Outline.rectangle(
                    x, y, min(398, x + rng.uniform(5, 80)), min(158, y + rng.uniform(5, 40))
                )
            )
        role = str(rng.choice(["pocket", "hole", "contour", "cutout"]))
        face = "through" if role == "cutout" else str(rng.choice(["front", "back"]))
        depth = None if role == "cutout" else float(rng.uniform(2, 36))
        zones.append(Zone(name=f"Z{k}", role=role, face=face, depth_mm=depth, shape=shape))
    rules = {
        "reinforce": str(rng.choice(["spline", "dowel"])),
        "reinforce_clearance_mm": float(rng.choice([3.0, 6.0, 12.0])),
    }
    plan = boards.plan(*zones, glueup=GlueUpRules(**rules))
    assert [f for f in audit(plan) if f.code in ("A118", "A119")] == []
    made = plan.layouts[0].glueup
    assert made.keys or made.conflicts


def test_a_lone_dowel_is_a_conflict():
    """Where only one dowel stays hidden that is a conflict: alone it aligns nothing."""
    left = boards.pocket("LEFT", (20, 20, 170, 140), 38.0)
    right = boards.pocket("RIGHT", (215, 20, 395, 140), 38.0)
    made = told(left, right, rules=DOWEL)
    assert len(made.keys) == 1
    assert made.conflicts == (LoneDowel(seam="seam 1", part="plate"),)
