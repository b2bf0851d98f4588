"""Malformed shops: a good minimal one, and one thing wrong each. Importable by path.

``CASES`` maps a name to a ``Case``; ``Case.make(folder)`` writes the shop. Every case has exactly one kind of
error; ``code`` and ``names`` say what its message must hold.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import NamedTuple

import ezdxf

SHOP = """\
[shop]
name = "Lock Cottage Workshop"
units = "mm"
rack = "rack.csv"
defects = "defects.csv"

[cutter]
diameter = 6

[bed.bench]
travel_x = 600
travel_y = 400

[[bed.bench.keep_out]]
name = "stop"
rectangle = [0, 380, 60, 400]

[part.mandolin]
drawing = "mandolin.dxf"
thickness = 40
species = ["sugar maple", "black cherry"]
tolerates = { stain = "allowed" }

[part.mandolin.layers]
BODY = "outline"
PICKUPS = { role = "pocket", face = "front", depth = 19 }

[[order]]
part = "mandolin"
count = 2
due = 2026-12-12
bed = "bench"
"""

RACK = """\
piece,species,thickness,length,width,outline,grain,moisture,count,seams
M1,sugar maple,44.5,500,330,,0,8,1,
M2,sugar maple,1 3/4 in,,,"POLYGON ((0 0, 520 0, 520 320, 0 340, 0 0))",0,8,2,"LINESTRING (0 160, 520 160)"
C1,black cherry,45,610,310,,0,7.5,1,
"""

DEFECTS = """\
piece,kind,x,y,diameter,length,width,angle,outline,face,depth
M1,knot,40,40,12,,,,,through,
C1,check,300,20,,60,3,5,,top,10
"""


def _drawing(change: Callable[[ezdxf.document.Drawing], None] | None = None, version: str = "R2010") -> bytes:
    doc = ezdxf.new(version, units=4)
    space = doc.modelspace()
    body, pickups = {"layer": "BODY"}, {"layer": "PICKUPS"}
    space.add_line((0, 0), (400, 0), dxfattribs=body)
    space.add_arc((400, 120), 120, 270, 90, dxfattribs=body)
    space.add_line((400, 240), (0, 240), dxfattribs=body)
    space.add_line((0, 240), (0, 0), dxfattribs=body)
    # corners as round as the cutter leaves them: a radius of 3 mm
    q = 0.41421356
    rounded = [
        (183, 90, 0), (217, 90, q), (220, 93, 0), (220, 147, q),
        (217, 150, 0), (183, 150, q), (180, 147, 0), (180, 93, q),
    ]  # fmt: skip
    space.add_lwpolyline(rounded, format="xyb", close=True, dxfattribs=pickups)
    if change is not None:
        change(doc)
    with TemporaryDirectory() as folder:
        path = Path(folder) / "x.dxf"
        doc.saveas(path)
        return path.read_bytes()


@cache
def good_drawing() -> bytes:
    """Return the drawing of the good shop."""
    return _drawing()


def make_good_shop(folder: Path) -> None:
    """Write the good shop into a new folder."""
    folder.mkdir(parents=True)
    (folder / "shop.toml").write_text(SHOP, encoding="utf-8")
    (folder / "rack.csv").write_text(RACK, encoding="utf-8")
    (folder / "defects.csv").write_text(DEFECTS, encoding="utf-8")
    (folder / "mandolin.dxf").write_bytes(good_drawing())


class Case(NamedTuple):
    """One malformed shop.

    Parameters
    ----------
    spoil : callable
        Changes the good shop in a folder.
    code : str
        Code of the error.
    names : tuple of str
        Texts that the error must hold: file, row or key or layer, value, hint.
    """

    spoil: Callable[[Path], None]
    code: str
    names: tuple[str, ...]

    def make(self, folder: Path) -> None:
        """Write the shop into a new folder."""
        make_good_shop(folder)
        self.spoil(folder)


def _text(name: str, old: str, new: str) -> Callable[[Path], None]:
    def spoil(folder: Path) -> None:
        path = folder / name
        text = path.read_text(encoding="utf-8")
        assert text.count(old) >= 1, (name, old)
        path.write_text(text.replace(old, new, 1), encoding="utf-8")

    return spoil


def _shop(old: str, new: str) -> Callable[[Path], None]:
    return _text("shop.toml", old, new)


def _rack(old: str, new: str) -> Callable[[Path], None]:
    return _text("rack.csv", old, new)


def _defects(old: str, new: str) -> Callable[[Path], None]:
    return _text("defects.csv", old, new)


def _bytes(name: str, data: bytes) -> Callable[[Path], None]:
    def spoil(folder: Path) -> None:
        (folder / name).write_bytes(data)

    return spoil


def _all(*spoils: Callable[[Path], None]) -> Callable[[Path], None]:
    def spoil(folder: Path) -> None:
        for one in spoils:
            one(folder)

    return spoil


def _dxf(change: Callable[[ezdxf.document.Drawing], None], version: str = "R2010") -> Callable[[Path], None]:
    def spoil(folder: Path) -> None:
        (folder / "mandolin.dxf").write_bytes(_drawing(change, version))

    return spoil


def _gone(name: str) -> Callable[[Path], None]:
    return lambda folder: (folder / name).unlink()


def _folder_instead(name: str) -> Callable[[Path], None]:
    def spoil(folder: Path) -> None:
        (folder / name).unlink()
        (folder / name).mkdir()

    return spoil


def _loop(name: str) -> Callable[[Path], None]:
    def spoil(folder: Path) -> None:
        (folder / name).unlink()
        os.symlink(name, folder / name)

    return spoil


def _outside_link(folder: Path) -> None:
    shutil.move(folder / "mandolin.dxf", folder.parent / "elsewhere.dxf")
    os.symlink(folder.parent / "elsewhere.dxf", folder / "mandolin.dxf")


def _no_unit(doc: ezdxf.document.Drawing) -> None:
    doc.header["$INSUNITS"] = 0


def _inches(doc: ezdxf.document.Drawing) -> None:
    doc.header["$INSUNITS"] = 1


def _odd_unit(doc: ezdxf.document.Drawing) -> None:
    doc.header["$INSUNITS"] = 99


def _on(kind: str, layer: str, *args: object, **kw: object) -> Callable[[ezdxf.document.Drawing], None]:
    def change(doc: ezdxf.document.Drawing) -> None:
        getattr(doc.modelspace(), f"add_{kind}")(*args, **kw, dxfattribs={"layer": layer})

    return change


def _without_last_line(doc: ezdxf.document.Drawing) -> None:
    space = doc.modelspace()
    space.delete_entity(space.query("LINE")[-1])


def _on_edge(doc: ezdxf.document.Drawing) -> None:
    doc.modelspace().add_circle((50, 50), 9, dxfattribs={"layer": "PICKUPS", "extrusion": (1, 0, 0)})


def _in_the_air(doc: ezdxf.document.Drawing) -> None:
    space = doc.modelspace()
    space.query("LINE")[-1].dxf.start = (0, 240, 25)


CASES: dict[str, Case] = {
    # files
    "shop file missing": Case(
        spoil=_gone("shop.toml"), code="S001", names=("shop.toml", "not in the shop folder")
    ),
    "shop file is a folder": Case(
        spoil=_folder_instead("shop.toml"), code="S001", names=("shop.toml", "folder")
    ),
    "shop file not UTF-8": Case(
        spoil=_bytes("shop.toml", SHOP.replace("Lock", "L\u00f6ck").encode("latin-1")),
        code="S001",
        names=("shop.toml", "UTF-8", "line 2"),
    ),
    "shop file is junk": Case(
        spoil=_bytes("shop.toml", bytes(range(256))), code="S001", names=("shop.toml",)
    ),
    "shop file empty": Case(spoil=_bytes("shop.toml", b""), code="S005", names=("shop.toml", "units")),
    "shop file is no TOML": Case(
        spoil=_shop("count = 2", "count = "), code="S002", names=("shop.toml", "line 30")
    ),
    "key twice": Case(
        spoil=_shop("count = 2", "count = 2\ncount = 3"), code="S002", names=("shop.toml", "line 31")
    ),
    "huge number": Case(spoil=_shop("count = 2", "count = " + "9" * 5000), code="S002", names=("shop.toml",)),
    "rack missing": Case(spoil=_gone("rack.csv"), code="R001", names=("rack.csv", "shop.rack, line 4")),
    "rack name misspelt": Case(
        spoil=_shop('"rack.csv"', '"rakc.csv"'), code="R001", names=("rakc.csv", "did you mean 'rack.csv'?")
    ),
    "rack is a folder": Case(spoil=_folder_instead("rack.csv"), code="R001", names=("rack.csv", "folder")),
    "rack empty": Case(spoil=_bytes("rack.csv", b""), code="R001", names=("rack.csv", "no header")),
    "rack is junk": Case(
        spoil=_bytes("rack.csv", b"\x00\x01\x02" * 99), code="R001", names=("rack.csv", "null byte")
    ),
    "rack is UTF-16": Case(
        spoil=_bytes("rack.csv", RACK.encode("utf-16")), code="R001", names=("rack.csv", "UTF-16")
    ),
    "rack is a spreadsheet file": Case(
        spoil=_bytes("rack.csv", b"PK\x03\x04\x14\x00"), code="R001", names=("rack.csv", "CSV")
    ),
    "rack with an open quote": Case(
        spoil=_rack('160, 520 160)"', "160, 520 160)"),
        code="R001",
        names=("rack.csv", "quote in line"),
    ),
    "rack is a link to itself": Case(spoil=_loop("rack.csv"), code="S010", names=("rack.csv", "link")),
    "defects missing": Case(
        spoil=_gone("defects.csv"), code="F001", names=("defects.csv", "shop.defects, line 5")
    ),
    "drawing missing": Case(
        spoil=_shop("mandolin.dxf", "mandolyn.dxf"),
        code="D001",
        names=("mandolyn.dxf", "part.mandolin.drawing, line 19", "did you mean 'mandolin.dxf'?"),
    ),
    "drawing outside the folder": Case(
        spoil=_shop('"mandolin.dxf"', '"../mandolin.dxf"'), code="S010", names=("../mandolin.dxf", "outside")
    ),
    "drawing by absolute path": Case(
        spoil=_shop('"mandolin.dxf"', '"/etc/hosts"'),
        code="S010",
        names=("part.mandolin.drawing, line 19", "shop folder", '"hosts"'),
    ),
    "drawing is a link to the outside": Case(
        spoil=_outside_link, code="S010", names=("mandolin.dxf", "outside")
    ),
    # shop file
    "unknown section": Case(
        spoil=_shop("[cutter]", "[cuter]\n[cutter]"),
        code="S003",
        names=("cuter, line 7", "did you mean 'cutter'?"),
    ),
    "unknown key": Case(
        spoil=_shop("thickness = 40", "thickness = 40\ngrain_tolerence = 3"),
        code="S004",
        names=("part.mandolin.grain_tolerence, line 21", "did you mean 'grain_tolerance'?"),
    ),
    "cutter missing": Case(
        spoil=_shop("[cutter]\ndiameter = 6\n", ""), code="S005", names=("shop.toml", "diameter")
    ),
    "units missing": Case(spoil=_shop('units = "mm"\n', ""), code="S005", names=("shop.toml", "units")),
    "units unknown": Case(
        spoil=_shop('units = "mm"', 'units = "furlong"'), code="S006", names=("units", "furlong")
    ),
    "cutter negative": Case(
        spoil=_shop("diameter = 6", "diameter = -6"), code="S007", names=("cutter.diameter", "-6")
    ),
    "travel zero": Case(
        spoil=_shop("travel_x = 600", "travel_x = 0"),
        code="S007",
        names=("bed.bench.travel_x", "such as travel_x = 900"),
    ),
    "thickness not a number": Case(
        spoil=_shop("thickness = 40", "thickness = nan"),
        code="S006",
        names=("part.mandolin.thickness", "nan"),
    ),
    "thickness infinite": Case(
        spoil=_shop("thickness = 40", "thickness = inf"),
        code="S006",
        names=("part.mandolin.thickness", "inf"),
    ),
    "thickness with decimal comma": Case(
        spoil=_shop("thickness = 40", 'thickness = "44,5"'),
        code="S006",
        names=("part.mandolin.thickness", "write thickness = 44.5"),
    ),
    "thickness in an unknown unit": Case(
        spoil=_shop("thickness = 40", 'thickness = "4 hands"'),
        code="S006",
        names=("part.mandolin.thickness", "hands"),
    ),
    "travel is a table": Case(
        spoil=_shop("travel_x = 600", "travel_x = { a = 1 }"), code="S006", names=("travel_x",)
    ),
    "order of an unknown part": Case(
        spoil=_shop('part = "mandolin"', 'part = "mandolyn"'),
        code="S008",
        names=("order[1].part, line 29", "mandolyn", "did you mean 'mandolin'?"),
    ),
    "order on an unknown bed": Case(
        spoil=_shop('bed = "bench"', 'bed = "bunch"'),
        code="S008",
        names=("order[1].bed", "bunch", "'bench'?"),
    ),
    "order of none": Case(
        spoil=_shop("count = 2", "count = 0"), code="S007", names=("order[1].count, line 30", "0")
    ),
    "order of a half": Case(
        spoil=_shop("count = 2", "count = 1.5"), code="S006", names=("order[1].count", "1.5")
    ),
    "due is no date": Case(
        spoil=_shop("due = 2026-12-12", 'due = "next week"'), code="S006", names=("order[1].due", "next week")
    ),
    "order is a plain table": Case(spoil=_shop("[[order]]", "[order]"), code="S006", names=("[[order]]",)),
    "two orders of one name": Case(
        spoil=_shop("[[order]]", '[[order]]\nname = "a"\npart = "mandolin"\n[[order]]\nname = "a"'),
        code="S009",
        names=("order[2].name", "'a'"),
    ),
    "unknown kind in tolerates": Case(
        spoil=_shop('stain = "allowed"', 'stian = "allowed"'),
        code="S008",
        names=("stian", "did you mean 'stain'?"),
    ),
    "unknown verdict": Case(
        spoil=_shop('stain = "allowed"', 'stain = "alowed"'),
        code="S006",
        names=("alowed", "did you mean 'allowed'?"),
    ),
    "mirrored unknown": Case(
        spoil=_shop("thickness = 40", 'thickness = 40\nmirrored = "yes"'),
        code="S006",
        names=("mirrored", "'yes'"),
    ),
    "face to show unknown": Case(
        spoil=_shop("thickness = 40", 'thickness = 40\nshow_face = "front"'),
        code="S006",
        names=("show_face", "'front'", "top"),
    ),
    "unknown role": Case(
        spoil=_shop('role = "pocket"', 'role = "poket"'),
        code="S006",
        names=("PICKUPS", "poket", 'write role = "pocket"'),
    ),
    "pocket without depth": Case(
        spoil=_shop(", depth = 19", ""), code="S005", names=("part.mandolin.layers.PICKUPS, line 26", "depth")
    ),
    "pocket deeper than the part": Case(
        spoil=_shop("depth = 19", "depth = 40"), code="S007", names=("part.mandolin.layers.PICKUPS", "40")
    ),
    "no outline layer": Case(
        spoil=_shop('BODY = "outline"', 'BODY = "cutout"'),
        code="S005",
        names=("part.mandolin.layers", "outline"),
    ),
    "no bed": Case(
        spoil=_all(
            _shop(SHOP[SHOP.index("[bed.bench]") : SHOP.index("[part.")], ""), _shop('bed = "bench"\n', "")
        ),
        code="S014",
        names=("shop.toml", "[bed.NAME]"),
    ),
    "keep-out crosses itself": Case(
        spoil=_shop("rectangle = [0, 380, 60, 400]", "polygon = [[0, 0], [10, 10], [10, 0], [0, 10]]"),
        code="S013",
        names=("bed.bench.keep_out[1].polygon, line 16",),
    ),
    "keep-out without a place": Case(
        spoil=_shop("rectangle = [0, 380, 60, 400]", ""),
        code="S005",
        names=("bed.bench.keep_out[1]", "rectangle"),
    ),
    # rack
    "rack without thickness": Case(
        spoil=_rack("thickness", "tickness"), code="R002", names=("rack.csv", "thickness", "'tickness'")
    ),
    "length column twice": Case(
        spoil=_rack("length,width", "length,length_mm"), code="R002", names=("rack.csv", "'length_mm'")
    ),
    "piece outline of arcs": Case(
        spoil=_rack(
            "POLYGON ((0 0, 520 0, 520 320, 0 340, 0 0))", "CURVEPOLYGON ((0 0, 520 0, 520 320, 0 0))"
        ),
        code="R008",
        names=("rack.csv", "row 3", "CURVEPOLYGON"),
    ),
    "piece hole of two points": Case(
        spoil=_rack("0 340, 0 0))", "0 340, 0 0), (10 10, 20 10))"), code="R008", names=("rack.csv", "row 3")
    ),
    "piece too long to compute": Case(
        spoil=_rack("44.5,500,330", "44.5,12500,330"),
        code="R008",
        names=("rack.csv", "row 2", "at most 10 m", "12500"),
    ),
    "defect smaller than anything": Case(
        spoil=_bytes("defects.csv", b"piece,kind,x,y,diameter\nM1,knot,100,100,1e-320\n"),
        code="F005",
        names=("defects.csv", "row 2", "1e-320"),
    ),
    "piece of a length beyond all numbers": Case(
        spoil=_rack("44.5,500,330", "44.5,1e308,330"), code="R005", names=("rack.csv", "row 2")
    ),
    "drawn far from the origin": Case(
        spoil=_dxf(lambda doc: [e.translate(20_000, 0, 0) for e in doc.modelspace()]),
        code="D023",
        names=("mandolin.dxf", "origin"),
    ),
    "piece twice": Case(spoil=_rack("C1,", "M1,"), code="R006", names=("rack.csv", "row 4", "'M1'", "row 2")),
    "piece without a name": Case(
        spoil=_rack("M1,", ","), code="R005", names=("rack.csv", "row 2, column piece")
    ),
    "length of nothing": Case(
        spoil=_rack("500,330", "0,330"),
        code="R005",
        names=("row 2, column length", "the length is 0", "write the true"),
    ),
    "length negative": Case(
        spoil=_rack("500,330", "-500,330"), code="R005", names=("row 2, column length", "-500")
    ),
    "length is a word": Case(
        spoil=_rack("500,330", "long,330"), code="R005", names=("row 2, column length", "'long'")
    ),
    "length missing": Case(
        spoil=_rack("500,330", ",330"), code="R007", names=("rack.csv", "row 2, column length")
    ),
    "length and outline": Case(
        spoil=_rack('1 3/4 in,,,"POLY', '1 3/4 in,500,330,"POLY'),
        code="R007",
        names=("row 3, column outline", "a size and an outline"),
    ),
    "decimal comma unquoted": Case(
        spoil=_rack("M1,sugar maple,44.5,500,330,,0,8,1,", "M1,sugar maple,44,5,500,330,,0,8,1,7"),
        code="R004",
        names=("rack.csv", "row 2", "quotes"),
    ),
    "outline crosses itself": Case(
        spoil=_rack("520 0, 520 320, 0 340", "520 320, 520 0, 0 340"),
        code="R008",
        names=("row 3, column outline",),
    ),
    "outline is no polygon": Case(
        spoil=_rack("POLYGON ((0 0, 520 0, 520 320, 0 340, 0 0))", "POINT (0 0)"),
        code="R008",
        names=("row 3, column outline", "POINT"),
    ),
    "outline misspelt": Case(
        spoil=_rack("POLYGON ((0 0,", "POLYGON ((0 O,"),
        code="R008",
        names=("row 3, column outline", "POLYGON"),
    ),
    "seam outside": Case(
        spoil=_rack("0 160, 520 160", "0 160, 620 160"), code="R009", names=("row 3, column seams", "seam 1")
    ),
    "seam is a polygon": Case(
        spoil=_rack("LINESTRING (0 160, 520 160)", "POLYGON ((0 0, 1 0, 1 1, 0 0))"),
        code="R009",
        names=("row 3, column seams", "LINESTRING"),
    ),
    "count of none": Case(
        spoil=_rack("0,8,1,", "0,8,0,"), code="R005", names=("row 2, column count", "the count cannot be 0")
    ),
    "moisture over 100": Case(
        spoil=_rack("0,8,1,", "0,800,1,"), code="R005", names=("row 2, column moisture", "800")
    ),
    "status unknown": Case(
        spoil=_all(
            _rack("count,seams", "count,status"),
            _rack("0,8,1,", "0,8,1,redy"),
            _rack('"LINESTRING (0 160, 520 160)"', ""),
        ),
        code="R005",
        names=("row 2, column status", "'redy'", "write ready"),
    ),
    "rack drawing missing": Case(
        spoil=_rack('"POLYGON ((0 0, 520 0, 520 320, 0 340, 0 0))"', "sink.dxf"),
        code="D001",
        names=("rack.csv", "row 3, column outline", "sink.dxf"),
    ),
    "rack drawing without that layer": Case(
        spoil=_rack('"POLYGON ((0 0, 520 0, 520 320, 0 340, 0 0))"', "mandolin.dxf#BODI"),
        code="D005",
        names=("row 3, column outline", "'BODI'", "'BODY'?"),
    ),
    # defects
    "defect of an unknown piece": Case(
        spoil=_defects("C1,", "C2,"), code="F006", names=("defects.csv", "row 3, column piece", "'C2'")
    ),
    "defect of an unknown kind": Case(
        spoil=_defects("knot", "knto"), code="F005", names=("row 2, column kind", "did you mean 'knot'?")
    ),
    "defect outside the piece": Case(
        spoil=_defects("40,40,12", "4000,40,12"),
        code="F009",
        names=("defects.csv", "row 2", "outside M1", "4000"),
    ),
    "defect without a size": Case(
        spoil=_defects("40,40,12", "40,40,"), code="F007", names=("defects.csv", "row 2")
    ),
    "defect without a place": Case(
        spoil=_defects("40,40,12", ",40,12"), code="F005", names=("row 2, column x",)
    ),
    "defect with a wrong face": Case(
        spoil=_defects("top,10", "upper,10"), code="F005", names=("row 3, column face", "'upper'")
    ),
    "defect through with depth": Case(
        spoil=_defects("through,", "through,5"), code="F005", names=("row 2, column face",)
    ),
    # drawings
    "drawing empty": Case(spoil=_bytes("mandolin.dxf", b""), code="D001", names=("mandolin.dxf", "empty")),
    "drawing is junk": Case(
        spoil=_bytes("mandolin.dxf", bytes(range(256)) * 9), code="D001", names=("mandolin.dxf",)
    ),
    "drawing is a PDF": Case(spoil=_bytes("mandolin.dxf", b"%PDF-1.7\n..."), code="D001", names=("a PDF",)),
    "drawing is a DWG": Case(spoil=_bytes("mandolin.dxf", b"AC1032\x00\x00"), code="D001", names=("DWG",)),
    "drawing damaged beyond repair": Case(
        spoil=_bytes("mandolin.dxf", b"  0\nSECTION\n  2\nENTITIES\n  0\nLINE\nx\ny\n"),
        code="D001",
        names=("mandolin.dxf", "damaged"),
    ),
    "drawing without unit": Case(
        spoil=_dxf(_no_unit),
        code="D003",
        names=("mandolin.dxf", "no unit", "drawing_units", "part mandolin"),
    ),
    "drawing with an unknown unit": Case(spoil=_dxf(_odd_unit), code="D003", names=("mandolin.dxf", "99")),
    "units disagree": Case(
        spoil=_all(_dxf(_inches), _shop("thickness = 40", 'thickness = 40\ndrawing_units = "mm"')),
        code="D004",
        names=("mandolin.dxf", "inches", "mm", "remove drawing_units"),
    ),
    "layer missing": Case(
        spoil=_shop("PICKUPS =", "PICKUP ="), code="D005", names=("mandolin.dxf", "'PICKUP'", "write PICKUPS")
    ),
    "outline open": Case(
        spoil=_dxf(_without_last_line),
        code="D007",
        names=("mandolin.dxf", "layer BODY, LINE", "from x 0, y 0 mm to x 0, y 240 mm"),
    ),
    "outline crosses itself in a drawing": Case(
        spoil=_dxf(_on("lwpolyline", "PICKUPS", [(10, 10), (50, 50), (50, 10), (10, 50)], close=True)),
        code="D008",
        names=("layer PICKUPS, LWPOLYLINE", "at x 30, y 30 mm"),
    ),
    "pockets cross each other": Case(
        spoil=_dxf(_on("circle", "PICKUPS", (180, 120), 20)),
        code="D008",
        names=("layer PICKUPS", "LWPOLYLINE"),
    ),
    "lines branch": Case(
        spoil=_dxf(_on("line", "BODY", (400, 0), (450, -20))),
        code="D011",
        names=("layer BODY, LINE", "at x 400, y 0 mm"),
    ),
    "outline within the outline": Case(
        spoil=_dxf(_on("circle", "BODY", (50, 50), 10)),
        code="D010",
        names=("layer BODY", "CIRCLE", "at x 40, y 50"),
    ),
    "two outlines": Case(
        spoil=_dxf(_on("circle", "BODY", (900, 50), 60)),
        code="D019",
        names=("layer BODY", "CIRCLE", "2 outlines beside each other", "120 x 120 mm"),
    ),
    "pocket outside": Case(
        spoil=_dxf(_on("circle", "PICKUPS", (900, 50), 10)),
        code="D020",
        names=("layer PICKUPS, CIRCLE", "outside"),
    ),
    "line in the air": Case(spoil=_dxf(_in_the_air), code="D015", names=("layer BODY, LINE", "25")),
    "circle on edge": Case(
        spoil=_dxf(_on_edge),
        code="D015",
        names=("layer PICKUPS, CIRCLE", "plane"),
    ),
    "a solid on a used layer": Case(
        spoil=_dxf(_on("3dface", "PICKUPS", [(0, 0), (9, 0), (9, 9)])),
        code="D017",
        names=("layer PICKUPS, 3DFACE",),
    ),
    "block missing": Case(
        spoil=_dxf(_on("blockref", "PICKUPS", "KNOB", (60, 60))),
        code="D018",
        names=("layer PICKUPS, INSERT", "'KNOB'"),
    ),
    "circle without radius": Case(
        spoil=_dxf(_on("circle", "PICKUPS", (60, 60), 0)),
        code="D025",
        names=("layer PICKUPS, CIRCLE", "radius"),
    ),
}
