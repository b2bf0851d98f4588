"""The tables of a glue-up sheet, and the same for a spreadsheet."""

from __future__ import annotations

from nestyield.model import GlueMember, GlueUp, Laminate, Plan
from nestyield.model.facts import JointNote
from nestyield.paperwork.glue_figures import DrawnMember, face, lying, named, way
from nestyield.paperwork.look import LETTER_MM
from nestyield.paperwork.page import Pages
from nestyield.paperwork.phrases import phrase
from nestyield.paperwork.phrases.wood import SOURCES
from nestyield.paperwork.tables import table
from nestyield.paperwork.words import cell, clean
from nestyield.wood.joints import MPA_PER_PSI
from nestyield.words import Words

_MARKS = {
    "S": "read in the source",
    "M": "from memory",
    "D": "derived from shrinkage",
    "P": "practice",
    "O": "the maker's own",
}
_WIDE = {"mm": "25 mm", "in": "1 in"}


def _pair(point: tuple[float, float], words: Words) -> str:
    return f"{words.column(point[0])}; {words.column(point[1])}"


def pieces(pages: Pages, plan: Plan, members: list[DrawnMember]) -> None:
    """Write which pieces, which way they lie, and how thick they become."""
    words = Words(plan.shop.units)
    rows = []
    for each in members:
        told = each.told
        rows.append(
            [
                told.letter,
                named(each),
                clean(each.piece.shelf) or "–",
                f"{words.column(told.size_mm[0])} × {words.column(told.size_mm[1])}",
                words.column(told.rough_mm),
                f"{face(told)}, {way(told, words)}{'' if told.as_on_rack else ' *'}",
                _planing(told, words),
                "–" if each.piece.moisture_pct is None else f"{each.piece.moisture_pct:.1f} %",
            ]
        )
    pages.table(
        "Pieces",
        [
            "",
            "Piece",
            "Shelf",
            "Length × width",
            "Thickness",
            "Face up, orientation",
            "Plane before gluing",
            "Moisture",
        ],
        rows,
        [0.4, 1.0, 0.7, -1.9, -1.4, 1.8, 2.4, -1.3],
    )
    pages.paragraph(
        "Top face: the one that was up when the piece was measured for the rack. As measured: the end at "
        "which its length begins is at the left; end for end: at the right. Corner 0 in picture 2 shows "
        "both.",
        LETTER_MM,
        "plain-soft",
    )
    if any(not m.told.as_on_rack for m in members):
        pages.paragraph(
            "* Lies askew of how it was measured for the rack, or has no wood at that corner. Bottom face "
            "up: roll it over about its length first; then turn it, counter-clockwise, until it lies as in "
            "picture 2. Its corner 0 is the lower left of a box around it as it lies: lay straightedges "
            "along its lowest and its leftmost points.",
            LETTER_MM,
            "plain-soft",
        )


def _planing(told: GlueMember, words: Words) -> str:
    """Return to what thickness a piece is planed before gluing, and off which face."""
    if told.rough_mm - told.planed_mm < 0.05:
        return "as it is"
    if any(r.machine == "planer" and r.refused for r in told.machine_rules):
        return "no: see order of work"
    side = "upper" if told.planed_from == "up" else "lower"
    return f"to {words.column(told.planed_mm)}, off the {side} face"


def edges(pages: Pages, plan: Plan, members: list[DrawnMember]) -> None:
    """Write the joint lines: what comes off, where the line lies on the piece, where the mark stands."""
    words = Words(plan.shop.units)
    rows = []
    for each in members:
        for edge in each.told.edges:
            rows.append(
                [
                    each.told.letter + ("" if each.told.as_on_rack else "*"),
                    "upper" if edge.upper else "lower",
                    clean(edge.seam),
                    words.column(edge.off_mm[0]),
                    words.column(edge.off_mm[1]),
                    _pair(edge.on_piece_mm[0], words),
                    _pair(edge.on_piece_mm[1], words),
                    words.column(edge.mark_mm),
                ]
            )
    pages.table(
        "Joint lines and marks",
        [
            "",
            "Edge",
            "Seam",
            "Off, left",
            "Off, right",
            "Line begins (left)",
            "Line ends (right)",
            "Mark from left end",
        ],
        rows,
        [0.4, 0.8, 0.9, -0.9, -0.9, -1.6, -1.6, -1.4],
    )
    allowance = words.length(plan.shop.settings.jointing_mm, style="fine")
    odd = "" if all(m.told.as_on_rack for m in members) else " (with *: along the joint; square to it)"
    pages.paragraph(
        f"Off: from the joint line to the piece's old edge, {_WIDE[words.units]} from either end of the "
        "line. "
        f"Leave {allowance} between saw and line for jointing. Line: where it begins and ends on the "
        f"piece, measured from corner 0: along its length; across it{odd}. "
        "Mark: along the jointed edge from its left end.",
        LETTER_MM,
        "plain-soft",
    )


