"""Each step of the work reads as one line, in the shop's unit."""

import typing

import pytest

from nestyield.model import facts
from nestyield.paperwork.phrases import PHRASES, phrase
from nestyield.words import Words

ON = (facts.HoleOnPin(hole="pin 2", pin="pin 1"), facts.HoleOnPin(hole="pin 1", pin="pin 2"))
OWN = (facts.HoleOnPin(hole="pin 1", pin="pin 1"),)

STEPS = [
    (facts.PlaneTo(to_um=19_050), "Plane it to 3/4 in first."),
    (
        facts.DrillTableByHand(pins=("pin 1",), diameter_um=6_350, depth_um=12_700),
        "Drill the table for pin P1 by hand, beyond the travel: 1/4 in, 1/2 in deep. "
        'The table "Pins in the table" shows the places.',
    ),
    (facts.LayBlank(setup="A", up="top"), "Lay the blank top face up, as in Setup A."),
    (facts.LayBlank(setup="A", up="bottom"), "Lay the blank bottom face up, as in Setup A."),
    (
        facts.LayOnPins(setup="A", up="top", on=OWN),
        "Lay the blank top face up, as in Setup A: hole H1 on pin P1.",
    ),
    (
        facts.Flip(setup="B", up="top"),
        "Turn the blank over about the flip axis, top face up, as in Setup B.",
    ),
    (
        facts.TurnEndForEnd(setup="B", on=ON),
        "Unscrew the blank and turn it end for end, as in Setup B. "
        "Put hole H2 on pin P1 and hole H1 on pin P2.",
    ),
    (
        facts.MoveOn(setup="B", axis="y", step_um=254_000, on=()),
        "Unscrew the blank and move it on by 10 in along +Y, as in Setup B.",
    ),
    (
        facts.CutThrough(
            placement=1, part="p", zone="DOTS", zones=("DOTS", "DOTS#2"), role="hole", section=0, count=2
        ),
        "2 holes DOTS, through cut",
    ),
]


@pytest.mark.parametrize(("step", "said"), STEPS, ids=[s.code for s, _ in STEPS])
def test_a_step_reads_as_one_line(step, said):
    """An inch shop reads fractions of an inch, the names of the drawing, and what to do first."""
    assert phrase(step, Words("in")) == said


def test_every_step_has_a_phrase():
    """No step of the work is without its sentence."""
    kinds = set(typing.get_args(typing.get_args(facts.WorkStep)[0]))
    assert len(kinds) > 20
    assert kinds <= PHRASES.keys()
