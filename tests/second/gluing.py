"""Blanks of several pieces, and pieces sawn first: members in their pieces, seams, sides, rules, widths, cuts."""

from __future__ import annotations

import itertools
import math
from typing import Any

from shapely import affinity
from shapely.geometry import LineString, Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from . import layers, shapes, strips
from .shapes import TOL
from .told import Findings, Laid, Told


def check(laid: Laid, out: Findings) -> None:
    """Check what a blank is made of."""
    glued = laid.layout.get("glueup")
    stacked = bool(laid.blank.get("stack"))
    on_edge = any(m.get("strip") for m in laid.blank["members"])
    several = len(laid.blank["members"]) > 1 and not stacked and not on_edge
    asked = [p["part"] for p in laid.placements if laid.told.parts[p["part"]].get("strips") == "only"]
    out.expect(on_edge or not asked, "strips", laid.name, f"{asked} are to be of strips")
    capped = [
        told_part["name"] for p in laid.placements if (told_part := laid.told.parts[p["part"]]).get("cap")
    ]
    out.expect(stacked or not capped, "layers", laid.name, f"{capped} have a cap, and no layers")
    if stacked:
        layers.check(laid, out)
    if on_edge:
        strips.check(laid, out)
        neighbors(laid, out)
    out.expect(
        bool(glued) == several, "glue-up", laid.name, "a glue-up of one piece, or pieces without glue-up"
    )
    if several:
        members(laid, out)
        neighbors(laid, out)
        seam_rules(laid, out)
        if glued:
            told_figures(laid, glued, out)
    elif not stacked and not on_edge:
        single(laid, out)
    under_parts(laid, out)


def own_wood(told: Told, member: dict) -> BaseGeometry:
    """Return the wood of a member in the blank's coordinates."""
    piece = told.pieces[member["piece"]]
    shape = shapes.region(member["cut"]) if member.get("cut") else shapes.region(piece["shape"])
    return shapes.placed(shape, member)


def single(laid: Laid, out: Findings) -> None:
    """A blank of one piece is that piece, with its flaws, seams, thickness, grain and error."""
    told, blank = laid.told, laid.blank
    if not blank["members"] or blank["members"][0]["piece"] not in told.pieces:
        out.expect(False, "made of", laid.name, "nothing of the rack")
        return
    member = blank["members"][0]
    piece = told.pieces[member["piece"]]
    off = own_wood(told, member).symmetric_difference(laid.wood).area
    out.expect(off < 0.05, "made of", laid.name, f"{off:.3f} mm2 other than {piece['name']}")
    for key in ("thickness_mm", "species", "grain_deg"):
        out.expect(
            blank[key] == piece.get(key), "made of", laid.name, f"{key} {blank[key]}, {piece.get(key)}"
        )
    right = blank.get("measured_mm", 0.0) == piece.get("measured_mm", 0.0)
    out.expect(right, "made of", laid.name, "another measuring error than its piece")
    flaws_there(laid, out)


def flaws_there(laid: Laid, out: Findings) -> None:
    """Every flaw of the pieces that lies in the blank is told there, as wide and as deep."""
    thick = laid.blank["thickness_mm"]
    have = [(d["kind"], shapes.region(d["shape"]), d) for d in laid.blank.get("defects", [])]
    several = len(laid.blank["members"]) > 1
    sides = own_sides(laid) if several else [laid.wood]
    for member, mine in zip(laid.blank["members"], sides):
        piece = laid.told.pieces.get(member["piece"])
        if piece is None:
            continue
        for d in piece.get("defects", []):
            own = shapes.region(d["shape"])
            if member.get("cut"):
                own = own.intersection(shapes.region(member["cut"]))
            own = shapes.placed(own, member).intersection(laid.wood).intersection(mine)
            if own.area < 0.05:
                continue
            same = [h for h in have if h[0] == d["kind"]]
            left = own.buffer(-0.01).difference(unary_union([s for _, s, _ in same])) if same else own
            out.expect(
                left.area < 0.1, "flaws", laid.name, f"{d['name']}: {left.area:.2f} mm2 of it are not told"
            )
            deep = [h[2] for h in same if h[1].intersects(own)]
            if d.get("depth_mm") is None or d.get("face") == "through":
                right = any(h.get("depth_mm") is None or h["depth_mm"] >= thick - TOL for h in deep)
            else:
                face = d["face"]
                if member.get("mirrored"):
                    face = "bottom" if face == "top" else "top"
                lost = max(0.0, piece["thickness_mm"] - thick)
                right = any(
                    h.get("depth_mm") is None
                    or h["depth_mm"] >= thick - TOL
                    or (h["face"] == face and h["depth_mm"] >= d["depth_mm"] - lost - TOL)
                    for h in deep
                )
            out.expect(right, "flaws", laid.name, f"{d['name']} is not told as deep as it is")


