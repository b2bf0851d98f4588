"""What the wood of a glue-up will do, against numbers worked by hand."""

from dataclasses import replace

import pytest
from scipy.optimize import brentq

from nestyield.model import Blank, GlueUpRules, Member, Outline, Piece, Seam, Season, Settings, Shape
from nestyield.model.facts import MoistureApart, MovementUnknown, SidesPull
from nestyield.wood.blank import grain_in_blank, movement_mm, seam_woods, wood_facts
from nestyield.wood.moisture import moisture_in_air
from nestyield.wood.species import find

MAPLE = find("sugar maple")


def piece(name, species="sugar maple", grain=0.0, moisture=None):
    return Piece(
        name=name,
        species=species,
        thickness_mm=44.5,
        shape=Shape(outer=Outline.rectangle(0, 0, 500, 180)),
        grain_deg=grain,
        moisture_pct=moisture,
    )


def blank(*members, width=336.6, seam=((0.0, 168.3), (500.0, 168.3))):
    return Blank(
        name="glue-up 1",
        members=members or (Member(piece="a", copy=1), Member(piece="b", copy=1)),
        species="sugar maple",
        thickness_mm=44.5,
        shape=Shape(outer=Outline.rectangle(0, 0, 500, width)),
        grain_deg=0.0,
        seams=(Seam(name="seam 1", line_mm=seam),),
    )


def _air_of(moisture_pct):
    """Return the humidity in which wood comes to a moisture content, percent."""
    return float(brentq(lambda humidity: moisture_in_air(humidity) - moisture_pct, 0.0, 98.0, xtol=1e-9))


def settings(low_mc, high_mc, **glueup):
    """A shop whose season runs between two moisture contents."""
    wood = Season(humidity_low=_air_of(low_mc), humidity_high=_air_of(high_mc))
    return Settings(cutter_diameter_mm=6, wood=wood, glueup=GlueUpRules(**glueup))


FOUR_POINTS = settings(8.0, 12.0)


def codes(a, b, where=FOUR_POINTS, made=None):
    found = wood_facts(made or blank(), {"a": a, "b": b}, where)
    return {f.code: f for f in found}


@pytest.mark.outside(source="Wood Handbook FPL-GTR-190 eq. 13-2 with table 13-5, worked by hand", mark="D")
def test_movement_of_a_body_blank():
    """A maple blank of 336.6 mm moves 4.75 mm flatsawn over four points, the mahogany one 1.9 mm."""
    pieces = {"a": piece("a"), "b": piece("b")}
    quarter, flat = movement_mm(blank(), pieces, FOUR_POINTS)
    assert flat == pytest.approx(4.75, abs=0.005)
    assert quarter == pytest.approx(336.6 * 0.00165 * 4, rel=1e-6)
    red = {k: piece(k, "mahogany") for k in "ab"}
    assert movement_mm(blank(), red, FOUR_POINTS)[1] == pytest.approx(1.9, abs=0.005)
    told = codes(piece("a"), piece("b"))["G701"]
    assert (told.flatsawn_um, told.quartersawn_um) == (
        pytest.approx(336_600 * 0.00353 * 4, abs=1),
        pytest.approx(336_600 * 0.00165 * 4, abs=1),
    )
    assert (told.driest_pct, told.dampest_pct) == (pytest.approx(8.0), pytest.approx(12.0))


@pytest.mark.outside(source="Wood Handbook FPL-GTR-190 eq. 13-2 with table 13-5, worked by hand", mark="D")
def test_steps():
    """Two points apart step by twice C_T at worst; flatsawn beside quartersawn, four points, by 0.33 mm."""
    (seam,) = seam_woods(
        blank(), {"a": piece("a", moisture=8), "b": piece("b", moisture=10)}, settings(8.0, 8.0)
    )
    # quartersawn both: the thickness moves by C_T
    assert seam.step_mm[0] == pytest.approx(44.5 * 0.00353 * 2, rel=1e-6)
    pieces = {"a": piece("a", moisture=8.0), "b": piece("b", moisture=8.0)}
    (seam,) = seam_woods(blank(), pieces, FOUR_POINTS)
    assert seam.step_mm[0] == pytest.approx(0, abs=1e-9)
    assert seam.step_mm[1] == pytest.approx(0.33, abs=0.006)
    told = codes(pieces["a"], pieces["b"])["G704"]
    assert (told.seam, told.alike_um, told.unlike_um) == ("seam 1", 0, pytest.approx(330, abs=6))


