"""Pieces out, leftovers in."""

import dataclasses
import json
import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
import shapely

from nestyield.geometry.shape import to_shapely
from nestyield.planfile import loads
from nestyield.rackbook.commit import open_book, recover
from nestyield.rackbook.disk import Disk
from nestyield.rackbook.errors import BusyError, ChangedError, RackbookError
from nestyield.rackbook.journal import read_journal
from nestyield.rackbook.rows import new_pieces
from nestyield.rackbook.take import take


def text(folder: Path, name: str = "rack.csv") -> str:
    return (folder / name).read_bytes().decode()


def test_the_table_stays_the_makers(maker):
    """Comments, blank lines, line ends, byte order mark, delimiter, order and own columns stay."""
    shop = maker.shop()
    before = text(shop).split("\r\n")
    take(maker.plan(shop, ("B", 1, "first")), shop)
    after = text(shop).split("\r\n")
    assert after[0] == before[0] + ";parent"
    assert after[1] == before[1] == '# from the "old" kitchen'
    assert after[3] == 'B;"low; left";sugar maple;1 3/4 in;600;250;;0;8;2;;"blue'
    assert after[4] == 'and green";;'
    assert after[5] == ""
    assert text(shop).count("\n") == text(shop).count("\r\n")
    assert text(shop).startswith("\ufeffpiece;")


def test_leftovers_come_back_with_all_that_is_known(maker):
    """A leftover has exact outline, planed thickness, grain, moisture, parent, seams and its defects."""
    shop = maker.shop()
    plan = maker.plan(shop, ("A", 1, "first"))
    taken = take(plan, shop)
    now = maker.read(shop)
    old, new = now.piece("A"), now.piece("A-a")
    assert old.status == "taken"
    assert (new.thickness_mm, new.grain_deg, new.moisture_pct, new.parent) == (40.0, 0.0, 7.5, "A")
    region = to_shapely(new.shape)
    assert region.area == pytest.approx(
        800 * 300 - 316 * 216 + (36 - 3.14159265 * 36 / 4), abs=0.5
    )  # the corner that the round cutter leaves
    assert to_shapely(old.shape).covers(region)
    assert [s.line_mm for s in new.seams] == [((316.0, 150.0), (800.0, 150.0))]
    assert [(d.kind, d.face, d.depth_mm) for d in new.defects if d.kind != "screw hole"] == [
        ("knot", "through", None),
        ("check", "top", 9.0),
    ]
    assert to_shapely(new.defects[1].shape).bounds == (130.0, 216.0, 170.0, 221.0)
    assert 'A-a,Knot,700,100,20,,,,,,"looks ""sound"""\n' in text(shop, "defects.csv")
    assert taken.entry.leftovers == ("A-a",)
    assert taken.entry.cut == {"first": 1}


def test_a_sheet_keeps_its_thickness_and_counts_go_down(maker):
    """Nothing is planed off a sheet, a row with copies left stays ready, and the last copy makes it taken."""
    shop = maker.shop()
    take(maker.plan(shop, ("S", 1, "jigs")), shop)
    now = maker.read(shop)
    assert (now.piece("S").count, now.piece("S").status) == (1, "ready")
    assert now.piece("S-a").thickness_mm == 12.0
    assert now.piece("S-a").grain_deg is None
    take(maker.plan(shop, ("S", 1, "jigs")), shop)
    now = maker.read(shop)
    assert now.piece("S").status == "taken"
    assert now.piece("S-b").parent == "S"  # S-a is in use, the next letter is free


def test_orders_lose_what_was_cut(maker):
    """The count of an order goes down, an order that is cut is done, and undo-able text stays around it."""
    shop = maker.shop()
    take(maker.plan(shop, ("A", 1, "first"), ("B", 1, "second")), shop)
    now = maker.read(shop)
    assert [(o.name, o.count, o.done) for o in now.orders[:2]] == [("first", 1, False), ("second", 1, True)]
    assert now.orders[1].hold
    assert 'name = "first"   # Ines\n' in text(shop, "shop.toml")
    shop2 = maker.shop()
    before = text(shop2, "shop.toml")
    take(maker.plan(shop2, ("A", 1, "first")), shop2, orders=False)
    assert text(shop2, "shop.toml") == before


