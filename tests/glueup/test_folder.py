"""From a shop folder on disk to a checked plan: a rule about seams decides between two equal glue-ups."""

from __future__ import annotations

from pathlib import Path

import ezdxf
import pytest

from nestyield.cli import main
from nestyield.model.facts import NearHole
from nestyield.planfile import loads

SHOP = """\
[shop]
name = "Two ways"
units = "mm"
rack = "rack.csv"

[cutter]
diameter = 6

[allowance]
blank_margin = 5
jointing = 1

[glueup]
{glueup}
[bed.bench]
travel_x = 900
travel_y = 500

[part.body]
drawing = "body.dxf"
thickness = 40

[part.body.layers]
EDGE = "outline"
STUDS = {{ role = "hole", face = "front", depth = 20 }}

[[order]]
part = "body"
"""

#: Both pairs are 312 mm wide: 300 and two margins and two jointing allowances, without play.
RACK = """\
piece,species,thickness_mm,length_mm,width_mm
narrow,black cherry,44,410,112
wide,black cherry,44,410,200
left,sugar maple,44,410,156
right,sugar maple,44,410,156
"""


def folder(path: Path, studs: list[float], glueup: str = "") -> Path:
    """A body of 400 x 300 mm with studs of 8 mm at x = 200 and these y."""
    shop = path / "shop"
    shop.mkdir()
    (shop / "shop.toml").write_text(SHOP.format(glueup=glueup))
    (shop / "rack.csv").write_text(RACK)
    drawing = ezdxf.new("R2010", units=ezdxf.units.MM)
    space = drawing.modelspace()
    corners = [(0, 0), (400, 0), (400, 300), (0, 300)]
    space.add_lwpolyline(corners, close=True, dxfattribs={"layer": "EDGE"})
    for y in studs:
        space.add_circle((200, y), 4, dxfattribs={"layer": "STUDS"})
    drawing.saveas(shop / "body.dxf")
    return shop


def planned(shop: Path, out: Path, code: int = 0):
    assert main(["plan", str(shop), "--out", str(out)]) == code
    return loads((out / "plan.json").read_bytes())


def pieces(plan) -> list[list[str]]:
    return [sorted(m.piece for m in layout.blank.members) for layout in plan.layouts]


@pytest.mark.parametrize(
    ("studs", "expected"),
    [
        # narrow + wide have their seam at 112 - 5 - 1 = 106, or turned over at 300 - 106 = 194;
        # left + right at 156 - 5 - 1 = 150. 3 mm of wood stay between a seam and a stud (common practice):
        # no seam within 7 mm of a stud's middle.
        ([150.0], [["narrow", "wide"]]),
        ([106.0, 194.0], [["left", "right"]]),
        ([99.5, 200.5], [["left", "right"]]),  # 6.5 mm from the studs' middles
        ([106.0, 150.0, 194.0], []),
    ],
)
def test_studs_decide_between_two_equal_glue_ups(tmp_path, studs, expected):
    """Of two glue-ups of equal width and value the one whose seam keeps clear of the studs is planned."""
    plan = planned(folder(tmp_path, studs), tmp_path / "out", 0 if expected else 1)
    assert pieces(plan) == expected
    assert not [f for layout in plan.layouts for f in layout.wood if f.code == "G720"]


def test_none_keeps_the_rule_and_the_shop_lets_it_be_broken(tmp_path):
    """With rules = "caution" the pair that breaks it least is planned, and rule, zone and mm are told.

    Worked by hand: studs at 110, 150 and 190. The seam at 106 lies 4 mm from a stud's middle, 3 mm inside the
    7 mm; the one at 150 lies 7 mm inside.
    """
    shop = folder(tmp_path, [110.0, 150.0, 190.0], 'rules = "caution"\n')
    plan = planned(shop, tmp_path / "out", 1)  # a person must look at it
    assert pieces(plan) == [["narrow", "wide"]]
    (told,) = [f for f in plan.layouts[0].wood if f.code == "G720"]
    assert isinstance(told.rule, NearHole)
    assert told.rule.clearance_um == 3000
    assert told.inside_um == pytest.approx(3000, abs=50)  # outlines are rounded outwards by chords
    report = (tmp_path / "out" / "report.html").read_text().replace("\u00a0", " ").replace("\u202f", " ")
    assert "3 mm inside the range where no seam should run" in report
    assert "within 3 mm of hole STUDS" in report


def test_a_narrower_clearance_lets_a_seam_pass(tmp_path):
    """Worked by hand: the stud's edge is 2.5 mm from the seam at 150; 3 mm are asked for, then 2."""
    studs = [156.5, 106.0, 194.0]
    assert pieces(planned(folder(tmp_path, studs), tmp_path / "out", 1)) == []
    (tmp_path / "second").mkdir()
    shop = folder(tmp_path / "second", studs, "hole_clearance = 2\n")
    assert pieces(planned(shop, tmp_path / "second" / "out")) == [["left", "right"]]


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ('rules = "loose"', ("glueup.rules", "strict", "caution")),
        ("sliver = -3", ("glueup.sliver",)),
        ("taper = 90", ("glueup.taper", "45")),
        ('mixed_species = "yes"', ("glueup.mixed_species",)),
        ("slivers = 20", ("slivers", "sliver")),
    ],
)
def test_wrong_keys_are_named(tmp_path, capsys, line, words):
    shop = folder(tmp_path, [], line + "\n")
    assert main(["plan", str(shop), "--out", str(tmp_path / "out")]) == 2
    said = capsys.readouterr().err
    assert all(word in said for word in words), said
    assert not (tmp_path / "out").exists()
