"""Chains of members: planted racks, worked rectangles, and the bounds against trying everything."""

from itertools import permutations

import numpy as np
import pytest
import study_glueup

from nestyield.geometry.shape import to_shapely
from nestyield.glueup.feasibility import SeamFeasibility
from nestyield.glueup.find import find
from nestyield.glueup.lyings import lyings
from nestyield.glueup.orders import least_area
from nestyield.glueup.seams import optimize_seams
from nestyield.glueup.search import Search
from nestyield.model import Defect, GlueUpRules, Outline, Part, Piece, Settings, Shape, Zone

SETTINGS = Settings(cutter_diameter_mm=6.0, blank_margin_mm=5.0, jointing_mm=1.0)


def part(length=400.0, width=300.0, **more):
    return Part(
        name="p", drawing="", outline=Outline.rectangle(0, 0, length, width), thickness_mm=40.0, **more
    )


def board(name, length, width, **more):
    shape = Shape(outer=Outline.rectangle(0, 0, length, width))
    return Piece(**{"name": name, "species": "maple", "thickness_mm": 44.0, "shape": shape, **more})


def area(piece):
    return piece.shape.area_mm2


def names(glued):
    return sorted(m.piece for m in glued.blank.members)


@pytest.mark.parametrize(
    ("members", "seed"), [(2, 0), (3, 0), *(pytest.param(n, 1, marks=pytest.mark.study) for n in (2, 3))]
)
def test_planted_glue_ups_are_found(members, seed):
    """A planted glue-up, or one of no more area, is found, closed along its seams by shapely's measure."""
    planted = study_glueup.plant(seed, members, 6)
    found = find(planted.part, planted.pieces, study_glueup.SETTINGS, area)
    assert found
    assert [study_glueup.faults(planted, g) for g in found] == [[]] * len(found)
    assert found[0].chain.value <= planted.area_mm2 * (1 + 1e-9)


def test_a_part_that_shows_one_face_takes_no_member_bottom_up():
    """A knot in the bottom of a board is cut away by a pocket from the front only when the board is turned over."""
    hollow = Zone(
        name="POCKET", role="pocket", shape=Shape(outer=Outline.rectangle(50, 20, 350, 280)), depth_mm=36.0
    )
    knot = Defect(
        name="K1",
        kind="knot",
        shape=Shape(outer=Outline.rectangle(190, 60, 230, 95)),
        face="bottom",
        depth_mm=25.0,
    )
    wood = [board("a", 420, 157), board("b", 420, 157, defects=(knot,))]
    free = find(part(zones=(hollow,)), wood, SETTINGS, area)
    assert free
    assert all(m.mirrored for g in free for m in g.blank.members if m.piece == "b")
    assert find(part(zones=(hollow,), show_face="top"), wood, SETTINGS, area) == []
    sound = [board("a", 420, 157), board("b", 420, 157)]
    shown = find(part(zones=(hollow,), show_face="top"), sound, SETTINGS, area)
    assert shown
    assert not any(m.mirrored for g in shown for m in g.blank.members)


@pytest.mark.parametrize(("second", "works"), [(157.0, True), (156.97, False)])
def test_width_of_two_boards(second, works):
    """Worked by hand: 300 + 2 x 5 margin + 2 x 1 jointing = 312 mm of boards for two members, not less."""
    found = find(part(), [board("a", 420, 155), board("b", 420, second)], SETTINGS, area)
    assert bool(found) is works


