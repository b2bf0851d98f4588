"""Racks that a maker might bring, each glue-up found checked by the audit."""

from __future__ import annotations

from dataclasses import replace

import pytest
import study_glueup

from nestyield.glueup.find import find
from nestyield.model import Defect, GlueUpRules, MachineLimits, Outline, Part, Piece, Settings, Shape, Zone
from nestyield.model.facts import InNoSeamZone

BASE = Settings(cutter_diameter_mm=6.0, blank_margin_mm=5.0, jointing_mm=1.0)
CENTER = Zone(name="CENTER", role="center_line", line_mm=((0, 150), (400, 150)))


def rectangle(x0, y0, x1, y1):
    return Shape(outer=Outline.rectangle(x0, y0, x1, y1))


def body(*zones, **more):
    return Part(
        **{
            "name": "part",
            "drawing": "",
            "outline": Outline.rectangle(0, 0, 400, 300),
            "thickness_mm": 40.0,
            "zones": zones,
            **more,
        }
    )


def board(name, length, width, **more):
    shape = rectangle(0, 0, length, width)
    return Piece(**{"name": name, "species": "sugar maple", "thickness_mm": 44.0, "shape": shape, **more})


def polygon(name, points, **more):
    return replace(board(name, 1, 1, **more), shape=Shape(outer=Outline.polygon(points)))


def knot(x, y, r=6.0, face="through", depth=None, kind="knot"):
    return Defect(
        name=f"at {x} {y}", kind=kind, shape=Shape(outer=Outline.circle(x, y, r)), face=face, depth_mm=depth
    )


def glued(part, pieces, settings=BASE, **more):
    """Find glue-ups of least area; whatever is found must pass the audit."""
    found = find(part, pieces, settings, lambda p: p.shape.area_mm2, **more)
    planted = study_glueup.Planted(part=part, pieces=tuple(pieces), names=(), area_mm2=1.0)
    assert study_glueup.audited(planted, found, settings) == []
    return found


def names(one):
    return [m.piece for m in one.blank.members]


def test_only_three_narrow_pieces_do():
    """Worked by hand: 300 + 2 x 5 + 4 x 1 = 314 mm in three boards, not less."""
    few = [board("a", 420, 105), board("b", 420, 104), board("c", 420, 105)]
    (only,) = glued(body(), few)
    assert sorted(names(only)) == ["a", "b", "c"]
    assert not glued(body(), [*few[:2], board("c", 420, 104.9)])


def test_four_pieces():
    """Worked by hand: 300 + 2 x 5 + 6 x 1 = 316 mm in four boards of 79 mm."""
    assert len(glued(body(), [board("a", 410, 79, count=4)])[0].blank.members) == 4
    assert not glued(body(), [board("a", 410, 79, count=3)])
    assert not glued(body(), [board("a", 410, 78.9, count=4)])
    assert not glued(body(), [board("a", 410, 79, count=4)], replace(BASE, glueup=GlueUpRules(most_pieces=3)))


WEDGE = [(0, 0), (430, 0), (430, 149), (0, 167.5)]


def test_tapered_edges_meet():
    """Two wedges that would waste too much if ripped along the grain are glued along their slanting edges.

    Worked by hand: 430 mm long, 149 and 167.5 mm wide, so the edge leaves the grain by 2.46 degrees. Ripped
    along the grain they give 2 x 149 mm, 312 are needed; one turned end for end, they give 316.
    """
    pieces = [polygon("a", WEDGE), polygon("b", WEDGE)]
    assert glued(body(), pieces)

    # ripped along the grain they give a blank between two slanting edges 316 mm apart: the part lies along those
    ripped = replace(BASE, glueup=GlueUpRules(taper_deg=2.0))
    (slanted,) = glued(body(), pieces, ripped)
    turned = abs((slanted.placement.angle_deg + 90) % 180 - 90)
    assert 1.8 < turned < 3.1  # 4 mm to spare over 410: 2.46 degrees, 0.6 more or less
    assert not glued(body(grain_tolerance_deg=1.7), pieces, ripped)


@pytest.mark.parametrize("width", [160, 155])
def test_an_edge_nearly_along_the_seam(width):
    """The lower edge of a board leaves the seam by 1.4 degrees: 2 um of tolerance across it are 80 um along it.

    The audit measures the margin from where board and seam meet. Boards of 155 mm have no play at all.
    """
    settings = replace(BASE, jointing_mm=0.0, glueup=GlueUpRules(most_pieces=2))
    upper = polygon("b", [(0, 8), (5, 0), (416, 10), (416, 170), (0, 170)])
    assert glued(body(), [board("a", 420, width), upper], settings)


