"""Claims of refusals and of play, held against cheap searches: a place where "no" is told, a stop where there is room."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union
from shapely.prepared import prep

from . import places, shapes
from .shapes import TOL
from .told import Findings, Laid, Told, may_be_of


def play(laid: Laid, rng: np.random.Generator, out: Findings) -> None:
    """Parts shifted to the ends of the told play keep margin, gap and flaws; turned to its ends they find a place."""
    rooms = laid.layout.get("rooms", [])
    refused = [
        n
        for n in laid.told.plan.get("notices", [])
        if n["code"] == "P030" and n["blank"] == laid.name and n["detail"] == "play"
    ]
    if not rooms:
        out.expect(bool(refused) or not laid.parts, "play", laid.name, "is not told")
        return
    indices = [r["placement"] for r in rooms]
    out.expect(indices == list(range(len(laid.parts))), "play", laid.name, f"of placements {indices}")
    for room in rooms:
        k = room["placement"]
        if not 0 <= k < len(laid.parts):
            continue
        where, at = f"{laid.name} part {k + 1}", laid.placements[k]
        inside = room["from_deg"] <= at["angle_deg"] + 1e-9 and at["angle_deg"] <= room["to_deg"] + 1e-9
        out.expect(
            inside, "play", where, f"lies at {at['angle_deg']}, told {room['from_deg']} to {room['to_deg']}"
        )
        allowed(laid, at, room, where, out)
        if room["slide"] is None:
            out.expect(room["along_mm"] == room["across_mm"] == 0, "play", where, "no slide, but a size")
            continue
        slide = shapes.region(room["slide"])
        grain = laid.blank["grain_deg"] or 0.0
        along, across = shapes.size_along(slide, grain)
        right = abs(along - room["along_mm"]) < 0.02 and abs(across - room["across_mm"]) < 0.02
        out.expect(
            right,
            "play",
            where,
            f"{room['along_mm']} x {room['across_mm']} told, it is {along:.3f} x {across:.3f}",
        )
        ends = shapes.ring(room["slide"]["outer"])
        n = min(len(ends), 24)
        for i in rng.choice(len(ends), n, replace=False):
            bad = moved(laid, k, affinity.translate(laid.parts[k], *ends[i]), ends[i])
            out.expect(not bad, "play", where, f"shifted by {ends[i][0]:.3f}, {ends[i][1]:.3f}: {bad}")
        for end in (room["from_deg"], room["to_deg"]):
            if abs(end - at["angle_deg"]) > 1e-6:
                turned(laid, k, end, where, rng, out)


def allowed(laid: Laid, at: dict, room: dict, where: str, out: Findings) -> None:
    """The told turns keep the grain's tolerance."""
    part = laid.told.parts[at["part"]]
    for m in laid.blank["members"]:
        piece = laid.told.pieces.get(m["piece"])
        if piece is None or piece.get("grain_deg") is None or part.get("grain_deg", 0.0) is None:
            continue
        for end in (room["from_deg"], room["to_deg"]):
            off = shapes.grain_apart(
                shapes.grain_as_laid(part.get("grain_deg", 0.0), {**at, "angle_deg": end}),
                shapes.grain_as_laid(piece["grain_deg"], m),
            )
            most = part.get("grain_tolerance_deg", 5.0)
            crossed = (
                laid.told.rule("glueup", "crossed", "refused") == "allowed" and len(laid.blank["members"]) > 1
            )
            out.expect(
                off <= most + 1e-6 or crossed, "play", where, f"turned to {end} it is {off:.4f} degrees off"
            )


def violation(laid: Laid, k: int, part: BaseGeometry) -> float:
    """Return by how much a part that is moved comes too near to edge or neighbor, mm."""
    beyond = part.difference(laid.wood)
    if beyond.area > 1e-9:
        corners = shapely.points(shapely.get_coordinates(beyond))
        worst = places.margin(laid) + float(shapely.distance(corners, laid.wood).max())
    else:
        worst = places.margin(laid) - part.distance(laid.wood.boundary)
    for j, other in enumerate(laid.parts):
        if j != k:
            worst = max(worst, laid.told.gap - part.distance(other))
    return worst