def test_a_rule_that_only_one_of_two_equal_glue_ups_meets_decides():
    """Worked by hand: pins bar the seams of 112 + 200 mm, at 106 and 194; 156 + 156 has its seam at 150."""
    pins = Zone(
        name="NO_SEAM",
        role="no_seam",
        shape=Shape(outer=Outline.rectangle(100, 96, 120, 118)),
        face="through",
    )
    # The first pair, 312 mm wide without play, has its seam at 112 - 5 - 1 = 106 or at 200 - 5 - 1 = 194.
    first = [board("a", 410, 112, species="cherry"), board("b", 410, 200, species="cherry")]
    second = [board("c", 410, 156), board("d", 410, 156)]
    rules = GlueUpRules(least_piece_width_mm=40.0)
    settings = Settings(cutter_diameter_mm=6.0, blank_margin_mm=5.0, jointing_mm=1.0, glueup=rules)
    free = find(part(), [*first, *second], settings, lambda p: 1.0)
    assert sorted(map(names, free)) == [["a", "b"], ["c", "d"]]
    both = Zone(
        name="NO_SEAM#2",
        role="no_seam",
        shape=Shape(outer=Outline.rectangle(100, 182, 120, 204)),
        face="through",
    )
    kept = find(part(zones=(pins, both)), [*first, *second], settings, lambda p: 1.0)
    assert [names(g) for g in kept] == [["c", "d"]]


def test_the_seam_goes_to_the_center_line_when_it_can():
    """Of two glue-ups of equal value the one with its seam on the center line comes first."""
    line = Zone(name="CENTER", role="center_line", line_mm=((0, 150), (400, 150)))
    cherry = [board("a", 410, 190, species="cherry"), board("b", 410, 122, species="cherry")]
    pieces = [*cherry, board("c", 410, 156), board("d", 410, 156)]
    found = find(part(zones=(line,)), pieces, SETTINGS, lambda p: 1.0)
    assert [names(g) for g in found] == [["c", "d"], ["a", "b"]]
    assert found[0].blank.seams[0].line_mm[0][1] == pytest.approx(150.0)


def test_unlike_wood_is_not_glued():
    """Two species, and moisture more than the setting apart, make no pair; within it they do."""
    a = board("a", 410, 156, moisture_pct=7.0)
    assert not find(part(), [a, board("b", 410, 156, species="cherry")], SETTINGS, area)
    assert not find(part(), [a, board("b", 410, 156, moisture_pct=9.1)], SETTINGS, area)
    assert find(part(), [a, board("b", 410, 156, moisture_pct=9.0)], SETTINGS, area)


def test_a_single_copy_is_not_spent_twice():
    """Two alike from one row need two copies on the rack."""
    assert not find(part(), [board("a", 410, 156)], SETTINGS, area)
    (found,) = find(part(), [board("a", 410, 156, count=2)], SETTINGS, area)
    assert [(m.piece, m.copy) for m in found.blank.members] == [("a", 1), ("a", 2)]


@pytest.mark.parametrize("members", [2, 3, pytest.param(4, marks=pytest.mark.study)])
@pytest.mark.parametrize("seed", [0, *(pytest.param(k, marks=pytest.mark.study) for k in (1, 2))])
def test_bounds_discard_nothing(members, seed):
    """The cheapest chain by bounds is the cheapest of all orders of rows tried one by one."""
    rng = np.random.default_rng([seed, members])
    mean = 320.0 / members
    pieces = [
        board(f"b{k}", float(rng.uniform(380, 450)), float(rng.uniform(0.8, 1.25) * mean)) for k in range(6)
    ]
    rules = GlueUpRules(sliver_mm=0.0, least_piece_width_mm=20.0)
    search = Search(part(), pieces, SETTINGS, area, rules)
    found = [c for c in search.chains(members, 3, 10_000) if len(c.places) == members]
    field = SeamFeasibility(lyings(part(), SETTINGS)[0], pieces, SETTINGS, rules)
    fewer = [c.value for c in search.chains(members, 3, 10_000) if len(c.places) < members]
    all_of_them = [
        sum(area(pieces[r]) for r in rows)
        for rows in permutations(range(len(pieces)), members)
        if optimize_seams(field, rows, rough=True) is not None
    ]
    cheaper = [v for v in all_of_them if v < min(fewer, default=float("inf"))]
    assert bool(found) is bool(cheaper)
    if found:
        assert min(c.value for c in found) == pytest.approx(min(cheaper))


