from __future__ import annotations

import math
import re
from dataclasses import replace
from fractions import Fraction

import pytest
import shapely
from shapely.affinity import translate
from things import BARE, at, block, disc, knot, plank, pocket, rect

from nestyield.model import Outline, Part, Piece, Settings, Shape
from nestyield.model.facts import WiderPiece
from nestyield.paperwork.phrases import phrase
from nestyield.placement.relaxation import relaxations
from nestyield.placement.single import place_part
from nestyield.placement.stock import blank_of
from nestyield.planning.diagnose import look_into
from nestyield.words import Words

FIVE = replace(BARE, blank_margin_mm=5.0, between_parts_mm=9.0)


def found(part, blank, settings=FIVE, taken=()):
    return {r.code: r for r in relaxations(part, blank, settings, taken)}


def test_nothing_to_tell_when_it_fits():
    """Even when it fits with no play."""
    assert found(block(200, 80), plank(210, 90)) == {}
    assert found(block(200, 80), plank(220, 95)) == {}


def test_short_of_length_by_hand():
    """205 mm for 200 and 2 x 5: a margin of 2.5 would do, or a piece 5 mm longer; wider does not help."""
    told = found(block(200, 80, grain_tolerance_deg=0.0), plank(205, 90))
    assert told["narrower margin"].reachable_um == pytest.approx(2500, abs=5)
    assert told["longer piece"].missing_um == pytest.approx(5000, abs=100)
    assert "wider piece" not in told
    assert told["narrower margin"].required_um == 5000


def test_short_of_width_is_across_the_grain():
    """With the grain along Y, a piece too small in X is too narrow."""
    part = replace(block(200, 80, grain_tolerance_deg=0.0), grain_deg=90.0)
    told = found(part, plank(205, 90, grain_deg=90.0))
    assert told["wider piece"].missing_um == pytest.approx(5000, abs=100)
    assert "longer piece" not in told


@pytest.mark.outside(source="a turned bar in a strip: q cos a + p sin a = b", mark="D")
def test_more_grain_tolerance():
    """A bar across a corner: 195 mm long, it needs the angle at which 200 cos a + 20 sin a = 195."""
    p, q, length = 200.0, 20.0, 195.0
    need = math.degrees(math.acos(length / math.hypot(p, q)) + math.atan2(q, p))
    told = found(block(p, q, grain_tolerance_deg=2.0), plank(length, 150), BARE)
    # looked for at steps of the tolerance, its end among them
    assert told["wider grain tolerance"].needed_deg == pytest.approx(need, abs=0.1)


def test_a_knot_that_stands_in_the_way_is_named():
    """Filled or allowed, the part would go there; of two knots that both stand in the way neither is enough."""
    one = replace(knot(disc(105, 45, 5)), name="defects.csv row 2")
    told = found(block(200, 80), plank(212, 92, defects=(one,)))
    assert (told["defect filled"].kind, told["defect filled"].defect) == ("knot", "defects.csv row 2")
    two = replace(one, name="other", shape=disc(60, 45, 5))
    assert "defect filled" not in found(block(200, 80), plank(212, 92, defects=(one, two)))
    pin = replace(one, kind="metal")
    assert "defect filled" not in found(block(200, 80), plank(212, 92, defects=(pin,)))


def test_a_smaller_gap_beside_another_part():
    """219 - 2 x 5 - 2 x 100 = 9 mm are asked for; of 217 only 7 are left."""
    part = block(100, 80, grain_tolerance_deg=0.0)
    told = found(part, plank(217, 90), FIVE, [(part, at(5, 5))])
    assert told["narrower gap"].reachable_um == pytest.approx(7000, abs=10)
    assert told["narrower gap"].required_um == 9000


@pytest.mark.parametrize("seed", range(4))
def test_what_is_told_does_make_it_fit(seed):
    """Each relief, applied, is placed; a margin or size a little short of it is not (tolerance 0)."""
    size = 190.0 + 3.1 * seed
    part = block(200, 80, grain_tolerance_deg=0.0, zones=(pocket(rect(10, 10, 50, 50), 9.0),))
    blank = plank(size, 85 + seed)
    told = found(part, blank)
    longer, wider = (
        told[k].missing_um / 1000.0 if k in told else 0.0 for k in ("longer piece", "wider piece")
    )
    if "narrower margin" in told:
        assert (
            place_part(
                part, blank, replace(FIVE, blank_margin_mm=told["narrower margin"].reachable_um / 1000.0)
            ).placement
            is not None
        )
    if longer and not wider:
        assert place_part(part, plank(size + longer, 85 + seed), FIVE).placement is not None
        assert place_part(part, plank(size + longer - 0.15, 85 + seed), FIVE).placement is None


def test_an_inch_shop_reads_inches():
    """200 mm on 206.35 with a margin of 3/16 in: 1/8 in is left a side, and 1/8 in of length is missing.

    Both are written to a 64th on the safe side: the margin at most, the length at least.
    """
    settings = replace(BARE, blank_margin_mm=4.7625)
    part, blank = block(200, 80, grain_tolerance_deg=0.0), plank(206.35, 95)
    text = phrase(look_into(part, blank, settings), Words("in"))
    assert "mm" not in text
    margin, required, longer = (Fraction(v) for v in re.findall(r"(\d+/\d+) in\b", text))
    assert Fraction(1, 8) - Fraction(1, 64) <= margin <= Fraction(1, 8)
    assert required == Fraction(3, 16)
    assert Fraction(1, 8) <= longer <= Fraction(1, 8) + Fraction(1, 64)


def test_a_whole_step_on_a_slanting_piece_has_some_play() -> None:
    """What is told is no less than the least by which a slanting piece must be wider, worked out with shapely.

    The part lies along X, as does the grain. The piece swept across the grain, inset by the margin, is convex: a shift is
    allowed where it takes all four corners into it. 58.5 mm used to be told: a place by contact alone.
    """
    length, width, margin = 296.1531330804302, 72.73384405596867, 3.0
    corners = [
        (-3.044484895573623, -3.262855864461046),
        (299.2386544047859, 7.20270553751852),
        (296.5036207107065, 86.2003378080816),
        (-5.779518589653024, 75.73477640610203),
    ]
    part = Part(
        name="p",
        drawing="",
        outline=Outline.rectangle(0, 0, length, width),
        thickness_mm=38,
        grain_tolerance_deg=0.0,
    )
    shape = Shape(outer=Outline.polygon(corners))
    blank = blank_of(Piece(name="R", species="ash", thickness_mm=41, shape=shape))
    found = relaxations(part, blank, Settings(cutter_diameter_mm=6, blank_margin_mm=margin))
    (told,) = [way.missing_um / 1000 for way in found if isinstance(way, WiderPiece)]

    def fits(more: float) -> bool:
        swept = shapely.MultiPoint([*corners, *((x, y + more) for x, y in corners)]).convex_hull
        inset = swept.buffer(-margin, join_style="mitre")
        at = [(0, 0), (length, 0), (length, width), (0, width)]
        shifts = [translate(inset, -x, -y) for x, y in at]
        return not shapely.intersection_all(shifts).is_empty

    low, high = 0.0, 100.0
    while high - low > 1e-6:
        middle = (low + high) / 2
        low, high = (low, middle) if fits(middle) else (middle, high)
    assert high <= math.ceil(told * 10 - 1e-9) / 10 <= high * 1.01
