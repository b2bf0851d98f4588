"""Movement and steps against worked examples."""

import math

import pytest

from nestyield.model import ModelError
from nestyield.wood import movement
from nestyield.wood.movement import SeamSide
from nestyield.wood.species import SPECIES, find

MAPLE = find("sugar maple")
MAHOGANY = find("mahogany")


@pytest.mark.outside(source="Wood Handbook FPL-GTR-190 sec. 13, worked example (C_T from memory)", mark="S")
def test_white_fir_board():
    """A flatsawn white fir board of 232 mm grows 1.7 mm to 233.7 from 8 to 11 %."""
    grown = movement.change_mm(232, 0.00245, 8, 11)
    assert round(grown, 1) == 1.7
    assert round(232 + grown, 1) == 233.7


@pytest.mark.outside(source="Wood Handbook FPL-GTR-190 eq. 13-2 with table 13-5, worked by hand", mark="D")
def test_blank_over_four_points():
    """A flatsawn maple blank of 336.6 mm moves 4.75 mm over four points, one of mahogany 1.9 mm."""
    assert movement.width_change_mm(MAPLE, 336.6, 6, 10) == pytest.approx(4.75, abs=0.005)
    assert movement.width_change_mm(MAHOGANY, 336.6, 6, 10) == pytest.approx(1.9, abs=0.005)
    assert movement.width_change_mm(MAPLE, 336.6, 10, 6) == pytest.approx(-4.75, abs=0.005)
    assert movement.width_change_mm(MAPLE, 336.6, 6, 10, 90) == pytest.approx(336.6 * 0.00165 * 4)


@pytest.mark.outside(source="Wood Handbook FPL-GTR-190 eq. 13-2 with table 13-5, worked by hand", mark="D")
def test_step_from_unlike_moisture():
    """Two flatsawn maple pieces of 44.5 mm glued two points apart end with a step of 0.15 mm."""
    damp, dry = SeamSide(species=MAPLE, moisture_pct=10), SeamSide(species=MAPLE, moisture_pct=8)
    step = movement.step_mm(44.5, dry, damp, 8)
    assert step == pytest.approx(44.5 * 0.00165 * 2)
    assert round(step, 2) == 0.15
    assert movement.step_mm(44.5, damp, dry, 8) == -step


@pytest.mark.outside(source="Wood Handbook FPL-GTR-190 eq. 13-2 with table 13-5, worked by hand", mark="D")
def test_step_from_unlike_rings():
    """Flatsawn beside quartersawn maple, four points: 0.33 mm, and nothing as long as nothing changes."""
    flat = SeamSide(species=MAPLE, moisture_pct=8)
    quarter = SeamSide(species=MAPLE, moisture_pct=8, ring_deg=90)
    assert round(movement.worst_step_mm(44.5, flat, quarter, (8, 12)), 2) == 0.33
    assert movement.worst_step_mm(44.5, flat, quarter, (8, 8)) == 0


def test_step_from_unlike_species():
    """Maple beside mahogany steps by the difference of their radial movement."""
    one, other = (SeamSide(species=s, moisture_pct=8) for s in (MAPLE, MAHOGANY))
    assert movement.step_mm(40, one, other, 11) == pytest.approx(40 * (0.00165 - 0.00102) * 3)


@pytest.mark.outside(source="rotation of plane strain: the two principal strains keep their sum", mark="D")
@pytest.mark.parametrize("species", [s for s in SPECIES if not s.sheet], ids=lambda s: s.name)
def test_turned_rings_keep_the_sum(species):
    """Whatever the ring angle, width and thickness share the same sum, and width stays between the two."""
    total = species.c_radial + species.c_tangential
    for ring in range(0, 91, 5):
        width = movement.width_coefficient(species, ring)
        assert width + movement.thickness_coefficient(species, ring) == pytest.approx(total)
        assert species.c_radial - 1e-12 <= width <= species.c_tangential + 1e-12
    assert movement.width_coefficient(species, 0) == species.c_tangential
    assert movement.width_coefficient(species, 90) == pytest.approx(species.c_radial)
    assert movement.width_coefficient(species, 45) == pytest.approx(total / 2)


def test_strain_turns_as_a_small_square_does():
    """The coefficient at an angle is what two turned points really move apart, to first order."""
    c_t, c_r, angle = MAPLE.c_tangential, MAPLE.c_radial, math.radians(30)
    x, y = math.cos(angle) * (1 + c_t * 1e-3), math.sin(angle) * (1 + c_r * 1e-3)
    assert (math.hypot(x, y) - 1) / 1e-3 == pytest.approx(movement.width_coefficient(MAPLE, 30), rel=1e-4)


@pytest.mark.outside(
    source="Wood Handbook FPL-GTR-190 ch. 4: lengthwise 0.1-0.2 % green to ovendry", mark="S"
)
def test_lengthwise():
    """Movement along the grain lies in the handbook's range, far below that across."""
    assert 0.001 <= movement.C_LENGTHWISE * 30 <= 0.002
    assert movement.face_coefficient(MAPLE, 0) == movement.C_LENGTHWISE
    assert movement.face_coefficient(MAPLE, 90) == pytest.approx(MAPLE.c_tangential)


def test_mismatch_along_a_seam():
    """Two long-grain edges agree; grain against end grain differs by the whole width's movement."""
    along = SeamSide(species=MAPLE, moisture_pct=8)
    across = SeamSide(species=MAPLE, moisture_pct=8, grain_deg=90)
    assert movement.mismatch_mm(300, along, along, 12) == 0
    expected = 300 * 4 * (MAPLE.c_tangential - movement.C_LENGTHWISE)
    assert movement.mismatch_mm(300, across, along, 12) == pytest.approx(expected)
    assert movement.worst_mismatch_mm(300, along, across, (7, 12)) == pytest.approx(expected)
    tilted = SeamSide(species=MAPLE, moisture_pct=8, grain_deg=-10)
    other = SeamSide(species=MAPLE, moisture_pct=8, grain_deg=10)
    assert movement.mismatch_mm(300, tilted, other, 12) == pytest.approx(0)


def test_sheets():
    """A sheet has no coefficient to ask for."""
    with pytest.raises(ModelError, match="MDF"):
        movement.width_coefficient(find("mdf"))
