"""A whole shop folder."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path
from types import ModuleType

import pytest

from nestyield.intake.shop import read_shop
from nestyield.model import Shop, ValueClass

FIXTURES = Path(__file__).parents[2] / "fixtures"


def edit(folder: Path, name: str, old: str, new: str) -> None:
    path = folder / name
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


def good(folder: Path) -> Shop:
    shop, findings = read_shop(folder)
    assert shop is not None, [str(f) for f in findings]
    return shop


def test_good_shop(good_shop: Path) -> None:
    """Everything of the shop file arrives in the model."""
    shop = good(good_shop)
    assert shop.name == "Lock Cottage Workshop"
    assert shop.units == "mm"
    assert [b.name for b in shop.beds] == ["bench"]
    assert shop.beds[0].table_x_mm == (0, 600)
    assert shop.beds[0].keep_outs[0].outline.signed_area_mm2 == 1200
    part = shop.part("mandolin")
    assert part.tolerates == {"stain": "allowed"}
    assert [(z.name, z.role, z.depth_mm) for z in part.zones] == [("PICKUPS", "pocket", 19.0)]
    order = shop.orders[0]
    assert (order.name, order.part, order.count, order.due, order.beds) == (
        "order 1",
        "mandolin",
        2,
        "2026-12-12",
        ("bench",),
    )


def test_hashes_of_all_files(good_shop: Path) -> None:
    """Every file that was read is in the list with its SHA-256, sorted by name."""
    shop = good(good_shop)
    assert list(shop.files) == ["defects.csv", "mandolin.dxf", "rack.csv", "shop.toml"]
    for name, digest in shop.files.items():
        assert digest == hashlib.sha256((good_shop / name).read_bytes()).hexdigest()


def test_reading_twice_gives_the_same(good_shop: Path) -> None:
    """Reading has no memory and no order of its own."""
    assert read_shop(good_shop) == read_shop(good_shop)


@pytest.mark.parametrize("name", ["demo-shop", "inch-shop"])
def test_fixtures_are_read(name: str) -> None:
    """The shops of the fixtures are read without errors or warnings."""
    if not (FIXTURES / name / "shop.toml").exists():
        pytest.skip(f"fixtures/{name} is not there")
    shop, findings = read_shop(FIXTURES / name)
    assert [str(f) for f in findings if f.severity != "note"] == []
    assert shop is not None
    assert shop.pieces
    assert shop.orders


def test_shop_in_inches(good_shop: Path) -> None:
    """Bare numbers of shop file and tables count in inches when the shop says so."""
    edit(good_shop, "shop.toml", 'units = "mm"', 'units = "in"')
    edit(good_shop, "shop.toml", "diameter = 6", 'diameter = "1/4 in"')
    edit(good_shop, "shop.toml", "thickness = 40", "thickness = 1.75")
    edit(good_shop, "shop.toml", "depth = 19", 'depth = "19 mm"')
    (good_shop / "rack.csv").write_text(
        "piece,species,thickness,length_mm,width,outline,seams\n"
        "M1,sugar maple,1.75,500,13,,\n"
        'C1,black cherry,2,,,"POLYGON ((0 0, 20 0, 20 12, 0 12))","LINESTRING (0 6, 20 6)"\n'
    )
    (good_shop / "defects.csv").write_text("piece,kind,x,y,diameter,depth_mm,face\nM1,knot,2,2,0.5,10,top\n")
    shop = good(good_shop)
    assert shop.settings.cutter_diameter_mm == 6.35
    assert shop.beds[0].travel_x_mm == 600 * 25.4
    assert shop.part("mandolin").thickness_mm == 44.45
    piece = shop.piece("M1")
    assert piece.shape.area_mm2 == pytest.approx(500 * 13 * 25.4)
    assert piece.defects[0].depth_mm == 10
    assert shop.piece("C1").shape.area_mm2 == pytest.approx(240 * 25.4**2)
    assert shop.piece("C1").seams[0].line_mm == ((0, 6 * 25.4), (20 * 25.4, 6 * 25.4))


def test_all_problems_at_once(good_shop: Path) -> None:
    """Mistakes in four files are told in one run."""
    edit(good_shop, "shop.toml", "diameter = 6", "diameter = -6")
    edit(good_shop, "shop.toml", "count = 2", "count = 0")
    edit(good_shop, "shop.toml", "PICKUPS =", "PICKUP =")
    edit(good_shop, "rack.csv", "500,330", "x,330")
    edit(good_shop, "defects.csv", "knot", "gnarl")
    _, findings = read_shop(good_shop)
    assert {f.code for f in findings if f.severity == "error"} == {"S007", "D005", "R005", "F005"}
    assert len([f for f in findings if f.severity == "error"]) == 5


def test_values_by_species(good_shop: Path) -> None:
    """[value] takes species under any name of the table; other is the default."""
    with (good_shop / "shop.toml").open("a", encoding="utf-8") as f:
        f.write('\n[value]\n"hard maple" = 9.5\nother = 6\n"river gum" = 4\n')
    shop, findings = read_shop(good_shop)
    assert shop is not None
    assert shop.settings.value_per_board_foot == {"sugar maple": 9.5, "": 6.0, "river gum": 4.0}
    assert [(f.severity, f.message) for f in findings] == [
        ("note", "'hard maple' is read as sugar maple"),
        (
            "note",
            "species 'river gum' is not in the species table; no movement is known: give your own figures "
            'under [species."river gum"] in the shop file',
        ),
    ]


def test_species_are_one_name_everywhere(good_shop: Path) -> None:
    """Species in shop file and rack come out under the table's name, so that they compare equal."""
    edit(good_shop, "shop.toml", '"sugar maple"', '"Maple, Hard"')
    edit(good_shop, "rack.csv", "sugar maple", "Hard Maple")
    shop = good(good_shop)
    assert shop.part("mandolin").species[0] == shop.piece("M1").species == "sugar maple"