@pytest.mark.parametrize(("crossed", "works"), [(2.0, False), (2.6, True)])
def test_crossed_grain_of_neighbors(crossed, works):
    """A board whose grain runs 2.5 degrees off its edges, beside a straight one.

    Worked by hand: 157 mm wide, it is glued along its edge. Ripped along its grain it would lose
    410 mm x tan 2.5 degrees = 17.9 mm.
    """
    settings = replace(BASE, glueup=GlueUpRules(crossed_grain_deg=crossed))
    pieces = [board("a", 412, 157, grain_deg=2.5), board("b", 412, 157)]
    assert bool(glued(body(), pieces, settings)) is works


def test_a_knot_must_land_in_a_pocket_of_the_middle_piece():
    """The middle board's knot, 12 mm deep, can only lie in a pocket 19 mm deep; the end pieces hold the rest."""
    pockets = [
        Zone(name="P", role="pocket", face="front", depth_mm=19.0, shape=rectangle(100, 120, 160, 180))
    ]
    middle = board("m", 420, 104, defects=(knot(300, 52, 10, "bottom", 12.0),))
    pieces = [board("a", 420, 108), board("b", 420, 108), middle]
    assert not glued(body(), pieces)
    (one, *_) = glued(body(CENTER, *pockets), pieces)
    assert names(one)[1] == "m"
    member = one.blank.members[1]
    assert member.mirrored  # its bottom face must come up
    # nor in a pocket that is too shallow
    assert not glued(body(CENTER, replace(pockets[0], depth_mm=9.0)), pieces)


def test_only_end_for_end():
    """A step at one end of a board serves the narrow end of the body only: the board must be turned."""
    outline = Outline.polygon([(0, 60), (200, 0), (400, 0), (400, 300), (200, 300), (0, 240)])
    part = body(outline=outline)
    # the wide end of both boards must lie at the wide end of the body
    shape = [(0, 0), (420, 0), (420, 110), (215, 156), (0, 156)]
    found = glued(part, [polygon("a", shape, count=2)])
    assert found
    assert {(m.mirrored, m.angle_deg) for m in found[0].blank.members} == {(False, 180.0), (True, 0.0)}


def test_grain_at_an_angle_in_the_piece():
    """Boards drawn slantwise on the rack, their grain along them, are as good as straight ones."""
    from nestyield.model.pose import Pose

    for angle in (30.0, 90.0, 171.5):
        tilted = [
            replace(b, shape=Pose(angle_deg=angle).shape(b.shape), grain_deg=angle % 180)
            for b in (board("a", 415, 157), board("b", 415, 157))
        ]
        assert glued(body(CENTER), tilted)
    # across the grain they are of no use
    assert not glued(body(), [board("a", 415, 157, grain_deg=90.0), board("b", 415, 157, grain_deg=90.0)])


def test_crossed_grain_is_allowed_where_the_shop_says_so():
    """A board whose grain runs 15 degrees off its edges is glued along them, with a caution."""
    pieces = [board("a", 420, 157, grain_deg=15.0), board("b", 420, 157)]
    assert not glued(body(), pieces)
    settings = replace(BASE, glueup=GlueUpRules(crossed="allowed"))
    (one, *_) = glued(body(), pieces, settings)
    layout = study_glueup.plan_of(
        study_glueup.Planted(part=body(), pieces=tuple(pieces), names=(), area_mm2=1.0), [one], settings
    ).layouts[0]
    told = {f.code: f for f in layout.wood}
    assert (told["G721"].piece, told["G721"].off_deg) == ("a", 15.0)
    assert told["G705"].crossing_deg == 15.0
    assert told["G705"].mismatch_um > 0


def test_unlike_species_where_the_shop_says_so():
    pieces = [board("a", 420, 157), board("b", 420, 157, species="black cherry")]
    assert not glued(body(), pieces)
    (one, *_) = glued(body(), pieces, replace(BASE, glueup=GlueUpRules(mixed_species=True)))
    assert set(one.blank.species.split(" + ")) == {"sugar maple", "black cherry"}


def test_lengths_of_one_board():
    """Worked by hand: two members of 410 x 156 mm from one board of 823.3 x 156 mm, the saw takes 3.2."""
    (one, *_) = glued(body(), [board("a", 823.3, 156)])
    assert {(m.piece, m.copy) for m in one.blank.members} == {("a", 1)}
    assert all(m.cut is not None for m in one.blank.members)
    assert not glued(body(), [board("a", 823.1, 156)])
    assert not glued(body(), [board("a", 823.3, 156)], replace(BASE, machines=MachineLimits(saw_kerf_mm=3.5)))


def test_strips_of_one_board():
    """A split along the middle of a wide board is ripped out and the strips are glued again."""
    split = Defect(name="split", kind="split", shape=rectangle(0, 198, 420, 202))
    wide = board("a", 420, 400, defects=(split,))
    (one, *_) = glued(body(), [wide])
    assert {(m.piece, m.copy) for m in one.blank.members} == {("a", 1)}
    assert not glued(
        body(), [board("a", 420, 300, defects=(replace(split, shape=rectangle(0, 148, 420, 152)),))]
    )