@pytest.mark.parametrize("members", [2, 3, pytest.param(4, marks=pytest.mark.study)])
@pytest.mark.parametrize("seed", [0, pytest.param(1, marks=pytest.mark.study)])
def test_each_bound_holds_for_every_chain_that_works(members, seed):
    """Reach, width and area: none of the three stated bounds would discard an order of rows that works.

    Boards are tapered, stepped and of little play, and what works is told by seams for every order.
    """
    rng = np.random.default_rng([seed, members, 7])
    pieces = []
    for k in range(4 if members == 4 else 5):
        length, width = rng.uniform(405, 440), rng.uniform(1.02, 1.25) * (310 / members + 6)
        a, b = rng.uniform(0, 8, size=2)
        corners = [(0, a), (length / 2, 0), (length, b), (length, width), (0, width - a)]
        shape = Shape(outer=Outline.polygon([(float(x), float(y)) for x, y in corners]))
        pieces.append(Piece(name=f"b{k}", species="maple", thickness_mm=44.0, shape=shape))
    rules = GlueUpRules(sliver_mm=10.0, least_piece_width_mm=20.0)
    field = SeamFeasibility(lyings(part(), SETTINGS)[0], pieces, SETTINGS, rules)
    ends, every = field.ends(), range(len(pieces))
    up, down, width = [ends.up(r) for r in every], [ends.down(r) for r in every], ends.width
    works = 0
    for rows in permutations(range(len(pieces)), members):
        if optimize_seams(field, rows, rough=True) is None:
            continue
        works += 1
        give = sum(width[r] - 2 * field.lying.jointing_um for r in rows[1:-1])
        gap = down[rows[-1]] - up[rows[0]]
        assert give >= gap
        assert ends.meet(rows[0], rows[-1], gap)
        assert not ends.meet(rows[0], rows[-1], gap - 1)
        assert ends.most_up[rows[0]] >= up[rows[0]]
        assert ends.least_down[rows[-1]] <= down[rows[-1]]
        assert sum(area(pieces[r]) for r in rows) >= least_area(field)
        assert all(width[r] > 0 for r in rows)
    assert works or members == 4


def test_all_orders_that_work_are_given_by_the_bounds():
    """Every pair that works is among the orders that the bounds leave, one piece cut in two included."""
    pieces = [board("a", 420, 160), board("b", 830, 156), board("c", 411, 152.5), board("d", 500, 140)]
    search = Search(part(), pieces, SETTINGS, area, GlueUpRules())
    field = SeamFeasibility(lyings(part(), SETTINGS)[0], pieces, SETTINGS, GlueUpRules())
    left = {rows for _, rows in search.rows.of_size(field, field.ends(), 2, float("inf"))}
    works = {rows for rows in permutations(range(4), 2) if optimize_seams(field, rows) is not None}
    # worked by hand: 312 mm are needed, and 410 mm of length
    assert works == {(0, 1), (1, 0), (0, 2), (2, 0)}
    assert left == works
    shared = {rows for _, rows in search.rows.shared(field, field.ends(), 2, float("inf"))}
    assert (1, 1) in shared  # 830 mm give two lengths of 410
    assert (0, 0) not in shared  # 420 x 160 mm have less area than the body with its margin


def test_what_a_member_must_hold_only_shrinks_with_its_band():
    """Needed wood of a narrower band lies in that of a wider one: what the search rests on."""
    planted = study_glueup.plant(5, 2, 0)
    lying = lyings(planted.part, study_glueup.SETTINGS)[0]
    bottom, top = lying.span_um
    for c in np.linspace(bottom + 5000, top - 5000, 12).astype(int).tolist():
        wide = as_shapely(lying.needed(None, c + 1500))
        assert as_shapely(lying.needed(None, c)).difference(wide.buffer(0.002)).area == 0.0
        inner = as_shapely(lying.needed(c - 3000, c))
        assert inner.difference(as_shapely(lying.needed(c - 4000, c + 900)).buffer(0.002)).area == 0.0


def as_shapely(region):
    return to_shapely(region)
