"""Further mistakes in tables and drawings, found by a stranger: rows for `scripts/mistakes.py`."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import ezdxf
from ezdxf.document import Drawing

B1 = "B-1,A1,sugar maple,44.5,640,180,"
HEAD = "piece,shelf,species,thickness_mm,length_mm,width_mm,outline_mm,"
TAPER = '"POLYGON ((0 0, 700 0, 660 170, 0 210))"'
KNOT = "B-1,knot,600,150,22,"
NOTE = "a plain board: length along the grain and width across it"

#: (what, file, old, new, place, remedy)
TABLES: tuple[tuple[str, ...], ...] = (
    ("lumber in quarters in a shop in mm", "rack.csv", B1, B1.replace("44.5", "8/4"), "row 4", "write 8/4 in"),
    ("ditto mark", "rack.csv", "A1,black cherry", "A1,″", "row 5, column species", "out: sugar maple"),
    ("ditto mark as a quote", "rack.csv", "A1,black cherry", 'A1,"', "line 5", "write the words out"),
    ("about", "rack.csv", B1, B1.replace("640", "ca. 640"), "row 4, column length_mm", "write 640 alone"),
    (
        "heading of inches in a shop in mm",
        "rack.csv",
        "length_mm,",
        "length inches,",
        "row 3",
        "rename it length_in",
    ),
    ("heading with a dot", "rack.csv", "thickness_mm", "thickness (in.)", "row 3", "rename it thickness_in"),
    ("size in the outline column", "rack.csv", TAPER, "700 x 210", "row 6", "write 700 under length_mm and 210"),
    ("tape: widths without places", "rack.csv", TAPER, '"widths 210, 200, 170"', "row 6", "widths 0: 210, 350: 200"),
    (
        "tape: commas forgotten",
        "rack.csv",
        TAPER,
        '"sides 700 172 660 210 1-3 720"',
        "row 6",
        "write sides 700, 172, 660, 210, 1-3 720",
    ),
    (
        "tape: diagonal misread by a meter",
        "rack.csv",
        TAPER,
        '"sides 700, 172, 660, 210, 1-3 1720"',
        "row 6",
        "(870 mm at most); measure 1-3 again",
    ),
    ("measured from the other end", "defects.csv", KNOT, KNOT.replace("600", "40 from right"), "row 4, column x_mm", "write 600"),
    ("hole of a bolt", "defects.csv", KNOT, KNOT.replace("knot", "hole"), "row 4, column kind", "drilled hole"),
    (
        "decimal commas",
        "rack.csv",
        "44.5,640,180,,0,8,1,ready,,a plain board: length along the grain and width across it\nB-2,A1,black cherry,45,",
        '"44,5",640,180,,0,8,1,ready,,a plain board\nB-2,A1,black cherry,"45,0",',
        "row 4, column thickness_mm",
        'under [shop] write decimal = "comma"',
    ),
)  # fmt: skip


def _with_column(folder: Path) -> None:
    """Put a column into the header and one row only."""
    lines = (folder / "rack.csv").read_text().replace("outline_mm,", "outline_mm,edges,").splitlines()
    lines[3] = lines[3].replace("180,,0", "180,,live far,0")
    (folder / "rack.csv").write_text("\n".join(lines) + "\n")


def _with_flaws(cell: str) -> Callable[[Path], None]:
    """Give the first piece a flaw in a column of that name."""

    def change(folder: Path) -> None:
        text = (folder / "rack.csv").read_text()
        text = text.replace("seams_mm,note", "seams_mm,note,flaws").replace(NOTE, f'{NOTE},"{cell}"')
        (folder / "rack.csv").write_text(text)

    return change


def _drawn(change: Callable[[Drawing], None]) -> Callable[[Path], None]:
    """Change the drawing of the part."""

    def run(folder: Path) -> None:
        doc = ezdxf.readfile(folder / "lap-steel.dxf")
        change(doc)
        doc.saveas(folder / "lap-steel.dxf")

    return run


def _frame(doc: Drawing) -> None:
    corners = [(-70, -100), (630, -100), (630, 100), (-70, 100)]
    doc.modelspace().add_lwpolyline(corners, close=True, dxfattribs={"layer": "OUTLINE"})


def _loose(gap_mm: float) -> Callable[[Drawing], None]:
    """Explode the outline; leave the longest line out, or end it short."""

    def change(doc: Drawing) -> None:
        outline = doc.modelspace().query('LWPOLYLINE[layer=="OUTLINE"]').first
        outline.explode()
        lines = doc.modelspace().query('LINE[layer=="OUTLINE"]')
        longest = max(lines, key=lambda e: e.dxf.start.distance(e.dxf.end))
        if not gap_mm:
            doc.modelspace().delete_entity(longest)
        else:
            whole = longest.dxf.end - longest.dxf.start
            longest.dxf.end = longest.dxf.end - whole.normalize(gap_mm)

    return change


def _all_on_0(doc: Drawing) -> None:
    for entity in doc.modelspace():
        entity.dxf.layer = "0"


def _points(doc: Drawing) -> None:
    for circle in doc.modelspace().query("CIRCLE"):
        doc.modelspace().add_point(circle.dxf.center, dxfattribs={"layer": "POSTS"})
        doc.modelspace().delete_entity(circle)


def _in_units(code: int) -> Callable[[Drawing], None]:
    def change(doc: Drawing) -> None:
        doc.header["$INSUNITS"] = code

    return change


def _scaled(doc: Drawing) -> None:
    from ezdxf.math import Matrix44

    for entity in doc.modelspace():
        entity.transform(Matrix44.scale(0.1, 0.1, 0.1))


def _half(folder: Path) -> None:
    data = (folder / "lap-steel.dxf").read_bytes()
    at = data.index(b"LINE", data.index(b"ENTITIES"))
    (folder / "lap-steel.dxf").write_bytes(data[: at + 60])


#: (what, what is done, file, place, remedy, how)
CHANGED: tuple[tuple[str, str, str, str, str, Callable[[Path], None]], ...] = (
    (
        "column added, not in every row",
        "edges added in rows 3 and 4 only",
        "rack.csv",
        "row 5",
        "put an empty cell under edges",
        _with_column,
    ),
    (
        "flaws parted by commas",
        "flaws: small knot at 120, 50, check at 300, 20",
        "rack.csv",
        "row 4, column flaws",
        "small knot at 120, 50; small check at 300, 20",
        _with_flaws("small knot at 120, 50, check at 300, 20"),
    ),
    (
        "flaw without a size",
        "flaws: knot at 120, 50",
        "rack.csv",
        "row 4, column flaws",
        "write small knot at 120, 50",
        _with_flaws("knot at 120, 50"),
    ),
    (
        "border frame on the outline layer",
        "a rectangle 700 x 200 around the part, layer OUTLINE",
        "lap-steel.dxf",
        "layer OUTLINE",
        "if the larger is a frame, delete it",
        _drawn(_frame),
    ),
    (
        "one line of the outline deleted",
        "the outline as lines and arcs, one line gone",
        "lap-steel.dxf",
        "layer OUTLINE",
        "draw the missing line",
        _drawn(_loose(0.0)),
    ),
    (
        "a gap in the outline",
        "one line 1.5 mm short",
        "lap-steel.dxf",
        "layer OUTLINE",
        "join the ends",
        _drawn(_loose(1.5)),
    ),
    (
        "everything on layer 0",
        "all entities on layer 0",
        "lap-steel.dxf",
        "lap-steel.dxf",
        "layers of their own: OUTLINE, PICKUP, POSTS and CENTER",
        _drawn(_all_on_0),
    ),
    (
        "holes drawn as points",
        "three points on POSTS",
        "lap-steel.dxf",
        "layer POSTS",
        "draw each hole as a circle",
        _drawn(_points),
    ),
    (
        "drawing in mm saved as inches",
        "$INSUNITS 1",
        "lap-steel.dxf",
        "lap-steel.dxf",
        'write drawing_units = "mm" and overrule_drawing = true',
        _drawn(_in_units(1)),
    ),
    (
        "drawn at 1:10",
        "all scaled by 0.1",
        "lap-steel.dxf",
        "lap-steel.dxf",
        "check scale and unit of the drawing",
        _drawn(_scaled),
    ),
    (
        "drawing without a unit",
        "$INSUNITS 0",
        "lap-steel.dxf",
        "lap-steel.dxf",
        'write drawing_units = "mm"',
        _drawn(_in_units(0)),
    ),
    (
        "drawing copied only half",
        "the end is missing",
        "lap-steel.dxf",
        "lap-steel.dxf",
        "save or copy it again",
        _half,
    ),
)
#: A row of the shop file that only the drawing makes wrong.
SHOP = (
    (
        "center line given the role hole",
        "shop.toml",
        'CENTER = "center_line"',
        'CENTER = "hole"',
        "@",
        'write "center_line" or "ignore"',
    ),
)
