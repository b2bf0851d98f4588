"""Counts, areas, board feet, money, aims: added up again from what the plan says of its blanks."""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from typing import Any

from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from . import shapes
from .told import Findings, Laid, Told

BOARD_FOOT = 144 * 25.4**3


def check(told: Told, laid: list[Laid], out: Findings) -> None:
    """Check what is told of the plan as a whole, then each layout's sums."""
    text = json.dumps(told.shop, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    right = hashlib.sha256(text.encode()).hexdigest() == told.plan["inputs_sha256"]
    if not right:
        text = json.dumps(told.shop, sort_keys=True, separators=(",", ":"))
        right = hashlib.sha256(text.encode()).hexdigest() == told.plan["inputs_sha256"]
    out.expect(right, "inputs", "plan", "inputs_sha256 is not that of the shop")
    for one in laid:
        sums(told, one, out)
        off_by(told, one, out)
    orders(told, laid, out)
    sets(told, laid, out)
    stock(told, laid, out)
    aims(told, laid, out)
    names = [x.name for x in laid]
    out.expect(len(set(names)) == len(names), "names", "plan", f"blanks have names twice: {names}")


def off_by(told: Told, one: Laid, out: Findings) -> None:
    """What is told of how far off a blank can be is as often there, and as much each time, as the shop says."""
    off = one.layout.get("off")
    if off is None:
        return
    members, layers = one.blank["members"], len(one.blank.get("stack", []))
    sawn = layers or any(m.get("cut") and not m.get("layer") for m in members)
    seam = told.rule("glueup", "seam_tolerance_mm", 0.3)
    work = one.layout.get("work") or {}
    codes = [s["code"] for stage in work.get("stages", []) for s in stage["steps"]]
    flip = told.rule("holding", "flip_tolerance_mm", 0.15)
    wanted = {
        "measured": max(told.pieces[m["piece"]].get("measured_mm", 0.0) for m in members),
        "saw cut": told.rule("machines", "saw_tolerance_mm", 0.5) if sawn else 0.0,
        "seam": seam * (len(one.blank["seams"]) if len(members) > 1 and not layers else 0),
        "layer": seam * max(0, layers - 1),
        "turned over": flip * sum(c in ("flip", "flip on pins") for c in codes),
        "moved on": flip * sum(c in ("move on", "turn end for end") for c in codes),
    }
    for name, total in wanted.items():
        have = sum(
            t["count"] * t["each_um"] for t in (*off["wood"], *off["positions"]) if t["source"] == name
        )
        right = abs(have - 1000 * total) < 1.0 * max(1, len(codes))
        out.expect(right, "off by", one.name, f"{name}: {have} um told, it is {1000 * total:.0f}")
    near = min((p.boundary.distance(one.wood.boundary) for p in one.parts), default=None)
    if near is not None:
        right = off["edge_um"] is not None and abs(off["edge_um"] - 1000 * near) < 60
        out.expect(right, "off by", one.name, f"an edge at {off['edge_um']} um, it is {near:.3f} mm")


def copies(laid: list[Laid]) -> Counter[str]:
    return Counter(p["order"] for x in laid for p in x.placements)


def orders(told: Told, laid: list[Laid], out: Findings) -> None:
    """Each order has one result, with the copies that are there, each numbered once."""
    results = told.plan["orders"]
    got = copies(laid)
    out.expect(
        [r["order"] for r in results] == list(told.orders), "orders", "plan", "not one result each, in order"
    )
    for r in results:
        wanted = told.orders.get(r["order"])
        if wanted is None:
            continue
        where = f"order {r['order']}"
        out.expect(r["count"] == wanted["count"], "orders", where, f"count {r['count']}")
        out.expect(
            r["placed"] == got[r["order"]],
            "orders",
            where,
            f"placed {r['placed']}, there are {got[r['order']]}",
        )
        out.expect(got[r["order"]] <= wanted["count"], "orders", where, "more than ordered")
        held = wanted.get("hold", False)
        out.expect(not held or not got[r["order"]], "orders", where, "is on hold")
        short = r["placed"] < r["count"]
        out.expect(
            short == bool(r["reasons"]), "orders", where, "reasons of what is met, or none of what is short"
        )
        numbers = sorted(p["copy"] for x in laid for p in x.placements if p["order"] == r["order"])
        out.expect(numbers == list(range(1, got[r["order"]] + 1)), "orders", where, f"copies {numbers}")
        notices = [
            n for n in told.plan.get("notices", []) if n["code"] == "P010" and n["order"] == r["order"]
        ]
        out.expect(
            len(notices) == (1 if short and not held else 0) or held,
            "orders",
            where,
            f"{len(notices)} notices",
        )
        for n in notices:
            right = n["missing"] == r["count"] - r["placed"] and n["count"] == r["count"]
            out.expect(right, "orders", where, "the notice has other numbers")
    for x in laid:
        for p in x.placements:
            o = told.orders.get(p["order"])
            out.expect(
                o is not None and o["part"] == p["part"], "orders", x.name, f"{p['part']} for {p['order']}"
            )


def sets(told: Told, laid: list[Laid], out: Findings) -> None:
    """Sets are whole, and of matching wood, in plans that keep nothing, where nothing of a set was cut before."""
    if any(n["code"] == "P091" for n in told.plan.get("notices", [])):
        return
    for name in {o["set"] for o in told.orders.values() if o.get("set")}:
        mine = [o for o in told.orders.values() if o.get("set") == name]
        each = {o["name"]: o.get("per_set", 1) for o in mine if not o.get("hold", False)}
        if any(o.get("hold") or o.get("cut_from") for o in mine):
            continue
        if len({o["count"] / each[o["name"]] for o in mine}) > 1:
            continue
        got = copies(laid)
        whole = {got[n] / k for n, k in each.items()}
        out.expect(len(whole) == 1 and whole.pop() % 1 == 0, "sets", name, f"not whole: {dict(got)}")
        matching = [o for o in mine if o.get("match")]
        woods: dict[str, Counter[str]] = {o["name"]: Counter() for o in matching}
        for x in laid:
            wood = wood_of(told, x, matching[0]["match"]) if matching else ""
            for p in x.placements:
                if p["order"] in woods:
                    woods[p["order"]][wood] += 1
        for wood in set().union(*woods.values()):
            even = {woods[n][wood] / each[n] for n in woods}
            out.expect(len(even) == 1 and "|" not in wood, "sets", name, f"does not match in {wood}")


def wood_of(told: Told, x: Laid, match: str) -> str:
    """Return the species, rows or boards that a blank is of."""
    found = set()
    for m in x.blank["members"]:
        piece = told.pieces[m["piece"]]
        board = piece.get("parent") or m["piece"]
        if match == "board" and not piece.get("parent") and piece.get("count", 1) > 1:
            board += f" {m['copy']}"
        found.add({"species": piece["species"], "row": m["piece"], "board": board}[match])
    return "|".join(sorted(found))


def piece_area(told: Told, name: str) -> float:
    return shapes.region(told.pieces[name]["shape"]).area


def feet(area: float, thick: float) -> float:
    return area * thick / BOARD_FOOT


def price(told: Told, species: str, shape_area: float, length: float, thick: float) -> float | None:
    """Return money a board foot of stock of some size, or None where the shop knows none."""
    s = told.settings
    table = s.get("value_per_board_foot", {})
    base = table.get(species, table.get(""))
    for c in s.get("value_classes", []):
        wide = shape_area / length if length else 0.0
        if c.get("species") and species not in c["species"]:
            continue
        if (
            length >= c.get("least_length_mm", 0)
            and wide >= c.get("least_width_mm", 0)
            and thick >= c.get("least_thickness_mm", 0)
        ):
            if c.get("per_board_foot") is not None:
                return c["per_board_foot"]
            return None if base is None else base * c.get("times", 1.0)
    return base


def piece_value(told: Told, name: str) -> float:
    """Return what one piece is worth: its row's value, else board feet by the table."""
    p = told.pieces[name]
    if p.get("value") is not None:
        return p["value"]
    shape = shapes.region(p["shape"])
    length = shapes.size_along(shape, p.get("grain_deg") or 0.0)[0]
    per = price(told, p["species"], shape.area, length, p["thickness_mm"])
    if not knows_money(told):
        return feet(shape.area, p["thickness_mm"])
    return 0.0 if per is None else per * feet(shape.area, p["thickness_mm"])


def knows_money(told: Told) -> bool:
    """Return whether any value is told; without one everything counts in board feet (README, joint_cost)."""
    s = told.settings
    rows = any(p.get("value") is not None for p in told.shop["pieces"])
    return bool(s.get("value_per_board_foot")) or rows or bool(s.get("value_classes"))


def shares(told: Told, one: Laid) -> list[tuple[dict, float]]:
    """Return the members with the share of their piece that the blank takes (1 unless cut)."""
    found = []
    for m in one.blank["members"]:
        whole = piece_area(told, m["piece"])
        cut = shapes.region(m["cut"]).area if m.get("cut") else whole
        found.append((m, cut / whole))
    return found


def sums(told: Told, one: Laid, out: Findings) -> None:
    """Areas, board feet and value of one layout."""
    y = one.layout
    area = sum(p.area for p in one.parts)
    right = abs(y["part_area_mm2"] - area) <= 0.5 + 2e-4 * area
    out.expect(right, "areas", one.name, f"parts told {y['part_area_mm2']:.1f}, are {area:.1f}")
    out.expect(
        y["usable_area_mm2"] <= y["stock_area_mm2"] + 1, "areas", one.name, "more comes back than is taken"
    )
    sawn = {b for s in told.plan.get("sawings", []) for b in s["blanks"]}
    strips = sum(
        s["area_mm2"]
        for m in (y.get("glueup") or {}).get("members", [])
        for s in m.get("strips", [])
        if s["usable"]
    )
    kept = sum(x["area_mm2"] for x in y.get("leftovers", []) if x["usable"]) + strips
    kept += sum(r["area_mm2"] for _, r in rests(y))
    right = abs(y["usable_area_mm2"] - kept) <= 1.0 + 1e-4 * kept
    out.expect(right, "areas", one.name, f"usable told {y['usable_area_mm2']:.1f}, are {kept:.1f}")
    strip_values(told, one, out)
    if one.name in sawn or any(m.get("cut") for m in one.blank["members"]):
        return
    stock = sum(piece_area(told, m["piece"]) for m in one.blank["members"])
    right = abs(y["stock_area_mm2"] - stock) <= 0.5 + 1e-4 * stock
    out.expect(right, "areas", one.name, f"stock told {y['stock_area_mm2']:.1f}, is {stock:.1f}")
    bf = sum(
        feet(piece_area(told, m["piece"]), told.pieces[m["piece"]]["thickness_mm"])
        for m in one.blank["members"]
    )
    out.expect(
        abs(y["board_feet"] - bf) <= 1e-4 + 1e-4 * bf, "board feet", one.name, f"told {y['board_feet']}, {bf}"
    )
    value = sum(piece_value(told, m["piece"]) for m in one.blank["members"])
    out.expect(
        abs(y["value"] - value) <= 0.005 + 1e-4 * value, "value", one.name, f"told {y['value']}, is {value}"
    )
    for x in y.get("leftovers", []):
        told_value = x.get("value", 0.0)
        out.expect(x["usable"] or told_value == 0.0, "value", f"{one.name} {x['name']}", "waste with a value")
        right = told_value <= value * (1 + 1e-6) + 1e-6
        out.expect(right, "value", f"{one.name} {x['name']}", f"{told_value}, the piece is {value}")
        if x["usable"] and len(one.blank["members"]) == 1 and not told.settings.get("value_classes"):
            thick = one.blank["thickness_mm"] if one.is_sheet else one.thickest
            piece = told.pieces[one.rows[0]]
            per = value / feet(piece_area(told, one.rows[0]), piece["thickness_mm"])
            wanted = per * feet(x["area_mm2"], thick)
            right = abs(told_value - wanted) <= 0.005 + 1e-3 * wanted
            out.expect(right, "value", f"{one.name} {x['name']}", f"told {told_value}, its share is {wanted}")


def strip_values(told: Told, one: Laid, out: Findings) -> None:
    """What is ripped off a board of a glue-up is worth its share of the board, by area; of a leaf by thickness too."""
    boards = (one.layout.get("glueup") or {}).get("members", [])
    for board, m in zip(boards, one.blank["members"]):
        for s in board.get("strips", []):
            where = f"{one.name} {board['letter']}"
            if not s["usable"]:
                out.expect(s["value"] == 0.0, "value", where, "a strip that is waste has a value")
                continue
            thick = told.pieces[m["piece"]]["thickness_mm"]
            leaf = m.get("layer")
            deep = (leaf["bottom_mm"] - leaf["top_mm"]) / thick if leaf else 1.0
            wanted = piece_value(told, m["piece"]) * deep * s["area_mm2"] / piece_area(told, m["piece"])
            classes = bool(told.settings.get("value_classes"))
            right = s["value"] <= wanted * (1 + 1e-3) + 0.005 and (
                classes or s["value"] >= wanted * (1 - 1e-3) - 0.005
            )
            out.expect(right, "value", where, f"a strip is told {s['value']}, its share is {wanted}")


def rests(layout: dict) -> list[tuple[dict, dict]]:
    """Return what is sawn off the pieces of a laminated blank and goes back, with the layer that it is off."""
    return [(x, r) for x in (layout.get("laminate") or {}).get("layers", []) for r in x["rests"]]


def ripped(layout: dict) -> list[tuple[dict, dict]]:
    """Return what is ripped off the boards of a glue-up and goes back, with its board."""
    boards = (layout.get("glueup") or {}).get("members", [])
    return [(m, s) for m in boards for s in m.get("strips", []) if s["usable"]]


def stock(told: Told, laid: list[Laid], out: Findings) -> None:
    """No copy of a row is used twice, none that is not there or not ready; members cut from one do not overlap."""
    used: dict[tuple[str, int], list[tuple[str, Any]]] = {}
    for one in laid:
        for m in one.blank["members"]:
            piece = told.pieces.get(m["piece"])
            out.expect(piece is not None, "stock", one.name, f"no row {m['piece']}")
            if piece is None:
                continue
            out.expect(
                piece.get("status", "ready") == "ready", "stock", one.name, f"{m['piece']} is not ready"
            )
            right = 1 <= m["copy"] <= piece.get("count", 1)
            out.expect(right, "stock", one.name, f"copy {m['copy']} of {piece.get('count', 1)} {m['piece']}")
            used.setdefault((m["piece"], m["copy"]), []).append((one.name, m.get("cut")))
    kerf = told.rule("machines", "saw_kerf_mm", 3.2)
    for (piece, copy), takers in used.items():
        if len(takers) == 1:
            continue
        where = f"{piece} copy {copy}"
        whole = [t for t in takers if t[1] is None]
        out.expect(not whole, "stock", where, f"taken whole more than once: {[t[0] for t in takers]}")
        cuts = [shapes.region(c) for _, c in takers if c]
        off = min((a.distance(b) for i, a in enumerate(cuts) for b in cuts[:i]), default=9e9)
        out.expect(off >= kerf - 0.01, "stock", where, f"cuts {off:.3f} mm apart, the kerf is {kerf}")
    own: BaseGeometry
    for one in laid:
        for m in one.blank["members"]:
            if m.get("cut") and m["piece"] in told.pieces:
                own = shapes.region(told.pieces[m["piece"]]["shape"])
                extra = shapes.region(m["cut"]).difference(own.buffer(0.006)).area
                out.expect(extra < 0.05, "stock", one.name, f"{extra:.3f} mm2 cut beside {m['piece']}")


def aims(told: Told, laid: list[Laid], out: Findings) -> None:
    """The aims are what the blanks come to; a bound is never beaten, and proven means reached."""
    got = copies(laid)
    y = [one.layout for one in laid]
    for aim in told.plan.get("objectives", []):
        where = f"aim {aim['goal']} {aim.get('orders', [])}"
        more = aim["goal"] == "copies"
        beaten = aim["value"] > aim["bound"] + 1e-3 if more else aim["value"] < aim["bound"] - 1e-3
        out.expect(not beaten, "aims", where, f"{aim['value']} beats its bound {aim['bound']}")
        same = abs(aim["value"] - aim["bound"]) <= 1e-3
        out.expect(
            aim["proven"] == same or not aim["proven"], "aims", where, "proven, but short of its bound"
        )
        if aim["goal"] == "copies":
            wanted = sum(got[o] for o in aim.get("orders", []))
            out.expect(
                abs(aim["value"] - wanted) < 1e-6, "aims", where, f"{aim['value']}, placed are {wanted}"
            )
            most = sum(told.orders[o]["count"] for o in aim.get("orders", []) if o in told.orders)
            out.expect(aim["bound"] <= most + 1e-6, "aims", where, f"bound {aim['bound']} of {most}")
        elif aim["goal"] == "seams":
            wanted = sum(s["length_mm"] for z in y for s in z.get("seams", []))
            out.expect(
                abs(aim["value"] - wanted) <= 1 + len(y), "aims", where, f"{aim['value']}, it is {wanted:.1f}"
            )
        elif aim["goal"] == "wood":
            if any(m.get("cut") for one in laid for m in one.blank["members"]):
                continue
            wanted = sum(used_up(told, one) for one in laid)
            out.expect(
                abs(aim["value"] - wanted) <= 0.02, "aims", where, f"{aim['value']}, it is {wanted:.4f}"
            )
        elif aim["goal"] == "value":
            money(told, laid, aim, where, out)


def used_up(told: Told, one: Laid) -> float:
    """Return board feet taken and not kept, leftovers at the thickness that they go back with."""
    y = one.layout
    thick = one.blank["thickness_mm"] if one.is_sheet else one.thickest
    kept = sum(x["area_mm2"] for x in y.get("leftovers", []) if x["usable"])
    off = sum(feet(r["area_mm2"], x["rough_mm"]) for x, r in rests(y))
    off += sum(feet(s["area_mm2"], m["rough_mm"]) for m, s in ripped(y))
    return y["board_feet"] - feet(kept, thick) - off


def money(told: Told, laid: list[Laid], aim: dict, where: str, out: Findings) -> None:
    """Value of what is taken, less what comes back as far as it counts, and joints."""
    if any(m.get("cut") for one in laid for m in one.blank["members"]) or told.settings.get("value_classes"):
        return
    worth = told.settings.get("leftover_worth", 0.5)
    face = told.rule("glueup", "layer_cost", 20.0)
    joint = told.rule("glueup", "joint_cost", 10.0)
    wanted = sum(
        one.layout["value"]
        - worth * sum(x.get("value", 0.0) for x in one.layout.get("leftovers", []))
        - worth * sum(r.get("value", 0.0) for _, r in rests(one.layout))
        - worth * sum(s["value"] for _, s in ripped(one.layout))
        + face * max(0, len(one.blank.get("stack", [])) - 1)
        + (0 if one.blank.get("stack") else joint * (len(one.blank["members"]) - 1))
        for one in laid
    )
    out.expect(
        abs(aim["value"] - wanted) <= 0.01 * (1 + len(laid)), "aims", where, f"{aim['value']}, it is {wanted}"
    )


def area_of(shapes_: list[BaseGeometry]) -> float:
    return unary_union(shapes_).area
