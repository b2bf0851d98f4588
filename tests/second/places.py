"""Where parts lie: in the blank, apart, with their grain, the right way round; of whom; no flaw in wood that stays."""

from __future__ import annotations

from shapely.geometry.base import BaseGeometry
from shapely.prepared import prep

from . import shapes
from .shapes import TOL
from .told import CUTS, Findings, Laid, may_be_of


def check(laid: Laid, out: Findings) -> None:
    """Check one layout."""
    for k, placement in enumerate(laid.placements):
        where = f"{laid.name} part {k + 1}"
        lies(laid, laid.parts[k], where, out)
        lawful_turn(laid, placement, where, out)
        thick_enough(laid, placement, where, out)
        flaws(laid, k, where, out)
    apart(laid, out)


def margin(laid: Laid) -> float:
    return laid.told.settings.get("blank_margin_mm", 6.35) + laid.blank.get("measured_mm", 0.0)


def lies(laid: Laid, part: BaseGeometry, where: str, out: Findings) -> None:
    """Inside the blank, with the margin to its edge and to its holes."""
    out.expect(laid.wood.buffer(TOL).contains(part), "inside", where, "is not inside the blank")
    off = part.distance(laid.wood.boundary)
    out.expect(
        off >= margin(laid) - TOL, "margin", where, f"{off:.4f} mm to the edge, {margin(laid):.4f} asked"
    )


def apart(laid: Laid, out: Findings) -> None:
    """The gap between parts."""
    for a in range(len(laid.parts)):
        for b in range(a):
            off = laid.parts[a].distance(laid.parts[b])
            where = f"{laid.name} parts {b + 1}, {a + 1}"
            bad = laid.parts[a].intersection(laid.parts[b]).area > 0.01
            out.expect(
                off >= laid.told.gap - TOL and not bad, "gap", where, f"{off:.4f} mm of {laid.told.gap} mm"
            )
            for one, other in ((a, b), (b, a)):
                groove = laid.parts[one].buffer(laid.told.cutter + TOL)
                over = sum(z.difference(groove).intersection(laid.parts[other]).area for z in laid.swept[one])
                out.expect(
                    over < 0.05, "cut into", where, f"a zone of {one + 1} cuts {over:.1f} mm2 of {other + 1}"
                )


def lawful_turn(laid: Laid, placement: dict, where: str, out: Findings) -> None:
    """Grain within the tolerance, mirror image and face as the part asks."""
    part = laid.told.parts[placement["part"]]
    image = placement["mirrored"] == placement.get("front_up", True)
    asked = part.get("mirrored", "no")
    out.expect(
        asked == "allowed" or image == (asked == "only"),
        "mirror",
        where,
        f"mirror image {image}, the part says {asked}",
    )
    for member in laid.blank["members"]:
        piece = laid.told.pieces[member["piece"]]
        if part.get("show_face", "either") == "top":
            good = placement.get("front_up", True) != member.get("mirrored", False)
            out.expect(good, "face", where, f"its front is not on the top of {piece['name']}")
        grain, own = piece.get("grain_deg"), part.get("grain_deg", 0.0)
        if grain is None or own is None or len(laid.blank["members"]) > 1:
            continue
        off = shapes.grain_apart(shapes.grain_as_laid(own, placement), shapes.grain_as_laid(grain, member))
        most = part.get("grain_tolerance_deg", 5.0)
        out.expect(off <= most + 1e-6, "grain", where, f"{off:.4f} degrees off, {most} allowed")


def thick_enough(laid: Laid, placement: dict, where: str, out: Findings) -> None:
    """Thickness and species of what the blank is made of."""
    told, part = laid.told, laid.told.parts[placement["part"]]
    s, thick = told.settings, laid.blank["thickness_mm"]
    slack = s.get("thickness_tolerance_mm", 0.15)
    if laid.is_sheet:
        right = -slack - TOL <= thick - part["thickness_mm"] <= slack + TOL
        out.expect(right, "thickness", where, f"a sheet of {thick} mm for {part['thickness_mm']} mm")
    else:
        left = thick - 2 * s.get("planing_mm", 0.8) - part["thickness_mm"]
        out.expect(left >= -slack - TOL, "thickness", where, f"{-left:.3f} mm too thin once planed")
        most = s.get("most_planed_away_mm", 12.0)
        out.expect(thick - part["thickness_mm"] <= most + TOL, "thickness", where, "too much to plane away")
        top, bottom = laid.layers(placement)
        spare = min(s.get("planing_mm", 0.8), (thick - part["thickness_mm"]) / 2) - TOL
        right = top >= spare - slack and bottom <= thick - spare + slack
        out.expect(right, "planing", where, f"{top:.3f} mm off the top, {thick - bottom:.3f} off the bottom")
    if not laid.blank.get("stack"):
        for row in laid.rows:
            wood, named = (
                told.pieces[row]["species"],
                part.get("species") or "the woods for a part with a grain",
            )
            out.expect(may_be_of(part, wood), "species", where, f"{wood} is none of {named}")