def test_misspelt_species_is_an_error(good_shop: Path) -> None:
    """A species that looks misspelt is told with the nearest name: its parts would never find it."""
    edit(good_shop, "rack.csv", "black cherry", "blak cherry")
    shop, findings = read_shop(good_shop)
    assert shop is None
    (finding,) = findings
    assert (finding.code, finding.severity) == ("R011", "error")
    assert "'black cherry'" in finding.message
    assert "row 4" in finding.where


def test_wood_of_ones_own_is_a_note(good_shop: Path) -> None:
    """A wood that the table does not have is fine; two spellings of it are a warning."""
    edit(good_shop, "rack.csv", "black cherry", "river gum")
    edit(good_shop, "shop.toml", '"black cherry"', '"river gum"')
    _, findings = read_shop(good_shop)
    assert [f.severity for f in findings] == ["note", "note"]
    edit(good_shop, "rack.csv", "river gum", "rivergum")
    _, findings = read_shop(good_shop)
    assert [f.severity for f in findings] == ["note", "note", "warning"]


def test_unit_of_all_drawings(good_shop: Path, malformed: ModuleType) -> None:
    """drawing_units of [shop] serves drawings that do not say their unit; the part's own goes first."""
    malformed.CASES["drawing without unit"].spoil(good_shop)
    edit(good_shop, "shop.toml", 'rack = "rack.csv"', 'rack = "rack.csv"\ndrawing_units = "cm"')
    assert good(good_shop).part("mandolin").outline.signed_area_mm2 == pytest.approx(
        100 * (96000 + 7200 * 3.14159265)
    )
    edit(good_shop, "shop.toml", "thickness = 40", 'thickness = 40\ndrawing_units = "mm"')
    assert good(good_shop).part("mandolin").outline.signed_area_mm2 == pytest.approx(
        96000 + 7200 * 3.14159265
    )


def test_overruled_drawing(good_shop: Path, malformed: ModuleType) -> None:
    """overrule_drawing makes the shop file's unit count, with a note."""
    malformed.CASES["units disagree"].spoil(good_shop)
    edit(good_shop, "shop.toml", 'drawing_units = "mm"', 'drawing_units = "mm"\noverrule_drawing = true')
    shop, findings = read_shop(good_shop)
    assert shop is not None
    assert [(f.code, f.severity) for f in findings] == [("D004", "note")]
    assert shop.part("mandolin").outline.signed_area_mm2 == pytest.approx(96000 + 7200 * 3.14159265)


def test_absurd_sizes_are_warnings(good_shop: Path) -> None:
    """A 9 m offcut, a 12 m bed and a part half a meter thick are asked about, not refused."""
    edit(good_shop, "rack.csv", "500,330", "9000,330")
    edit(good_shop, "shop.toml", "travel_x = 600", "travel_x = 12000")
    edit(good_shop, "shop.toml", "thickness = 40", "thickness = 500")
    shop, findings = read_shop(good_shop)
    assert shop is not None
    assert sorted((f.code, f.severity) for f in findings) == [
        ("R010", "warning"),
        ("S012", "warning"),
        ("S012", "warning"),
    ]


