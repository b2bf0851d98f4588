"""Facts of the work on the bed: positions, pins, screws, tabs, what holds each outline, steps."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from shapely import affinity
from shapely.geometry import LineString, Point
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from . import beds, shapes
from .shapes import TOL
from .told import SOUND, Findings, Laid


def check(laid: Laid, out: Findings) -> None:
    """Check the work plan of a layout."""
    work, chosen = laid.layout.get("work"), laid.layout["chosen"]
    out.expect((work is None) == (chosen is None), "work", laid.name, "work without a chosen setup, or none")
    if work is None or chosen is None or not 0 <= chosen < len(laid.layout["setups"]):
        return
    setup = laid.layout["setups"][chosen]
    bed = laid.told.beds[setup["bed"]]
    for what, names in (("pins", "pin"), ("hold_downs", "screw"), ("tabs", "tab")):
        told = [x["name"] for x in work.get(what, [])]
        out.expect(len(set(told)) == len(told), "names", laid.name, f"{names}s have names twice: {told}")
    positions(laid, work, setup, bed, out)
    for thing in [*work.get("pins", []), *work.get("hold_downs", [])]:
        fastener(laid, work, thing, bed, out)
    pins(laid, work, bed, out)
    tabs(laid, work, out)
    order(laid, work, setup, out)
    loose(laid, work, bed, setup, out)


def pose(shape: BaseGeometry, at: Mapping[str, Any]) -> BaseGeometry:
    return shapes.lay(shape, at["angle_deg"], at["mirrored"], at["x_mm"], at["y_mm"])


def positions(
    laid: Laid, work: Mapping[str, Any], setup: Mapping[str, Any], bed: Mapping[str, Any], out: Findings
) -> None:
    """Each position is that of the setup or section, turned over about the flip axis for the other face."""
    told = work.get("positions", [])
    names = [p["name"] for p in told]
    out.expect(names == [chr(65 + k) for k in range(len(told))], "positions", laid.name, f"named {names}")
    path = laid.cut_out
    sections = setup.get("sections", [])
    axis = work.get("flip_axis_mm")
    for at in told:
        where = f"{laid.name} position {at['name']}"
        out.expect(at["mirrored"] == (at["up"] == "bottom"), "positions", where, "turned over or not?")
        home = sections[at["section"] - 1] if at["section"] and at["section"] <= len(sections) else setup
        out.expect(bool(at["section"]) == bool(sections), "positions", where, "section of what has none")
        if at["up"] == "top":
            wanted = beds.on_bed(laid.wood, home)
        elif axis is not None and not sections:
            (ax, ay), (bx, by) = axis
            flat = abs(by - ay) <= abs(bx - ax)
            # turned over about the axis in the blank, then laid as the setup says; the setup may be another
            flipped = affinity.scale(laid.wood, 1 if flat else -1, -1 if flat else 1, origin=(ax, ay, 0))
            wanted = beds.on_bed(flipped, setup)
        else:
            wanted = None
        lies = pose(laid.wood, at)
        if wanted is not None and at["up"] == "top":
            off = lies.symmetric_difference(wanted).area
            out.expect(
                off < 0.01 * lies.length, "positions", where, f"the blank lies {off:.1f} mm2 elsewhere"
            )
        elif wanted is not None and not any(c["code"] == "flip off place" for c in work.get("cautions", [])):
            off = abs(lies.area - wanted.area) + lies.symmetric_difference(wanted).area
            out.expect(off < 0.01 * lies.length, "positions", where, f"turned over it lies {off:.1f} mm2 off")
        bad = beds.wood_stands(laid, lies, bed)
        out.expect(not bad, "positions", where, bad)
        if not sections:
            bad = beds.stands(laid, path, setup, bed, at["angle_deg"], at["x_mm"], at["y_mm"], at["mirrored"])
            out.expect(not bad, "positions", where, bad)
    faces = {z for p in laid.placements for _, _, z in laid.zones(p) if z != "through"}
    cut = {
        side
        for p in laid.placements
        for zone, _, side in laid.zones(p)
        if zone["role"] in ("pocket", "contour", "hole") and side != "through"
    }
    up = {p["up"] for p in told}
    refused = any(c["code"] == "sections flip blocked" for c in work.get("cautions", []))
    out.expect(cut <= up or refused, "positions", laid.name, f"cut from {cut} of {faces}, up are {up}")
    out.expect(bool(up), "positions", laid.name, "no position")
    out.expect((axis is not None) == ("bottom" in up), "flip axis", laid.name, f"{axis} with {up} up")
    square = work.get("square")
    if square is not None and told:
        edges = {e["edge"]: e for e in (laid.layout.get("inspection") or {}).get("edges", [])}
        out.expect(
            edges.get(square["edge"], {}).get("sound", True), "square", laid.name, "the edge is not sound"
        )
        x0, y0, x1, y1 = laid.wood.bounds
        ends = {
            "lower": ((x0, y0), (x1, y0)),
            "upper": ((x0, y1), (x1, y1)),
            "left": ((x0, y0), (x0, y1)),
            "right": ((x1, y0), (x1, y1)),
        }[square["edge"]]
        side = pose(LineString(ends), told[0])
        for end in (square["from_mm"], square["to_mm"]):
            off = side.distance(Point(end))
            out.expect(
                off < 0.02, "square", laid.name, f"{end} is {off:.2f} mm off the {square['edge']} edge"
            )
            wood = pose(laid.wood, told[0]).distance(Point(end))
            out.expect(wood < 0.6, "square", laid.name, f"{end} is {wood:.2f} mm off the wood")


def fastener(
    laid: Laid, work: Mapping[str, Any], thing: Mapping[str, Any], bed: Mapping[str, Any], out: Findings
) -> None:
    """A pin or screw stands in wood that stays, clear of cutter, edge and flaws, over the table."""
    where, r = f"{laid.name} {thing['name']}", thing["diameter_mm"] / 2
    middle = Point(thing["x_mm"], thing["y_mm"])
    edge = laid.wood.boundary.distance(middle) - r
    keep = laid.told.rule("holding", "edge_clearance_mm", 6.0)
    out.expect(laid.wood.contains(middle), "in the wood", where, "is not in the blank")
    out.expect(edge >= keep - 0.02, "edge clearance", where, f"{edge:.3f} mm to the edge, {keep} asked")
    for k, part in enumerate(laid.parts):
        off = part.boundary.distance(middle) - r
        inside = part.contains(middle)
        out.expect(
            off >= laid.told.cutter - 0.02, "clear of the cutter", where, f"{off:.3f} mm to outline {k + 1}"
        )
        if inside:
            hole = [
                shape
                for zone, shape, side in laid.zones(laid.placements[k])
                if side == "through" and zone["role"] in ("cutout", "hole") and shape.contains(middle)
            ]
            out.expect(bool(hole), "in the waste", where, f"stands in part {k + 1}")
            out.expect(thing.get("place") == "cutout", "in the waste", where, f"told in {thing.get('place')}")
            for shape in hole:
                off = shape.boundary.distance(middle) - r
                out.expect(
                    off >= laid.told.cutter - 0.02, "clear of the cutter", where, f"{off:.3f} in an opening"
                )
        else:
            for zone, shape, side in laid.zones(laid.placements[k]):
                if zone["role"] in ("pocket", "contour") and side != "through":
                    off = shape.intersection(part).distance(middle) - r
                    out.expect(off >= -0.02, "clear of the cutter", where, f"{off:.3f} mm to {zone['name']}")
    keep = laid.told.rule("holding", "defect_clearance_mm", 5.0)
    for defect in laid.blank.get("defects", []):
        if defect["kind"] not in SOUND:
            off = laid.flaw(defect)[0].distance(middle) - r
            out.expect(off >= keep - 0.02, "flaw clearance", where, f"{off:.3f} mm to {defect['name']}")
    inside = [
        x["name"]
        for x in laid.layout.get("leftovers", [])
        if x["usable"] and shapes.region(x["shape"]).buffer(r - 0.01).contains(middle)
    ]
    named = thing.get("leftover", "")
    out.expect(
        (named or None) in (inside or [None]), "hole in a leftover", where, f"told {named!r}, in {inside}"
    )
    for at in work.get("positions", []):
        if thing.get("sections") and at["section"] not in thing["sections"]:
            continue
        if "use" in thing and laid.layout["setups"][laid.layout["chosen"]].get("sections"):
            continue  # which holes are on pins in a section: ``table_pins``
        spot = pose(middle, at)
        x, y = bed["table_x_mm"], bed["table_y_mm"]
        right = x[0] - TOL <= spot.x - r and spot.x + r <= x[1] + TOL
        right = right and y[0] - TOL <= spot.y - r and spot.y + r <= y[1] + TOL
        if "use" in thing or not laid.layout["setups"][laid.layout["chosen"]].get("sections"):
            out.expect(right, "over the table", where, f"at {spot.x:.2f}, {spot.y:.2f} in {at['name']}")
            for block in bed.get("keep_outs", []):
                if block.get("blocks", "both") != "cutter":
                    off = shapes.of_outline(block["outline"]).distance(spot)
                    out.expect(off >= r - 0.02, "over the table", where, f"in keep-out {block['name']}")
    apart = [
        Point(o["x_mm"], o["y_mm"]).distance(middle) - r - o["diameter_mm"] / 2
        for o in [*work.get("pins", []), *work.get("hold_downs", [])]
        if o["name"] != thing["name"]
    ]
    out.expect(min(apart, default=1.0) > -TOL, "apart", where, "stands in another pin or screw")


def pins(laid: Laid, work: Mapping[str, Any], bed: Mapping[str, Any], out: Findings) -> None:
    """Each pin of the table carries a hole of the blank in every position."""
    holes = {p["name"]: p for p in work.get("pins", [])}
    at = work.get("positions", [])
    for hole in holes.values():
        right = abs(hole["diameter_mm"] - bed.get("pin_diameter_mm", 0.0)) < 1e-6
        out.expect(right, "pins", f"{laid.name} {hole['name']}", f"{hole['diameter_mm']} mm, not the bed's")
    for pin in work.get("table_pins", []):
        where = f"{laid.name} table pin {pin['name']}"
        out.expect(
            pin["diameter_mm"] == bed.get("pin_diameter_mm", 0.0), "pins", where, "not the bed's diameter"
        )
        out.expect(len(pin["holes"]) == len(at), "pins", where, "not a hole for each position")
        for name, position in zip(pin["holes"], at):
            if name not in holes:
                out.expect(False, "pins", where, f"no hole {name}")
                continue
            spot = pose(Point(holes[name]["x_mm"], holes[name]["y_mm"]), position)
            off = spot.distance(Point(pin["x_mm"], pin["y_mm"]))
            out.expect(off < 0.01, "pins", where, f"{name} is {off:.3f} mm off in {position['name']}")
        reach = 0 <= pin["x_mm"] <= bed["travel_x_mm"] and 0 <= pin["y_mm"] <= bed["travel_y_mm"]
        out.expect(reach or pin.get("by_hand", False), "pins", where, "beyond the travel, and not by hand")


def tabs(laid: Laid, work: Mapping[str, Any], out: Findings) -> None:
    """Tabs lie on the outline, lead outwards into wood of the blank that no part takes."""
    wanted = laid.told.rule("holding", "tabs", 4)
    width = laid.told.rule("holding", "tab_width_mm", 8.0)
    others = [p.buffer(0) for p in laid.parts]
    for tab in work.get("tabs", []):
        where = f"{laid.name} {tab['name']}"
        k = tab["placement"]
        if not 0 <= k < len(laid.parts):
            out.expect(False, "tabs", where, f"no placement {k}")
            continue
        spot = Point(tab["x_mm"], tab["y_mm"])
        off = laid.parts[k].boundary.distance(spot)
        out.expect(off < 0.03, "tabs", where, f"{off:.3f} mm off the outline")
        out.expect(abs(tab["width_mm"] - width) < 1e-6, "tabs", where, f"{tab['width_mm']} mm wide")
        c, s = shapes.turn(tab["angle_deg"])
        reach = laid.told.cutter + 0.2
        bridge = LineString([(spot.x + c * 0.1, spot.y + s * 0.1), (spot.x + c * reach, spot.y + s * reach)])
        out.expect(laid.wood.contains(bridge), "tabs", where, "leads out of the blank")
        out.expect(not any(o.intersects(bridge) for o in others), "tabs", where, "leads into a part")
    for k in range(len(laid.parts)):
        n = sum(t["placement"] == k for t in work.get("tabs", []))
        out.expect(n <= wanted, "tabs", f"{laid.name} part {k + 1}", f"{n} tabs, {wanted} wanted")


def order(laid: Laid, work: Mapping[str, Any], setup: Mapping[str, Any], out: Findings) -> None:
    """Every outline is cut once in a position, and held by the screws that are in one piece with its part then."""
    cuts = work.get("outlines", [])
    sections = bool(setup.get("sections"))
    known = {p["name"] for p in work.get("positions", [])}
    if not sections:
        told = sorted(h["placement"] for h in cuts)
        out.expect(told == list(range(len(laid.parts))), "outlines", laid.name, f"cut are {told}")
    screws = {h["name"]: h for h in work.get("hold_downs", [])}
    waste = laid.wood
    openings = [
        shape
        for p in laid.placements
        for zone, shape, side in laid.zones(p)
        if side == "through" and zone["role"] in ("cutout", "hole")
    ]
    waste = waste.difference(unary_union(openings)) if openings else waste
    for held in cuts:
        where = f"{laid.name} outline {held['placement'] + 1}"
        out.expect(held["position"] in known, "outlines", where, f"no position {held['position']}")
        out.expect(set(held["holds"]) <= set(screws), "outlines", where, f"no such screws: {held['holds']}")
        if sections or not 0 <= held["placement"] < len(laid.parts):
            continue
        part = laid.parts[held["placement"]]
        rest = [
            g
            for g in getattr(waste, "geoms", [waste])
            if g.intersects(part.buffer(-1.0) if part.area > 9 else part)
        ]
        together = unary_union(rest)
        name = {n for n, s in screws.items() if together.contains(Point(s["x_mm"], s["y_mm"]))}
        near = {n for n, s in screws.items() if together.boundary.distance(Point(s["x_mm"], s["y_mm"])) < 0.1}
        wrong = (set(held["holds"]) ^ name) - near
        out.expect(not wrong, "holds", where, f"told {sorted(held['holds'])}, it is {sorted(name)}")
        ring = part.buffer(laid.told.cutter, quad_segs=64).difference(part)
        waste = waste.difference(ring)
    steps(laid, work, sections, out)


def steps(laid: Laid, work: Mapping[str, Any], sections: bool, out: Findings) -> None:
    """Every zone that is cut is cut in a step, as deep as it is drawn, and every outline."""
    done: dict[tuple[int, str], list[Mapping[str, Any]]] = {}
    outlines = []
    for stage in work.get("stages", []):
        up = {p["name"]: p["up"] for p in work.get("positions", [])}.get(stage.get("position", ""))
        for step in stage["steps"]:
            if step["code"] in ("cut zone", "cut through"):
                for name in step["zones"]:
                    done.setdefault((step["placement"] - 1, name), []).append({**step, "up": up})
                out.expect(step["count"] == len(step["zones"]), "steps", laid.name, f"count {step['count']}")
            elif step["code"] == "cut outline":
                outlines.append(step["placement"] - 1)
    right = set(outlines) == set(range(len(laid.parts)))
    out.expect(right or sections, "steps", laid.name, f"outlines cut: {outlines}")
    for k, placement in enumerate(laid.placements):
        for zone, _, side in laid.zones(placement):
            if zone["role"] not in ("pocket", "contour", "cutout", "hole"):
                continue
            where = f"{laid.name} part {k + 1} {zone['name']}"
            found = done.get((k, zone["name"]), [])
            out.expect(bool(found) or sections, "steps", where, "is cut in no step")
            for step in found:
                if side != "through":
                    depth = step.get("depth_um", -1) / 1000
                    out.expect(abs(depth - zone["depth_mm"]) < 0.002, "steps", where, f"{depth} mm deep")
                    out.expect(step.get("up") == side, "steps", where, f"cut with the {step.get('up')} up")


def loose(
    laid: Laid, work: Mapping[str, Any], bed: Mapping[str, Any], setup: Mapping[str, Any], out: Findings
) -> None:
    """Off their place by what is told, blank and cut still lie on the bed in every position."""
    by = work.get("clearance_mm", 0.0)
    if by <= 0.0 or setup.get("sections"):
        return
    path = laid.cut_out
    for at in work.get("positions", []):
        for dx, dy in ((by, 0), (-by, 0), (0, by), (0, -by)):
            bad = beds.stands(
                laid, path, setup, bed, at["angle_deg"], at["x_mm"] + dx, at["y_mm"] + dy, at["mirrored"]
            )
            out.expect(not bad, "clearance", f"{laid.name} position {at['name']}", f"off by {by}: {bad}")
            for h in work.get("hold_downs", []):
                spot, r = pose(Point(h["x_mm"], h["y_mm"]), at), h["diameter_mm"] / 2
                x, y = bed["table_x_mm"], bed["table_y_mm"]
                right = x[0] - TOL <= spot.x + dx - r and spot.x + dx + r <= x[1] + TOL
                right = right and y[0] - TOL <= spot.y + dy - r and spot.y + dy + r <= y[1] + TOL
                out.expect(right, "clearance", f"{laid.name} {h['name']}", f"off by {by} it leaves the table")