def keys(pages: Pages, plan: Plan, told: GlueUp) -> None:
    """Write the splines and dowels; nothing when there are none."""
    words = Words(plan.shop.units)
    rows = []
    for key in told.keys:
        a, b = key.along_mm
        spots = [_beside(a, words)] if key.kind == "dowel" else [_beside(a, words), _beside(b, words)]
        rows.append(
            [
                clean(key.name),
                clean(key.seam),
                " to ".join(spots),
                "–" if key.kind == "dowel" else words.column(b - a),
                *(words.number(v, style="fine") for v in (key.thick_mm, key.depth_mm, key.below_top_mm)),
            ]
        )
    if rows:
        pages.need(min(4.6 * len(rows) + 26.0, 90.0))
        pages.table(
            "Splines and dowels",
            [
                "",
                "Seam",
                "From the mark",
                "Length",
                "Slot or hole",
                "Depth, each edge",
                "Middle below upper face",
            ],
            rows,
            [1.1, 1.0, 2.4, -0.9, -1.1, -1.3, -1.9],
        )
        pages.paragraph(
            "A spline is as wide as both slots are deep together, less a little for glue; a dowel as long as "
            "both holes are deep, less a little.",
            LETTER_MM,
            "plain-soft",
        )


def _beside(s: float, words: Words) -> str:
    text = words.column(abs(s))
    return "at it" if text in ("0.0", "0") else f"{text} {'right' if s > 0 else 'left'}"


def seams(pages: Pages, plan: Plan, told: GlueUp) -> None:
    """Write where the seams lie, how far the pieces are slid, and what they run through."""
    words = Words(plan.shop.units)
    rows = []
    for seam in told.seams:
        first, last = (words.column(v) for v in seam.from_edge_mm)
        slid = words.column(abs(seam.slide_mm))
        left = [f"{clean(c.zone)}: {words.number(c.wood_left_mm, style='fine')}" for c in seam.crossings]
        crossed = "; ".join(dict.fromkeys(left))
        rows.append(
            [
                clean(seam.seam),
                f"{seam.lower}, {seam.upper}",
                first if first == last else f"{first} to {last}",
                words.column(seam.length_mm),
                "level"
                if slid in ("0.0", "0")
                else f"{seam.upper} {slid} {'right' if seam.slide_mm > 0 else 'left'} of {seam.lower}",
                crossed or "crosses nothing",
                ", ".join(seam.visible) or "nowhere",
            ]
        )
    pages.table(
        "Seams",
        ["Seam", "Joins", "From lower edge", "Length", "Slide: left ends", "Wood left at", "Visible"],
        rows,
        [0.8, 0.7, -1.2, -0.8, 2.1, 2.4, 1.4],
    )
    kinds: dict[JointNote, list[str]] = {}
    for seam in told.seams:
        kinds.setdefault(seam.joint, []).append(clean(seam.seam))
    text = "; ".join(f"{', '.join(names)}: {phrase(what, words)}" for what, names in kinds.items())
    pages.paragraph(
        f"Lower edge: the lower datum edge of picture 1. Wood left: what stays of the thickness. {text}.",
        LETTER_MM,
        "plain-soft",
    )


def clamps(pages: Pages, plan: Plan, told: GlueUp) -> None:
    """Write how many clamps, where, and how hard they press."""
    words = Words(plan.shop.units)
    u = words.units
    c = told.clamps
    places = ", ".join(words.number(p) for p in c.at_mm)
    pages.title("Clamps")
    count = len(c.at_mm)
    many = f"{count} clamps across" if count > 1 else "One clamp across"
    low, most = c.force_n
    high = max(low, min(most, count * c.clamp_n))
    given = ""
    if high < most:
        reached = words.pressure(c.pressure_psi[1] * high / most * MPA_PER_PSI)
        given = f" These clamps give {reached} at most."
    pages.paragraph(
        f"{many} all seams, at {places} {u} from the left datum edge. Each gives {words.force(c.clamp_n)} "
        f"(clamp_force of the shop); set each to {force_words(*c.each_n, words)}. Total force "
        f"{force_words(low, high, words)}. Wanted: {pressure_words(c.pressure_psi, words)} on "
        f"{clean(c.seam)}, the "
        f"longest ({c.density} wood).{given} Pressure and places: {SOURCES[c.source]}; the leaflet of your "
        "glue comes first.",
        LETTER_MM,
    )
    if count < c.needed:
        pages.paragraph(f"{c.needed} clamps are needed: see the cautions.", LETTER_MM, "plain-bold")
    if c.slips_mm:
        pages.paragraph(
            f"At {', '.join(words.number(p) for p in c.slips_mm)} {u} an edge of the blank runs at "
            "more than "
            "15° to the seam, or there is none: a clamp slips there. Cut a caul to the shape of the edge, "
            "glue a "
            "block to it, or leave that clamp out and set one as near as the edge is straight.",
            LETTER_MM,
        )


def force_words(low_n: float, high_n: float, words: Words) -> str:
    """Return a range of forces, newtons, as the shop writes it."""
    low, high = words.force(low_n), words.force(high_n)
    return low if low == high else f"{low} to {high}"


def pressure_words(psi: tuple[float, float], words: Words) -> str:
    """Return a range of pressures, pounds-force a square inch, as the shop writes it."""
    low, high = (words.pressure(p * MPA_PER_PSI) for p in psi)
    return f"{low} to {high}"


