"""Figures on paper against the plan: sheets, tables, drawings, report and terminal of random shops.

    python scripts/audit_papers.py [--cases N] [--seed K] [--minutes M]
    python scripts/audit_papers.py --plan PLAN_FOLDER

Plans the random shops of `study_shops.py`, reads what was written (PDF text, CSV, DXF, HTML) and compares each figure with
the plan's facts, worked out with the audit's own geometry: nothing of `paperwork/` or `words/` is used. A figure may be off
by half of its last step: 0.1 mm or 1/64 in on rule and saw, 0.01 mm or 0.001 in for machine and depth (1/64 in where an inch
shop reads fractions); sizes of leftovers are rounded down. Counts figures compared and tells those that differ, with what stands beside them.
"""

from __future__ import annotations

import argparse
import contextlib
import csv
import html
import io
import math
import os
import re
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path
from types import SimpleNamespace

import ezdxf
import numpy as np
from pypdf import PdfReader
from study_shops import Maker

from nestyield.audit.curves import moved, points_of, region, unit
from nestyield.cli import main as command
from nestyield.model import Layout, Outline, Part, Placement, Plan, Zone
from nestyield.planfile.text import read

# Every run is worked out anew.
os.environ["NESTYIELD_ANSWERS"] = ""

_NUMBER = re.compile(r"[-\u2212]?(?:\d+ \d+/\d+|\d+/\d+|\d+(?:\.\d+)?)")


def value(text: str) -> float:
    """Return a figure as written: ``-12.5``, ``3 1/2``, ``7/8``."""
    text = text.strip().replace("\u2212", "-")
    sign = -1.0 if text.startswith("-") else 1.0
    total = 0.0
    for part in text.lstrip("-").split():
        top, _, bottom = part.partition("/")
        total += float(top) / float(bottom) if bottom else float(top)
    return sign * total


class Papers:
    """What one plan wrote, and the comparison.

    Parameters
    ----------
    folder : Path
        As ``nestyield plan --out`` left it.
    said : str
        What the terminal told.
    """

    def __init__(self, folder: Path, said: str = "") -> None:
        self.folder, self.said = folder, said
        self.plan: Plan = read((folder / "plan.json").read_bytes())[0]
        self.inch = self.plan.shop.units == "in"
        self.unit = 25.4 if self.inch else 1.0
        #: Half steps of each style, in mm, with the slack of a step's half.
        self.half = {
            "rule": 25.4 / 128 if self.inch else 0.05,
            "fine": 25.4 / 128 if self.inch else 0.005,
            "machine": 25.4 / 2000 if self.inch else 0.005,
        }
        self.count: Counter[str] = Counter()
        self.wrong: list[str] = []

    def reads(self, told: float, mm: float, style: str, share: float = 1.0) -> bool:
        """Tell whether a figure is a fact in mm in a style; sizes of wood that is kept are rounded down."""
        if style == "wood":
            return -0.0325 <= mm - told * self.unit <= 2 * self.half["rule"] + 0.0025
        slack = 0.0025 if style == "rule" else 0.0006
        return abs(told * self.unit - mm) <= self.half[style] * share + slack

    def same(
        self, paper: str, what: str, text: str, mm: float, style: str = "rule", share: float = 1.0
    ) -> None:
        """Compare a figure with a fact in mm."""
        self.count[paper] += 1
        if not text.strip() or not self.reads(value(text), mm, style, share):
            self.wrong.append(f"{paper}: {what} reads {text!r}, worked out {mm / self.unit:.4f}")

    def row(self, paper: str, where: str, head: str, expected: list[tuple[str, float] | str]) -> None:
        """Find a row that begins with ``head`` in a text, whose next words are what is expected, in order.

        A figure of an inch shop may be one word or two; each is tried.
        """
        best = ""
        for found in re.finditer(re.escape(head), where):
            miss = self._match(where[found.end() :].lstrip(), expected)
            if not miss:
                self.count[paper] += sum(not isinstance(e, str) for e in expected)
                return
            best = best or where[found.start() : found.end() + 90]
        self.count[paper] += 1
        told = [e if isinstance(e, str) else f"{e[1] / self.unit:.4f}" for e in expected]
        self.wrong.append(f"{paper}: no row {head!r} with {told}; found {best!r}")

    def _match(self, text: str, expected: list[tuple[str, float] | str]) -> bool:
        """Return whether a text does not begin with what is expected."""
        if not expected:
            return False
        first, *rest = expected
        if isinstance(first, str):
            return not text.startswith(first) or self._match(text[len(first) :].lstrip(" ,"), rest)
        style, mm = first
        for pattern in (r"[-\u2212]?\d+ \d+/\d+", r"[-\u2212]?(?:\d+/\d+|\d+(?:\.\d+)?)"):
            found = re.match(pattern, text)
            if found and self.reads(value(found[0]), mm, style):
                after = text[found.end() :].lstrip(" ,")
                if not self._match(after, rest):
                    return False
        return True

    def pdf(self, name: str) -> str:
        """Return the words of a PDF, one space between them."""
        pages = PdfReader(self.folder / "sheets" / name).pages
        return " ".join(" ".join(p.extract_text() for p in pages).split())

    def table(self, name: str) -> list[dict[str, str]]:
        """Return a table as records."""
        text = (self.folder / name).read_bytes().decode("utf-8-sig")
        return list(csv.DictReader(io.StringIO(text, newline="")))