def test_three_members_of_two_boards():
    """Two of three members are lengths of one long board."""
    pieces = [board("long", 830, 105), board("short", 412, 105)]
    (one, *_) = glued(body(), pieces)
    assert sorted(names(one)) == ["long", "long", "short"]


def test_pieces_with_holes():
    """A hole may lie in waste or in a cutout, not in the body nor in the jointing allowance."""
    hole = Outline.rectangle(200, 110, 220, 120)
    holed = replace(board("a", 420, 156), shape=Shape(outer=rectangle(0, 0, 420, 156).outer, holes=(hole,)))
    pieces = [holed, board("b", 420, 156)]
    assert not glued(body(), pieces)
    cutout = Zone(name="C", role="cutout", face="through", shape=rectangle(150, 98, 260, 127))
    assert glued(body(cutout), pieces)
    # the cutout crosses the seam: the hole would lie where the edge is jointed
    edge = Outline.rectangle(200, 154.5, 220, 155.5)
    at_edge = replace(holed, shape=Shape(outer=holed.shape.outer, holes=(edge,)))
    wide = Zone(name="C", role="cutout", face="through", shape=rectangle(150, 100, 260, 200))
    for one in glued(body(wide), [at_edge, board("b", 420, 156)]):
        assert one.blank.shape.holes == ()


def test_metal_keeps_clear_of_saw_and_cutter():
    """Nails near both long edges leave no line for the rip; knots there can be ripped through."""
    nail = knot(10, 8, 1.5, kind="metal")
    assert glued(body(), [board("a", 440, 170, defects=(nail,)), board("b", 440, 156)])
    for kind, works in (("metal", False), ("knot", True)):
        flaws = (knot(220, 159, 1.5, kind=kind), knot(200, 3, 1.5, kind=kind))
        assert bool(glued(body(), [board("a", 440, 162, defects=flaws), board("b", 440, 156)])) is works


@pytest.mark.parametrize(
    ("margin", "jointing", "width"),
    [
        (0.0, 0.0, 150),
        *(
            pytest.param(*c, marks=pytest.mark.study)
            for c in ((0.0, 1.0, 151), (5.0, 0.0, 155), (0.5, 2.0, 152.5))
        ),
    ],
)
def test_no_margin_or_no_jointing(margin, jointing, width):
    """Worked by hand: (300 + 2 margins + 2 jointings) / 2 for each of two boards, 400 mm and 2 margins long."""
    settings = replace(BASE, blank_margin_mm=margin, jointing_mm=jointing)
    long = 400 + 2 * margin
    assert glued(body(), [board("a", long, width), board("b", long, width)], settings)
    assert not glued(body(), [board("a", long, width), board("b", long, width - 0.05)], settings)
    assert not glued(body(), [board("a", long - 0.05, width), board("b", long, width)], settings)


def test_filler_keeps_its_limit():
    """Worked by hand: a hole 20 mm deep, 10 mm in radius takes 6.3 ml where it stays whole."""
    hole = knot(200, 78, 10, kind="worm")
    pieces = [board("a", 410, 156, defects=(hole,)), board("b", 410, 156)]
    part = body(tolerates={"worm": "filled"})
    assert glued(part, pieces)
    # 3.14 x 10 x 10 x 40 mm = 12.6 ml
    assert glued(replace(part, fill_limit_ml=12.7), pieces)
    assert not glued(replace(part, fill_limit_ml=12.4), pieces)


def test_rules_may_give():
    """Of two pairs the one whose seam goes less deep into the barred range is given, and told."""
    zone = Zone(name="PINS", role="no_seam", shape=rectangle(50, 100, 60, 200))
    pieces = [board("a", 410, 156, count=2), board("b", 410, 112), board("c", 410, 200)]
    part = body(zone)
    two = replace(BASE, glueup=GlueUpRules(most_pieces=2))
    found = glued(part, pieces, two)
    # 112 and 200 mm have their seam at 106 or 194: 6 mm inside; 156 and 156 at 150: 50 mm inside
    assert found == []
    settings = replace(BASE, glueup=GlueUpRules(rules="caution", most_pieces=2))
    (one, *_) = glued(part, pieces, settings)
    assert sorted(names(one)) == ["b", "c"]
    planted = study_glueup.Planted(part=part, pieces=tuple(pieces), names=(), area_mm2=1.0)
    (told,) = [f for f in study_glueup.plan_of(planted, [one], settings).layouts[0].wood if f.code == "G720"]
    assert (told.seam, told.part, told.rule) == ("seam 1", "part", InNoSeamZone(zone="PINS"))
    assert told.inside_um == pytest.approx(6000, abs=50)
    # with a zone that they can keep clear of, nothing is broken and nothing told
    free = body(replace(zone, shape=rectangle(50, 107, 60, 193)))
    (one, *_) = glued(free, pieces, settings)
    assert sorted(names(one)) == ["b", "c"]
