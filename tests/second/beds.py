"""How blanks lie on beds: travel, table, keep-outs, the figures told, and a cheap search against "does not fit"."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from shapely import affinity
from shapely.geometry import box
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from . import shapes
from .shapes import TOL
from .told import Findings, Laid


def check(laid: Laid, out: Findings) -> None:
    """Check all setups of a layout, and the choice among them."""
    layout, told = laid.layout, laid.told
    allowed = allowed_beds(laid)
    asked = [(bed, along) for bed in allowed for along in ("x", "y")]
    given = [(s["bed"], s["along"]) for s in layout["setups"]]
    out.expect(given == asked, "beds", laid.name, f"answers for {given}, the orders allow {asked}")
    for setup in layout["setups"]:
        where = f"{laid.name} on {setup['bed']} along {setup['along']}"
        if setup["bed"] not in told.beds:
            out.expect(False, "beds", where, "no such bed")
            continue
        one(laid, setup, told.beds[setup["bed"]], where, out)
    chosen = layout["chosen"]
    if chosen is None:
        out.expect(
            not any(s["fits"] for s in layout["setups"]), "chosen", laid.name, "a setup fits, none is chosen"
        )
        return
    if not 0 <= chosen < len(layout["setups"]):
        out.expect(False, "chosen", laid.name, f"no setup {chosen}")
        return
    best = layout["setups"][chosen]
    out.expect(
        best["fits"] or bool(best.get("sections")), "chosen", laid.name, "the chosen setup does not fit"
    )
    rejected = [
        n
        for notice in told.plan.get("notices", [])
        if notice.get("code") == "P030" and notice["blank"] == laid.name and notice["detail"] == "setup"
        for n in notice.get("names", [])
    ]
    first = next((s["bed"] for s in layout["setups"] if s["fits"] and s["bed"] not in rejected), best["bed"])
    out.expect(
        best["bed"] == first or bool(layout.get("passed_over")),
        "chosen",
        laid.name,
        f"{best['bed']} chosen, {first} takes it too and stands first",
    )


def allowed_beds(laid: Laid) -> list[str]:
    """Return the beds that every order on the blank allows, in file order."""
    named = [set(laid.told.orders[p["order"]].get("beds") or laid.told.beds) for p in laid.placements]
    return [b for b in laid.told.beds if all(b in n for n in named)]


def on_bed(shape: BaseGeometry, at: Mapping[str, Any]) -> BaseGeometry:
    return shapes.lay(shape, at["turned_deg"], False, at["x_mm"], at["y_mm"])


def over(lo: float, hi: float, table: list[float], axis: str, ends: list[str]) -> bool:
    """Return whether a stretch of the blank lies on the table, or hangs over open ends only."""
    low = lo >= table[0] - TOL or f"{axis}-" in ends
    return low and (hi <= table[1] + TOL or f"{axis}+" in ends)


def one(laid: Laid, setup: Mapping[str, Any], bed: Mapping[str, Any], where: str, out: Findings) -> None:
    """Check one setup."""
    turned = setup["turned_deg"] % 360.0
    square = (0.0, 180.0) if setup["along"] == "x" else (90.0, 270.0)
    out.expect(turned in square, "turn", where, f"turned by {turned} degrees")
    path = laid.cut_out
    x0, y0, x1, y1 = reached(laid, path, setup["turned_deg"], False, setup["x_mm"], setup["y_mm"])
    for axis, size in (("x", x1 - x0), ("y", y1 - y0)):
        needs, travel = setup[f"needs_{axis}_mm"], bed[f"travel_{axis}_mm"]
        out.expect(abs(needs - size) < 0.02, "needs", where, f"{needs} along {axis}, it is {size:.4f}")
        spare = setup[f"spare_{axis}_mm"]
        out.expect(abs(spare - (travel - needs)) < 0.002, "spare", where, f"{spare} along {axis}")
    codes = {r["code"] for r in setup.get("refusals", [])}
    out.expect(setup["fits"] == (not codes), "refusals", where, f"fits {setup['fits']}, refused for {codes}")
    if setup["fits"]:
        bad = stands(laid, path, setup, bed, setup["turned_deg"], setup["x_mm"], setup["y_mm"])
        out.expect(not bad, "on the bed", where, bad)
        loose(laid, path, setup, bed, where, out)
        out.expect(not setup.get("sections"), "sections", where, "sections of a blank that fits in one go")
    else:
        refuted(laid, path, setup, bed, where, out)
        for r in setup["refusals"]:
            if r["code"] == "travel short":
                needs = setup[f"needs_{r['axis']}_mm"]
                right = abs(r["needs_um"] / 1000 - needs) < 0.002 and needs > bed[f"travel_{r['axis']}_mm"]
                out.expect(right, "refusals", where, f"travel along {r['axis']} is not short")
        sections(laid, path, setup, bed, where, out)


def reached(
    laid: Laid, path: BaseGeometry, turned: float, mirrored: bool, x: float, y: float
) -> tuple[float, float, float, float]:
    """Return the travel that is used: a radius beyond outlines, and as far within zones that run out over the edge."""
    r = laid.told.cutter / 2
    boxes = [shapes.lay(path, turned, mirrored, x, y).bounds]
    boxes = [(a - r, b - r, c + r, d + r) for a, b, c, d in boxes]
    if not laid.over.is_empty:
        a, b, c, d = shapes.lay(laid.over, turned, mirrored, x, y).bounds
        boxes.append((a + r, b + r, c - r, d - r))
    lo = [min(b[i] for b in boxes) for i in (0, 1)]
    hi = [max(b[i] for b in boxes) for i in (2, 3)]
    return lo[0], lo[1], hi[0], hi[1]


def stands(
    laid: Laid,
    path: BaseGeometry,
    setup: Mapping[str, Any],
    bed: Mapping[str, Any],
    turned: float,
    x: float,
    y: float,
    mirrored: bool = False,
) -> str:
    """Return what is wrong with a blank lying there, or ``""``."""
    cut, wood = shapes.lay(path, turned, mirrored, x, y), shapes.lay(laid.wood, turned, mirrored, x, y)
    x0, y0, x1, y1 = reached(laid, path, turned, mirrored, x, y)
    lx, ly = bed["travel_x_mm"], bed["travel_y_mm"]
    if x0 < -TOL or x1 > lx + TOL or y0 < -TOL or y1 > ly + TOL:
        return f"the cutter's middle goes from {x0:.3f}, {y0:.3f} to {x1:.3f}, {y1:.3f}"
    deepest = max((laid.told.parts[p["part"]]["thickness_mm"] for p in laid.placements), default=0.0)
    if bed.get("travel_z_mm") is not None and deepest > bed["travel_z_mm"] + TOL:
        return f"cut {deepest} mm deep, Z goes {bed['travel_z_mm']} mm"
    return wood_stands(laid, wood, bed) or cutter_clear(laid, cut, bed)


def wood_stands(laid: Laid, wood: BaseGeometry, bed: Mapping[str, Any]) -> str:
    """Return what is wrong with wood lying there, or ``""``."""
    ends = bed.get("open_ends", [])
    x0, y0, x1, y1 = wood.bounds
    for axis, lo, hi in (("x", x0, x1), ("y", y0, y1)):
        if not over(lo, hi, bed[f"table_{axis}_mm"], axis, ends):
            return (
                f"the blank lies from {lo:.3f} to {hi:.3f} along {axis}, the table {bed[f'table_{axis}_mm']}"
            )
    for block in bed.get("keep_outs", []):
        if block.get("blocks", "both") != "cutter":
            shared = wood.buffer(-TOL).intersection(shapes.of_outline(block["outline"])).area
            if shared > 0.02:
                return f"the blank lies in keep-out {block['name']} by {shared:.2f} mm2"
    return ""


def cutter_clear(laid: Laid, cut: BaseGeometry, bed: Mapping[str, Any]) -> str:
    """Return which keep-out the cutter enters on its way around what is cut, or ``""``."""
    for block in bed.get("keep_outs", []):
        if block.get("blocks", "both") != "blank":
            off = shapes.of_outline(block["outline"]).distance(cut)
            if off < laid.told.cutter - TOL:
                return f"the cutter enters keep-out {block['name']}: {off:.3f} mm from what is cut"
    return ""


def loose(
    laid: Laid,
    path: BaseGeometry,
    setup: Mapping[str, Any],
    bed: Mapping[str, Any],
    where: str,
    out: Findings,
) -> None:
    """Laid off its place by what is told, in any direction, it still does."""
    by = setup.get("clearance_mm", 0.0)
    if by <= 0.0:
        return
    for dx, dy in ((by, 0), (-by, 0), (0, by), (0, -by), (by * 0.7, by * 0.7), (-by * 0.7, -by * 0.7)):
        bad = stands(laid, path, setup, bed, setup["turned_deg"], setup["x_mm"] + dx, setup["y_mm"] + dy)
        out.expect(not bad, "clearance", where, f"off by {dx:.3f}, {dy:.3f}: {bad}")


def refuted(
    laid: Laid,
    path: BaseGeometry,
    setup: Mapping[str, Any],
    bed: Mapping[str, Any],
    where: str,
    out: Findings,
) -> None:
    """Look on a grid for a place on a bed that is told not to take the blank."""
    for turned in (0.0, 180.0) if setup["along"] == "x" else (90.0, 270.0):
        x0, y0, x1, y1 = reached(laid, path, turned, False, 0, 0)
        xs, ys = (-x0, bed["travel_x_mm"] - x1), (-y0, bed["travel_y_mm"] - y1)
        if xs[0] > xs[1] or ys[0] > ys[1]:
            continue
        n = 7
        for i in range(n):
            for j in range(n):
                x, y = xs[0] + (xs[1] - xs[0]) * i / (n - 1), ys[0] + (ys[1] - ys[0]) * j / (n - 1)
                if not stands(laid, path, setup, bed, turned, x, y):
                    # well inside only: what fits by a hair is not held against the plan
                    near = ((0.01, 0), (-0.01, 0), (0, 0.01), (0, -0.01))
                    if sum(not stands(laid, path, setup, bed, turned, x + a, y + b) for a, b in near) >= 3:
                        out.expect(False, "does not fit", where, f"it does at {turned}, {x:.3f}, {y:.3f}")
                        return
    out.expect(True, "does not fit", where, "")


def sections(
    laid: Laid,
    path: BaseGeometry,
    setup: Mapping[str, Any],
    bed: Mapping[str, Any],
    where: str,
    out: Findings,
) -> None:
    """What is told to be cut in sections lies within reach in each, and all of it is cut."""
    told = setup.get("sections", [])
    if not told:
        return
    r, axis = laid.told.cutter / 2, setup["in_sections"]["axis"]
    done = []
    for k, section in enumerate(told):
        here = f"{where} section {k + 1}"
        wood, cut = on_bed(laid.wood, section), on_bed(path, section)
        bad = wood_stands(laid, wood, bed)
        out.expect(not bad, "sections", here, bad)
        a, b = section["from_mm"], section["to_mm"]
        x0, y0, x1, y1 = cut.bounds
        strip = box(a, y0 - 1, b, y1 + 1) if axis == "x" else box(x0 - 1, a, x1 + 1, b)
        within = cut.intersection(strip)
        if within.is_empty:
            out.expect(False, "sections", here, "nothing of a part is cut in it")
            continue
        u0, v0, u1, v1 = within.bounds
        right = (
            u0 - r >= -TOL
            and v0 - r >= -TOL
            and u1 + r <= bed["travel_x_mm"] + TOL
            and v1 + r <= bed["travel_y_mm"] + TOL
        )
        out.expect(
            right, "sections", here, f"from {u0:.2f}, {v0:.2f} to {u1:.2f}, {v1:.2f} is beyond the travel"
        )
        bad = cutter_clear(laid, within, bed)
        out.expect(not bad, "sections", here, bad)
        c, s = shapes.turn(section["turned_deg"])
        home = affinity.translate(within, -section["x_mm"], -section["y_mm"])
        done.append(affinity.affine_transform(home, [c, s, -s, c, 0, 0]))
    missing = path.difference(unary_union(done).buffer(0.01)).area
    out.expect(missing < 0.05, "sections", where, f"{missing:.2f} mm2 of the parts are cut in none")