def box(points: np.ndarray) -> tuple[float, float, float, float]:
    """Return the box around points."""
    return (*points.min(axis=0).tolist(), *points.max(axis=0).tolist())


def corner(layout: Layout) -> tuple[float, float]:
    """Return the datum corner of a blank."""
    x0, y0, _, _ = box(points_of(layout.blank.shape.outer))
    return x0, y0


def face(zone: Zone, placement: Placement) -> str:
    """Return the face of the wood that a zone is cut from."""
    if zone.depth_mm is None:
        return "through"
    return "top" if (zone.face == "front") == placement.front_up else "bottom"


def round_of(outline: Outline) -> tuple[float, float, float] | None:
    """Return middle and radius of an outline that is a circle."""
    points = points_of(outline)
    middle = np.array(box(points)).reshape(2, 2).mean(axis=0)
    reach = np.hypot(*(points - middle).T)
    is_round = np.ptp(reach) < 2e-3 and all(b for b in outline.bulges)
    return (float(middle[0]), float(middle[1]), float(reach.mean())) if is_round else None


def place(
    outline: Outline, move: Placement | None, datum: tuple[float, float]
) -> tuple[float, float, list[float]]:
    """Return left, bottom and sizes (one for what is round) as papers tell them."""
    points = points_of(outline)
    points = points if move is None else moved(points, move)
    x0, y0, x1, y1 = box(points)
    found = round_of(outline)
    if found is not None:
        return (x0 + x1) / 2 - datum[0], (y0 + y1) / 2 - datum[1], [2 * found[2]]
    return x0 - datum[0], y0 - datum[1], [x1 - x0, y1 - y0]


def on_bed(position: SimpleNamespace | object, x: float, y: float) -> tuple[float, float]:
    """Return where a point of the blank is on the bed."""
    z = complex(x, y)
    z = -z.conjugate() if position.mirrored else z
    z = z * unit(position.angle_deg) + complex(position.x_mm, position.y_mm)
    return z.real, z.imag