def moved(laid: Laid, k: int, part: BaseGeometry, by: tuple[float, float]) -> str:
    """Return what a shifted part breaks, or ``""``."""
    off = violation(laid, k, part)
    if off > 0.012:
        return f"{off:.4f} mm too near"
    at = laid.placements[k]
    rules = laid.told.parts[at["part"]].get("tolerates", {})
    near = prep(part)
    for d in laid.blank.get("defects", []):
        shape, first, last = laid.flaw(d)
        if not near.intersects(shape) or d["kind"] == "metal":
            continue
        inside = affinity.translate(shape.buffer(-0.012).intersection(part.buffer(-0.012)), -by[0], -by[1])
        for cell, thick, over in places.stays(laid, at, inside, first + 0.002, last - 0.002):
            if cell.area < 0.05 or thick < 0.01 or any(z["role"] == "contour" for z in over):
                continue
            says = [z["tolerates"][d["kind"]] for z in over if d["kind"] in z.get("tolerates", {})]
            if all(m == "refused" for m in says or [rules.get(d["kind"], "refused")]):
                return f"{d['kind']} {d['name']} in wood that stays, {cell.area:.2f} mm2"
    return ""


def turned(laid: Laid, k: int, angle: float, where: str, rng: np.random.Generator, out: Findings) -> None:
    """Look for a shift with which a part that is turned to the end of its play lies well."""
    at = laid.placements[k]
    part = shapes.placed(laid.told.outline(at["part"]).simplify(0.01), {**at, "angle_deg": angle})
    room = laid.wood.buffer(-places.margin(laid) + 0.05, quad_segs=32)
    others = [p.buffer(laid.told.gap - 0.05, quad_segs=32) for j, p in enumerate(laid.parts) if j != k]
    room = room.difference(unary_union(others)) if others else room
    x0, y0, x1, y1 = part.bounds
    a0, b0, a1, b1 = room.bounds
    own = laid.parts[k].centroid
    starts = [(own.x - part.centroid.x, own.y - part.centroid.y)]
    w, h = (a1 - a0) - (x1 - x0), (b1 - b0) - (y1 - y0)
    starts += [(a0 - x0 + w * i / 12, b0 - y0 + h * j / 12) for i in range(13) for j in range(13)]
    outside = [affinity.translate(part, *s).difference(room).area for s in starts]
    best = min(outside)
    for i in np.argsort(outside, kind="stable")[:4]:
        best = min(best, settled(part, room, starts[int(i)], outside[int(i)], rng))
    wrong = best > 1.0 + 0.05 * part.length
    out.expect(
        not wrong, "play", where, f"turned to {angle} {best:.1f} mm2 stay outside wherever it was tried"
    )


def settled(
    part: BaseGeometry, room: BaseGeometry, start: tuple[float, float], best: float, rng: np.random.Generator
) -> float:
    """Shift a part a little at a time so that less of it is outside; return what stays."""
    x, y, step = *start, 4.0
    for _ in range(120):
        if best <= 0.02:
            break
        dx, dy = rng.normal(0, step, 2)
        area = affinity.translate(part, x + dx, y + dy).difference(room).area
        if area < best:
            best, x, y = area, x + dx, y + dy
        else:
            step = max(step * 0.95, 0.01)
    return best


def refusals(told: Told, rng: np.random.Generator, out: Findings) -> None:
    """For each plain "no" about a single piece look for a place; a found one refutes it."""
    for result in told.plan["orders"]:
        order = told.orders.get(result["order"])
        if order is None:
            continue
        part = told.parts[order["part"]]
        for proof in result.get("certificates", []):
            piece = told.pieces.get(proof["blank"].partition("/")[0]) or told.pieces.get(proof["blank"])
            where = f"order {order['name']}: proof for {proof['blank']}"
            out.expect(piece is not None, "proofs", where, "no such row")
            if piece is None:
                continue
            covers(told, part, piece, proof, where, out)
            kinds = {i.get("kind", "infeasible") for b in proof["branches"] for i in b["intervals"]}
            spare = proof["within_mm"] if "tight" in kinds else 0.0
            spot = place(told, part, piece, rng, spare + 0.02)
            out.expect(spot is None, "proofs", where, f"there is a place: {spot}")
        for reason in result["reasons"]:
            if reason["code"] == "no piece of the species" and not part.get("cap"):
                suits = [
                    q["name"]
                    for q in told.shop["pieces"]
                    if q.get("status", "ready") == "ready"
                    and q.get("count", 1) > 0
                    and may_be_of(part, q["species"])
                ]
                out.expect(not suits, "refusals", f"order {order['name']}: {reason['code']}", f"{suits} suit")
            if reason["code"] == "closest refusal":
                no(told, part, reason, f"order {order['name']}", rng, out)


NOWHERE = (
    "no place",
    "wrong shape",
    "fits if relaxed",
    "too short",
    "too narrow",
    "too short and narrow",
    "too narrow any way",
)


