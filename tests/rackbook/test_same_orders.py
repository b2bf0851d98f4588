"""Orders without a name stay themselves when the shop file changes: take, keep, verify and nightly agree."""

from __future__ import annotations

import io
import tomllib
from functools import cache
from pathlib import Path
from typing import Any

import ezdxf
import pytest

from nestyield.cli import main
from nestyield.model import Order
from nestyield.model.same_orders import same_orders

SHOP = """\
[shop]
name = "Small shop"
units = "mm"
rack = "rack.csv"

[cutter]
diameter = 6

[glueup]
most_pieces = 1

[bed.bench]
travel_x = 900
travel_y = 500

[part.neck]
drawing = "neck.dxf"
thickness = 20
[part.neck.layers]
EDGE = "outline"

[part.body]
drawing = "body.dxf"
thickness = 20
[part.body.layers]
EDGE = "outline"

[search]
effort = 1
workers = 1
"""
NECK = '[[order]]\npart = "neck"\ncount = 2\n'
BODY = '[[order]]\npart = "body"\ncount = 3\n'
HELD = '[[order]]\npart = "neck"\ndue = 2027-01-01\nhold = true\n'


@cache
def drawing(length: float, width: float) -> str:
    """Draw a rectangle; once, for a file drawn again differs in its date."""
    doc = ezdxf.new("R2010")
    doc.header["$INSUNITS"] = 4
    corners = [(0, 0), (length, 0), (length, width), (0, width)]
    doc.modelspace().add_lwpolyline(corners, close=True, dxfattribs={"layer": "EDGE"})
    text = io.StringIO()
    doc.write(text)
    return text.getvalue()


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    """Two orders without a name, one on hold, and boards that take one part each."""
    folder = tmp_path / "shop"
    folder.mkdir()
    for name, (length, width) in {"neck": (300, 60), "body": (200, 150)}.items():
        (folder / f"{name}.dxf").write_text(drawing(length, width))
    rows = "N,sugar maple,22,320,80,4\nB,sugar maple,22,220,170,5\n"
    (folder / "rack.csv").write_text("piece,species,thickness_mm,length_mm,width_mm,count\n" + rows)
    (folder / "shop.toml").write_text(SHOP + NECK + BODY + HELD)
    return folder


#: Files of the plans of these shops, by the text of the shop file: the tests are about what is done with them.
PLANS: dict[str, dict[str, bytes]] = {}


def planned(shop: Path, name: str = "plan") -> Path:
    out = shop.parent / name
    text = (shop / "shop.toml").read_text()
    if text not in PLANS:
        assert main(["plan", str(shop), "--out", str(out)]) in (0, 1)
        PLANS[text] = {str(p.relative_to(out)): p.read_bytes() for p in out.rglob("*") if p.is_file()}
    for path, data in PLANS[text].items():
        (out / path).parent.mkdir(parents=True, exist_ok=True)
        (out / path).write_bytes(data)
    return out


def night(shop: Path, date: str, capsys: pytest.CaptureFixture[str]) -> str:
    capsys.readouterr()
    runs = shop.parent / "runs"
    assert main(["nightly", str(shop), "--runs", str(runs), "--date", date]) in (0, 1)
    return capsys.readouterr().out


def orders(shop: Path) -> list[tuple[Any, ...]]:
    data = tomllib.loads((shop / "shop.toml").read_text())
    return [(o["part"], o.get("count", 1), o.get("hold", False)) for o in data["order"]]


def test_take_lowers_the_order_that_was_cut(shop: Path) -> None:
    """With the first order deleted since, a body lowers the count of the bodies, which are now first."""
    plan = planned(shop)
    (shop / "shop.toml").write_text(SHOP + BODY + HELD)
    assert main(["take", str(plan), "--shop", str(shop), "--blank", "B"]) == 0
    assert orders(shop) == [("body", 2, False), ("neck", 1, True)]


