"""Questions whose answers are known beforehand, most of them with no play at all."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
import shapely
from study_exact import audit_says
from things import BARE, block, disc, knot, plank, pocket, rect

from nestyield.geometry.flatten import points_along
from nestyield.model import Outline, Part, Shape, Zone
from nestyield.model.pose import Pose
from nestyield.placement.single import place_part

FIVE = replace(BARE, blank_margin_mm=5.0)
BLOCK = rect(0, 0, 200, 80)
# two straight edges and two half circles
STADIUM = Outline(points_mm=((0, 0), (150, 0), (150, 80), (0, 80)), bulges=(0.0, 1.0, 0.0, 1.0))
ELL = Outline.polygon([(0, 0), (200, 0), (200, 60), (80, 60), (80, 140), (0, 140)])


def blank_of(shape, turn=0.0, defects=(), **more):
    """A piece of a shape, turned with its defects and shifted away from the origin."""
    lie = Pose(angle_deg=turn, x_mm=13.3, y_mm=7.7)
    moved = tuple(replace(d, shape=lie.shape(d.shape)) for d in defects)
    return replace(plank(**more), name="piece", shape=lie.shape(shape), defects=moved)


def ask(part, blank, settings=BARE):
    answer = place_part(part, blank, settings, order="order 1")
    if answer.placement is not None:
        assert audit_says(part, replace(blank, members=()), settings, answer.placement) == []
    return answer.verdict


@pytest.mark.parametrize("turn", [0.0, 3.7, -9.99, 10.0, 12.0])
def test_a_block_on_a_piece_of_its_own_size(turn):
    """Turned within the tolerance of 10 degrees it is found, turned by 12 it is proved not to go."""
    part = block(grain_tolerance_deg=10.0)
    assert ask(part, blank_of(BLOCK, turn)) == ("placed" if abs(turn) <= 10 else "infeasible")


@pytest.mark.parametrize("outline", [STADIUM, ELL], ids=["arcs", "concave"])
@pytest.mark.parametrize("turn", [pytest.param(0.0, marks=pytest.mark.study), 7.5, -6.123])
def test_outlines_on_pieces_of_themselves(outline, turn):
    """Curves and inner corners match to the micrometer."""
    part = Part(name="p", drawing="", outline=outline, thickness_mm=40.0, grain_tolerance_deg=8.0)
    assert ask(part, blank_of(Shape(outer=outline), turn)) == "placed"


@pytest.mark.parametrize("turn", [0.0, 3.7])
@pytest.mark.parametrize(("less", "want"), [(0.0, {"placed"}), (0.02, {"infeasible", "tight"})])
def test_the_margin_is_kept_to_a_fiftieth(turn, less, want):
    """A piece 5 mm larger all round holds the block; one 0.02 mm shorter does not."""
    piece = rect(-5, -5, 205 - less, 85)
    assert ask(block(grain_tolerance_deg=10.0), blank_of(piece, turn), FIVE) in want


@pytest.mark.parametrize("turn", [0.0, 4.4])
@pytest.mark.parametrize("play", [0.0, 3.0])
@pytest.mark.parametrize("round_", [False, True])
@pytest.mark.parametrize(("more", "want"), [(0.0, {"placed"}), (0.02, {"infeasible", "tight"})])
def test_a_knot_as_large_as_its_pocket(turn, play, round_, more, want):
    """It goes there and nowhere else; 0.02 mm wider it goes nowhere."""
    hollow = disc(75, 40, 12) if round_ else rect(60, 30, 90, 50)
    flaw = disc(75, 40, 12 + more) if round_ else rect(60, 30, 90 + more, 50)
    part = block(zones=(pocket(hollow, 9.2),), grain_tolerance_deg=10.0)
    piece = rect(-play, -play, 200 + play, 80 + play)
    assert ask(part, blank_of(piece, turn, (knot(flaw, "top", 10.0),))) in want


@pytest.mark.parametrize(
    ("face", "depth", "want"),
    [
        ("top", 3.2, "placed"),
        ("top", 3.21, "infeasible"),
        ("bottom", 3.2, "placed"),
        ("bottom", 3.21, "infeasible"),
    ],
)
def test_planing_that_just_takes_a_check_away(face, depth, want):
    """44 to 40 mm with 0.8 off the other face leaves 3.2 for this one."""
    flaw = knot(rect(-9, -9, 300, 200), face, depth, kind="check")
    assert ask(block(), blank_of(BLOCK, defects=(flaw,))) == want


@pytest.mark.parametrize(("bottom", "want"), [(1.5, "placed"), (1.51, "infeasible")])
def test_planing_both_faces_shares_what_is_spare(bottom, want):
    """2.5 mm off the top leaves 1.5 for the bottom."""
    top, other = (
        knot(rect(-9, -9, 300, 200), face, depth, kind="check")
        for face, depth in (("top", 2.5), ("bottom", bottom))
    )
    assert ask(block(), blank_of(BLOCK, defects=(top, other))) == want


@pytest.mark.parametrize(("apart", "want"), [(6.0, {"placed"}), (5.98, {"infeasible", "tight"})])
def test_metal_keeps_the_cutters_diameter(apart, want):
    """Beside a block with no play, a pin 6 mm from it."""
    pin = knot(rect(200 + apart, 0, 201 + apart, 80), kind="metal")
    assert ask(block(), blank_of(rect(0, 0, 320, 80), defects=(pin,))) in want


@pytest.mark.parametrize(
    ("mirrored", "defect_face", "pocket_face", "want"),
    [
        ("no", "top", "front", "placed"),
        ("no", "bottom", "back", "placed"),
        ("no", "bottom", "front", "infeasible"),
        ("no", "top", "back", "infeasible"),
        ("only", "top", "front", "infeasible"),
        ("only", "bottom", "front", "placed"),
        ("only", "top", "back", "placed"),
        ("allowed", "bottom", "front", "placed"),
    ],
)
def test_faces_of_mirrored_parts(mirrored, defect_face, pocket_face, want):
    """A pocket off both middles over a knot: as drawn and front up only; the mirror image, back up only."""
    part = block(zones=(pocket(rect(30, 5, 70, 35), 15.0, pocket_face),), mirrored=mirrored)
    flaw = knot(disc(50, 20, 8), defect_face, 12.0)
    assert ask(part, blank_of(BLOCK, defects=(flaw,))) == want


@pytest.mark.parametrize(
    ("tolerance", "want"), [(45.0, "infeasible"), (80.0, "infeasible"), (90.0, "placed")]
)
def test_a_bar_crosswise(tolerance, want):
    """A piece 36 mm long and 230 wide holds a bar of 200 x 30 only across the grain."""
    assert ask(block(200, 30, grain_tolerance_deg=tolerance), blank_of(rect(0, 0, 36, 230))) == want


@pytest.mark.outside(source="tilted rectangle rule, Carver, Amer. Math. Monthly 64, 1957", mark="M")
@pytest.mark.parametrize("tolerance", [None, 89.9, 90.0])
@pytest.mark.parametrize(
    ("more", "want"), [(0.02, {"placed"}), (-0.02, {"infeasible", "tight"}), (-0.2, {"infeasible"})]
)
def test_a_bar_across_corners(tolerance, more, want):
    """A piece a fiftieth of a millimeter wider or narrower than the rule decides."""
    p, q, a = 200.0, 30.0, 190.0
    d = p * p + q * q
    width = (2 * p * q * a + (p * p - q * q) * math.sqrt(d - a * a)) / d + more
    part = block(p, q, **({"grain_tolerance_deg": tolerance} if tolerance else {"grain_deg": None}))
    assert ask(part, blank_of(rect(0, 0, a, width))) in want


@pytest.mark.parametrize(("x", "want"), [(60, "placed"), (100, "infeasible")])
def test_an_island_of_a_pocket_is_wood(x, want):
    """A knot beside the island goes with the pocket; one on it stays, even with 1 mm of play."""
    ring = replace(rect(40, 10, 160, 70), holes=(Outline.rectangle(80, 30, 120, 50),))
    part = block(zones=(pocket(ring, 20.0),))
    assert ask(part, blank_of(rect(-1, -1, 201, 81), defects=(knot(disc(x, 40, 5), "top", 12.0),))) == want


def test_a_knot_around_an_island():
    """A ring of a knot in a ring of a pocket."""
    ring = replace(rect(40, 10, 160, 70), holes=(Outline.rectangle(80, 30, 120, 50),))
    flaw = replace(rect(50, 15, 150, 65), holes=(Outline.rectangle(80, 30, 120, 50),))
    part = block(zones=(pocket(ring, 20.0),))
    assert ask(part, blank_of(BLOCK, defects=(knot(flaw, "top", 12.0),))) == "placed"


@pytest.mark.parametrize(("left", "want"), [(65.0, {"placed"}), (64.98, {"infeasible", "tight"})])
def test_a_hole_of_the_piece_in_a_window(left, want):
    """Window 60 to 90, margin 5: a hole from 65 to 85 just goes there."""
    window = Zone(name="W", role="cutout", shape=rect(60, 25, 90, 55), face="through")
    piece = replace(rect(-6, -6, 206, 86), holes=(Outline.rectangle(left, 30, 85, 50),))
    assert ask(block(zones=(window,)), blank_of(piece), FIVE) in want


@pytest.mark.parametrize(("width", "want"), [(85.0, "placed"), (84.9, "infeasible")])
def test_bark_that_runs_over_the_edge(width, want):
    """A strip of bark 5 mm wide leaves 80 of 85."""
    bark = knot(rect(-50, -50, 260, 5), kind="bark")
    assert ask(block(), blank_of(rect(0, 0, 200, width), defects=(bark,))) == want


@pytest.mark.parametrize("turn", [0.0, pytest.param(7.3, marks=pytest.mark.study)])
@pytest.mark.parametrize("margin", [0.001, 3.0])
@pytest.mark.parametrize("tolerance", [2.0, 90.0])
def test_a_round_part_on_a_square_of_its_own_size(turn, margin, tolerance):
    """A disc of 117 mm in a square just as wide, margins added, is found at any tolerance: its middle is the square's."""
    part = Part(name="p", drawing="", outline=Outline.circle(0, 0, 58.5), thickness_mm=40.0,
                grain_tolerance_deg=tolerance)  # fmt: skip
    side = 58.5 + margin
    piece = blank_of(rect(-side, -side, side, side), turn, grain_deg=turn)
    settings = replace(BARE, blank_margin_mm=margin)
    answer = place_part(part, piece, settings, order="order 1")
    assert answer.verdict == "placed"
    assert audit_says(part, replace(piece, members=()), settings, answer.placement) == []
    at = Pose.of(answer.placement)
    assert math.hypot(at.x_mm - 13.3, at.y_mm - 7.7) <= 0.006