def test_one_blank_after_the_other(maker):
    """Blanks of one plan may be taken one by one; a blank is not taken twice."""
    shop = maker.shop()
    plan = maker.plan(shop, ("A", 1, "first"), ("B", 1, "first"), ("B", 2, "second"))
    take(plan, shop, ["B"])
    take(plan, shop, ["A", "B/2"])
    assert maker.read(shop).piece("B").count == 1
    with pytest.raises(ChangedError, match=r"'B/2' of this plan was taken already \(entry 2"):
        take(plan, shop, ["B/2"])


def test_an_unknown_blank_names_the_nearest(maker):
    """A slip of the pen in a blank's name is answered with the name that is meant."""
    shop = maker.shop()
    plan = maker.plan(shop, ("B", 2, "first"))
    with pytest.raises(RackbookError, match=r"no blank 'B2'; did you mean 'B/2'"):
        take(plan, shop, ["B2"])


@pytest.mark.parametrize(
    ("old", "new", "why"),
    [
        ("44;800;300", "43;800;300", "thickness was changed from 44 mm to 43 mm"),
        ("44;800;300", "44;800;310", "outline was changed"),
        ("0;7.5;1;ready;red", "0;9;1;ready;red", "moisture was changed from 7.5 to 9"),
        ("0;7.5;1;ready;red", "3;7.5;1;ready;red", "grain was changed from 0 to 3"),
        ("1;ready;red", "1;hold;red", "now on hold"),
        ("1;ready;red", "1;taken;red", "now taken"),
        ("A;top;sugar maple", "A;top;black cherry", "species was changed from sugar maple to black cherry"),
        ("LINESTRING (0 150", "LINESTRING (0 140", "seams were changed"),
    ],
)
def test_a_change_that_matters_stops_it(maker, tree, old, new, why):
    """A used row that is not what it was stops the booking; nothing is written."""
    shop = maker.shop()
    plan = maker.plan(shop, ("A", 1, "first"))
    rack = text(shop).replace(old, new)
    assert rack != text(shop)
    (shop / "rack.csv").write_bytes(rack.encode())
    before = tree(shop)
    with pytest.raises(ChangedError, match=why):
        take(plan, shop)
    assert tree(shop) == before
    assert read_journal(shop) == ()


def test_a_new_knot_stops_it(maker):
    """A defect that was found since the plan was made stops the booking."""
    shop = maker.shop()
    plan = maker.plan(shop, ("A", 1, "first"))
    with (shop / "defects.csv").open("a") as out:
        out.write("A,knot,400,100,12,,,,,,\n")
    with pytest.raises(ChangedError, match="its defects were changed"):
        take(plan, shop)


def test_a_row_that_is_gone_stops_it(maker):
    """A used row that was struck out stops the booking."""
    shop = maker.shop()
    plan = maker.plan(shop, ("S", 1, "jigs"))
    (shop / "rack.csv").write_bytes("".join(text(shop).partition("S;;mdf")[:1]).encode())
    with pytest.raises(ChangedError, match="S is no longer in the rack table"):
        take(plan, shop)


def test_changes_that_do_not_matter_do_not_stop_it(maker):
    """Other rows, notes, shelves, colors and the order of rows may change; fewer copies too, if enough."""
    shop = maker.shop()
    plan = maker.plan(shop, ("B", 1, "first"))
    rack = text(shop)
    head, rest = rack.split("\r\n", 1)
    rest = rest.replace("44;800;300", "30;700;200").replace('"low; left"', "floor").replace("blue", "green")
    rest = rest.replace("LINESTRING (0 150, 800 150)", "").replace("0;8;3;", "0;8;1;")
    (shop / "rack.csv").write_bytes(f"{head}\r\nN;;limba;44;500;100;;0;;1;;;\r\n{rest}".encode())
    defects = text(shop, "defects.csv").splitlines(keepends=True)
    (shop / "defects.csv").write_text(defects[0] + defects[4], newline="")
    take(plan, shop)
    assert maker.read(shop).piece("B").status == "taken"


