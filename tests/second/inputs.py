"""What a plan says of its shop, held against the shop's own files: TOML, tables, drawings."""

from __future__ import annotations

import csv
import hashlib
import re
import tomllib
from collections import Counter
from fractions import Fraction
from pathlib import Path
from typing import Any

import ezdxf
import ezdxf.path
from shapely.geometry import Polygon

from . import shapes
from .told import Findings, Told

UNITS = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, '"': 25.4, "ft": 304.8}
VULGAR = {"½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8"}


def length(text: Any, unit: float) -> float | None:
    """Read a length as README tells; None for what is none."""
    if isinstance(text, int | float) and not isinstance(text, bool):
        return float(text) * unit
    if not isinstance(text, str) or not text.strip():
        return None
    for mark, plain in VULGAR.items():
        text = text.replace(mark, " " + plain)
    total, found = 0.0, False
    pattern = r"(?:(\d+)[ -]+)?(\d+/\d+|\d*\.?\d+)\s*(mm|cm|m|in|ft|\")?"
    for whole, number, name in re.findall(pattern, text.strip()):
        value = float(Fraction(number)) + (float(whole) if whole else 0.0)
        total, found = total + value * (UNITS[name] if name else unit), True
    return total if found else None


def check(told: Told, folder: Path, out: Findings) -> None:
    """Compare the shop inside the plan with its folder."""
    for name, digest in told.shop.get("files", {}).items():
        path = folder / name
        same = path.is_file() and hashlib.sha256(path.read_bytes()).hexdigest() == digest
        out.expect(same, "files", name, "is not the file that the plan was made from")
    text = tomllib.loads((folder / "shop.toml").read_text(encoding="utf-8-sig"))
    unit = 25.4 if text["shop"]["units"] == "in" else 1.0
    settings(told, text, unit, out)
    beds(told, text, unit, out)
    parts(told, text, unit, folder, out)
    orders(told, text, out)
    rack(told, text, unit, folder, out)


SETTINGS = (
    ("cutter", "diameter", "cutter_diameter_mm", None),
    ("allowance", "blank_margin", "blank_margin_mm", 6.35),
    ("allowance", "jointing", "jointing_mm", 0.8),
    ("allowance", "planing", "planing_mm", 0.8),
    ("allowance", "most_planed_away", "most_planed_away_mm", 12.0),
    ("allowance", "thickness_tolerance", "thickness_tolerance_mm", 0.15),
    ("allowance", "measured", "measured_mm", 0.0),
    ("leftover", "shortest", "leftover_shortest_mm", 200.0),
    ("leftover", "narrowest", "leftover_narrowest_mm", 50.0),
)


def settings(told: Told, text: dict, unit: float, out: Findings) -> None:
    for section, key, name, default in SETTINGS:
        own = length(text.get(section, {}).get(key), unit)
        own = default if own is None else own
        given = told.settings.get(name, default)
        out.expect(
            abs(given - own) < 1e-6, "settings", f"{section}.{key}", f"{given}, the shop file says {own}"
        )
    own = length(text.get("allowance", {}).get("between_parts"), unit)
    given = told.settings.get("between_parts_mm")
    same = own is given or (own is not None and given is not None and abs(own - given) < 1e-6)
    out.expect(same, "settings", "allowance.between_parts", f"{given}, the shop file says {own}")
    for section, key, name, default in (
        ("glueup", "least_piece_width", "least_piece_width_mm", 40.0),
        ("glueup", "hole_clearance", "hole_clearance_mm", 3.0),
        ("glueup", "sliver", "sliver_mm", 20.0),
        ("holding", "defect_clearance", "defect_clearance_mm", 5.0),
        ("holding", "edge_clearance", "edge_clearance_mm", 6.0),
        ("holding", "tab_width", "tab_width_mm", 8.0),
        ("machines", "saw_kerf", "saw_kerf_mm", 3.2),
        ("machines", "saw_tolerance", "saw_tolerance_mm", 0.5),
        ("glueup", "seam_tolerance", "seam_tolerance_mm", 0.3),
        ("holding", "flip_tolerance", "flip_tolerance_mm", 0.15),
    ):
        own = length(text.get(section, {}).get(key), unit)
        given = told.rule(section, name, default)
        own = default if own is None else own
        out.expect(
            abs(given - own) < 1e-6, "settings", f"{section}.{key}", f"{given}, the shop file says {own}"
        )
    for section, key, default in (
        ("glueup", "most_pieces", 4),
        ("glueup", "moisture_difference", 2.0),
        ("glueup", "mixed_species", False),
        ("glueup", "rules", "strict"),
        ("glueup", "most_layers", 1),
        ("holding", "tabs", 4),
    ):
        own, given = text.get(section, {}).get(key, default), told.rule(section, key, default)
        out.expect(given == own, "settings", f"{section}.{key}", f"{given}, the shop file says {own}")
    own = text.get("leftover", {}).get("worth", 0.5)
    out.expect(
        told.settings.get("leftover_worth", 0.5) == own, "settings", "leftover.worth", f"it says {own}"
    )