def reach(line: LineString, by: float) -> LineString:
    """Return a line, its ends drawn out."""
    (x0, y0), (x1, y1) = line.coords[0], line.coords[1]
    (x2, y2), (x3, y3) = line.coords[-2], line.coords[-1]
    a, b = math.hypot(x1 - x0, y1 - y0), math.hypot(x3 - x2, y3 - y2)
    first = (x0 - (x1 - x0) / a * by, y0 - (y1 - y0) / a * by)
    last = (x3 + (x3 - x2) / b * by, y3 + (y3 - y2) / b * by)
    return LineString([first, *line.coords, last])


def side(line: LineString, left: bool, by: float = 5000.0) -> Polygon:
    """Return all that lies left (or right) of a line."""
    far = reach(line, by)
    (x0, y0), (x1, y1) = far.coords[0], far.coords[-1]
    n = math.hypot(x1 - x0, y1 - y0)
    nx, ny = -(y1 - y0) / n * by, (x1 - x0) / n * by
    if not left:
        nx, ny = -nx, -ny
    return shapes.clean(Polygon([*far.coords, (x1 + nx, y1 + ny), (x0 + nx, y0 + ny)]))


def own_sides(laid: Laid) -> list[BaseGeometry]:
    """Return for each member the stretch between its seams."""
    lines = [shapes.line_of(s["line_mm"]) for s in laid.blank["seams"]]
    found = []
    for k in range(len(laid.blank["members"])):
        own: BaseGeometry = laid.wood.envelope.buffer(4000)
        if k > 0:
            own = own.intersection(side(lines[k - 1], True))
        if k < len(lines):
            own = own.intersection(side(lines[k], False))
        found.append(own)
    return found


def members(laid: Laid, out: Findings) -> None:
    """Each piece covers its own side of every seam, jointing allowance included, under every part; all lie in pieces."""
    told, blank = laid.told, laid.blank
    right = len(blank["seams"]) == len(blank["members"]) - 1
    out.expect(right, "glue-up", laid.name, f"{len(blank['seams'])} seams of {len(blank['members'])} members")
    most = told.rule("glueup", "most_pieces", 4)
    out.expect(len(blank["members"]) <= most, "glue-up", laid.name, f"more than {most} pieces")
    if not right or any(m["piece"] not in told.pieces for m in blank["members"]):
        return
    woods, sides = [own_wood(told, m) for m in blank["members"]], own_sides(laid)
    covered = unary_union([w.intersection(s) for w, s in zip(woods, sides)])
    gap = laid.wood.difference(covered.buffer(0.02)).area
    out.expect(gap < 0.5, "glue-up", laid.name, f"{gap:.2f} mm2 of the blank are on no piece's own side")
    joint = told.settings.get("jointing_mm", 0.8)
    for k, (wood, own) in enumerate(zip(woods, sides)):
        where = f"{laid.name} member {k + 1} ({blank['members'][k]['piece']})"
        for n, part in enumerate(laid.parts):
            need = part.intersection(own)
            if need.area < 0.01:
                continue
            missing = need.difference(wood.buffer(TOL)).area
            out.expect(missing < 0.05, "glue-up", where, f"{missing:.2f} mm2 of part {n + 1} are beside it")
            for s in [j for j in (k - 1, k) if 0 <= j < len(blank["seams"])]:
                line = shapes.line_of(blank["seams"][s]["line_mm"]).intersection(part)
                if line.length > 0.1 and joint > 0.02:
                    over = line.buffer(joint - 0.02, cap_style="flat").difference(own)
                    lost = over.difference(wood.buffer(0.01)).area
                    out.expect(
                        lost < 0.05 + 0.002 * line.length,
                        "jointing",
                        where,
                        f"{lost:.3f} mm2 short of the allowance",
                    )
    flaws_there(laid, out)
    finish = max((told.parts[p["part"]]["thickness_mm"] for p in laid.placements), default=0.0)
    for m in blank["members"]:
        thick = told.pieces[m["piece"]]["thickness_mm"]
        out.expect(
            thick >= blank["thickness_mm"] - TOL,
            "glue-up",
            laid.name,
            f"{m['piece']} is thinner than the blank",
        )
        out.expect(thick >= finish - TOL, "glue-up", laid.name, f"{m['piece']} is thinner than the part")


