"""Each caution reads as a sentence or two, in the shop's unit, hazard first, and says where it comes from."""

import typing

import pytest

from nestyield.model import facts
from nestyield.paperwork import cautions
from nestyield.paperwork.phrases import PHRASES, phrase
from nestyield.words import Words

WANE = (
    facts.EdgeGap(kind="wane", from_um=20_000, to_um=350_000),
    facts.EdgeGap(kind="bark", from_um=400_000, to_um=500_000),
)
PLACES = (
    facts.InZone(placement=0, zone="PICKUPS"),
    facts.InZone(placement=0, zone="PICKUPS"),
    facts.AtOutline(placement=0),
    facts.AtOutline(placement=1),
    facts.AtOutline(placement=2),
)
#: Fact, its words in a metric shop, and what an inch shop reads instead of each length.
SAID = [
    (
        facts.MeasureFromOpposite(edge="lower", opposite="upper", size_um=300_000, gaps=WANE[:1]),
        "The lower datum edge has wane from 20 to 350 mm. Do not measure from it. Measure from the upper "
        "edge, 300 mm less the figure, or draw the datum edge as a line at that distance.",
        {"20 to 350 mm": "25/32 to 13 25/32 in", "300 mm": "11 13/16 in"},
    ),
    (
        facts.MeasureFromLine(edge="left", gaps=WANE),
        "The left datum edge has wane from 20 to 350 mm and bark from 400 to 500 mm. Do not measure from it. "
        "Draw the datum edge as a straight line on the sound face, and measure from the line.",
        {"20 to 350 mm": "25/32 to 13 25/32 in", "400 to 500 mm": "15 3/4 to 19 11/16 in"},
    ),
    (
        facts.LittleWoodFromOpposite(edge="left", opposite="right", size_um=508_000),
        "Little wood reaches the left datum edge. Measure from the right edge, 508 mm less the figure, or "
        "draw the datum edge as a line at that distance.",
        {"508 mm": "20 in"},
    ),
    (
        facts.KnotUnderCutter(knots=("a",), places=PLACES),
        "Knot in the cutter's path (part 1: PICKUPS, outline; parts 2 and 3: outline). Check that it is "
        "tight: loose knots are thrown. Take light passes.",
        {},
    ),
    (
        facts.KnotUnderCutter(knots=("a", "b"), places=PLACES[:1]),
        "2 knots in the cutter's path (part 1: PICKUPS). Check that each is tight: loose knots are thrown. "
        "Take light passes.",
        {},
    ),
    (
        facts.MetalUnderCutter(kinds=("nail hole", "screw hole"), defects=("a", "b"), places=PLACES[3:4]),
        "Nail hole and screw hole in the cutter's path (part 2: outline). Metal may still be in the wood: "
        "search it, and take the metal out before any cutter touches it.",
        {},
    ),
    (
        facts.ShortStock(length_um=290_000, least_um=304_800),
        "Shorter than 305 mm: too short for the jointer or the planer on its own. Use a carrier, or flatten "
        "it on the router bed.",
        {"305 mm": "12 in"},
    ),
    (
        facts.SmallParts(placements=(0, 2), under_um=76_200),
        "Parts 1 and 3 are narrower than 77 mm: never hold them by hand at a cutter. Leave them joined to "
        "the blank by tabs, or on a carrier, until shaped.",
        {"77 mm": "3 in"},
    ),
    (
        facts.FibersRise(feed="climb", total_um=42_500),
        "Edge likely to tear out, marked red (42.5 mm total): with climb feed the fibers rise against the "
        "cutter. Rough it out wide, then take light passes with a sharp cutter.",
        {"42.5 mm": "1 43/64 in"},
    ),
    (
        facts.PushBlocks(length_um=600_000, width_um=150_000, thickness_um=100_000, shortest_um=250_000),
        "Use push blocks over the jointer for anything under 600 mm long, 150 mm wide or 100 mm thick. Leave "
        "pieces under 250 mm part of a longer one.",
        # up to the next half inch, the safer side: 23.6, 5.9, 3.9 and 9.8 in
        {"600 mm": "24 in", "150 mm": "6 in", "100 mm": "4 in", "250 mm": "10 in"},
    ),
    (
        facts.PushStick(stick_um=450_000, last_um=300_000),
        "At the circular saw use a push stick, at least 450 mm long, for the last 300 mm of a cut and for "
        "every shorter cut.",
        {"450 mm": "18 in", "300 mm": "12 in"},
    ),
]


@pytest.mark.parametrize(("fact", "said", "inches"), SAID, ids=[type(f).__name__ for f, _, _ in SAID])
def test_a_caution_in_both_units(fact, said, inches):
    """The same words in both units; lengths are those of the fact."""
    assert phrase(fact, Words("mm")) == said
    for metric, imperial in inches.items():
        said = said.replace(metric, imperial)
    assert phrase(fact, Words("in")) == said
    assert " mm" not in said


def test_every_caution_has_a_phrase():
    """No caution of a blank, of its setup or of a plan is without its sentence."""
    for union in (facts.Caution, facts.BedCaution, facts.GeneralCaution):
        kinds = typing.get_args(typing.get_args(union)[0])
        assert len(kinds) > 8
        assert set(kinds) <= PHRASES.keys()


def test_who_has_the_last_word(plan):
    """The first general caution defers to the machine's manual, local rules and qualified people."""
    first = cautions.general(plan)[0]
    for words in ("manual", "rules where you live", "person qualified"):
        assert words in first.text
    assert first.source == ""


def test_usual_cautions_are_there(plan):
    """Metal, loose knots, guards, the push stick and dust are named, figures with their source."""
    found = cautions.general(plan)
    text = " ".join(c.text for c in found)
    for words in ("nails", "loose knots", "Guards", "push stick", "dust", "first run in air"):
        assert words in text
    assert any(c.source.startswith("HSE") and "450 mm" in c.text for c in found)
    assert any("OSHA" in c.source and "15 mg/m³" in c.text for c in found)
    assert any("metal detector" in c.text and c.source == "common practice, no source" for c in found)


def test_cautions_of_the_setup_come_first(plan):
    """What the setup says comes first, without a source; then the wood."""
    found = cautions.for_blank(plan, plan.layouts[0])
    first = "Hole H2 is in an opening. Take its pin out before that opening is cut, and cut it last."
    assert (found[0].text, found[0].source) == (first, "")
    assert any("screw hole" in c.text and "Metal may" in c.text for c in found)
