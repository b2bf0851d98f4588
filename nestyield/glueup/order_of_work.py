"""The order of work of a glue-up, step by step, and what to mind."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

from nestyield.bed.words import format_length
from nestyield.glueup.boards import Board
from nestyield.glueup.rip_offcuts import kerf_mm
from nestyield.model import Blank, GlueMember, GlueUp, JointReinforcement, Piece, Shop, Units
from nestyield.model.arcs import box_of
from nestyield.wood.blank import MOISTURE_POINTS
from nestyield.wood.machining import MachineLimits, machining_cautions

#: Less is not worth a word, millimetres.
_LEAST_MM = 0.05

_FACE = {"up": "upper", "down": "lower"}

USUAL = (
    "Look the pieces over and go over them with a metal detector before any cutter touches them; loose "
    "knots and splits come off first.",
    "Saw, jointer and planer: guards in place, eyes and ears covered, push blocks and push stick at hand, "
    "hands never over the cutter. Extract the dust and wear a mask.",
    "The manuals of your machines, the leaflet of the glue, the rules where you live and a person qualified "
    "for the work come before this sheet.",
)


def length(mm: float, units: Units) -> str:
    """Return a length as a step says it: hundredths of a millimetre, or fractions of an inch."""
    return format_length(round(mm, 2) + 0.0 if units == "mm" else mm, units)


def steps(made: GlueUp, cut: Sequence[Board], shop: Shop) -> tuple[str, ...]:
    """Return the order of work, one line a step.

    Parameters
    ----------
    made : GlueUp
        All but its steps.
    cut : sequence of Board
    shop : Shop
    """
    u = shop.units
    out = [
        *_sawing_apart(made, shop),
        "Lay the pieces on the bench as in picture 2: the face that is named up, corner 0 where the picture "
        "shows it.",
        "On each face that lies up write the piece's letter and an arrow to the left end. From here on "
        "upper, lower, left and right are those of the picture.",
        *_planing(made, u),
        *_ripping(made, shop),
        *_jointing(made, u),
        "Set the marks: along each jointed edge, from its left end, on the face that lies up.",
        *_slots(made, u),
        "Put the pieces together dry, mark on mark, faces that lie up level. No light may show along a seam, "
        "and clamps must close it with little force; otherwise joint again.",
        *_glueing(made, u),
        "Leave it in the clamps as long as the glue's leaflet says, and a day before planing.",
        *_afterwards(made, cut, shop),
    ]
    return tuple(out)


def _sawing_apart(made: GlueUp, shop: Shop) -> list[str]:
    units = shop.units
    sizes = {p.name: _size(p, units) for p in shop.pieces}
    out = []
    for cut in made.cuts:
        (ax, ay), (bx, by) = cut.line_mm
        a, b, to = (ax, bx, "along its length") if cut.across else (ay, by, "across its width")
        first, last = (length(round(v, 1) if units == "mm" else v, units) for v in (a, b))
        place = f"at {first}" if first == last else f"from {first} to {last}"
        name = cut.piece if cut.copy == 1 else f"{cut.piece}/{cut.copy}"
        grain = "across" if cut.across else "along"
        out.append(
            f"Saw {name} apart (picture 3{sizes.get(cut.piece, '')}) {grain} the grain, middle of the cut "
            f"{place} {to} from corner 0, kerf {format_length(cut.kerf_mm, units)}: {cut.before} is the part towards "
            f"that corner, {cut.after} the one beyond."
        )
    return out


def _size(piece: Piece, units: Units) -> str:
    """Return a piece's length and width on the rack, to stand after something else."""
    box = box_of(piece.shape.outer)
    return f"; it is {length(round(box.width, 1), units)} × {length(round(box.height, 1), units)}"


def _refused(member: GlueMember, machine: str) -> bool:
    return any(c.machine == machine and c.refused for c in member.cautions)


def _thicker(made: GlueUp) -> list[GlueMember]:
    return [m for m in made.members if m.rough_mm - m.planed_mm > _LEAST_MM]