def neighbors(laid: Laid, out: Findings) -> None:
    """Species, moisture, grain and board of neighbors suit each other."""
    told = laid.told
    rows = [told.pieces[m["piece"]] for m in laid.blank["members"] if m["piece"] in told.pieces]
    facts = {f["code"] for f in laid.layout.get("wood", [])}
    kinds = {p["species"] for p in rows}
    mixed = told.rule("glueup", "mixed_species", False)
    out.expect(len(kinds) == 1 or mixed, "neighbors", laid.name, f"unlike woods: {sorted(kinds)}")
    most = told.rule("glueup", "moisture_difference", 2.0)
    crossed = told.rule("glueup", "crossed_grain_deg", 10.0)
    for (a, ma), (b, mb) in zip(
        list(zip(rows, laid.blank["members"])), list(zip(rows, laid.blank["members"]))[1:]
    ):
        if a.get("moisture_pct") is not None and b.get("moisture_pct") is not None:
            off = abs(a["moisture_pct"] - b["moisture_pct"])
            right = off <= most + 1e-9 or "G703" in facts
            out.expect(right, "neighbors", laid.name, f"{off:.2f} points of moisture apart, {most} allowed")
        if a.get("grain_deg") is not None and b.get("grain_deg") is not None:
            off = shapes.grain_apart(
                shapes.grain_as_laid(a["grain_deg"], ma), shapes.grain_as_laid(b["grain_deg"], mb)
            )
            right = off <= crossed + 1e-6 or told.rule("glueup", "crossed", "refused") == "allowed"
            out.expect(right, "neighbors", laid.name, f"grain crossed by {off:.2f} degrees")
    for p in laid.placements:
        part = told.parts[p["part"]]
        out.expect(part.get("glue", True), "neighbors", laid.name, f"{part['name']} must not be glued up")
        for m, row in zip(laid.blank["members"], rows):
            if row.get("grain_deg") is None or part.get("grain_deg", 0.0) is None:
                continue
            off = shapes.grain_apart(
                shapes.grain_as_laid(part.get("grain_deg", 0.0), p), shapes.grain_as_laid(row["grain_deg"], m)
            )
            allowed = max(part.get("grain_tolerance_deg", 5.0), 0.0)
            out.expect(
                off <= allowed + 1e-6 or told.rule("glueup", "crossed", "refused") == "allowed",
                "grain",
                laid.name,
                f"{row['name']} lies {off:.3f} degrees off the grain of {part['name']}",
            )
    if told.rule("glueup", "one_board", False):
        boards = {r.get("parent") or r["name"] for r in rows}
        out.expect(len(boards) == 1, "neighbors", laid.name, f"of several boards: {sorted(boards)}")


def broken(laid: Laid, seam: str, k: int) -> bool:
    return any(
        f["code"] == "G720" and f["seam"] == seam and f["placement"] == k for f in laid.layout.get("wood", [])
    )