def screws_in(plan: Path, blank: str) -> list[tuple[float, float]]:
    """Return where the plan drives screws into the leftover of a blank, read from its file."""
    read = json.loads((plan / "plan.json").read_text())
    layout = next(x for x in read["layouts"] if x["blank"]["name"] == blank)
    return [(h["x_mm"], h["y_mm"]) for h in layout["work"]["hold_downs"] if h["leftover"] == f"{blank}-a"]


def test_holes_of_screws_are_booked_with_the_leftover(maker):
    """Each screw that the plan drives into a leftover is a defect of it, half as wide as its head of 10 mm."""
    shop = maker.shop()
    plan = maker.plan(shop, ("A", 1, "first"))
    screws = screws_in(plan, "A")
    assert screws
    take(plan, shop)
    found = [d for d in maker.read(shop).piece("A-a").defects if d.kind == "screw hole"]
    boxes = [to_shapely(d.shape).bounds for d in found]
    middles = [((x0 + x1) / 2, (y0 + y1) / 2) for x0, y0, x1, y1 in boxes]
    assert [c for at in middles for c in at] == pytest.approx([c for at in screws for c in at])
    assert all(x1 - x0 == pytest.approx(5.0) for x0, _, x1, _ in boxes)


def test_holes_without_a_defect_table_stand_in_the_row(maker):
    """In a shop without a defect table the leftover's own row has the holes as flaws, and reads them back."""
    toml = maker.toml.replace('defects = "defects.csv"\n', "")
    rack = text(maker.shop()).replace("\r\nS;", "\r\nE;;sugar maple;44;800;300;;0;;1;ready;;\r\nS;")
    shop = maker.shop(rack=rack, defects=None, shop=toml)
    plan = maker.plan(shop, ("E", 1, "first"))
    screws = screws_in(plan, "E")
    assert screws
    take(plan, shop)
    x, y = screws[0]
    assert f"5 screw hole at {x:g}, {y:g}" in text(shop)
    assert len(maker.read(shop).piece("E-a").defects) == len(screws)


def test_a_knot_without_a_defect_table_stands_in_the_row(maker):
    """A flaw of the row that stays in the leftover stands in the leftover's row, where it lies in that."""
    toml = maker.toml.replace('defects = "defects.csv"\n', "")
    rack = "piece;species;thickness;length;width;flaws\nE;sugar maple;44;800;300;20 knot at 700, 250\n"
    shop = maker.shop(rack=rack, defects=None, shop=toml)
    plan = maker.plan(shop, ("E", 1, "first"))
    take(plan, shop)
    (row,) = [r for r in text(shop).splitlines() if r.startswith("E-a")]
    assert "20 knot at 700, 250" in row
    (knot,) = [d for d in maker.read(shop).piece("E-a").defects if d.kind == "knot"]
    assert to_shapely(knot.shape).bounds == pytest.approx((690, 240, 710, 260), abs=0.01)


def test_a_table_with_decimal_commas_gets_commas(maker):
    """What take writes has the comma of the other rows, but for outlines and flaws, where commas part numbers."""
    toml = maker.toml.replace('defects = "defects.csv"\n', "").replace(
        'units = "mm"', 'units = "mm"\ndecimal = "comma"'
    )
    rack = "piece;species;thickness;length;width;moisture;value\nE;sugar maple;44,5;800;300,4;7,5;12,5\n"
    shop = maker.shop(rack=rack, defects=None, shop=toml)
    plan = maker.plan(shop, ("E", 1, "first"))
    take(plan, shop)
    (row,) = [r for r in text(shop).splitlines() if r.startswith("E-a")]
    cells = dict(zip(text(shop).splitlines()[0].split(";"), row.split(";")))
    assert cells["moisture"] == "7,5"
    assert re.fullmatch(r"\d+,\d+", cells["value"])
    assert re.fullmatch(r"\d+(,\d+)?", cells["thickness"])
    assert "." in cells["outline"] or "POLYGON" in cells["outline"]
    leftover = maker.read(shop).piece("E-a")
    assert to_shapely(leftover.shape).bounds == pytest.approx((0, 0, 800, 300.4), abs=0.01)