def tables(p: Papers) -> None:
    """Compare cuts, leftovers and seams."""
    u = p.plan.shop.units
    rows = iter(p.table("cuts.csv"))
    for layout in p.plan.layouts:
        dx, dy = corner(layout)
        for placement in layout.placements:
            row, part = next(rows), p.plan.shop.part(placement.part)
            x0, y0, x1, y1 = box(moved(points_of(part.outline), placement))
            where = f"{layout.blank.name} {part.name}"
            for key, mm in (
                ("left", x0 - dx),
                ("bottom", y0 - dy),
                ("across_x", x1 - x0),
                ("across_y", y1 - y0),
            ):
                p.same("cuts.csv", f"{where} {key}", row[f"{key}_{u}"], mm)
            p.same("cuts.csv", f"{where} thickness", row[f"part_thickness_{u}"], part.thickness_mm, "fine")
            turn = math.remainder(placement.angle_deg - float(row["turned_deg"]), 360.0)
            p.count["cuts.csv"] += 1
            if abs(turn) > 0.05 + 1e-6 or abs(float(row["turned_deg"])) > 180:
                p.wrong.append(f"cuts.csv: {where} turned {row['turned_deg']}, plan {placement.angle_deg}")
    rows = iter(p.table("leftovers.csv"))
    for layout in p.plan.layouts:
        for left in layout.leftovers:
            row = next(rows)
            for key, mm in (("length", left.rectangle_mm[2]), ("width", left.rectangle_mm[3])):
                if mm > 0.0 or row[f"{key}_{u}"]:  # no rectangle along the grain: an empty cell
                    p.same("leftovers.csv", left.name, row[f"{key}_{u}"], mm, "wood")
            square = 25.4**2 if p.inch else 100.0
            p.count["leftovers.csv"] += 1
            area = float(row["area_sq_in" if p.inch else "area_cm2"])
            if abs(area - left.area_mm2 / square) > 0.5 + 1e-6:
                p.wrong.append(f"leftovers.csv: {left.name} {area}, worked out {left.area_mm2 / square:.3f}")
    if (p.folder / "travel.csv").exists():
        rows = iter(p.table("travel.csv"))
        for layout in p.plan.layouts:
            for placement in layout.placements:
                x0, y0, x1, y1 = box(moved(points_of(p.plan.shop.part(placement.part).outline), placement))
                cutter = p.plan.shop.settings.cutter_diameter_mm
                need = (x1 - x0 + cutter, y1 - y0 + cutter)
                for sizes in (need, need[::-1]):
                    row = next(rows)
                    for axis, mm in zip("xy", sizes):
                        p.same("travel.csv", row["blank"], row[f"least_travel_{axis}_{u}"], mm, "machine")
    for row in p.table("seams.csv"):
        layout = next(x for x in p.plan.layouts if x.blank.name == row["blank"].removeprefix("'"))
        seam = next(s for s in layout.blank.seams if s.name == row["seam"])
        dx, dy = corner(layout)
        (ax, ay), (bx, by) = sorted((seam.line_mm[0], seam.line_mm[-1]))
        for key, mm in (("from_x", ax - dx), ("from_y", ay - dy), ("to_x", bx - dx), ("to_y", by - dy)):
            p.same("seams.csv", f"{row['blank']} {row['seam']} {key}", row[f"{key}_{u}"], mm)


def stems(p: Papers) -> list[str]:
    """Return the file stem of each blank's papers, in the order of the plan, from the report's links."""
    page = (p.folder / "report.html").read_text(encoding="utf-8")
    found = re.findall(r'href="drawings/([^"]+)\.dxf"', page)
    return [s for s in dict.fromkeys(found) if not s.endswith((".bottom", ".along-y"))]


