"""Mistakes in a drawing: one line, with the figures that are drawn; what it says to do makes the shop good."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import ezdxf
import mistakes_of_stock as stock
import pytest
from ezdxf.document import Drawing

from nestyield.api import check_shop
from nestyield.model import Finding
from nestyield.starter import starter_files


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    """A new shop in mm: a body of 560 x 140 mm, a pocket, three holes and a center line."""
    for name, data in starter_files("mm").items():
        (tmp_path / name).write_bytes(data)
    return tmp_path


def told(shop: Path) -> list[Finding]:
    """Errors and warnings."""
    return [f for f in check_shop(shop)[1] if f.severity != "note"]


def draw(shop: Path, change: Callable[[Drawing], object]) -> None:
    """Change the drawing."""
    doc = ezdxf.readfile(shop / "lap-steel.dxf")
    change(doc)
    doc.saveas(shop / "lap-steel.dxf")


def write(shop: Path, old: str, new: str) -> None:
    """Change the shop file everywhere."""
    text = (shop / "shop.toml").read_text()
    assert old in text
    (shop / "shop.toml").write_text(text.replace(old, new))


def test_a_frame_is_asked_about(shop: Path) -> None:
    """Both sizes are told; one is to delete the frame, and is not told to make the part an opening."""
    draw(shop, stock._frame)
    (finding,) = told(shop)
    assert (finding.code, finding.severity) == ("D010", "error")
    assert "2 outlines, 700 x 200 mm and 560 x 140 mm; if the larger is a frame, delete it" in finding.message
    assert "at x -70, y -100 mm" in finding.where
    frame = [e for e in ezdxf.readfile(shop / "lap-steel.dxf").modelspace() if e.dxf.layer == "OUTLINE"][-1]
    draw(shop, lambda doc: doc.modelspace().delete_entity(doc.entitydb[frame.dxf.handle]))
    assert told(shop) == []


def test_outlines_beside_each_other(shop: Path) -> None:
    """A second outline beside the part: both sizes, and nothing about openings."""
    square = [(1000, 0), (1100, 0), (1100, 50), (1000, 50)]
    draw(
        shop, lambda doc: doc.modelspace().add_lwpolyline(square, close=True, dxfattribs={"layer": "OUTLINE"})
    )
    (finding,) = told(shop)
    assert finding.code == "D019"
    assert "2 outlines beside each other, 560 x 140 mm and 100 x 50 mm" in finding.message
    assert "cutout" not in finding.message


def test_lost_layers_are_told_once(shop: Path) -> None:
    """Everything on layer 0: one error for the four layers of two parts."""
    draw(shop, stock._all_on_0)
    (finding,) = told(shop)
    assert (finding.code, finding.file) == ("D005", "lap-steel.dxf")
    assert finding.message.startswith("everything is on layer '0'")
    assert finding.message.endswith("OUTLINE, PICKUP, POSTS and CENTER")


def test_layers_under_other_names_are_told_once(shop: Path) -> None:
    """Layers that all have other names: one error that names both lists."""

    def rename(doc: Drawing) -> None:
        for entity in doc.modelspace():
            entity.dxf.layer = f"L_{entity.dxf.layer}_2026"

    draw(shop, rename)
    (finding,) = told(shop)
    assert "none of the layers OUTLINE, PICKUP, POSTS and CENTER; it has L_CENTER_2026, " in finding.message


def test_points_in_place_of_holes(shop: Path) -> None:
    """Points are counted, and circles are asked for."""
    draw(shop, stock._points)
    (finding,) = told(shop)
    assert finding.message == (
        "layer POSTS has 3 points and no circles; draw each hole as a circle of its diameter"
    )


@pytest.mark.parametrize("role", ["center_line", "ignore"])
def test_a_single_line_given_the_role_hole(role: str, shop: Path) -> None:
    """The place is the line of the shop file; either role that it names is good."""
    write(shop, 'CENTER = "center_line"\n\n# The', 'CENTER = "hole"\n\n# The')
    (finding,) = told(shop)
    assert (finding.file, finding.where) == ("shop.toml", "part.'lap steel'.layers.CENTER, line 50")
    assert "only open lines" in finding.message
    assert f'"{role}"' in finding.message
    write(shop, 'CENTER = "hole"', f'CENTER = "{role}"')
    assert told(shop) == []


def test_lines_that_meet_are_no_center_line(shop: Path) -> None:
    """An open outline of a pocket is told as open: its role is right."""

    def open_pocket(doc: Drawing) -> None:
        pocket = doc.modelspace().query('LWPOLYLINE[layer=="PICKUP"]').first
        pocket.explode()
        doc.modelspace().delete_entity(doc.modelspace().query('LINE[layer=="PICKUP"]').first)

    draw(shop, open_pocket)
    assert {f.code for f in told(shop)} == {"D007"}
    assert "draw the missing line" in told(shop)[0].message


def test_mm_saved_as_inches(shop: Path) -> None:
    """560 in are 14.2 m (560 times 25.4 mm): one error, and the two keys that it names make the shop good."""
    draw(shop, stock._in_units(1))
    (finding,) = told(shop)
    assert finding.file == "lap-steel.dxf"
    assert "would be 560 in (14.2 m) long" in finding.message
    keys = 'drawing_units = "mm" and overrule_drawing = true'
    assert finding.message.endswith(f"under the part write {keys}")
    write(
        shop, 'drawing = "lap-steel.dxf"', 'drawing = "lap-steel.dxf"\n' + keys.replace(" and ", "\n") + "\n#"
    )
    assert told(shop) == []


def test_drawn_at_a_tenth(shop: Path) -> None:
    """A body of 56 mm: the drawing is doubted, not the cutter."""
    draw(shop, stock._scaled)
    (finding,) = told(shop)
    assert (finding.code, finding.file, finding.severity) == ("D023", "lap-steel.dxf", "warning")
    assert "only 56 mm long" in finding.message
    assert "scale" in finding.message


def test_far_from_the_origin(shop: Path) -> None:
    """A drawing of a good size that lies 20 m off is to be moved; its unit is not doubted."""

    def move(doc: Drawing) -> None:
        for entity in doc.modelspace():
            entity.translate(20_000, 0, 0)

    draw(shop, move)
    (finding,) = told(shop)
    assert "reaches 2.056e+04 mm" in finding.message or "reaches 20560 mm" in finding.message
    assert finding.message.endswith("move it nearer to 0,0")


def test_no_unit(shop: Path) -> None:
    """The line to write is given, and does it."""
    draw(shop, stock._in_units(0))
    (finding,) = told(shop)
    assert 'has no unit; for part lap steel write drawing_units = "mm"' in finding.message
    write(shop, 'drawing = "lap-steel.dxf"', 'drawing = "lap-steel.dxf"\ndrawing_units = "mm"\n#')
    assert told(shop) == []


def test_a_drawing_copied_half(shop: Path) -> None:
    """One line: the file ends too early. Nothing about layers."""
    stock._half(shop)
    (finding,) = told(shop)
    assert finding.message == "the drawing ends too early, what follows is lost; save or copy it again"


@pytest.mark.parametrize(("gap", "wanted"), [(1.5, "a gap of 1.5 mm"), (0.0, "draw the missing line")])
def test_gaps_and_missing_lines(gap: float, wanted: str, shop: Path) -> None:
    """A small gap is to be joined, a line that lacks is to be drawn; one error for both parts."""
    draw(shop, stock._loose(gap))
    (finding,) = told(shop)
    assert wanted in finding.message