def test_folder_that_is_none(tmp_path: Path) -> None:
    """A missing folder, a file and an empty folder are one error each."""
    (tmp_path / "file").write_text("x")
    (tmp_path / "empty").mkdir()
    for name in ("missing", "file", "empty"):
        shop, findings = read_shop(tmp_path / name)
        assert shop is None
        assert [f.code for f in findings] == ["S001"]


def test_link_inside_the_folder_is_fine(good_shop: Path) -> None:
    """A link to another file of the same folder is read."""
    (good_shop / "mandolin.dxf").rename(good_shop / "real.dxf")
    os.symlink("real.dxf", good_shop / "mandolin.dxf")
    assert good(good_shop)


def test_shop_without_orders_or_stock(good_shop: Path) -> None:
    """A shop with nothing to make and nothing on the rack can still be read, for questions about the bed."""
    text = (good_shop / "shop.toml").read_text(encoding="utf-8")
    text = text[: text.index("[[order]]")].replace('defects = "defects.csv"\n', "")
    (good_shop / "shop.toml").write_text(text, encoding="utf-8")
    (good_shop / "rack.csv").write_text("piece,species,thickness,length,width\n")
    shop = good(good_shop)
    assert shop.orders == ()
    assert shop.pieces == ()


CLASSES = """
[value]
"hard maple" = 9.5
[[value.class]]
least_length = "5 ft"
least_width = 150
species = "hard maple"
per_board_foot = 14
[[value.class]]
least_thickness = 50
times = 1.2
[[value.class]]
times = 0.5
"""


def test_classes_of_value(good_shop: Path) -> None:
    """[[value.class]] takes lengths in any unit and species under any name, in the order of the file."""
    with (good_shop / "shop.toml").open("a", encoding="utf-8") as f:
        f.write(CLASSES)
    settings = good(good_shop).settings
    assert settings.value_per_board_foot == {"sugar maple": 9.5}
    assert settings.value_classes == (
        ValueClass(
            least_length_mm=1524.0, least_width_mm=150.0, species=("sugar maple",), per_board_foot=14.0
        ),
        ValueClass(least_thickness_mm=50.0, times=1.2),
        ValueClass(times=0.5),
    )


@pytest.mark.parametrize(
    ("old", "new", "code", "words"),
    [
        ("times = 1.2", "", "S015", "expected either times"),
        ("times = 1.2", "times = 1.2\nper_board_foot = 3", "S015", "got both"),
        ("times = 1.2", "times = -1", "S007", "times is negative (-1); write times = 1"),
        ("least_thickness", "least_thicknes", "S004", "least_thickness"),
        ("least_thickness = 50\n", "", "S016", "class 3 never counts: class 2 stands before it"),
    ],
)
def test_classes_of_value_that_are_wrong(good_shop: Path, old: str, new: str, code: str, words: str) -> None:
    """A class says its worth once, with keys that are known, and can be reached; the class is named."""
    with (good_shop / "shop.toml").open("a", encoding="utf-8") as f:
        f.write(CLASSES.replace(old, new))
    _, findings = read_shop(good_shop)
    told = [f for f in findings if f.code == code]
    assert told
    assert words in told[0].message
    assert "value.class[" in told[0].where


def test_british_spelling_is_read(tmp_path):
    """A shop file that spells `center_line` and `center_figure` the British way reads as the same shop."""
    from nestyield.starter import starter_files

    for name, data in starter_files("mm").items():
        (tmp_path / name).write_bytes(data)
    text = (tmp_path / "shop.toml").read_text() + "\n[prefer]\ncenter_figure = 2\n"
    (tmp_path / "shop.toml").write_text(text)
    plain, problems = read_shop(tmp_path)
    assert plain is not None
    (tmp_path / "shop.toml").write_text(text.replace("center_", "centre_"))
    british, more = read_shop(tmp_path)
    assert british is not None
    assert british.parts == plain.parts
    assert british.settings == plain.settings
    assert british.settings.prefer.center_figure == 2
    assert len(more) == len(problems)


def test_a_key_in_capitals_is_still_refused(tmp_path):
    """Reading the British spelling lets no other spelling through."""
    from nestyield.starter import starter_files

    for name, data in starter_files("mm").items():
        (tmp_path / name).write_bytes(data)
    text = (tmp_path / "shop.toml").read_text()
    (tmp_path / "shop.toml").write_text(text.replace("diameter = 6", "Diameter = 6"))
    shop, problems = read_shop(tmp_path)
    assert shop is None
    assert any("did you mean 'diameter'" in str(p) for p in problems)