def sheets(p: Papers) -> None:
    """Compare parts, pins and screws, pockets and holes, leftovers and spare travel on the shop's papers."""
    every = stems(p)
    asked = p.plan.shop.settings.paper
    for layout, stem in zip(p.plan.layouts, every):
        for paper in ("a4", "letter") if asked == "both" else (asked,):
            if not (p.folder / "sheets" / f"{stem}-{paper}.pdf").exists():
                # alike to another blank, whose sheet must name this one
                others = (s for s in every if (p.folder / "sheets" / f"{s}-{paper}.pdf").exists())
                p.count[f"{paper} sheet"] += 1
                if not any(f"{layout.blank.name} (" in p.pdf(f"{s}-{paper}.pdf") for s in others):
                    p.wrong.append(f"{paper} sheet: none for {layout.blank.name}")
                continue
            text = p.pdf(f"{stem}-{paper}.pdf")
            sheet(p, layout, text, f"{paper} sheet")


def sheet(p: Papers, layout: Layout, text: str, paper: str) -> None:
    """Compare one sheet."""
    dx, dy = datum = corner(layout)
    x0, y0, x1, y1 = box(points_of(layout.blank.shape.outer))
    species = layout.blank.species
    p.row(paper, text, f"{species},", [("rule", x1 - x0), "\u00d7", ("rule", y1 - y0)])
    several = len(layout.placements) > 1
    for k, placement in enumerate(layout.placements, start=1):
        part = p.plan.shop.part(placement.part)
        a0, b0, a1, b1 = box(moved(points_of(part.outline), placement))
        head = f"{k} {part.name} {placement.order}, copy {placement.copy}"
        sizes = [("rule", a1 - a0), "\u00d7", ("rule", b1 - b0)]
        p.row(paper, text, head, [("rule", a0 - dx), ("rule", b0 - dy), *sizes])
        zones(p, text, paper, part, placement, datum, f"{k} " if several else "")
    work = layout.work
    every = work.positions if work is not None else ()
    few = every if len(every) < 3 else ()
    if work is not None and layout.chosen is not None:
        initials = {**{pin.name: f"H{pin.name.split()[-1]}" for pin in work.pins}}
        initials |= {hold.name: f"S{hold.name.split()[-1]}" for hold in work.hold_downs}
        for item, kind in [(pin, pin.use) for pin in work.pins] + [(h, "screw") for h in work.hold_downs]:
            name = {"flip": "pin hole", "index": "index hole"}.get(kind, kind)
            if kind == "screw" and item.sections:
                many = "s" if len(item.sections) > 1 else ""
                name += f" (section{many} {' and '.join(str(n) for n in item.sections)})"
            head = f"{initials[item.name]} {name}"
            at: list[tuple[str, float] | str] = [("rule", item.x_mm - dx), ("rule", item.y_mm - dy)]
            at += ["head"] if kind == "screw" else []
            at.append(("rule", item.diameter_mm))
            found = re.search(re.escape(head) + r".*?(waste|leftover \w+|an opening)", text)
            at.append(found[1] if found else "waste")
            for position in few:
                if kind == "screw" and item.sections and position.section not in item.sections:
                    at.append("\u2013")
                    continue
                bx, by = on_bed(position, item.x_mm, item.y_mm)
                at += [("machine", bx), ("machine", by)]
            p.row(paper, text, head, at)
        for tab in work.tabs:
            head = f"T{tab.name.split()[-1]}" + (f", part {tab.placement + 1}" if several else "")
            p.row(paper, text, head, [("rule", tab.x_mm - dx), ("rule", tab.y_mm - dy)])
    for left in layout.leftovers:
        if left.usable:
            sizes = [("wood", left.rectangle_mm[2]), "\u00d7", ("wood", left.rectangle_mm[3])]
            p.row(paper, text, f"{left.name}", sizes)
    if layout.chosen is not None and layout.setups[layout.chosen].fits:
        setup = layout.setups[layout.chosen]
        spare(p, paper, text, setup.spare_x_mm, setup.spare_y_mm)