@pytest.mark.parametrize("gap", [0.0, 0.01, 3.0])
def test_round_parts_in_a_row_with_no_play(gap):
    """A disc and a part with round ends, end to end in a strip of their length, margins and gap: both are found."""
    settings = replace(BARE, blank_margin_mm=3.0, between_parts_mm=gap)
    round_ = Part(name="r", drawing="", outline=Outline.circle(0, 0, 40.0), thickness_mm=40.0,
                  grain_tolerance_deg=0.0)  # fmt: skip
    stadium = Part(name="s", drawing="", outline=STADIUM, thickness_mm=40.0, grain_tolerance_deg=0.0)
    piece = blank_of(rect(0, 0, 80 + 230 + gap + 6, 86))
    first = place_part(stadium, piece, settings, order="order 1")
    second = place_part(round_, piece, settings, order="order 2", taken=[(stadium, first.placement)])
    assert second.placement is not None
    a, b = (
        Pose.of(answer.placement).outline(p.outline) for answer, p in ((first, stadium), (second, round_))
    )
    apart = shapely.distance(*(shapely.Polygon(points_along(o, 0.0001)) for o in (a, b)))
    assert apart == pytest.approx(gap, abs=0.006)


@pytest.mark.parametrize(("less", "want"), [(0.0, {"placed"}), (0.02, {"infeasible", "tight"})])
def test_a_block_in_a_piece_whose_corners_lie_between_micrometers(less, want):
    """A rectangle of 208.1 x 88.25 at 30 degrees, corners in doubles, holds 207.1 x 87.25 with a margin of 0.5."""
    cos, sin = math.cos(math.radians(30.0)), math.sin(math.radians(30.0))
    length, width = 208.1 - less, 88.25
    corners = [
        (0.0, 0.0), (length * cos, length * sin),
        (length * cos - width * sin, length * sin + width * cos), (-width * sin, width * cos),
    ]  # fmt: skip
    piece = replace(
        plank(), name="piece", shape=Shape(outer=Outline.polygon(corners)), grain_deg=30.0, defects=()
    )
    part = Part(
        name="p",
        drawing="",
        outline=Outline.rectangle(0, 0, 207.1, 87.25),
        thickness_mm=40.0,
        grain_tolerance_deg=2.0,
    )
    assert ask(part, piece, replace(BARE, blank_margin_mm=0.5)) in want


