"""Blanks of strips on edge: each strip turned as a solid, its flaws with it, side by side, apart in its board."""

from __future__ import annotations

import itertools

import numpy as np
from shapely.geometry import box
from shapely.ops import unary_union

from . import shapes
from .told import Findings, Laid

#: Seams of strips keep this far from an edge along them at the most (README).
SLIVER = 5.0


def turned(member: dict, points: np.ndarray) -> np.ndarray:
    """Return points of a board, (n, 3): along, across, height above its top face (below: negative), in the blank.

    The board is turned about its length so that the edge away from 0 comes up, then as its member lies: bottom
    up is a half turn about the axis across, the angle is one about the upright axis.
    """
    _, y0, _, y1 = shapes.region(member["cut"]).bounds
    top = member["strip"]["top_off_mm"]
    p = np.column_stack([points[:, 0], -(points[:, 2] + top), points[:, 1] - y1])
    if member.get("mirrored"):
        p = np.column_stack([-p[:, 0], p[:, 1], -p[:, 2] - (y1 - y0)])
    if member.get("angle_deg", 0.0) == 180.0:
        p = np.column_stack([-p[:, 0], -p[:, 1], p[:, 2]])
    return p + np.array([member.get("x_um", 0) / 1000, member.get("y_um", 0) / 1000, 0.0])


def solid(member: dict, low: tuple[float, float, float], high: tuple[float, float, float]) -> np.ndarray:
    """Return the least and the largest corner of a box of the board in the blank, shape (2, 3)."""
    corners = np.array(list(itertools.product(*zip(low, high))))
    lies = turned(member, corners)
    return np.array([lies.min(axis=0), lies.max(axis=0)])


def check(laid: Laid, out: Findings) -> None:
    """Check a blank of strips."""
    told, blank, where = laid.told, laid.blank, laid.name
    members = blank["members"]
    right = len(members) > 1 and all(m.get("strip") and m.get("cut") and not m.get("layer") for m in members)
    right = right and all(m["piece"] in told.pieces for m in members) and bool(laid.layout.get("on_edge"))
    out.expect(right, "strips", where, "not all of it is strips, or it does not tell how")
    for p in laid.placements:
        may = told.parts[p["part"]].get("strips", "no")
        out.expect(may != "no", "strips", where, f"{p['part']} is not to be of strips")
    if not right:
        return
    planing, thick = told.settings.get("planing_mm", 0.8), blank["thickness_mm"]
    x0, y0, x1, y1 = laid.wood.bounds
    at, joints = y0, []
    for m in members:
        piece = told.pieces[m["piece"]]
        a0, b0, a1, b1 = shapes.region(m["cut"]).bounds
        off = (m["strip"]["top_off_mm"], m["strip"]["bottom_off_mm"])
        out.expect(min(off) >= planing - 1e-6, "strips", where, f"{off} mm come off {piece['name']}")
        inside = shapes.region(m["cut"]).difference(shapes.region(piece["shape"])).area
        out.expect(inside < 0.05, "strips", where, f"{inside:.3f} mm2 are not in {piece['name']}")
        sure = (
            not piece.get("measured_mm") and not piece.get("seams") and piece.get("grain_deg") in (0.0, 180.0)
        )
        out.expect(sure, "strips", where, f"{piece['name']} is unsure, glued up, or its grain runs across")
        lies = solid(m, (a0, b0, -(piece["thickness_mm"] - off[1])), (a1, b1, -off[0]))
        want = [[x0, at, -thick], [x1, lies[1][1], 0.0]]
        out.expect(
            np.allclose(lies, want, atol=2e-3), "strips", where, f"a strip of {piece['name']} lies {lies}"
        )
        at = float(lies[1][1])
        joints.append(at)
    out.expect(abs(at - y1) < 2e-3, "strips", where, f"strips end at {at}, the blank at {y1}")
    seams = [s["line_mm"][0][1] for s in blank["seams"]]
    right = len(seams) == len(members) - 1 and np.allclose(seams, joints[:-1], atol=2e-3)
    out.expect(bool(right), "strips", where, f"seams at {seams}, joints at {joints[:-1]}")
    apart(laid, out)
    flaws(laid, out)
    seam_rules(laid, out)


