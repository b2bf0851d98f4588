"""Joints and clamps against handbook figures and worked numbers."""

import itertools
import math

import pytest

from nestyield.model import GlueUpRules, ModelError
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
    c = clamping(length_in * IN, 44.45, density, 1e6, least_spacing_mm=50)
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
    """Force follows area and class; weak clamps mean more of them, closer together."""
    c = clamping(19 * IN, 1.75 * IN, "medium", 1e6, least_spacing_mm=50)
    assert c.force_n[0] / N_PER_LBF == pytest.approx(4987.5)
    assert (c.count, c.needed, c.limit) == (3, 3, "none")
    # 4987.5 lbf take five clamps of 1000 lbf, 15 1/2 in between the outer ones: 3 7/8 in apart
    more = clamping(19 * IN, 1.75 * IN, "medium", 1000 * N_PER_LBF, least_spacing_mm=50)
    assert (more.count, more.needed, more.limit) == (5, 5, "none")
    assert more.spacing_mm == pytest.approx(3.875 * IN)
    # each from 997.5 lbf, to all that it gives: 6650 lbf at 200 psi would be 1330
    assert [n / N_PER_LBF for n in more.each_n] == pytest.approx([997.5, 1000.0])
    assert more.reached_psi == pytest.approx(5000 / 33.25)
    assert clamping(50, 40, "dense", 1000, least_spacing_mm=10).count > 1
    with pytest.raises(ModelError, match="> 0"):
        clamping(0, 40, "soft", 1e4, least_spacing_mm=50)


def test_clamps_of_the_shop_that_do_not_do():
    """Too few clamps, or too little room for them, give less pressure, which is told."""
    few = clamping(19 * IN, 1.75 * IN, "medium", 1000 * N_PER_LBF, least_spacing_mm=50, owned=3)
    assert (few.count, few.needed, few.limit) == (3, 5, "owned")
    assert few.reached_psi == pytest.approx(3000 / 33.25)
    assert [n / N_PER_LBF for n in few.each_n] == pytest.approx([1000.0, 1000.0])
    # 4987.5 lbf take 25 clamps of 200 lbf; 15 1/2 in hold eight 2 in apart
    weak = clamping(19 * IN, 1.75 * IN, "medium", 200 * N_PER_LBF, least_spacing_mm=2 * IN)
    assert (weak.count, weak.needed, weak.limit) == (8, 25, "room")
    assert weak.reached_psi == pytest.approx(1600 / 33.25)
    # strong clamps, but only two: the pressure is there, the spacing is not
    wide = clamping(40 * IN, 1.75 * IN, "medium", 1e6, least_spacing_mm=50, owned=2)
    assert (wide.count, wide.needed, wide.limit) == (2, 5, "owned")
    assert wide.reached_psi == wide.pressure_psi[1]


@pytest.mark.outside(
    source="power-screw equation of machine design handbooks (memory); torque of a hand on a clamp's handle, "
    "friction: practice, no source",
    mark="D",
)
def test_force_of_a_clamp():
    """A Tr 16 x 4 screw at 10 N m, friction 0.15, its end on a 4 mm radius, gives the default within 10 %."""
    lead, pitch_dia, friction, collar = 4.0, 14.0, 0.15, 4.0
    rise = (lead + math.pi * friction * pitch_dia) / (math.pi * pitch_dia - friction * lead)
    force = 10_000 / (pitch_dia / 2 * rise + friction * collar)
    assert force == pytest.approx(GlueUpRules().clamp_force_n, rel=0.1)


def test_softest():
    """The softest wood at the seam sets the pressure."""
    assert joints.softest([find("sugar maple"), find("basswood")]) == "soft"
    assert joints.softest([]) == "medium"
