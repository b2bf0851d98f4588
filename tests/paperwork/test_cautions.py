"""What the paper warns of, and who has the last word."""

import csv
import dataclasses
import io

import pytest

from nestyield.model import Defect, Outline, Shape
from nestyield.paperwork import cautions
from nestyield.paperwork.write import render_all


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
    assert found[0] == "P2 is in an opening. Take the pin out before that opening is cut, and cut it last."
    assert any("screw hole" in c and "Metal" in c for c in found)
    loose = Defect(name="x", kind="loose knot", shape=Shape(outer=Outline.circle(1, 1, 1)))
    worse = dataclasses.replace(layout, blank=dataclasses.replace(layout.blank, defects=(loose,)))
    assert any("loose knot" in c.text for c in cautions.for_blank(plan, worse))


def test_a_blank_without_a_bed_says_so(plan):
    """Nobody is sent to a bed that does not take the blank."""
    layout = dataclasses.replace(plan.layouts[1], chosen=None, work=None)
    assert any("No bed takes" in c.text for c in cautions.for_blank(plan, layout))


def test_short_stock(plan):
    """A blank under the shop's least length for jointer and planer is told; 12 in unless the shop says else."""
    layout = plan.layouts[0]
    short = dataclasses.replace(layout.blank, shape=Shape(outer=Outline.rectangle(0, 0, 290, 200)))
    short_layout = dataclasses.replace(layout, blank=short)
    assert any("Shorter than 305 mm" in c.text for c in cautions.for_blank(plan, short_layout))
    own = with_machines(plan, jointer_shortest_mm=250.0, planer_shortest_mm=280.0)
    assert not any("Shorter than" in c.text for c in cautions.for_blank(own, short_layout))


def with_machines(plan, units="mm", **limits):
    """Return the plan as if the shop file had these keys in ``[machines]``."""
    settings = dataclasses.replace(plan.shop.settings, machines=limits)
    shop = dataclasses.replace(plan.shop, settings=settings, units=units)
    return dataclasses.replace(plan, shop=shop)


@pytest.mark.parametrize(
    ("units", "want", "not_want"),
    [
        ("mm", ("600 mm long", "150 mm wide", "100 mm thick", "last 250 mm"), ("305", "76")),
        ("in", ("24 in long", "6 in wide", "4 in thick", "last 10 in", "at least 18 in"), (" mm",)),
    ],
)
def test_limits_of_the_shop_reach_the_table(plan, units, want, not_want):
    """Push blocks and push stick in cautions.csv are those of ``[machines]``, in the shop's unit.

    600, 150, 100 and 250 mm are 23.6, 5.9, 3.9 and 9.8 in, up to the next half inch 24, 6, 4 and 10.
    """
    own = with_machines(
        plan,
        units,
        push_block_length_mm=600.0,
        push_block_width_mm=150.0,
        push_block_thickness_mm=100.0,
        jointer_shortest_mm=250.0,
        saw_push_stick_mm=250.0,
    )
    text = render_all(own)["cautions.csv"].decode("utf-8-sig")
    rows = [r for r in csv.reader(io.StringIO(text)) if any("push" in cell for cell in r)]
    said = " ".join(cell for row in rows for cell in row)
    assert len(rows) == 2
    for words in want:
        assert words in said
    for words in not_want:
        assert words not in said