def seam_rules(laid: Laid, out: Findings) -> None:
    """Seams keep out of no_seam zones and holes, do not run along screw rows, leave no sliver and no narrow piece."""
    told = laid.told
    clear = told.rule("glueup", "hole_clearance_mm", 3.0)
    sliver = told.rule("glueup", "sliver_mm", 20.0)
    for seam in laid.blank["seams"]:
        line = shapes.line_of(seam["line_mm"])
        for k, placement in enumerate(laid.placements):
            where = f"{laid.name} {seam['name']} part {k + 1}"
            if broken(laid, seam["name"], k):
                out.expect(
                    told.rule("glueup", "rules", "strict") == "caution",
                    "seam rule",
                    where,
                    "strict, yet broken",
                )
                continue
            for zone, shape, _ in laid.zones(placement):
                inside = shape.intersection(laid.parts[k])
                if zone["role"] == "no_seam":
                    n = line.intersection(inside.buffer(-0.02)).length
                    out.expect(n < 0.05, "seam rule", where, f"{n:.2f} mm in {zone['name']}")
                elif zone["role"] == "hole" and not inside.is_empty:
                    off = line.distance(inside)
                    out.expect(
                        off >= clear - 0.02, "seam rule", where, f"{off:.3f} mm to hole {zone['name']}"
                    )
            runs_along(laid, line, k, sliver, where, out)
    least = told.rule("glueup", "least_piece_width_mm", 40.0)
    for k, own in enumerate(own_sides(laid)):
        for part in laid.parts:
            under = part.intersection(own)
            if under.area > 1.0 and len(laid.blank["seams"]) == len(laid.blank["members"]) - 1:
                across = shapes.size_along(under, seam_angle(laid))[1]
                where = f"{laid.name} member {k + 1}"
                out.expect(across >= least - 0.05, "seam rule", where, f"{across:.2f} mm wide under the part")


def seam_angle(laid: Laid) -> float:
    (x0, y0), (x1, y1) = laid.blank["seams"][0]["line_mm"][0], laid.blank["seams"][0]["line_mm"][-1]
    return math.degrees(math.atan2(y1 - y0, x1 - x0))


def runs_along(laid: Laid, line: LineString, k: int, sliver: float, where: str, out: Findings) -> None:
    """No stretch of outline of some length runs along the seam nearer than the sliver: a strip beside it is thin."""
    if sliver <= 0.1:
        return
    part, angle = laid.parts[k], seam_angle(laid)
    c, s = shapes.turn(-angle)
    flat = affinity.affine_transform(part, [c, -s, s, c, 0, 0])
    seam = affinity.affine_transform(line, [c, -s, s, c, 0, 0])
    y = (seam.bounds[1] + seam.bounds[3]) / 2
    coords = list(flat.exterior.coords)
    for (x0, y0), (x1, y1) in itertools.pairwise(coords):
        long = abs(x1 - x0) > 40.0 and abs(y1 - y0) <= 0.02 * abs(x1 - x0)
        if long and x0 != x1 and min(x0, x1) < seam.bounds[2] and max(x0, x1) > seam.bounds[0]:
            off = min(abs(y0 - y), abs(y1 - y))
            out.expect(off >= sliver - 0.5, "seam rule", where, f"{off:.2f} mm to a straight edge along it")


