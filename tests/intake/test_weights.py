"""Weights as makers write them, of pieces and of parts to be made."""

from __future__ import annotations

from pathlib import Path

import pytest

from nestyield.intake.shop import read_shop
from nestyield.intake.weights import WeightError, parse_weight, parse_wish

SHOP = """
[shop]
name = "Scale"
units = "{units}"
rack = "rack.csv"
[cutter]
diameter = 6
[bed.bench]
travel_x = 600
travel_y = 400
travel_z = 90
[part.body]
drawing = "body.dxf"
thickness = 20
{weight}
[part.body.layers]
BODY = "outline"
[[order]]
part = "body"
"""


@pytest.mark.outside(source="pound and ounce of 1959: 0.45359237 kg, a sixteenth of it", mark="S")
@pytest.mark.parametrize(
    ("text", "units", "kg", "off"),
    [
        ("3.2 kg", "in", 3.2, 0.05),
        ("3.20kg", "mm", 3.2, 0.005),
        ("850 g", "mm", 0.85, 0.0005),
        ("7 lb 4 oz", "mm", 7.25 * 0.45359237, 0.5 * 0.45359237 / 16),
        ("7.25 lbs", "mm", 7.25 * 0.45359237, 0.005 * 0.45359237),
        ("12 oz", "in", 0.75 * 0.45359237, 0.5 * 0.45359237 / 16),
        ("4", "mm", 4.0, 0.5),
        ("4", "in", 4 * 0.45359237, 0.5 * 0.45359237),
    ],
)
def test_weights_and_how_far_off_they_are(text: str, units: str, kg: float, off: float) -> None:
    """Units in the cell or those of the shop; half of the last digit is the scale's."""
    assert parse_weight(text, units) == pytest.approx((kg, off), abs=1e-8)


@pytest.mark.parametrize("text", ["", "heavy", "-3 kg", "0 kg", "3 stone", "3 kg 4"])
def test_what_is_no_weight_is_refused(text: str) -> None:
    """A clear error, never a guess."""
    with pytest.raises(WeightError, match="expected a weight"):
        parse_weight(text, "mm")


@pytest.mark.parametrize(
    ("text", "least", "most"),
    [
        ("1.2 to 1.6 kg", 1.2, 1.6),
        ("1.2-1.6 kg", 1.2, 1.6),
        ("900 g to 1.6 kg", 0.9, 1.6),
        ("at most 1.6 kg", None, 1.6),
        ("at least 1.6 kg", 1.6, None),
        ("3 to 3.5 lb", 3 * 0.45359237, 3.5 * 0.45359237),
    ],
)
def test_ranges(text: str, least: float | None, most: float | None) -> None:
    """The unit behind the range counts for both ends."""
    wish = parse_wish(text, "mm")
    assert not wish.lightest
    assert [wish.least_kg, wish.most_kg] == [v and pytest.approx(v) for v in (least, most)]


@pytest.mark.parametrize("text", ["1.6 kg", "light", "1.6 to 1.2 kg", "1 to 2 stone"])
def test_what_is_no_wish_is_refused(text: str) -> None:
    """What can be written instead is told."""
    with pytest.raises(WeightError, match="lightest"):
        parse_wish(text, "mm")


def write(folder: Path, weight: str = "", units: str = "mm", cell: str = "") -> Path:
    import ezdxf

    drawing = ezdxf.new(units=4)
    drawing.modelspace().add_lwpolyline(
        [(0, 0), (100, 0), (100, 60), (0, 60)], close=True, dxfattribs={"layer": "BODY"}
    )
    drawing.saveas(folder / "body.dxf")
    (folder / "shop.toml").write_text(SHOP.format(units=units, weight=weight), encoding="utf-8")
    rows = f"piece,species,thickness,length,width,weight\nB-1,sugar maple,25 mm,400 mm,200 mm,{cell}\n"
    (folder / "rack.csv").write_text(rows, encoding="utf-8")
    return folder


def test_a_rack_row_and_a_part_have_their_weight(tmp_path: Path) -> None:
    """2 liters of 1.41 kg; a part that is to be light."""
    shop, found = read_shop(write(tmp_path, 'weight = "lightest"', cell="1.41 kg"))
    assert shop is not None, found
    assert (shop.pieces[0].weight_kg, shop.pieces[0].weight_off_kg) == (1.41, 0.005)
    assert shop.parts[0].weight is not None
    assert shop.parts[0].weight.lightest
    assert not [f for f in found if f.severity != "note"]


def test_a_weight_that_no_wood_has_is_told(tmp_path: Path) -> None:
    """1.41 kg read as pounds, or the weight of ten boards, is no density of wood."""
    shop, found = read_shop(write(tmp_path, cell="14.1 kg"))
    assert shop is not None
    assert [(f.code, f.where) for f in found if f.severity == "warning"] == [("R010", "row 2, column weight")]


@pytest.mark.parametrize(
    ("weight", "cell", "where"),
    [
        ("weight = 3", "", "part.body.weight, line 15"),
        ("weight = true", "", "part.body.weight, line 15"),
        ("", "light", "row 2, column weight"),
    ],
)
def test_a_slip_names_where_it_is(tmp_path: Path, weight: str, cell: str, where: str) -> None:
    """Key or cell are named, and nothing is planned."""
    shop, found = read_shop(write(tmp_path, weight, cell=cell))
    assert shop is None
    assert where in [f.where for f in found if f.severity == "error"]