def _listed(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _planing(made: GlueUp, units: Units) -> list[str]:
    planed = [m for m in _thicker(made) if not _refused(m, "planer")]
    later = [m for m in _thicker(made) if _refused(m, "planer")]
    thick = length(made.thickness_mm, units)
    out = []
    if planed:
        each = [
            f"{m.letter} by {length(m.rough_mm - m.planed_mm, units)} off the {_FACE[m.planed_from]} face"
            for m in planed
        ]
        out.append(f"Plane to {thick}: {_listed(each)}.")
    if later:
        each = [f"{m.letter} ({length(m.rough_mm, units)})" for m in later]
        out.append(
            f"Do not put through the planer: {_listed(each)}. Glue with the faces that lie up level, and "
            f"level the other side of the blank to {thick} afterwards with a router sled or a hand plane."
        )
    return out


def _ripping(made: GlueUp, shop: Shop) -> list[str]:
    u, allowance = shop.units, shop.settings.jointing_mm
    least = allowance + kerf_mm(shop.settings)
    edges = [(m.letter, e) for m in made.members for e in m.edges]
    sawn = [(letter, e) for letter, e in edges if max(e.off_mm) > least]
    out = []
    if sawn:
        full = f", full by {length(allowance, u)} for the jointer" if allowance > _LEAST_MM else ""
        out.append(
            "Strike the bold lines of picture 2 and rip along them, the saw on the dotted side"
            f"{full}. The far edges may stay as they are."
        )
    shaved = [f"{letter} at {e.seam}" for letter, e in edges if max(e.off_mm) <= least]
    if shaved:
        out.append(f"Too little to saw off, take it off at the jointer: {_listed(shaved)}.")
    keep = [f"{m.letter}, {s.seam}" for m in made.members for s in m.strips if s.usable]
    if keep:
        out.append(f"Write on the strips that are worth keeping and put them back: {_listed(keep)}.")
    return out


def _jointing(made: GlueUp, units: Units) -> list[str]:
    out = [
        "Joint each edge to its line. Run the two edges of one seam with opposite faces against the fence: "
        "then a fence that is a little off shows in neither face of the blank."
    ]
    for member in made.members:
        out += [
            f"{member.letter} does not go over the jointer by itself: {c.instead}."
            for c in member.cautions[:]
            if c.machine == "jointer" and c.refused
        ][:1]
    return out


def _slots(made: GlueUp, units: Units) -> list[str]:
    same: dict[str, list[str]] = {}
    for (seam, _), found in itertools.groupby(made.keys, key=lambda k: (k.seam, k.kind)):
        keys = list(found)
        below = " or ".join(length(z, units) for z in sorted({k.below_top_mm for k in keys}))
        what = (
            f"{_slot(keys[0], units)} in both edges, middle {below} below the face that lies up, fence on "
            "that face; where along the seam says the table of splines and dowels."
        )
        same.setdefault(what, []).append(seam)
    return [f"At {_listed(seams)}: {what}" for what, seams in same.items()]


def _slot(key: JointReinforcement, units: Units) -> str:
    if key.kind == "spline":
        return f"stopped slots {format_length(key.thick_mm, units)} wide and {format_length(key.depth_mm, units)} deep for splines"
    return f"holes of {format_length(key.thick_mm, units)}, {format_length(key.depth_mm, units)} deep, for dowels"


def _glueing(made: GlueUp, units: Units) -> list[str]:
    what = "seam" if len(made.seams) == 1 else "seams"
    several = " Where the glue sets too fast for that, one seam after the other." * (len(made.seams) > 1)
    keyed = ", splines or dowels in place" if made.keys else ""
    return [
        f"Glue both edges of the {what}{keyed}, rub them together, mark on mark, and clamp from the middle "
        "outwards, clamps in turn above and below. Cauls across keep the faces level; wipe off what "
        f"squeezes out.{several}"
    ]


def _afterwards(made: GlueUp, cut: Sequence[Board], shop: Shop) -> list[str]:
    u = shop.units
    finished = made.thickness_mm - made.top_off_mm - made.bottom_off_mm
    if made.top_off_mm + made.bottom_off_mm <= _LEAST_MM:
        return ["Scrape off the glue and go on with the shop sheet."]
    return [
        f"Scrape off the glue. It is planed to {length(finished, u)} only now: how much comes off each face "
        "says the shop sheet."
    ]


def cautions(made: GlueUp, cut: Sequence[Board], blank: Blank, shop: Shop) -> tuple[str, ...]:
    """Return what to mind with this glue-up besides what each member's machines ask for.

    Parameters
    ----------
    made : GlueUp
    cut : sequence of Board
    blank : Blank
    shop : Shop
    """
    u = shop.units
    out = list(made.conflicts)
    for seam in made.seams:
        if seam.kind != "long grain":
            out.append(
                f"{seam.seam.capitalize()}: {seam.note}; about {100 * seam.strength:.0f} % of the wood's "
                f"strength ({seam.strength_source})."
            )
        if seam.kind == "crossed":
            out.append(
                f"{seam.seam.capitalize()}: over the year the two sides pull at each other by up to "
                f"{format_length(round(seam.mismatch_mm, 2), u)} and may crack."
            )
        thin = [c for c in seam.crossings if 0 < c.wood_left_mm < blank.thickness_mm / 4]
        for c in thin:
            name = c.zone.split("#")[0]
            out.append(
                f"{seam.seam.capitalize()} runs through {name}: {length(c.wood_left_mm, u)} of wood is left."
            )
    limit = shop.settings.glueup.get("moisture_difference")
    most = float(limit) if isinstance(limit, int | float) else MOISTURE_POINTS
    known = [s.piece.moisture_pct for s in cut if s.piece.moisture_pct is not None]
    if len(known) > 1 and max(known) - min(known) > 0:
        out.append(
            f"Moisture of the pieces differs by {max(known) - min(known):.1f} points, the shop's limit is "
            f"{most:g}: measure again before gluing."
        )
    if len(known) < len(cut):
        out.append("Measure the moisture of every piece before gluing: not all are known.")
    out += _planer(blank, made, shop)
    return (*dict.fromkeys(out), *USUAL)


def _planer(blank: Blank, made: GlueUp, shop: Shop) -> list[str]:
    """Return what the planer says to the whole blank."""
    if made.top_off_mm + made.bottom_off_mm <= _LEAST_MM:
        return []
    xs = [x for x, _ in blank.shape.outer.points_mm]
    ys = [y for _, y in blank.shape.outer.points_mm]
    sizes = sorted((max(xs) - min(xs), max(ys) - min(ys)), reverse=True)
    limits = MachineLimits.of(shop.settings.machines)
    found = machining_cautions(sizes[0], sizes[1], blank.thickness_mm, limits, ("planer",), shop.units)
    return [f"The blank: {c.text}. Instead: {c.instead}." for c in found if c.refused]
