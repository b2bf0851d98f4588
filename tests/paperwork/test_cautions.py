"""What the paper warns of, and who has the last word."""

import dataclasses

from nestyield.model import Defect, Outline, Shape
from nestyield.paperwork import cautions


def test_who_has_the_last_word(plan):
    """The first general caution defers to the machine's manual, local rules and qualified people."""
    first = cautions.general(plan)[0].text
    for words in ("manual", "rules where you live", "person qualified"):
        assert words in first


def test_usual_cautions_are_there(plan):
    """Metal, loose knots, guards, the push stick and dust are named, figures with their source."""
    found = cautions.general(plan)
    text = " ".join(c.text for c in found)
    for words in ("nails", "loose knots", "Guards", "push stick", "dust", "first run in air"):
        assert words in text
    assert any(c.mark.startswith("HSE") and "450 mm" in c.text for c in found)
    assert any("OSHA" in c.mark and "15 mg/m³" in c.text for c in found)


def test_cautions_of_a_blank(plan):
    """What the setup says comes first; metal and loose wood on this blank are named."""
    layout = plan.layouts[0]
    found = [c.text for c in cautions.for_blank(plan, layout)]
    assert found[0] == layout.work.cautions[0]
    assert any("screw hole" in c and "Metal" in c for c in found)
    loose = Defect(name="x", kind="loose knot", shape=Shape(outer=Outline.circle(1, 1, 1)))
    worse = dataclasses.replace(layout, blank=dataclasses.replace(layout.blank, defects=(loose,)))
    assert any("loose knot" in c.text for c in cautions.for_blank(plan, worse))


def test_a_blank_without_a_bed_says_so(plan):
    """Nobody is sent to a bed that does not take the blank."""
    layout = dataclasses.replace(plan.layouts[1], chosen=None, work=None)
    assert any("No bed takes" in c.text for c in cautions.for_blank(plan, layout))


def test_short_stock(plan):
    """A blank under 12 in is too short for most jointers and planers."""
    layout = plan.layouts[0]
    short = dataclasses.replace(layout.blank, shape=Shape(outer=Outline.rectangle(0, 0, 290, 200)))
    found = cautions.for_blank(plan, dataclasses.replace(layout, blank=short))
    assert any("Shorter than 305 mm" in c.text for c in found)
