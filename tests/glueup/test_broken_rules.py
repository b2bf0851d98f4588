"""What a maker is told of rules that a blank breaks."""

from __future__ import annotations

import pytest

from nestyield.glueup.broken_rules import broken_rules, told_findings
from nestyield.model import Blank, Member, Outline, Part, Piece, Placement, Seam, Settings, Shape, Zone

SETTINGS = Settings(cutter_diameter_mm=6.0)
STUD = Zone(
    name="STUD", role="hole", face="front", depth_mm=20.0, shape=Shape(outer=Outline.circle(200, 60, 4))
)
PART = Part(
    name="body", drawing="", outline=Outline.rectangle(0, 0, 400, 300), thickness_mm=40.0, zones=(STUD,)
)


def at(**more):
    base = {"angle_deg": 0.0, "mirrored": False, "x_um": 0, "y_um": 0}
    return Placement(part="body", order="o", copy=1, **{**base, **more})


@pytest.mark.parametrize(
    ("line", "placement", "mm"),
    [
        # 3 mm of wood about a stud of 8 mm: no seam within 7 mm of its middle
        (((-50.0, 64.0), (450.0, 64.0)), at(), [3.0]),
        (((450.0, 64.0), (-50.0, 64.0)), at(), [3.0]),
        (((-50.0, 67.0), (450.0, 67.0)), at(), []),
        (((-50.0, 164.0), (450.0, 164.0)), at(y_um=100_000), [3.0]),
        # turned by a quarter: the stud lies at (-60, 200), the seam runs up
        (((-64.0, -50.0), (-64.0, 450.0)), at(angle_deg=90.0), [3.0]),
        # mirrored: at (-200, 60)
        (((-450.0, 58.0), (50.0, 58.0)), at(mirrored=True), [5.0]),
        # beside the part
        (((-50.0, 301.0), (450.0, 301.0)), at(), []),
    ],
)
def test_how_far_a_rule_is_broken(line, placement, mm):
    """Worked by hand, with the seam and the part lying every way."""
    broken = list(broken_rules([Seam(name="seam 1", line_mm=line)], PART, placement, SETTINGS))
    assert [b.mm for b in broken] == pytest.approx(mm, abs=0.03)
    assert all("STUD" in b.why for b in broken)


def test_words():
    """Rule, zone and size, in the shop's units; grain off the part's and unlike species where they are."""
    pieces = {
        "a": Piece(name="a", species="sugar maple", thickness_mm=44.0, shape=Shape(outer=Outline.rectangle(0, 0, 500, 100))),
        "b": Piece(name="b", species="black cherry", thickness_mm=44.0, grain_deg=12.0, shape=Shape(outer=Outline.rectangle(0, 0, 500, 300))),
    }  # fmt: skip
    blank = Blank(
        name="glue-up 1",
        members=(Member(piece="a", copy=1), Member(piece="b", copy=1)),
        species="sugar maple + black cherry",
        thickness_mm=44.0,
        shape=Shape(outer=Outline.rectangle(-20, -20, 480, 320)),
        grain_deg=0.0,
        seams=(Seam(name="seam 1", line_mm=((-20.0, 64.0), (480.0, 64.0))),),
    )
    told = told_findings(blank, [(PART, at())], pieces, SETTINGS, "in")
    assert [f.code for f in told] == ["G720", "G721", "G722"]
    assert told[0].where == "blank glue-up 1, seam 1"
    assert "through the hole STUD of body; this one lies 0.12 in inside that" in told[0].message
    assert "piece b lies 12.0 degrees off" in told[1].message
    assert "sugar maple and black cherry" in told[2].message
    assert told_findings(blank, [(PART, at())], pieces, SETTINGS)[0].message.endswith("3.0 mm inside that")