def stays(
    laid: Laid, placement: dict, shape: BaseGeometry, first: float, last: float, through: bool = True
) -> list[tuple[BaseGeometry, float, list[dict]]]:
    """Return what of a flaw in a part stays: regions, how thick, and the zones over each."""
    top, bottom = laid.layers(placement)
    cells: list[tuple[BaseGeometry, list[tuple[float, float]], list[dict]]] = [
        (shape, [(max(top, first), min(bottom, last))], [])
    ]
    for zone, where, side in laid.zones(placement):
        if not where.intersects(shape):
            continue
        gone = laid.cut(placement, zone, side) if zone["role"] in CUTS else (0.0, 0.0)
        fresh = []
        for cell, spans, over in cells:
            inside, outside = cell.intersection(where), cell.difference(where)
            if outside.area > 1e-9:
                fresh.append((outside, spans, over))
            if inside.area > 1e-9:
                rest = [
                    part
                    for a, b in spans
                    for part in ((a, min(b, gone[0])), (max(a, gone[1]), b))
                    if part[1] - part[0] > 0.0
                ]
                fresh.append((inside, rest if gone[1] > gone[0] else spans, [*over, zone]))
        cells = fresh
    return [(cell, sum(b - a for a, b in spans if b > a), over) for cell, spans, over in cells]


def flaws(laid: Laid, k: int, where: str, out: Findings) -> None:
    """No wood that stays holds a flaw that it may not hold; metal is nowhere near the cutter."""
    placement, part = laid.placements[k], laid.parts[k]
    rules = laid.told.parts[placement["part"]]
    slack = laid.told.settings.get("thickness_tolerance_mm", 0.15) if laid.is_sheet else 0.002
    near = prep(part.buffer(laid.told.cutter))
    filled: dict[str, float] = {}
    for defect in laid.blank.get("defects", []):
        shape, first, last = laid.flaw(defect)
        if not near.intersects(shape):
            continue
        name = f"{defect['kind']} {defect['name']}"
        if defect["kind"] == "metal":
            touched = shape.intersection(part.buffer(laid.told.cutter - TOL))
            out.expect(touched.area < 0.01, "metal", where, f"{name} is where the cutter comes")
            continue
        inside = shape.buffer(-TOL).intersection(part.buffer(-TOL))
        volume = 0.0
        for cell, thick, over in stays(laid, placement, inside, first + slack, last - slack):
            if cell.area < 0.01 or thick < 0.005:
                continue
            says = [z["tolerates"][defect["kind"]] for z in over if defect["kind"] in z.get("tolerates", {})]
            means = says or [rules.get("tolerates", {}).get(defect["kind"], "refused")]
            bad = all(m == "refused" for m in means)
            out.expect(
                not bad,
                "flaw",
                where,
                f"{name}: {cell.area:.2f} mm2, {thick:.3f} mm of it stay, {means} ({rules['name']})",
            )
            if "filled" in means:
                volume += cell.area * thick / 1000.0
        if volume > 0.0:
            filled[defect["name"]] = volume
    fills(laid, k, filled, where, out)


def fills(laid: Laid, k: int, filled: dict[str, float], where: str, out: Findings) -> None:
    """Every flaw to fill is told with its filler, within the limit."""
    told = {f["defect"]: f["volume_ml"] for f in laid.layout.get("fills", []) if f["placement"] == k}
    sloped = any(z["role"] == "contour" for z, _, _ in laid.zones(laid.placements[k]))
    for name, volume in filled.items():
        if sloped:
            continue
        out.expect(name in told or volume < 0.02, "filler", where, f"{name} is not told as filled")
        if name in told and laid.blank.get("measured_mm", 0.0) == 0.0 and not laid.is_sheet:
            right = abs(told[name] - volume) <= 0.02 + 0.03 * max(volume, told[name])
            out.expect(right, "filler", where, f"{name}: told {told[name]:.3f} ml, it is {volume:.3f} ml")
    for name in told:
        known = {d["name"] for d in laid.blank.get("defects", [])}
        out.expect(name in known, "filler", where, f"{name} is no flaw of the blank")
        if not sloped and name not in filled:
            out.expect(told[name] <= 0.02, "filler", where, f"{name} needs no filler, {told[name]} ml told")
    limit = laid.told.parts[laid.placements[k]["part"]].get("fill_limit_ml")
    if limit is not None:
        out.expect(
            sum(filled.values()) <= limit * 1.01 + 0.01 or sloped, "filler", where, "more than the limit"
        )