def no(told: Told, part: dict, reason: dict, where: str, rng: np.random.Generator, out: Findings) -> None:
    """Check one refusal."""
    refusal = reason["refusal"]
    piece = told.pieces.get(refusal["piece"])
    where = f"{where}: {refusal['code']} {refusal['piece']}"
    out.expect(piece is not None, "refusals", where, "no such row")
    if piece is None:
        return
    s, code = told.settings, refusal["code"]
    thick, slack = piece["thickness_mm"], s.get("thickness_tolerance_mm", 0.15)
    planed = thick - 2 * s.get("planing_mm", 0.8)
    sheet = piece.get("grain_deg") is None
    if code == "wrong species":
        out.expect(not may_be_of(part, piece["species"]), "refusals", where, "it suits")
    elif code == "too thin when planed":
        out.expect(
            not sheet and planed < part["thickness_mm"] - slack + TOL,
            "refusals",
            where,
            f"{planed} mm planed",
        )
    elif code == "too thin":
        out.expect(thick < part["thickness_mm"] - slack + TOL, "refusals", where, f"{thick} mm")
    elif code == "too thick":
        far = thick - part["thickness_mm"] - s.get("most_planed_away_mm", 12.0)
        out.expect(far > -TOL, "refusals", where, f"it is {-far:.3f} mm within")
        out.expect(abs(refusal["far_um"] / 1000 - far) < 0.005, "refusals", where, f"by {far:.3f} mm")
    elif code == "sheet too thick":
        out.expect(sheet and thick > part["thickness_mm"] + slack - TOL, "refusals", where, "it is not")
    elif code == "on hold":
        out.expect(piece.get("status") == "hold", "refusals", where, "it is not")
    elif code == "taken":
        out.expect(piece.get("status") == "taken", "refusals", where, "it is not")
    elif code in NOWHERE:
        spot = place(told, part, piece, rng, 0.02)
        out.expect(spot is None, "refusals", where, f"there is a place: {spot}")
        for r in refusal.get("relaxations", []):
            relaxed(told, part, piece, r, where, rng, out)


def relaxed(
    told: Told, part: dict, piece: dict, r: dict, where: str, rng: np.random.Generator, out: Findings
) -> None:
    """A told relaxation has the shop's figures, and gives what it says where a search confirms or refutes it."""
    s = told.settings
    if r["code"] == "narrower margin":
        own = s.get("blank_margin_mm", 6.35)
        out.expect(
            abs(r["required_um"] / 1000 - own) < 0.002, "relaxations", where, f"margin {r['required_um']}"
        )
        out.expect(r["reachable_um"] < r["required_um"], "relaxations", where, "needs no less margin")
        spot = place(told, part, piece, rng, r["reachable_um"] / 1000 - own + 0.5)
        out.expect(spot is None, "relaxations", where, f"0.5 mm more margin would do: {spot}")
    elif r["code"] == "wider grain tolerance":
        out.expect(r["needed_deg"] > r["allowed_deg"], "relaxations", where, "needs no wider tolerance")
        own = part.get("grain_tolerance_deg", 5.0)
        out.expect(abs(r["allowed_deg"] - own) < 1e-6, "relaxations", where, f"the tolerance is {own}")
        wide = {**part, "grain_tolerance_deg": r["needed_deg"] - 0.2}
        if r["needed_deg"] - 0.2 > own:
            spot = place(told, wide, piece, rng, 0.05)
            out.expect(spot is None, "relaxations", where, f"0.2 degrees less would do: {spot}")
    elif r["code"] == "defect filled":
        known = {d["name"]: d["kind"] for d in piece.get("defects", [])}
        out.expect(known.get(r["defect"]) == r["kind"], "relaxations", where, f"no {r['kind']} {r['defect']}")


def angles(part: dict, piece: dict) -> list[tuple[float, float]]:
    """Return the allowed stretches of turn, for a part seen from its front; a mirror image has the sign turned."""
    own, grain = part.get("grain_deg", 0.0), piece.get("grain_deg")
    if own is None or grain is None or part.get("grain_tolerance_deg", 5.0) >= 90.0:
        return [(0.0, 360.0)]
    t, base = part.get("grain_tolerance_deg", 5.0), grain - own
    return [(base - t, base + t), (base + 180 - t, base + 180 + t)]


