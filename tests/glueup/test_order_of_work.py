"""The order of work says what these pieces need, and nothing else."""

from dataclasses import replace

import boards
import pytest

from nestyield.model import Outline, Shape


def told(*zones, **more):
    return boards.layout(*zones, **more).glueup


def where(steps, words):
    return next(k for k, step in enumerate(steps) if words in step)


def test_order():
    """Planing, sawing, jointing, marking, slots, dry fit, gluing and levelling follow in this order."""
    steps = told(glueup={"reinforce": "spline"}).steps
    words = [
        "Plane to 44.5 mm",
        "rip along",
        "Joint each edge",
        "Set the marks",
        "stopped slots",
        "dry",
        "Glue both",
    ]
    places = [where(steps, w) for w in [*words, "Scrape off"]]
    assert places == sorted(places)


def test_figures():
    """Planed by how much and off which face, what the saw leaves; the rest of the planing is the shop sheet's."""
    text = " ".join(told().steps)
    assert "B by 2 mm off the lower face" in text
    assert "full by 0.8 mm" in text
    assert "planed to 40 mm only now: how much comes off each face says the shop sheet" in text
    assert "Too little to saw off, take it off at the jointer: B at seam 1." in text


def test_nothing_to_plane_or_slot():
    """Pieces of one thickness are not planed before, and no slots are cut where none are asked for."""
    text = " ".join(told(pieces=(boards.A, replace(boards.B, thickness_mm=44.5))).steps)
    assert "Plane to" not in text
    assert "slots" not in text


def test_inches():
    """An inch shop reads fractions and no millimetres."""
    made = told(units="in", glueup={"reinforce": "dowel"})
    text = " ".join([*made.steps, *made.cautions])
    assert "holes of 5/16 in, 3/4 in deep" in text
    assert " mm" not in text


@pytest.mark.outside(
    source="trade-facts: planer at least roller spacing + 2 in; jointer 12 in; glue before planing", mark="P"
)
def test_safe_order_for_short_pieces():
    """A piece too short for the planer is glued first and levelled after; one too short for the jointer told so."""
    short = told(machines={"planer_rollers_mm": 440.0})
    assert any("Do not put through the planer: B (46.5 mm)" in s for s in short.steps)
    assert not any(s.startswith("Plane to") for s in short.steps)
    assert any("The blank: width" in c for c in told(machines={"planer_widest_mm": 200.0}).cautions)
    assert not any("The blank" in c for c in short.cautions)  # 510 mm long, and 490.8 asked for
    hand = told(machines={"jointer_shortest_mm": 490.0})
    assert any(s.startswith("B does not go over the jointer by itself: joint the edge") for s in hand.steps)
    assert [c.machine for c in hand.members[1].cautions if c.refused] == ["jointer"]


def test_strips_worth_keeping_go_back():
    """A strip as large as the shop's least leftover is written on and put back."""
    wide = replace(boards.A, shape=Shape(outer=Outline.rectangle(0, 0, 500, 160)))
    text = " ".join(told(pieces=(wide, boards.B)).steps)
    assert "put them back: A, seam 1." in text
    assert "put them back" not in " ".join(told().steps)


def test_cautions():
    """Moisture apart and not known, thin wood at a seam, grain that crosses, and the usual ones are told."""
    assert "differs by 2.0 points, the shop's limit is 2" in " ".join(told().cautions)
    unknown = told(pieces=(boards.A, replace(boards.B, moisture_pct=None)))
    assert any(c.startswith("Measure the moisture") for c in unknown.cautions)
    thin = told(boards.pocket("BOX", (150, 50, 200, 110), 36.0))
    assert "Seam 1 runs through BOX: 4 mm of wood is left." in thin.cautions
    crossed = told(pieces=(boards.A, replace(boards.B, grain_deg=30.0)))
    assert any("pull at each other" in c for c in crossed.cautions)
    for made in (thin, crossed):
        assert "come before this sheet" in made.cautions[-1]