def zones(
    p: Papers,
    text: str,
    paper: str,
    part: Part,
    placement: Placement,
    datum: tuple[float, float],
    number: str,
) -> None:
    """Compare the rows of pockets and holes; rows that differ in one figure alone are one."""
    for zone in part.zones:
        if zone.shape is None or zone.role not in ("pocket", "contour", "cutout", "hole"):
            continue
        left, bottom, size = place(zone.shape.outer, placement, datum)
        head = f"{number}{zone.name.split('#')[0]} {zone.role} {face(zone, placement)}"
        depth: tuple[str, float] | str = "through" if zone.depth_mm is None else ("fine", zone.depth_mm)
        shape: list[tuple[str, float] | str] = ["\u00f8", ("rule", size[0])]
        if len(size) == 2:
            shape = [("rule", size[0]), "\u00d7", ("rule", size[1])]
        several = [z for z in part.zones if z.shape and z.name.split("#")[0] == zone.name.split("#")[0]]
        if len(several) == 1:
            p.row(paper, text, head, [depth, ("rule", left), ("rule", bottom), *shape])


def spare(p: Papers, paper: str, text: str, x_mm: float, y_mm: float) -> None:
    """Compare what is to spare: rounded down, so it may fall short by a whole step."""
    found = re.findall(
        rf"({_NUMBER.pattern}) (?:mm|in) to spare along X, ({_NUMBER.pattern}) (?:mm|in) along Y", text
    )
    p.count[paper] += 2
    step = 2 * p.half["rule"] + 0.0025
    if not any(
        -0.0025 <= x_mm - value(a) * p.unit <= step and -0.0025 <= y_mm - value(b) * p.unit <= step
        for a, b in found
    ):
        p.wrong.append(f"{paper}: to spare {found[:3]}, worked out {x_mm / p.unit:.4f}, {y_mm / p.unit:.4f}")


def drawings(p: Papers) -> None:
    """Compare boxes of blank and parts, pins, screws, pockets by face and depth, in both drawings."""
    for layout, stem in zip(p.plan.layouts, stems(p)):
        for over in (False, True):
            file = p.folder / "drawings" / f"{stem}{'.bottom' if over else ''}.dxf"
            if file.exists():
                drawing(p, layout, ezdxf.readfile(file), over)


def reflected(points: np.ndarray, layout: Layout, over: bool) -> np.ndarray:
    """Return points as they are in a drawing: from the datum corner, turned over for the bottom face."""
    datum = np.array(corner(layout))
    if not over:
        return points - datum
    a, b = (complex(*q) for q in layout.work.flip_axis_mm)
    along = (b - a) / abs(b - a)
    z = points[:, 0] + 1j * points[:, 1]
    z = a + along * ((z - a) / along).conjugate()
    return np.column_stack([z.real, z.imag]) - datum