def beds(told: Told, text: dict, unit: float, out: Findings) -> None:
    out.expect(list(text.get("bed", {})) == list(told.beds), "beds", "shop.toml", "other beds")
    for name, own in text.get("bed", {}).items():
        bed = told.beds.get(name)
        if bed is None:
            continue
        for axis in "xy":
            travel = length(own[f"travel_{axis}"], unit)
            given = bed[f"travel_{axis}_mm"]
            out.expect(abs(given - travel) < 1e-6, "beds", name, f"travel {given}, it is {travel}")
            table = own.get(f"table_{axis}")
            table = [length(v, unit) for v in table] if table else [0.0, travel]
            given = bed[f"table_{axis}_mm"]
            near = all(abs(a - b) < 1e-6 for a, b in zip(given, table))
            out.expect(near, "beds", name, f"table {given}, it is {table}")
        z = length(own.get("travel_z"), unit)
        given = bed.get("travel_z_mm")
        out.expect(
            (z is None) == (given is None) and abs((z or 0) - (given or 0)) < 1e-6, "beds", name, "travel_z"
        )
        pin = length(own.get("pin_diameter", 0), unit)
        out.expect(abs(bed.get("pin_diameter_mm", 0.0) - pin) < 1e-6, "beds", name, "pin_diameter")
        out.expect(
            sorted(own.get("open_ends", [])) == sorted(bed.get("open_ends", [])), "beds", name, "open_ends"
        )
        blocks = own.get("keep_out", [])
        out.expect(len(blocks) == len(bed.get("keep_outs", [])), "beds", name, "other keep-outs")
        for b, given in zip(blocks, bed.get("keep_outs", [])):
            if "rectangle" in b:
                x0, y0, x1, y1 = (length(v, unit) for v in b["rectangle"])
                shape = Polygon([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])
            else:
                shape = Polygon([tuple(length(v, unit) for v in p) for p in b["polygon"]])
            off = shape.symmetric_difference(shapes.of_outline(given["outline"])).area
            same = off < 1e-3 and b.get("blocks", "both") == given.get("blocks", "both")
            out.expect(same, "beds", name, f"keep-out {given['name']} is another")


def parts(told: Told, text: dict, unit: float, folder: Path, out: Findings) -> None:
    out.expect(list(text.get("part", {})) == list(told.parts), "parts", "shop.toml", "other parts")
    for name, own in text.get("part", {}).items():
        part = told.parts.get(name)
        if part is None:
            continue
        thick = length(own["thickness"], unit)
        out.expect(
            abs(part["thickness_mm"] - thick) < 1e-6, "parts", name, f"thickness {part['thickness_mm']}"
        )
        grain = own.get("grain", 0.0)
        grain = None if grain == "none" else float(grain)
        out.expect(part.get("grain_deg", 0.0) == grain, "parts", name, f"grain {part.get('grain_deg')}")
        for key, field, default in (
            ("grain_tolerance", "grain_tolerance_deg", 5),
            ("mirrored", "mirrored", "no"),
            ("show_face", "show_face", "either"),
            ("fill_limit", "fill_limit_ml", None),
            ("glue", "glue", True),
            ("tolerates", "tolerates", {}),
        ):
            given, wanted = part.get(field, default), own.get(key, default)
            out.expect(given == wanted, "parts", name, f"{key} {given}, the shop file says {wanted}")
        cap = length(own.get("cap_thickness"), unit) or 0.0
        out.expect(abs(part.get("cap_mm", 0.0) - cap) < 1e-6, "parts", name, f"cap {part.get('cap_mm')}")
        woods = own.get("cap", [])
        woods = [woods] if isinstance(woods, str) else woods
        out.expect(len(part.get("cap", [])) == len(set(woods)), "parts", name, f"cap {part.get('cap')}")
        layers = {k.upper(): v for k, v in own.get("layers", {}).items()}
        drawing(told, part, own, layers, text, unit, folder, out)
        roles = Counter(v if isinstance(v, str) else v["role"] for v in layers.values())
        told_roles = {z["role"] for z in part.get("zones", [])}
        out.expect(told_roles <= set(roles), "parts", name, f"zones {told_roles}, layers {set(roles)}")
        for zone in part.get("zones", []):
            layer = layers.get(zone["name"].partition("#")[0].upper())
            out.expect(layer is not None, "parts", name, f"no layer for {zone['name']}")
            if isinstance(layer, dict):
                depth = length(layer.get("depth"), unit)
                given = zone.get("depth_mm")
                same = (depth is None) == (given is None) and abs((depth or 0) - (given or 0)) < 1e-6
                out.expect(same, "parts", name, f"{zone['name']}: depth {given}, it is {depth}")
                same = zone.get("tolerates", {}) == layer.get("tolerates", {})
                out.expect(same, "parts", name, f"{zone['name']}: tolerates")
                if depth is not None:
                    same = zone.get("face") == layer.get("face", "front")
                    out.expect(same, "parts", name, f"{zone['name']}: face {zone.get('face')}")