def test_take_says_when_the_order_cannot_be_told(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Of two alike orders one was deleted: nobody can say which, so no count changes and a person is asked."""
    (shop / "shop.toml").write_text(SHOP + BODY + BODY)
    plan = planned(shop)
    (shop / "shop.toml").write_text(SHOP + BODY)
    assert main(["take", str(plan), "--shop", str(shop), "--blank", "B"]) == 1
    assert "which order of the shop file it is cannot be told" in capsys.readouterr().err
    assert orders(shop) == [("body", 3, False)]


def test_verify_knows_what_was_taken(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A plan of which two blanks were taken one by one holds; a rack changed by hand since is still told."""
    plan = planned(shop)
    for blank in ("N", "B"):
        assert main(["take", str(plan), "--shop", str(shop), "--blank", blank]) == 0
        assert main(["verify", str(plan), "--shop", str(shop)]) == 0
    assert "was taken since the plan was made: N, B" in capsys.readouterr().err
    rack = (shop / "rack.csv").read_text()
    (shop / "rack.csv").write_text(rack.replace("B,sugar maple,22,", "B,sugar maple,21,"))
    assert main(["verify", str(plan), "--shop", str(shop)]) == 1
    assert "thickness: other in the plan" in capsys.readouterr().err


def test_verify_names_a_deleted_order_once(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The order that was deleted is named; the ones after it are themselves still."""
    plan = planned(shop)
    (shop / "shop.toml").write_text(SHOP + BODY + HELD)
    assert main(["verify", str(plan), "--shop", str(shop)]) == 1
    told = [line for line in capsys.readouterr().err.splitlines() if "A005" in line]
    assert told == ["warning A005: plan.json, order 1: is in the plan, and is in the shop folder no more"]


def test_a_kept_blank_stays_with_its_order(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A kept body is planned around for the order of bodies, though that is first now; take lets it go."""
    plan = planned(shop)
    assert main(["keep", str(plan), "--shop", str(shop), "--blank", "B"]) == 0
    (shop / "shop.toml").write_text(SHOP + BODY + HELD)
    again = shop.parent / "again"
    assert main(["plan", str(shop), "--out", str(again)]) in (0, 1)
    assert "kept as accepted" in (again / "report.html").read_text()
    assert "P090" not in capsys.readouterr().err
    assert main(["take", str(plan), "--shop", str(shop), "--blank", "B"]) == 0
    assert main(["keep", "--shop", str(shop)]) == 0
    assert capsys.readouterr().out.splitlines()[-1] == "Kept: nothing"


def test_nightly_counts_no_order_on_hold(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Two orders can be met, on the first night and on the next, when the held one is no news any more."""
    assert night(shop, "2026-12-01", capsys).startswith("Small shop: 2 of 2 orders can be met")
    (shop / "shop.toml").write_text((shop / "shop.toml").read_text().replace("count = 3", "count = 2"))
    assert night(shop, "2026-12-02", capsys).startswith("Small shop: 2 of 2 orders can be met")


def test_nightly_follows_an_order_to_its_new_place(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """When the first order is deleted, it is gone and no other one is changed."""
    night(shop, "2026-12-01", capsys)
    (shop / "shop.toml").write_text(SHOP + BODY + HELD)
    news = night(shop, "2026-12-02", capsys)
    assert "order gone: order 1 of the plan before (neck)" in news
    assert "changed order" not in news
    assert "new order" not in news


def test_names_say_it() -> None:
    """An order with a name is found by it whatever else changed; one that is gone is gone."""
    then = [Order(name="spring", part="p"), Order(name="order 2", part="p"), Order(name="fall", part="q")]
    now = [Order(name="order 1", part="p", count=4), Order(name="spring", part="q")]
    assert same_orders(then, now) == {"spring": "spring", "order 2": "order 1", "fall": None}


def made(*rows: tuple[int, int]) -> list[Order]:
    """Orders without a name, all of one part and date, with count and priority."""
    return [Order(name=f"order {k}", part="p", count=n, priority=p) for k, (n, p) in enumerate(rows, 1)]


@pytest.mark.parametrize(
    ("then", "now", "called"),
    [
        ([(2, 5), (5, 5)], [(5, 5), (2, 5)], {"order 1": "order 2", "order 2": "order 1"}),  # exchanged
        ([(5, 5), (4, 5)], [(4, 5), (3, 5)], {"order 1": "order 1", "order 2": "order 2"}),  # one cut of each
        ([(2, 1), (2, 5)], [(2, 5), (1, 1)], {"order 1": "order 2", "order 2": "order 1"}),  # moved and cut
        ([(3, 5), (3, 5)], [(3, 5), (2, 5)], {"order 1": "order 1", "order 2": "order 2"}),  # alike in all
        ([(2, 1), (2, 5)], [(2, 5)], {"order 1": None, "order 2": "order 1"}),  # the urgent one deleted
        ([(3, 5), (3, 5)], [(3, 5)], {"order 1": None, "order 2": None}),  # which is gone cannot be told
    ],
)
def test_alike_in_part_and_date(then: list, now: list, called: dict[str, str | None]) -> None:
    """Orders of one part and date are told apart by priority and count, also after others moved or went."""
    assert same_orders(made(*then), made(*now)) == called
