"""A small shop folder with a table as makers keep them, and a plan for it."""

from __future__ import annotations

import io
import os
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import ezdxf
import pytest

from nestyield.intake.shop import read_shop
from nestyield.model import Layout, OrderResult, Placement, Plan, Shop
from nestyield.model.facts import NoBedForPart
from nestyield.placement.stock import blank_of
from nestyield.planfile import dumps
from nestyield.planning.layouts import make_layout
from nestyield.planning.run import shortfalls
from nestyield.planning.work.cautions import general_cautions
from nestyield.planning.worth import value_of

SHOP = """\
# kept by hand
[shop]
name = "Test"
units = "mm"
rack = "rack.csv"
defects = "defects.csv"
[cutter]
diameter = 6
[leftover]
cut = "outline"
[bed.bench]
travel_x = 900
travel_y = 600
[part.body]
drawing = "body.dxf"
thickness = 40
tolerates = { knot = "allowed", check = "allowed" }
[part.body.layers]
EDGE = "outline"
[part.jig]
drawing = "body.dxf"
thickness = 12
grain = "none"
[part.jig.layers]
EDGE = "outline"
[[order]]
name = "first"   # Ines
part = "body"
count = 2
priority = 1
[[order]]
name = "second"
part = "body"
[[order]]
name = "jigs"
part = "jig"
count = 2
"""
RACK = (
    "\ufeffpiece;shelf;species;thickness;length;width;outline;grain;moisture;count;status;color;seams\r\n"
    '# from the "old" kitchen\r\n'
    "A;top;sugar maple;44;800;300;;0;7.5;1;ready;red;LINESTRING (0 150, 800 150)\r\n"
    'B;"low; left";sugar maple;1 3/4 in;600;250;;0;8;3;;"blue\r\nand green";\r\n'
    "\r\n"
    "C;;black cherry;44;400;300;;0;;1;hold;;\r\n"
    "S;;mdf;12;900;600;;none;;2;ready;;\r\n"
)
DEFECTS = (
    "piece,kind,x,y,diameter,length,width,outline,face,depth,remark\n"
    'A,Knot,700,100,20,,,,,,"looks ""sound"""\n'
    + "A,check,150,216,,40,10,,top,9,half of it stays\n"
    + "A,knot,100,100,20,,,,,,goes with the body\n"
    + "B,nail hole,500,30,4,,,,bottom,0.5,planed away\n"
)


class Maker:
    """Makes shop folders and plans."""

    toml = SHOP

    def __init__(self, tmp_path: Path) -> None:
        self._tmp = tmp_path
        self._count = 0
        doc = ezdxf.new("R2000")
        doc.header["$INSUNITS"] = 4
        points = [(0, 0), (300, 0), (300, 200), (0, 200)]
        doc.modelspace().add_lwpolyline(points, close=True, dxfattribs={"layer": "EDGE"})
        text = io.StringIO()
        doc.write(text)
        self._body = text.getvalue()

    def shop(self, rack: str = RACK, defects: str | None = DEFECTS, shop: str = SHOP) -> Path:
        self._count += 1
        folder = self._tmp / f"shop-{self._count}"
        folder.mkdir()
        (folder / "shop.toml").write_bytes(shop.encode())
        (folder / "rack.csv").write_bytes(rack.encode())
        if defects is not None:
            (folder / "defects.csv").write_bytes(defects.encode())
        (folder / "body.dxf").write_text(self._body)
        return folder

    def plan(self, folder: Path, *cuts: tuple[str, int, str]) -> Path:
        """Write a plan that cuts one part from each (piece, copy, order), 10 mm from the corner."""
        shop = self.read(folder)
        copies: Counter[str] = Counter()
        layouts = []
        for piece, copy, order in cuts:
            copies[order] += 1
            layouts.append(self._layout(shop, piece, copy, order, copies[order]))
        orders = tuple(
            OrderResult(
                order=o.name,
                placed=copies[o.name],
                count=o.count,
                reasons=() if copies[o.name] == o.count else (NoBedForPart(),),
            )
            for o in shop.orders
        )
        plan = Plan(
            shop=shop,
            seed=1,
            effort=1,
            layouts=tuple(layouts),
            orders=orders,
            notices=shortfalls(shop, orders),
            cautions=general_cautions(shop, layouts),
        )
        self._count += 1
        out = self._tmp / f"plan-{self._count}"
        out.mkdir()
        (out / "plan.json").write_bytes(dumps(plan))
        return out

    @staticmethod
    def read(folder: Path) -> Shop:
        shop, findings = read_shop(folder)
        assert shop is not None, findings
        return shop

    @staticmethod
    def _layout(shop: Shop, piece: str, copy: int, order: str, number: int) -> Layout:
        part = next(o.part for o in shop.orders if o.name == order)
        spot = Placement(
            part=part, order=order, copy=number, angle_deg=0.0, mirrored=False, x_um=10_000, y_um=10_000
        )
        blank = blank_of(shop.piece(piece), copy)
        return make_layout(shop, blank, [spot], shop.beds, value_of(shop.piece(piece), shop.settings))


@pytest.fixture(autouse=True)
def no_waiting_for_the_disk(monkeypatch: pytest.MonkeyPatch) -> None:
    """A killed process loses nothing that the system has; only a loss of power needs the wait."""
    monkeypatch.setattr(os, "fsync", lambda handle: None)


@pytest.fixture
def maker(tmp_path: Path) -> Maker:
    return Maker(tmp_path)


@pytest.fixture
def tree() -> Callable[[Path], dict[str, bytes]]:
    """Return every file of a folder that is not the rack book's own."""

    def files(folder: Path) -> dict[str, bytes]:
        return {p.name: p.read_bytes() for p in sorted(folder.iterdir()) if p.is_file()}

    return files