def test_defects_without_a_table_for_them(maker, tree):
    """Where a leftover keeps a long defect and there is no defect table, the message says how to make one."""
    toml = maker.shop().joinpath("shop.toml").read_text().replace('defects = "defects.csv"\n', "")
    toml += '[rack_layers]\nEDGE = "outline"\nKNOT = { role = "defect", kind = "knot" }\n'
    rack = "piece,species,thickness,outline\nD,sugar maple,44,piece.dxf\n"
    shop = maker.shop(rack=rack, defects=None, shop=toml)
    import ezdxf

    doc = ezdxf.new("R2000")
    doc.header["$INSUNITS"] = 4
    doc.modelspace().add_lwpolyline(
        [(0, 0), (900, 0), (900, 300), (0, 300)], close=True, dxfattribs={"layer": "EDGE"}
    )
    doc.modelspace().add_circle((600, 150), 10, dxfattribs={"layer": "KNOT"})
    doc.modelspace().add_lwpolyline(
        [(500, 250), (600, 250), (600, 255), (500, 255)], close=True, dxfattribs={"layer": "KNOT"}
    )
    doc.saveas(shop / "piece.dxf")
    plan = maker.plan(shop, ("D", 1, "first"))
    before = tree(shop)
    with pytest.raises(RackbookError, match=r"add defects = \"defects\.csv\" to \[shop\]"):
        take(plan, shop)
    assert tree(shop) == before
    (shop / "shop.toml").write_text(toml.replace("[cutter]", 'defects = "defects.csv"\n[cutter]'))
    (shop / "defects.csv").write_text("piece,kind,x,y,diameter,face,depth\n")
    take(plan, shop)
    assert text(shop, "defects.csv").startswith(
        "piece,kind,x,y,diameter,face,depth,outline\nD-a,knot,600,150,20,through,,\nD-a,knot,,,,through,,"
    )
    assert maker.read(shop).piece("D-a").defects[0].shape == maker.read(shop).piece("D").defects[0].shape


def test_inches_stay_inches(maker):
    """A table in inches gets its leftovers in inches, exact to a micrometer, and reads back the same."""
    toml = maker.shop().joinpath("shop.toml").read_text()
    toml = toml.replace('"mm"', '"in"').replace("= 40", '= "40 mm"').replace("= 6\n", '= "6 mm"\n')
    rack = "piece,species,thickness_in,length_in,width_in,outline_in\nI,sugar maple,1 3/4,30,12,\n"
    shop = maker.shop(rack=rack, defects=None, shop=toml.replace('defects = "defects.csv"\n', ""))
    plan = maker.plan(shop, ("I", 1, "first"))
    take(plan, shop)
    row = text(shop).splitlines()[2]
    assert row.startswith('I-a,sugar maple,1.574803,,,"POLYGON ((30 12, 0 12, 0 8.503937')
    region = to_shapely(maker.read(shop).piece("I-a").shape)
    assert region.bounds == pytest.approx((0, 0, 762, 304.8), abs=1e-9)


def test_two_takes_at_once(maker):
    """Two processes that take the same blank: one wins, the other says why."""
    for _ in range(1):
        shop = maker.shop()
        plan = maker.plan(shop, ("A", 1, "first"))
        code = (
            "import sys, pathlib\n"
            "from nestyield.rackbook.take import take\n"
            "from nestyield.model import NestyieldError\n"
            "try:\n    take(pathlib.Path(sys.argv[1]), pathlib.Path(sys.argv[2]))\n    print('won')\n"
            "except NestyieldError as error:\n    print(error)\n"
        )
        runs = [
            subprocess.Popen([sys.executable, "-c", code, plan, shop], stdout=subprocess.PIPE, text=True)
            for _ in range(2)
        ]
        told = [run.communicate(timeout=60)[0].strip() for run in runs]
        assert told.count("won") == 1, told
        other = next(t for t in told if t != "won")
        assert "locked by process" in other or "taken already" in other
        assert len(read_journal(shop)) == 1


def test_a_locked_shop_says_by_whom(maker):
    """While a booking is under way another is refused with the process that holds the folder."""
    shop = maker.shop()
    plan = maker.plan(shop, ("A", 1, "first"))
    with open_book(shop, "taking"), pytest.raises(BusyError, match=rf"process {os.getpid()}, taking"):
        take(plan, shop)