def drawing(
    told: Told, part: dict, own: dict, layers: dict, text: dict, unit: float, folder: Path, out: Findings
) -> None:
    """The outline has the extent of what is drawn on its layer, and its area where it is one closed polyline."""
    doc = ezdxf.readfile(folder / own["drawing"])
    names = {4: "mm", 1: "in", 5: "cm", 6: "m", 2: "ft"}
    said = names.get(doc.header.get("$INSUNITS", 0))
    if own.get("overrule_drawing"):
        said = own["drawing_units"]
    said = said or own.get("drawing_units") or text["shop"].get("drawing_units")
    if said is None:
        return
    per = UNITS[said]
    layer = next(
        (k for k, v in layers.items() if v == "outline" or (isinstance(v, dict) and v["role"] == "outline")),
        None,
    )
    drawn = [e for e in doc.modelspace() if e.dxf.layer.upper() == layer]
    if not drawn or any(e.dxftype() == "INSERT" for e in drawn):
        return
    paths = [ezdxf.path.make_path(e) for e in drawn]
    points = [p for path in paths for p in path.flattening(0.002 / per, segments=16)]
    x0, x1 = min(p.x for p in points) * per, max(p.x for p in points) * per
    y0, y1 = min(p.y for p in points) * per, max(p.y for p in points) * per
    shape = shapes.of_outline(part["outline"])
    off = max(abs(a - b) for a, b in zip(shape.bounds, (x0, y0, x1, y1)))
    out.expect(off < 0.15, "drawings", part["name"], f"the outline's extent is {off:.3f} mm off its drawing")
    if len(drawn) == 1 and drawn[0].dxftype() in ("LWPOLYLINE", "CIRCLE") and paths[0].is_closed:
        area = shapes.of_entity(drawn[0], per).area
        right = abs(area - shape.area) < 0.05 + 2e-5 * area
        out.expect(right, "drawings", part["name"], f"{shape.area:.2f} mm2, the drawing has {area:.2f}")


def orders(told: Told, text: dict, out: Findings) -> None:
    own = text.get("order", [])
    out.expect(len(own) == len(told.orders), "orders", "shop.toml", "other orders")
    for n, (o, given) in enumerate(zip(own, told.orders.values()), 1):
        where = o.get("name", f"order {n}")
        same = given["part"] == o["part"] and given.get("count", 1) == o.get("count", 1)
        out.expect(
            same,
            "orders",
            where,
            f"{given['count']} {given['part']}, it says {o.get('count', 1)} {o['part']}",
        )
        out.expect(given.get("priority", 5) == o.get("priority", 5), "orders", where, "priority")
        done = o.get("done", False)
        out.expect(given.get("hold", False) == (o.get("hold", False) or done), "orders", where, "hold")
        out.expect(given.get("done", False) == done, "orders", where, "done")
        due = str(o["due"]) if "due" in o else None
        out.expect(given.get("due") == due, "orders", where, f"due {given.get('due')}, it says {due}")
        if "name" in o:
            out.expect(given["name"] == o["name"], "orders", where, f"is called {given['name']}")
        beds_ = o.get("bed", [])
        beds_ = [beds_] if isinstance(beds_, str) else beds_
        out.expect(
            sorted(given.get("beds", [])) == sorted(beds_), "orders", where, f"beds {given.get('beds')}"
        )


def table(path: Path, unit: float) -> list[tuple[int, dict[str, str], dict[str, float]]]:
    """Return rows with their number, cells by heading, and the unit of each heading."""
    text = path.read_text(encoding="utf-8-sig")
    lines = [line for line in text.splitlines() if line.strip() and not line.lstrip().startswith("#")]
    mark = max(",;\t", key=lines[0].count)
    rows = list(csv.reader(lines, delimiter=mark))
    head, units = [], {}
    for cell in rows[0]:
        name = cell.strip().lower().replace(" ", "_")
        plain, _, tail = name.rpartition("_")
        if tail in UNITS and plain:
            head.append(plain)
            units[plain] = UNITS[tail]
        else:
            head.append(name)
            units[name] = unit
    return [(n, dict(zip(head, row)), units) for n, row in enumerate(rows[1:], 2)]


def number(cells: dict[str, str], units: dict[str, float], key: str) -> float | None:
    return length(cells.get(key, ""), units.get(key, 1.0))