def drawing(p: Papers, layout: Layout, doc: ezdxf.document.Drawing, over: bool) -> None:
    """Compare one drawing."""
    paper, space = "DXF", doc.modelspace()
    p.count[paper] += 1
    if doc.header["$INSUNITS"] != (1 if p.inch else 4):
        p.wrong.append(f"DXF: {layout.blank.name} $INSUNITS {doc.header['$INSUNITS']}")

    def outline(entity: object) -> np.ndarray:
        if entity.dxftype() == "CIRCLE":
            c, r = entity.dxf.center, entity.dxf.radius
            return np.array([[c.x - r, c.y - r], [c.x + r, c.y + r]]) * p.unit
        rows = list(entity.get_points("xyb"))
        made = Outline(
            points_mm=tuple((x * p.unit, y * p.unit) for x, y, _ in rows), bulges=tuple(b for *_, b in rows)
        )
        return points_of(made)

    def compare(what: str, layer: str, expected: list[np.ndarray]) -> None:
        drawn = sorted(box(outline(e)) for e in space if e.dxf.layer == layer and e.dxftype() != "TEXT")
        true = sorted(box(reflected(points, layout, over)) for points in expected)
        p.count[paper] += 4 * len(true)
        if len(drawn) != len(true):
            p.wrong.append(
                f"DXF: {layout.blank.name} {what}: {len(drawn)} on {layer}, worked out {len(true)}"
            )
            return
        rest = list(drawn)
        for one in true:
            near = min(rest, key=lambda other: max(abs(a - b) for a, b in zip(one, other)))
            if max(abs(a - b) for a, b in zip(one, near)) > 0.005:
                p.wrong.append(f"DXF: {layout.blank.name} {what} at {near}, worked out {one}")
            rest.remove(near)

    shape = layout.blank.shape
    compare("blank", "BLANK", [points_of(o) for o in (shape.outer, *shape.holes)])
    parts, by_layer = [], {}
    for placement in layout.placements:
        part = p.plan.shop.part(placement.part)
        parts.append(moved(points_of(part.outline), placement))
        for zone in part.zones:
            if zone.shape is None or zone.role not in ("pocket", "contour", "hole"):
                continue
            key = (zone.role.upper(), face(zone, placement).upper(), zone.depth_mm)
            by_layer.setdefault(key, []).extend(
                moved(points_of(o), placement) for o in (zone.shape.outer, *zone.shape.holes)
            )
    compare("parts", "PART", parts)
    for (role, side, depth), expected in by_layer.items():
        if depth is None:
            compare(role.lower(), f"{role} THROUGH", expected)
            continue
        names = [n.dxf.name for n in doc.layers if n.dxf.name.startswith(f"{role} {side} ")]
        near = [n for n in names if abs(float(n.split()[2]) * p.unit - depth) <= p.half["machine"] + 6e-4]
        p.count[paper] += 1
        if len(near) != 1:
            p.wrong.append(f"DXF: {layout.blank.name} {role} {side} {depth} is on {names}")
            continue
        compare(role.lower(), near[0], expected)
    work = layout.work
    if work is not None:
        cutter = p.plan.shop.settings.cutter_diameter_mm
        middles = []
        for tab in work.tabs:
            at = complex(tab.x_mm, tab.y_mm) + unit(tab.angle_deg) * cutter / 2
            middles.append(reflected(np.array([[at.real, at.imag]]), layout, over)[0])
        drawn = [outline(e).mean(axis=0) for e in space if e.dxf.layer == "TAB"]
        p.count[paper] += 2 * len(middles)
        if len(drawn) != len(middles) or any(
            min(np.hypot(*(one - other)) for other in drawn) > 0.005 for one in middles
        ):
            p.wrong.append(f"DXF: {layout.blank.name} TAB {drawn}, worked out {middles}")
        for layer, items in (("PIN", work.pins), ("HOLD DOWN", work.hold_downs)):
            rings = [np.array([[i.x_mm, i.y_mm]]) for i in items]
            compare_rings = [
                reflected(ring, layout, over) + np.array([[-1.0, -1.0], [1.0, 1.0]]) * i.diameter_mm / 2
                for ring, i in zip(rings, items)
            ]
            drawn = sorted(box(outline(e)) for e in space if e.dxf.layer == layer)
            true = sorted(box(r) for r in compare_rings)
            p.count[paper] += 4 * len(true)
            if len(drawn) != len(true) or any(
                min(max(abs(a - b) for a, b in zip(one, other)) for other in drawn) > 0.002 for one in true
            ):
                p.wrong.append(f"DXF: {layout.blank.name} {layer} {drawn}, worked out {true}")