@pytest.mark.study
def test_random_kills(maker, tree):
    """SIGKILL at random instants of a take: rack, defects, shop file and journal agree, before or after."""
    shop = maker.shop()
    plan = maker.plan(shop, ("A", 1, "first"), ("B", 1, "second"))
    before = tree(shop)
    whole = maker.shop()
    start = time.monotonic()
    take(plan, whole)
    length = time.monotonic() - start
    after = tree(whole)
    seen = set()
    for k in range(24):
        shop = maker.shop()
        child = os.fork()
        if child == 0:
            take(plan, shop)
            os._exit(0)
        if k < 23:  # the last one is let through
            time.sleep(length * k / 8)
            os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        recover(shop)
        files = {n: d for n, d in tree(shop).items() if not n.endswith("nestyield-new")}
        entries = read_journal(shop)
        assert (files, len(entries)) in ((before, 0), (after, 1))
        seen.add(len(entries))
    assert seen == {0, 1}


def test_every_new_name_of_a_take(maker, tree):
    """A take that ends after any call that changes a name leaves one of the two true states."""
    shop = maker.shop()
    plan = maker.plan(shop, ("A", 1, "first"))
    before = tree(shop)
    names: list[str] = []
    take(plan, shop, disk=Disk(names.append))
    after = tree(shop)

    class Stop(BaseException):
        pass

    for k in [i for i, name in enumerate(names) if name.startswith(("rename", "unlink", "mkdir"))]:
        shop = maker.shop()
        left = [k]

        def step(name: str, left=left) -> None:
            left[0] -= 1
            if left[0] < 0:
                raise Stop

        with pytest.raises(Stop):
            take(plan, shop, disk=Disk(step))
        recover(shop)
        files = {n: d for n, d in tree(shop).items() if not n.endswith("nestyield-new")}
        assert (files, len(read_journal(shop))) in ((before, 0), (after, 1)), names[k]


def test_a_leftover_takes_its_share_of_the_value_of_its_row(maker):
    """Where the row says what a piece is worth, its leftover's row says its share; else nothing."""
    shop = maker.shop()
    rack = text(shop).replace(";seams\r\n", ";seams;value\r\n").replace("800 150)\r\n", "800 150);40\r\n")
    (shop / "rack.csv").write_bytes(rack.encode())
    take(maker.plan(shop, ("A", 1, "first"), ("B", 1, "first")), shop)
    now = maker.read(shop)
    values = {p.name: p.value for p in now.pieces}
    assert values["A"] == 40.0
    assert values["B-a"] is None
    left = next(p for p in now.pieces if p.name == "A-a")
    share = 40.0 * left.shape.area_mm2 * left.thickness_mm / (800 * 300 * 44)
    assert values["A-a"] == pytest.approx(share, abs=0.02)


def test_a_screw_beside_a_leftover_leaves_no_hole_in_it(maker):
    """Of a screw whose head of 10 mm reaches a leftover by 1 mm the hole of 5 mm is not booked: it would lie beside it."""
    shop = maker.shop()
    read = loads((maker.plan(shop, ("A", 1, "first")) / "plan.json").read_bytes())
    plan = read[0] if isinstance(read, tuple) else read
    (layout,) = plan.layouts
    kept = next(x for x in layout.leftovers if x.usable)
    assert to_shapely(kept.shape).distance(shapely.Point(796.0, 304.0)) == pytest.approx(4.0, abs=0.01)
    screws = tuple(
        dataclasses.replace(h, x_mm=796.0, y_mm=304.0, leftover=kept.name) for h in layout.work.hold_downs[:1]
    )
    work = dataclasses.replace(layout.work, hold_downs=screws, pins=())
    (piece,) = new_pieces(plan, [dataclasses.replace(layout, work=work)], ["A"])
    assert piece.holes == ()
    inside = dataclasses.replace(screws[0], y_mm=290.0)
    work = dataclasses.replace(work, hold_downs=(inside,))
    (piece,) = new_pieces(plan, [dataclasses.replace(layout, work=work)], ["A"])
    assert len(piece.holes) == 1
