"""Laminated blanks: layers in their pieces, planed on every glued face, flaws at their depth, what is sawn off."""

from __future__ import annotations

import itertools
import math

from shapely.ops import unary_union

from . import shapes
from .shapes import TOL
from .told import Findings, Laid

#: Pressure by the softest wood (trade facts, section 2: P), pounds-force a square inch; N/mm2 of one of them.
PSI = {"soft": (100, 150), "medium": (150, 200), "dense": (200, 300)}
MPA = 0.45359237 * 9.80665 / 25.4**2


def check(laid: Laid, out: Findings) -> None:
    """Check a blank that is laminated."""
    told, blank = laid.told, laid.blank
    stack, members = blank["stack"], blank["members"]
    where = laid.name
    right = len(stack) == len(members) >= 2 and not blank.get("seams") and not laid.layout.get("glueup")
    out.expect(right, "layers", where, f"{len(stack)} layers of {len(members)} pieces")
    if not right or any(m["piece"] not in told.pieces for m in members):
        return
    pieces = [told.pieces[m["piece"]] for m in members]
    depths(laid, pieces, out)
    for m, p in zip(members, pieces):
        bare = laid.wood.difference(shapes.placed(shapes.region(p["shape"]), m).buffer(TOL)).area
        out.expect(bare < 0.05, "layers", where, f"{bare:.3f} mm2 of the blank are not on {p['name']}")
        out.expect(not p.get("measured_mm") and not p.get("seams"), "layers", where, f"{p['name']} is unsure")
    woods(laid, pieces, out)
    flaws(laid, pieces, out)
    sawn(laid, pieces, out)
    pressed(laid, out)


def depths(laid: Laid, pieces: list[dict], out: Findings) -> None:
    """Layers lie one on the other; each piece loses the planing allowance on both faces, the outer ones later."""
    told, blank, where = laid.told, laid.blank, laid.name
    planing = told.settings.get("planing_mm", 0.8)
    most = told.settings.get("most_planed_away_mm", 12.0)
    at = 0.0
    for k, (layer, piece) in enumerate(zip(blank["stack"], pieces)):
        out.expect(
            abs(layer["top_mm"] - at) < 1e-4, "layers", where, f"layer {k + 1} begins at {layer['top_mm']}"
        )
        at = layer["bottom_mm"]
        thick, first = at - layer["top_mm"], layer["off_top_mm"]
        last = piece["thickness_mm"] - first - thick
        need = [0.0 if k == 0 else planing, 0.0 if k == len(pieces) - 1 else planing]
        right = first >= need[0] - 1e-4 and last >= need[1] - 1e-4
        out.expect(right, "layers", where, f"{piece['name']}: {first:.3f} and {last:.3f} mm come off")
        outer = planing * ((k == 0) + (k == len(pieces) - 1))
        away = piece["thickness_mm"] - (thick - outer)
        out.expect(away <= most + 1e-4, "layers", where, f"{away:.3f} mm of {piece['name']} are planed away")
    out.expect(abs(at - blank["thickness_mm"]) < 1e-4, "layers", where, f"{at} mm of {blank['thickness_mm']}")
    for p in laid.placements:
        out.expect(p.get("front_up", True), "layers", where, "a part lies back up")
        part = told.parts[p["part"]]
        if part.get("cap"):
            cap = blank["stack"][0]["bottom_mm"] - laid.layers(p)[0]
            out.expect(abs(cap - part["cap_mm"]) < 1e-3, "layers", where, f"the cap comes to {cap:.3f} mm")


def woods(laid: Laid, pieces: list[dict], out: Findings) -> None:
    """Number of layers, species, moisture and grain are such as the shop and the part allow."""
    told, where = laid.told, laid.name
    members, n = laid.blank["members"], len(pieces)
    grains = [shapes.grain_as_laid(p["grain_deg"], m) for p, m in zip(pieces, members)]
    for k in range(n - 1):
        a, b = pieces[k].get("moisture_pct"), pieces[k + 1].get("moisture_pct")
        limit = told.rule("glueup", "moisture_difference", 2.0)
        right = a is None or b is None or abs(a - b) <= limit + 1e-9
        out.expect(right, "layers", where, f"moisture {a} on {b}")
        off = shapes.grain_apart(grains[k], grains[k + 1])
        limit = told.rule("glueup", "crossed_grain_deg", 10.0)
        out.expect(off <= limit + 0.01, "layers", where, f"grain crossed by {off:.3f} degrees")
    for p in laid.placements:
        part = told.parts[p["part"]]
        most = max(told.rule("glueup", "most_layers", 1), 2 if part.get("cap") else 1)
        right = n <= most and part.get("glue", True) and not part.get("book_match")
        out.expect(right, "layers", where, f"{n} layers for {part['name']}, {most} allowed")
        drawn = shapes.grain_as_laid(part["grain_deg"], p)
        for k, (piece, grain) in enumerate(zip(pieces, grains)):
            off = shapes.grain_apart(grain, drawn)
            right = off <= part.get("grain_tolerance_deg", 5.0) + 0.01
            out.expect(right, "layers", where, f"{piece['name']} is {off:.3f} degrees off {part['name']}")
            may = part["cap"] if part.get("cap") and k == 0 else part.get("species")
            right = not may or piece["species"] in may
            out.expect(right, "layers", where, f"layer {k + 1} is {piece['species']}, not {may}")
        core = {q["species"] for q in (pieces[1:] if part.get("cap") else pieces)}
        right = len(core) == 1 or told.rule("glueup", "mixed_species", False)
        out.expect(right, "layers", where, f"unlike woods: {sorted(core)}")