def report(p: Papers) -> None:
    """Compare parts, spare travel, areas and shares in the report, and what the terminal told."""
    page = (p.folder / "report.html").read_text(encoding="utf-8")
    page = re.sub(r"<(svg|style)\b.*?</\1>", " ", page, flags=re.DOTALL)
    text = " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page)).replace("\u00a0", " ").split())
    for layout in p.plan.layouts:
        dx, dy = corner(layout)
        for k, placement in enumerate(layout.placements, start=1):
            part = p.plan.shop.part(placement.part)
            x0, y0, x1, y1 = box(moved(points_of(part.outline), placement))
            p.row(
                "report",
                text,
                f"{k} {part.name} {placement.order}",
                [*([f", copy {placement.copy}"] if f"{placement.order}, copy" in text else []),
                 ("rule", x0 - dx), ("rule", y0 - dy), ("rule", x1 - x0), "\u00d7", ("rule", y1 - y0)],
            )  # fmt: skip
        for setup in layout.setups:
            if setup.fits:
                spare(p, "report", text, setup.spare_x_mm, setup.spare_y_mm)
        if "to spare along X" in p.said and layout.chosen is not None and layout.setups[layout.chosen].fits:
            setup = layout.setups[layout.chosen]
            spare(p, "terminal", p.said, setup.spare_x_mm, setup.spare_y_mm)
    layouts = p.plan.layouts
    # What is sawn off one piece before the bed takes the whole piece, once.
    sawn = {name for sawing in p.plan.sawings for name in sawing.blanks}
    pieces = [p.plan.shop.piece(sawing.piece) for sawing in p.plan.sawings]
    areas = [region(piece.shape).area for piece in pieces]
    stock = sum(x.stock_area_mm2 for x in layouts if x.blank.name not in sawn) + sum(areas)
    if stock:
        share = 100 * sum(x.part_area_mm2 for x in layouts) / stock
        found = re.search(r"([\d.]+) % yield|yield ([\d.]+) %", text)
        p.count["report"] += 1
        if not found or abs(float(found[1] or found[2]) - share) > 0.0501:
            p.wrong.append(f"report: yield {found and found[0]}, worked out {share:.3f}")
        whole = sum(x.board_feet for x in layouts if x.blank.name not in sawn)
        whole += sum(a * piece.thickness_mm for a, piece in zip(areas, pieces)) / (144 * 25.4**3)
        feet = f"{whole:.2f}"
        p.count["report"] += 1
        if feet not in text:
            p.wrong.append(f"report: no board feet {feet}")


def check(folder: Path, said: str = "") -> Papers:
    """Return the comparison of all papers of a plan."""
    p = Papers(folder, said)
    for step in (tables, sheets, drawings, report):
        step(p)
    return p


def main() -> int:
    """Run the cases and print the table."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--cases", type=int, default=40)
    parser.add_argument("--seed", type=int, default=15)
    parser.add_argument("--minutes", type=float, default=1e9, help="no further shop after so long")
    parser.add_argument("--plan", type=Path, help="a plan's folder instead of random shops")
    args = parser.parse_args()
    if args.plan:
        p = check(args.plan)
        print(*p.wrong, sep="\n")
        print(dict(p.count), "wrong:", len(p.wrong))
        return 1 if p.wrong else 0
    count: Counter[str] = Counter()
    shops = blanks = wrong = 0
    started = time.monotonic()
    for k in range(args.cases):
        if time.monotonic() - started > 60 * args.minutes:
            break
        with tempfile.TemporaryDirectory() as scratch:
            shop, out = Path(scratch) / "shop", Path(scratch) / "plan"
            shop.mkdir()
            Maker(shop, np.random.default_rng([args.seed, k])).write()
            said = io.StringIO()
            with contextlib.redirect_stdout(said), contextlib.redirect_stderr(io.StringIO()):
                code = command(["plan", str(shop), "--out", str(out), "--workers", "1", "--verbose"])
            if code == 2:
                continue
            p = check(out, said.getvalue())
            shops, blanks, wrong = shops + 1, blanks + len(p.plan.layouts), wrong + len(p.wrong)
            count.update(p.count)
            for line in p.wrong[:8]:
                print(f"shop {k}: {line}", flush=True)
    for paper, n in sorted(count.items()):
        print(f"{n:7d}  {paper}")
    print(f"{shops} shops planned, {blanks} blanks, {sum(count.values())} figures, {wrong} differ")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