@pytest.mark.parametrize(
    ("turn", "margin", "block_mm", "stadium_mm"),
    [(30.0, 3.0, (188.1, 34.25), (84.0, 44.0)), (90.0, 0.0, (240 + 1 / 3, 59.25), (231.0, 69.0))],
    ids=["margin", "no margin"],
)
def test_a_stadium_and_a_block_end_to_end_in_a_turned_piece(turn, margin, block_mm, stadium_mm):
    """Corners of the piece in doubles: a block and a stadium fill it with a gap of 0.05 mm, end to end."""
    gap = 0.05
    cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    length, width = block_mm[0] + stadium_mm[0] + gap + 2 * margin, stadium_mm[1] + 2 * margin
    corners = [
        (0.0, 0.0), (length * cos, length * sin),
        (length * cos - width * sin, length * sin + width * cos), (-width * sin, width * cos),
    ]  # fmt: skip
    piece = replace(
        plank(), name="piece", shape=Shape(outer=Outline.polygon(corners)), grain_deg=turn, defects=()
    )
    settings = replace(BARE, blank_margin_mm=margin, between_parts_mm=gap)
    long = Part(
        name="l", drawing="", outline=Outline.rectangle(0, 0, *block_mm), thickness_mm=40.0,
        grain_tolerance_deg=0.0,
    )  # fmt: skip
    r, straight = stadium_mm[1] / 2, stadium_mm[0] - stadium_mm[1]
    stadium = Part(
        name="s", drawing="",
        outline=Outline(
            points_mm=((r, 0), (r + straight, 0), (r + straight, 2 * r), (r, 2 * r)), bulges=(0, 1, 0, 1)
        ),
        thickness_mm=40.0, grain_tolerance_deg=0.0,
    )  # fmt: skip
    first = place_part(long, piece, settings, order="order 1")
    second = place_part(stadium, piece, settings, order="order 2", taken=[(long, first.placement)])
    assert second.placement is not None
    a, b = (
        shapely.Polygon(points_along(Pose.of(at.placement).outline(p.outline), 0.0001))
        for at, p in ((first, long), (second, stadium))
    )
    home = shapely.Polygon(corners)
    assert a.distance(b) == pytest.approx(gap, abs=0.006)
    for one in (a, b):
        # rounding to the micrometer, contact within 2
        assert one.difference(home.buffer(0.003)).area == 0.0
        assert one.distance(home.boundary) == pytest.approx(margin, abs=0.003)