def apart(laid: Laid, out: Findings) -> None:
    """Strips of one copy lie the kerf apart in it."""
    kerf = laid.told.rule("machines", "saw_kerf_mm", 3.2)
    for a, b in itertools.combinations(laid.blank["members"], 2):
        if (a["piece"], a["copy"]) == (b["piece"], b["copy"]):
            room = shapes.region(a["cut"]).distance(shapes.region(b["cut"]))
            out.expect(
                room >= kerf - 2e-3, "strips", laid.name, f"{room:.3f} mm between strips of {a['piece']}"
            )


def flaws(laid: Laid, out: Findings) -> None:
    """Every flaw of a board that is in a strip is told where it comes to lie, from and to its depth."""
    have = [(d["kind"], *laid.flaw(d)) for d in laid.blank.get("defects", [])]
    for m in laid.blank["members"]:
        piece = laid.told.pieces[m["piece"]]
        thick, off = piece["thickness_mm"], m["strip"]
        for d in piece.get("defects", []):
            deep = d.get("depth_mm")
            if deep is None or d.get("face", "through") == "through":
                a, b = 0.0, thick
            else:
                a, b = (0.0, deep) if d["face"] == "top" else (thick - deep, thick)
            a, b = max(a, off["top_off_mm"]), min(b, thick - off["bottom_off_mm"])
            own = shapes.region(d["shape"]).intersection(shapes.region(m["cut"]))
            if b - a < 1e-3 or own.area < 0.05:
                continue
            x0, y0, x1, y1 = own.bounds
            (u0, v0, w0), (u1, v1, w1) = solid(m, (x0, y0, -b), (x1, y1, -a))
            same = [s for kind, s, p, q in have if kind == d["kind"] and p <= -w1 + 2e-3 and q >= -w0 - 2e-3]
            left = box(u0, v0, u1, v1).buffer(-0.01).difference(unary_union(same)).area
            out.expect(
                left < 0.1, "strips", laid.name, f"{d['name']}: {left:.2f} mm2 are not told {-w1} to {-w0}"
            )


def seam_rules(laid: Laid, out: Findings) -> None:
    """Seams keep out of no_seam zones and off holes, and leave no sliver along a straight edge."""
    clear = laid.told.rule("glueup", "hole_clearance_mm", 3.0)
    sliver = min(SLIVER, laid.told.rule("glueup", "sliver_mm", 20.0))
    for seam in laid.blank["seams"]:
        line = shapes.line_of(seam["line_mm"])
        y = seam["line_mm"][0][1]
        for k, placement in enumerate(laid.placements):
            where = f"{laid.name} {seam['name']} part {k + 1}"
            for zone, shape, _ in laid.zones(placement):
                inside = shape.intersection(laid.parts[k])
                if zone["role"] == "no_seam":
                    n = line.intersection(inside.buffer(-0.02)).length
                    out.expect(n < 0.05, "seam rule", where, f"{n:.2f} mm in {zone['name']}")
                elif zone["role"] == "hole" and not inside.is_empty:
                    far = line.distance(inside)
                    out.expect(
                        far >= clear - 0.02, "seam rule", where, f"{far:.3f} mm to hole {zone['name']}"
                    )
            part = laid.parts[k]
            for (x0, y0), (x1, y1) in itertools.pairwise(part.exterior.coords):
                if abs(x1 - x0) > 46.0 and abs(y1 - y0) <= 0.02 * abs(x1 - x0) and part.intersects(line):
                    near = min(abs(y0 - y), abs(y1 - y))
                    right = near >= sliver - 0.1 or not part.bounds[1] < y < part.bounds[3]
                    out.expect(right, "seam rule", where, f"{near:.2f} mm to a straight edge along it")
