"""Joints and clamps against handbook figures and worked numbers."""

import itertools
import math

import pytest

from nestyield.model import ModelError
from nestyield.model.facts import CrossedJoint, EndGrainJoint, LongGrainJoint, SlantedJoint
from nestyield.wood import joints
from nestyield.wood.joints import N_PER_LBF, clamping, force_n, joint, slanted_strength
from nestyield.wood.species import find

IN = 25.4


@pytest.mark.outside(source="1 lbf = 4.4482216152605 N and 1 in = 25.4 mm by definition", mark="S")
def test_units():
    """One psi is 6894.757293 pascal."""
    pascal = joints.MPA_PER_PSI * 1e6
    assert pascal == pytest.approx(6894.757293168361, rel=1e-12)


@pytest.mark.outside(
    source="clamping pressure is common practice, no source; seam 1.75 x 19 in by hand", mark="D"
)
def test_force_of_a_body_seam():
    """A seam of 33.25 square inches takes 4,988 lbf at 150 psi and 8,313 lbf at 250 psi."""
    area = 1.75 * 19 * IN**2
    assert force_n(area, 150) / N_PER_LBF == pytest.approx(4987.5)
    assert force_n(area, 250) / N_PER_LBF == pytest.approx(8312.5)


@pytest.mark.outside(source="GTR-190 ch. 10 (end grain 25 %), FPL Report 1522 (crossed one third)", mark="S")
def test_kinds_of_joint():
    """Long grain keeps the wood's strength, end grain a quarter, crossed grain a third."""
    assert joint(0, 0, 0) == LongGrainJoint(strength_pct=100.0, source="GTR-190 joints")
    assert joint(90, 90, 90) == LongGrainJoint(strength_pct=100.0, source="GTR-190 joints")
    assert joint(0, 0, 90) == EndGrainJoint(strength_pct=25.0, source="GTR-190 joints")
    assert joint(0, 90, 0) == EndGrainJoint(strength_pct=25.0, source="GTR-190 joints")
    assert joint(5, -6, 0) == CrossedJoint(crossing_deg=11.0, strength_pct=33.33, source="FPL 1522")
    assert isinstance(joint(5, -6, 0, crossed_grain_deg=15), SlantedJoint)
    assert isinstance(joint(179, 1, 0), LongGrainJoint)


@pytest.mark.outside(source="scarf efficiency 1:12 / 1:10 / 1:8 / 1:5, from memory", mark="M")
@pytest.mark.parametrize(("run", "value"), [(12, 0.90), (10, 0.85), (8, 0.80), (5, 0.65)])
def test_slanted(run, value):
    """A joint at a quoted slope has the quoted strength."""
    angle = math.degrees(math.atan(1 / run))
    assert slanted_strength(angle) == pytest.approx(value)
    for way in (angle, -angle):
        made = joint(0, 0, way)
        assert isinstance(made, SlantedJoint)
        assert (made.run, made.strength_pct) == (run, pytest.approx(100 * value))


def test_steeper_is_never_stronger():
    """Strength falls with the angle, and nothing is promised between 1:5 and end grain."""
    values = [slanted_strength(a) for a in range(91)]
    assert values == sorted(values, reverse=True)
    assert slanted_strength(45) == 0.25
    assert isinstance(joint(0, 0, 45), SlantedJoint)


@pytest.mark.outside(
    source="first clamp 1 1/2 to 2 in from the end, then every 8-12 in: practice, no source", mark="P"
)
@pytest.mark.parametrize("density", ["soft", "medium", "dense"])
@pytest.mark.parametrize("length_in", [2, 3.4, 3.6, 12, 19, 36, 40])
def test_clamps(density, length_in):
    """Clamps start 1 1/2 to 2 in from the ends and are at most 8 to 12 in apart."""
    c = clamping(length_in * IN, 44.45, density)
    p = c.positions_mm
    if length_in <= 3.5:
        assert p == (length_in * IN / 2,)
        return
    assert 1.5 * IN <= p[0] <= 2 * IN
    assert length_in * IN - p[-1] == pytest.approx(p[0])
    gaps = [b - a for a, b in itertools.pairwise(p)]
    assert all(g == pytest.approx(c.spacing_mm) for g in gaps)
    assert c.spacing_mm <= {"soft": 12, "medium": 10, "dense": 8}[density] * IN + 1e-9


def test_clamp_forces():
    """Force follows area and class; weak clamps mean more of them."""
    c = clamping(19 * IN, 1.75 * IN, "medium")
    assert c.force_n[0] / N_PER_LBF == pytest.approx(4987.5)
    assert c.count == 3
    more = clamping(19 * IN, 1.75 * IN, "medium", strongest_clamp_n=1000 * N_PER_LBF)
    assert more.count == 5
    assert clamping(50, 40, "dense", strongest_clamp_n=1000).count > 1
    with pytest.raises(ModelError, match="> 0"):
        clamping(0, 40, "soft")


def test_softest():
    """The softest wood at the seam sets the pressure."""
    assert joints.softest([find("sugar maple"), find("basswood")]) == "soft"
    assert joints.softest([]) == "medium"