def test_unlike_moisture():
    """Pieces more than two points apart are reported, and one that is off the season."""
    assert "G703" not in codes(piece("a", moisture=8), piece("b", moisture=10))
    found = codes(piece("a", moisture=8), piece("b", moisture=10.5))
    assert found["G703"].severity == "warning"
    assert found["G703"] == MoistureApart(seam="seam 1", difference_points=2.5, limit_points=2.0)
    loose = replace(FOUR_POINTS, glueup=GlueUpRules(moisture_difference=3.0))
    assert "G703" not in codes(piece("a", moisture=8), piece("b", moisture=10.5), loose)
    off = codes(piece("a", moisture=18), piece("b"))["G707"]
    assert (off.piece, off.moisture_pct) == ("a", 18)
    # the season runs from 8 to 12, and two points more or less are let pass
    assert (off.low_pct, off.high_pct) == (pytest.approx(6.0), pytest.approx(14.0))


def test_crossed_grain():
    """Grain that crosses is told with the mismatch over the length of the seam."""
    found = codes(piece("a"), piece("b", grain=20.0))
    (seam,) = seam_woods(blank(), {"a": piece("a"), "b": piece("b", grain=20.0)}, FOUR_POINTS)
    assert seam.crossing_deg == pytest.approx(20)
    # from the middle of the season two points either way, at 20 degrees sin^2 of the way to across
    share = 0.1169778
    assert seam.mismatch_mm == pytest.approx(500 * 2 * share * (0.00353 - 0.00005), rel=1e-4)
    assert found["G705"] == SidesPull(
        seam="seam 1", crossing_deg=20.0, mismatch_um=round(seam.mismatch_mm * 1000)
    )
    assert "G705" not in codes(piece("a"), piece("b", grain=9.0))
    assert "G706" in codes(piece("a"), piece("b", grain=9.0))


def test_end_grain():
    """A seam across the grain is a warning with its quarter of the strength."""
    made = blank(seam=((250.0, 0.0), (250.0, 336.6)))
    found = codes(piece("a"), piece("b"), made=made)["G706"]
    assert found.severity == "warning"
    assert found.joint.strength_pct == 25.0


def test_grain_of_a_turned_member():
    """Grain follows a member that is turned face for face or end for end."""
    tilted = piece("a", grain=10.0)
    assert grain_in_blank(tilted, Member(piece="a", copy=1)) == 10
    assert grain_in_blank(tilted, Member(piece="a", copy=1, mirrored=True)) == 170
    assert grain_in_blank(tilted, Member(piece="a", copy=1, angle_deg=180.0)) == 10
    assert grain_in_blank(tilted, Member(piece="a", copy=1, mirrored=True, angle_deg=-10.0)) == 160


def test_single_pieces_sheets_and_strange_woods():
    """A single board is told its movement, a sheet nothing, a wood without figures that it has none."""
    alone = replace(blank(Member(piece="a", copy=1)), seams=())
    assert [f.code for f in wood_facts(alone, {"a": piece("a")}, FOUR_POINTS)] == ["G701"]
    sheet = replace(alone, grain_deg=None)
    assert wood_facts(sheet, {"a": piece("a", "MDF", grain=None)}, FOUR_POINTS) == ()
    strange = wood_facts(alone, {"a": piece("a", "moon cheese")}, FOUR_POINTS)
    assert strange == (MovementUnknown(species=("moon cheese",)),)
    came_glued = replace(alone, seams=blank().seams)
    assert seam_woods(came_glued, {"a": piece("a")}, FOUR_POINTS) == ()