def flaws(laid: Laid, pieces: list[dict], out: Findings) -> None:
    """Every flaw of a piece that stays in its layer is told, as wide, from and to the depth that it has."""
    have = [(d["kind"], *laid.flaw(d)) for d in laid.blank.get("defects", [])]
    for member, layer, piece in zip(laid.blank["members"], laid.blank["stack"], pieces):
        for d in piece.get("defects", []):
            thick, deep = piece["thickness_mm"], d.get("depth_mm")
            if deep is None or d.get("face", "through") == "through":
                a, b = 0.0, thick
            else:
                a, b = (0.0, deep) if d["face"] == "top" else (thick - deep, thick)
            shift = layer["top_mm"] - layer["off_top_mm"]
            a, b = max(a + shift, layer["top_mm"]), min(b + shift, layer["bottom_mm"])
            own = shapes.placed(shapes.region(d["shape"]), member).intersection(laid.wood)
            if b - a < 1e-3 or own.area < 0.05:
                continue
            same = [s for kind, s, p, q in have if kind == d["kind"] and p <= a + 1e-3 and q >= b - 1e-3]
            left = own.buffer(-0.01).difference(unary_union(same)).area
            out.expect(
                left < 0.1, "layers", laid.name, f"{d['name']}: {left:.2f} mm2 are not told {a} to {b} deep"
            )


def sawn(laid: Laid, pieces: list[dict], out: Findings) -> None:
    """What goes back of each piece lies in it, the kerf off the blank, apart, and is large enough."""
    told = laid.told
    kerf = told.rule("machines", "saw_kerf_mm", 3.2)
    least = (
        told.settings.get("leftover_shortest_mm", 200.0),
        told.settings.get("leftover_narrowest_mm", 50.0),
    )
    layers = laid.layout["laminate"]["layers"]
    out.expect(len(layers) == len(pieces), "layers", laid.name, f"{len(layers)} layers are told")
    for one, member, piece in zip(layers, laid.blank["members"], pieces):
        where = f"{laid.name} {one['letter']}"
        used = shapes.back(laid.wood, member)
        grounds = [shapes.region(r["shape"]) for r in one["rests"]]
        whole = shapes.region(piece["shape"]).buffer(TOL)
        for r, ground in zip(one["rests"], grounds):
            lost = ground.difference(whole).area
            out.expect(lost < 0.05, "layers", where, f"{lost:.3f} mm2 of {r['name']} are not in the piece")
            off = ground.distance(used)
            out.expect(off >= kerf - 0.02, "layers", where, f"{r['name']} is {off:.3f} mm off the blank")
            long, wide = shapes.size_along(ground, piece["grain_deg"])
            right = long >= least[0] - 0.05 and wide >= least[1] - 0.05 and r["usable"]
            out.expect(right, "layers", where, f"{r['name']} is {long:.1f} x {wide:.1f} mm")
            right = abs(ground.area - r["area_mm2"]) < 0.5 + 1e-4 * ground.area
            out.expect(right, "layers", where, f"{r['name']}: {r['area_mm2']} mm2, it is {ground.area:.1f}")
        for a, b in itertools.combinations(grounds, 2):
            out.expect(a.buffer(-0.02).disjoint(b), "layers", where, "rests overlap")
        thick = piece["thickness_mm"]
        told_off = (one["rough_mm"], one["planed_mm"] + one["top_off_mm"] + one["bottom_off_mm"])
        right = all(abs(v - thick) < 1e-3 for v in told_off)
        out.expect(right, "layers", where, f"{told_off} of {thick} mm")


def pressed(laid: Laid, out: Findings) -> None:
    """Clamps press the face as hard as its softest wood asks, and what the shop has is told."""
    press = laid.layout["laminate"]["press"]
    low, high = PSI[press["density"]]
    area = laid.wood.area
    need = low * MPA * area / press["clamp_n"]
    right = press["needed"] == max(1, math.ceil(need - 1e-6)) or abs(need - round(need)) < 1e-3
    out.expect(right, "layers", laid.name, f"{press['needed']} clamps are told, it takes {need:.2f}")
    have = laid.told.rule("glueup", "clamps", None)
    count = press["needed"] if have is None else min(have, press["needed"])
    reached = min(high, count * press["clamp_n"] / (MPA * area))
    right = press["count"] == count and abs(press["reached_psi"] - reached) < 0.01 + 1e-3 * reached
    out.expect(
        right, "layers", laid.name, f"{press['count']} clamps give {press['reached_psi']} psi, {reached:.2f}"
    )
    codes = {c["code"] for c in laid.layout["laminate"]["cautions"]}
    out.expect(
        ("G724" in codes) == (count < press["needed"]), "layers", laid.name, f"cautions {sorted(codes)}"
    )