def covers(told: Told, part: dict, piece: dict, proof: dict, where: str, out: Findings) -> None:
    """The intervals of a proof cover every allowed angle of each way to lay the part, without gaps."""
    for b in proof["branches"]:
        for a, c in zip(b["intervals"], b["intervals"][1:]):
            near = abs(a["to_deg"] - c["from_deg"]) < 1e-9
            out.expect(near or c["from_deg"] > a["to_deg"], "proofs", where, "intervals are not in order")
        for i in b["intervals"]:
            out.expect(
                i["from_deg"] <= i["to_deg"], "proofs", where, "an interval that ends before it begins"
            )
    for mirrored in (False, True):
        own = [b for b in proof["branches"] if b["mirrored"] == mirrored]
        if not own:
            continue
        spans = sorted((i["from_deg"], i["to_deg"]) for b in own for i in b["intervals"])
        stretch = angles(part, piece)
        if mirrored and stretch[0][1] - stretch[0][0] < 360:
            g = (piece.get("grain_deg") or 0.0) - (180 - (part.get("grain_deg") or 0.0))
            t = part.get("grain_tolerance_deg", 5.0)
            stretch = [(g - t, g + t), (g + 180 - t, g + 180 + t)]
        for lo, hi in stretch:
            for x in np.linspace(lo + 1e-6, hi - 1e-6, 25):
                hit = any(a - 1e-6 <= x + 360 * n <= b + 1e-6 for a, b in spans for n in (-2, -1, 0, 1, 2))
                out.expect(hit, "proofs", where, f"no interval holds {x:.3f} degrees")


def place(
    told: Told, part: dict, piece: dict, rng: np.random.Generator, spare: float
) -> dict[str, Any] | None:
    """Look for a place of a part alone on a piece, with ``spare`` mm more than the margin; None when none is found."""
    if not may_be_of(part, piece["species"]):
        return None
    sheet = piece.get("grain_deg") is None
    s, thick = told.settings, piece["thickness_mm"]
    slack = s.get("thickness_tolerance_mm", 0.15)
    if sheet and abs(thick - part["thickness_mm"]) > slack - 0.01:
        return None
    if not sheet and thick - 2 * s.get("planing_mm", 0.8) < part["thickness_mm"] - slack + 0.01:
        return None
    if not sheet and thick - part["thickness_mm"] > s.get("most_planed_away_mm", 12.0) - 0.01:
        return None
    measured = piece.get("measured_mm", 0.0)
    wood = shapes.region(piece["shape"])
    margin = s.get("blank_margin_mm", 6.35) + measured + spare
    room = wood.buffer(-margin, quad_segs=64)
    bad = [
        # the cutter, too, keeps clear of metal
        shapes.region(d["shape"]).buffer(measured + 0.02 + (told.cutter if d["kind"] == "metal" else 0.0))
        for d in piece.get("defects", [])
        if d["kind"] == "metal" or part.get("tolerates", {}).get(d["kind"], "refused") == "refused"
    ]
    outline = told.outline(part["name"]).simplify(0.02).buffer(0.02)
    image = part.get("mirrored", "no")
    ways = [(m, m == (image == "only")) for m in (False, True)]
    if image == "allowed":
        ways = [(m, f) for m in (False, True) for f in (False, True)]
    for mirrored, front in ways:
        # mirror image iff mirrored == front_up
        front_up = mirrored if image == "only" else (not mirrored if image == "no" else front)
        if part.get("show_face", "either") == "top" and not front_up:
            continue
        for lo, hi in angles(part, piece):
            if mirrored and hi - lo < 360:
                t = part.get("grain_tolerance_deg", 5.0)
                base = (piece.get("grain_deg") or 0.0) - (180.0 - (part.get("grain_deg") or 0.0))
                lo, hi = (
                    (base - t, base + t)
                    if lo < piece.get("grain_deg", 0.0) - (part.get("grain_deg") or 0.0) + 90 - t
                    else (base + 180 - t, base + 180 + t)
                )
            n = 25 if hi - lo >= 360 else 7
            for angle in [*np.linspace(lo, hi, n), *rng.uniform(lo, hi, 4)]:
                spot = spot_at(outline, room, bad, float(angle), mirrored, rng)
                if spot is not None:
                    return {"angle": float(angle), "mirrored": mirrored, "x": spot[0], "y": spot[1]}
    return None


def spot_at(
    outline: BaseGeometry,
    room: BaseGeometry,
    bad: list[BaseGeometry],
    angle: float,
    mirrored: bool,
    rng: np.random.Generator,
) -> tuple[float, float] | None:
    """Return a shift at which a turned part lies in ``room`` and off every flaw, or None."""
    laid = shapes.lay(outline, angle, mirrored, 0, 0)
    x0, y0, x1, y1 = laid.bounds
    inside = prep(room)
    for g in getattr(room, "geoms", [room]):
        a0, b0, a1, b1 = g.bounds
        w, h = (a1 - a0) - (x1 - x0), (b1 - b0) - (y1 - y0)
        if w < 0 or h < 0:
            continue
        grid = [(i / 5, j / 5) for i in range(6) for j in range(6)]
        for u, v in [*grid, *rng.uniform(0, 1, (14, 2))]:
            dx, dy = a0 - x0 + u * w, b0 - y0 + v * h
            trial = affinity.translate(laid, dx, dy)
            if inside.contains(trial) and not any(trial.intersects(f) for f in bad):
                return dx, dy
    return None