def strips(pages: Pages, plan: Plan, members: list[DrawnMember]) -> None:
    """Write the cut list: what each piece loses."""
    words = Words(plan.shop.units)
    rows = []
    for each in members:
        told = each.told
        found = "; ".join(
            " × ".join(words.column(v, rounding="wood") for v in (s.length_mm, s.width_mm))
            + f" at {clean(s.seam)}"
            + (", keep" if s.usable else "")
            for s in told.strips
        )
        rows.append([told.letter, named(each), words.area(told.loses_mm2), found or "only shavings"])
    pages.table(
        "Cut list: what each piece loses",
        ["", "Piece", "Total", "Largest offcuts (length × width), after kerf and jointing"],
        rows,
        [0.4, 1.4, -1.0, 5.0],
    )


def _small(mm: float | None, words: Words) -> str:
    return "–" if mm is None else words.number(mm, style="machine")


def movement_rows(pages: Pages, plan: Plan, told: GlueUp | Laminate) -> None:
    """Write how widths move over the year."""
    words = Words(plan.shop.units)
    u = words.units

    rows = [
        [
            r.what,
            clean(r.species),
            words.column(r.width_mm),
            _small(r.quartersawn_mm, words),
            _small(r.flatsawn_mm, words),
            ", ".join(_MARKS[m] for m in r.marks) or "no figures",
        ]
        for r in told.movement
    ]
    pages.table(
        "Seasonal movement",
        [
            "",
            "Species",
            "Width",
            f"Moves, quartersawn, {u}",
            f"Moves, flatsawn, {u}",
            "Figures",
        ],
        rows,
        [0.8, 1.8, -1.0, -1.6, -1.4, 2.0],
    )
    low, high = told.humidity_pct
    dry, damp = told.moisture_pct
    pages.paragraph(
        f"From {low:g} to {high:g} % humidity wood comes to {dry:.1f} to {damp:.1f} % moisture (Wood "
        "Handbook GTR-190, eq. 4-5, 13-2; growth rings are not known to the rack).",
        LETTER_MM,
        "plain-soft",
    )


def movement(pages: Pages, plan: Plan, told: GlueUp) -> None:
    """Write how widths move over the year, and the step at each seam."""
    movement_rows(pages, plan, told)
    words = Words(plan.shop.units)
    u = words.units
    pages.table(
        "Largest seasonal step at each seam",
        [
            "Seam",
            f"Both flatsawn, {u}",
            f"Both quartersawn, {u}",
            f"One of each, {u}",
            "Moisture apart",
        ],
        [
            [
                clean(s.seam),
                _small(s.step_flatsawn_mm, words),
                _small(s.step_quartersawn_mm, words),
                _small(s.step_unlike_mm, words),
                "not known" if s.moisture_points is None else f"{s.moisture_points:.1f} points",
            ]
            for s in told.seams
        ],
        [1.0, -1.4, -1.6, -1.4, -1.4],
    )


def csv_rows(plan: Plan) -> bytes:
    """Return one row a jointed edge of a glue-up: piece, line, what comes off, mark, thickness."""
    words = Words(plan.shop.units)
    u = words.units
    header = [
        "blank",
        "letter",
        "piece",
        "copy",
        "shelf",
        "face_up",
        "end_for_end",
        f"thickness_{u}",
    ]
    header += [f"planed_to_{u}", "planed_from_face", "edge", "seam"]
    header += [f"off_left_{u}", f"off_right_{u}"]
    header += [
        f"line_left_along_{u}",
        f"line_left_across_{u}",
        f"line_right_along_{u}",
        f"line_right_across_{u}",
    ]
    header += [
        f"mark_from_left_end_{u}",
        f"strip_length_{u}",
        f"strip_width_{u}",
        "keep_strip",
    ]
    header += [f"piece_loses_{words.area_unit()}"]
    rows = []
    for layout in plan.layouts:
        for each in lying(plan, layout, layout.glueup) if layout.glueup else ():
            for edge in each.told.edges:
                cut = [s for s in each.told.strips if s.seam == edge.seam][:1]
                (ax, ay), (bx, by) = edge.on_piece_mm
                rows.append(
                    [
                        cell(layout.blank.name),
                        each.told.letter,
                        cell(each.piece.name),
                        str(each.member.copy),
                        cell(each.piece.shelf),
                        face(each.told),
                        "yes" if each.told.end_for_end else "no",
                        words.cell(each.told.rough_mm),
                        words.cell(each.told.planed_mm),
                        each.told.planed_from if each.told.rough_mm - each.told.planed_mm >= 0.05 else "",
                        "upper" if edge.upper else "lower",
                        cell(edge.seam),
                        *(words.cell(v) for v in (*edge.off_mm, ax, ay, bx, by, edge.mark_mm)),
                        words.cell(cut[0].length_mm, rounding="wood") if cut else "",
                        words.cell(cut[0].width_mm, rounding="wood") if cut else "",
                        ("yes" if cut[0].usable else "no") if cut else "",
                        words.area_cell(each.told.loses_mm2),
                    ]
                )
    return table(header, rows)