def rack(told: Told, text: dict, unit: float, folder: Path, out: Findings) -> None:
    """Rows of the rack: size, thickness, grain, count, status; flaws by piece, where and how large."""
    rows = table(folder / text["shop"]["rack"], unit)
    out.expect([c["piece"] for _, c, _ in rows] == list(told.pieces), "rack", "rack table", "other rows")
    for _, cells, units in rows:
        piece = told.pieces.get(cells["piece"])
        if piece is None:
            continue
        where = cells["piece"]
        thick = number(cells, units, "thickness")
        out.expect(
            abs(piece["thickness_mm"] - thick) < 1e-6, "rack", where, f"thickness {piece['thickness_mm']}"
        )
        out.expect(
            piece.get("count", 1) == int(cells.get("count") or 1),
            "rack",
            where,
            f"count {piece.get('count')}",
        )
        out.expect(piece.get("status", "ready") == (cells.get("status") or "ready"), "rack", where, "status")
        told_moist, moist = piece.get("moisture_pct"), cells.get("moisture", "").strip()
        out.expect(told_moist == (float(moist) if moist else None), "rack", where, f"moisture {told_moist}")
        grain = cells.get("grain", "").strip()
        if grain:
            wanted = None if grain == "none" else float(grain)
            out.expect(piece.get("grain_deg") == wanted, "rack", where, f"grain {piece.get('grain_deg')}")
        shape = shapes.region(piece["shape"])
        long, wide = number(cells, units, "length"), number(cells, units, "width")
        outline = cells.get("outline", "").strip()
        if not outline and long and wide:
            off = max(abs(a - b) for a, b in zip(shape.bounds, (0, 0, long, wide)))
            right = off < 0.002 and abs(shape.area - long * wide) < 1
            out.expect(right, "rack", where, f"{shape.bounds}, the row says {long} x {wide} mm")
        elif outline.upper().startswith("POLYGON"):
            own = polygon(outline, units["outline"])
            off = own.symmetric_difference(shape).area
            out.expect(off < 0.01 * own.length, "rack", where, f"{off:.2f} mm2 other than its outline")
    if text["shop"].get("defects"):
        flaws(told, table(folder / text["shop"]["defects"], unit), out)


def corner_of(text: str, unit: float) -> tuple[float, ...]:
    """Read x and y, plain numbers or lengths with fractions and units."""
    try:
        return tuple(float(v) * unit for v in text.split())
    except ValueError:
        return tuple(length(v, unit) or 0.0 for v in text.split())


def polygon(text: str, unit: float) -> Polygon:
    """Read the rings of a WKT polygon, closed or not."""
    rings = [
        [corner_of(corner, unit) for corner in ring.split(",")] for ring in re.findall(r"\(([^()]+)\)", text)
    ]
    return Polygon(rings[0], rings[1:]).buffer(0)


def flaws(told: Told, rows: list[tuple[int, dict[str, str], dict[str, float]]], out: Findings) -> None:
    """Each row of the defect table is a flaw of its piece, there and as large."""
    for n, cells, units in rows:
        piece = told.pieces.get(cells["piece"])
        if piece is None:
            continue
        where = f"defect row {n}"
        near = [d for d in piece.get("defects", []) if d["name"].endswith(f" row {n}")]
        if not near:
            same = [d for d in piece.get("defects", []) if d["kind"] == cells["kind"].strip()]
            out.expect(bool(same), "flaws", where, "is not in the plan")
            continue
        d, shape = near[0], shapes.region(near[0]["shape"])
        out.expect(d["kind"] == cells["kind"].strip(), "flaws", where, f"kind {d['kind']}")
        x, y = number(cells, units, "x"), number(cells, units, "y")
        size = number(cells, units, "diameter")
        whole = shapes.region(piece["shape"]).contains(shape)
        if x is not None and size and whole and "about" not in str(cells):
            middle = shape.centroid
            right = abs(middle.x - x) < 0.02 and abs(middle.y - y) < 0.02
            out.expect(right, "flaws", where, f"at {middle.x:.2f}, {middle.y:.2f}, the row says {x}, {y}")
            across = shape.bounds[2] - shape.bounds[0]
            out.expect(abs(across - size) < 0.01, "flaws", where, f"{across:.3f} mm, the row says {size}")
        depth, face = number(cells, units, "depth"), cells.get("face", "").strip() or "through"
        out.expect(
            d.get("face", "through") == face, "flaws", where, f"face {d.get('face')}, the row says {face}"
        )
        given = d.get("depth_mm")
        right = (depth is None) == (given is None) and abs((depth or 0) - (given or 0)) < 1e-6
        out.expect(right or face == "through", "flaws", where, f"depth {given}, the row says {depth}")