def told_figures(laid: Laid, glued: dict[str, Any], out: Findings) -> None:
    """What the glue-up tells of its members and seams."""
    told = laid.told
    letters = [m["letter"] for m in glued["members"]]
    right = letters == [chr(65 + k) for k in range(len(laid.blank["members"]))]
    out.expect(right, "glue-up", laid.name, f"letters {letters}")
    if not right:
        return
    sides = own_sides(laid)
    for m, member, own in zip(glued["members"], laid.blank["members"], sides):
        piece = told.pieces[member["piece"]]
        where = f"{laid.name} {m['letter']}"
        out.expect(m["rough_mm"] == piece["thickness_mm"], "glue-up", where, f"rough {m['rough_mm']} mm")
        out.expect(
            abs(m["planed_mm"] - glued["thickness_mm"]) < 1e-6, "glue-up", where, f"planed {m['planed_mm']}"
        )
        out.expect(m["top_up"] != member.get("mirrored", False), "glue-up", where, f"top up {m['top_up']}")
        wood = unary_union([shapes.region(w) for w in m["wood"]])
        mine = own_wood(told, member).intersection(own).intersection(laid.wood)
        off = wood.symmetric_difference(mine).area
        out.expect(off < 0.02 * wood.length + 1, "glue-up", where, f"its wood is {off:.1f} mm2 off")
        for edge in m["edges"]:
            seam = next((s for s in laid.blank["seams"] if s["name"] == edge["seam"]), None)
            out.expect(seam is not None, "glue-up", where, f"no {edge['seam']}")
            if seam is not None:
                line = reach(shapes.line_of(seam["line_mm"]), 3000)
                off = max(line.distance(shapes.line_of([p, p]).centroid) for p in edge["line_mm"])
                out.expect(off < 0.02, "glue-up", where, f"edge {off:.3f} mm off {edge['seam']}")
        for s in m.get("strips", []):
            strip = shapes.region(s["shape"])
            lost = strip.difference(own_wood(told, member).buffer(0.02)).area
            out.expect(lost < 0.1, "glue-up", where, f"{lost:.2f} mm2 of a strip are no wood of it")
            taken = strip.intersection(mine.buffer(-0.02)).area
            out.expect(taken < 0.1, "glue-up", where, f"{taken:.2f} mm2 of a strip are in the blank")
            out.expect(
                abs(strip.area - s["area_mm2"]) < 1 + 1e-3 * strip.area, "glue-up", where, "area of a strip"
            )
    right = abs(glued["thickness_mm"] - laid.blank["thickness_mm"]) < 1e-6
    out.expect(right, "glue-up", laid.name, f"{glued['thickness_mm']} mm when glued")
    off = glued["top_off_mm"] + glued["bottom_off_mm"] - (glued["thickness_mm"] - laid.thickest)
    out.expect(abs(off) < 0.005, "glue-up", laid.name, f"planed off afterwards is {off:.3f} mm wrong")
    for seam in glued["seams"]:
        line = next((s for s in laid.blank["seams"] if s["name"] == seam["seam"]), None)
        out.expect(line is not None, "glue-up", laid.name, f"no {seam['seam']}")


def under_parts(laid: Laid, out: Findings) -> None:
    """Seams under parts are told, with their length and the zones that they cross."""
    told = {(s["placement"], s["seam"]): s for s in laid.layout.get("seams", [])}
    for seam in laid.blank.get("seams", []):
        line = shapes.line_of(seam["line_mm"])
        for k, part in enumerate(laid.parts):
            n = line.intersection(part).length
            where = f"{laid.name} {seam['name']} part {k + 1}"
            if n < 0.2:
                continue
            one = told.pop((k, seam["name"]), None)
            out.expect(one is not None, "seams", where, f"{n:.2f} mm under the part are not told")
            if one is None:
                continue
            out.expect(
                abs(one["length_mm"] - n) < 0.3, "seams", where, f"told {one['length_mm']}, it is {n:.2f} mm"
            )
            zones = dict(one.get("zones", []))
            left = dict(one.get("wood_left_mm", []))
            for zone, shape, _ in laid.zones(laid.placements[k]):
                m = line.intersection(shape.intersection(part)).length
                if m > 0.5:
                    right = abs(zones.get(zone["name"], 0.0) - m) < 0.5
                    out.expect(
                        right,
                        "seams",
                        where,
                        f"{zone['name']}: told {zones.get(zone['name'])}, it is {m:.2f} mm",
                    )
                    if zone["role"] == "pocket" and zone["name"] in left:
                        most = laid.told.parts[laid.placements[k]["part"]]["thickness_mm"] - zone["depth_mm"]
                        ok = left[zone["name"]] <= most + 0.16
                        out.expect(
                            ok, "seams", where, f"{left[zone['name']]} mm left in {zone['name']} of {most}"
                        )
    for (k, name), one in told.items():
        out.expect(
            one["length_mm"] < 0.3, "seams", f"{laid.name} {name} part {k + 1}", "told, but not under it"
        )


