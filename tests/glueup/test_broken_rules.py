"""Rules that a blank breaks, as facts."""

from __future__ import annotations

import pytest

from nestyield.glueup.broken_rules import broken_rules, rule_facts
from nestyield.model import Blank, Member, Outline, Part, Piece, Placement, Seam, Settings, Shape, Zone
from nestyield.model.facts import GrainOffPart, NearHole, UnlikeSpecies

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
    assert [b.inside_um / 1000 for b in broken] == pytest.approx(mm, abs=0.03)
    assert all(b.rule == NearHole(zone="STUD", clearance_um=3000) for b in broken)


def test_facts():
    """Rule, zone and how far inside; grain off the part's and unlike species where they are."""
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
    seam, grain, kinds = rule_facts(blank, [(PART, at())], pieces, SETTINGS)
    assert (seam.seam, seam.part, seam.inside_um) == ("seam 1", "body", pytest.approx(3000, abs=30))
    assert seam.rule == NearHole(zone="STUD", clearance_um=3000)
    assert grain == GrainOffPart(part="body", piece="b", off_deg=12.0, tolerance_deg=PART.grain_tolerance_deg)
    assert kinds == UnlikeSpecies(species=("sugar maple", "black cherry"))