def sawn(told: Told, laid: list[Laid], out: Findings) -> None:
    """Pieces sawn first: blanks and rests lie in the piece, the kerf apart, and every cut is straight through wood that is there."""
    by_name = {one.name: one for one in laid}
    for s in told.plan.get("sawings", []):
        where = f"{s['piece']} sawn"
        piece = told.pieces.get(s["piece"])
        out.expect(piece is not None, "sawn", where, "no such row")
        if piece is None:
            continue
        own = shapes.region(piece["shape"])
        kerf = s["kerf_mm"]
        out.expect(
            abs(kerf - told.rule("machines", "saw_kerf_mm", 3.2)) < 1e-6, "sawn", where, f"kerf {kerf}"
        )
        cuts = []
        for name in s["blanks"]:
            out.expect(name in by_name, "sawn", where, f"no blank {name}")
            if name in by_name:
                own_members = [
                    m
                    for m in by_name[name].blank["members"]
                    if (m["piece"], m["copy"]) == (s["piece"], s["copy"]) and m.get("cut") is not None
                ]
                out.expect(bool(own_members), "sawn", where, f"{name} is of another piece")
                cuts += [
                    (f"{name}, member {k}", shapes.region(m["cut"]))
                    for k, m in enumerate(own_members, start=1)
                ]
        rests = [(r["name"], shapes.region(r["shape"])) for r in s.get("rests", [])]
        for name, shape in [*cuts, *rests]:
            lost = shape.difference(own.buffer(TOL)).area
            out.expect(lost < 0.1, "sawn", where, f"{lost:.2f} mm2 of {name} are not in the piece")
        every = [*cuts, *rests]
        for i, (a, x) in enumerate(every):
            for b, y in every[:i]:
                off = x.distance(y)
                out.expect(off >= kerf - 0.01, "sawn", where, f"{a} and {b} are {off:.3f} mm apart")
        for r, (_, shape) in zip(s.get("rests", []), rests):
            right = abs(shape.area - r["area_mm2"]) < 0.5 + 1e-3 * shape.area
            out.expect(right, "sawn", where, f"{r['name']}: {r['area_mm2']} mm2 told, it is {shape.area:.1f}")
        x0, y0, x1, y1 = own.bounds
        for c in s["cuts"]:
            a, b = (x0, x1) if c["across"] == "x" else (y0, y1)
            lo, hi = (y0, y1) if c["across"] == "x" else (x0, x1)
            right = a - TOL <= c["at_mm"] <= b + TOL and lo - TOL <= c["from_mm"] < c["to_mm"] <= hi + TOL
            out.expect(right, "sawn", where, f"a cut at {c['at_mm']} from {c['from_mm']} to {c['to_mm']}")
            ends = (c["at_mm"], c["from_mm"], c["at_mm"] + kerf, c["to_mm"])
            blade = box(*ends) if c["across"] == "x" else box(ends[1], ends[0], ends[3], ends[2])
            for name, shape in every:
                hit = blade.intersection(shape).area
                out.expect(hit < 0.01 * (c["to_mm"] - c["from_mm"]), "sawn", where, f"a cut runs into {name}")
    shortened(told, laid, out)


def shortened(told: Told, laid: list[Laid], out: Findings) -> None:
    """A board of a glue-up that is shorter than its piece comes off it by cuts that are told, once."""
    for one in laid:
        if len(one.blank["members"]) < 2 or one.blank.get("stack"):
            continue
        on_edge = any(m.get("strip") for m in one.blank["members"])
        copies: dict[tuple[str, int], list[BaseGeometry]] = {}
        for m in one.blank["members"]:
            if m.get("cut") and not m.get("layer"):
                copies.setdefault((m["piece"], m["copy"]), []).append(shapes.region(m["cut"]))
        for (name, copy), own in copies.items():
            piece = told.pieces.get(name)
            if piece is None:
                continue
            ends = zip(unary_union(own).bounds, shapes.region(piece["shape"]).bounds)
            short = on_edge or max(abs(a - b) for a, b in ends) - piece.get("measured_mm", 0.0) > 1.0
            times = sum(
                (s["piece"], s["copy"]) == (name, copy) and one.name in s["blanks"]
                for s in told.plan.get("sawings", [])
            )
            out.expect(
                times == int(short), "sawn", one.name, f"{name} copy {copy} is shortened, told {times} times"
            )
            steps = [
                t for t in (one.layout.get("glueup") or {}).get("steps", []) if t["code"] == "crosscut first"
            ]
            label = name if copy == 1 else f"{name}/{copy}"
            told_first = sum(t["piece"] == label for t in steps)
            short = short and not on_edge
            out.expect(told_first == int(short), "sawn", one.name, f"{label} is to be crosscut first")
