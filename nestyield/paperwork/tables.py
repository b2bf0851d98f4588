"""Tables for a spreadsheet: units in the header, CRLF, UTF-8 with its mark, no cell that runs.

The byte order mark is there because common spreadsheets take a file without one for the local code page
and spoil every name outside it.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

from nestyield.model import Layout, Leftover, LeftoverDefects, Plan
from nestyield.paperwork import cautions, fills, flaws, resaw_figure, saw_figure, weights
from nestyield.paperwork.curves import bounds, move_of, outlines_of
from nestyield.paperwork.sheet_figure import datum
from nestyield.paperwork.words import cell, currency_of
from nestyield.words import Words


def table(header: Sequence[str], rows: Iterable[Sequence[str]]) -> bytes:
    """Return a table as RFC 4180 text, UTF-8 with a byte order mark."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerow(header)
    writer.writerows(rows)
    return b"\xef\xbb\xbf" + stream.getvalue().encode("utf-8")


def _bed(layout: Layout) -> tuple[str, str]:
    if layout.chosen is None:
        return "", ""
    setup = layout.setups[layout.chosen]
    return cell(setup.bed), setup.along


def _yes(value: bool) -> str:
    return "yes" if value else "no"


def _members(layout: Layout) -> str:
    return cell(" + ".join(m.label for m in layout.blank.members))


def cuts(plan: Plan) -> bytes:
    """Return one row a part to be cut: from which blank, where on it, which way on which bed.

    ``left`` and ``bottom`` are measured from the blank's datum edges, the lines through its lowest x and
    lowest y, to the nearest edges of the part;
    ``across_x`` and ``across_y`` are the part's extents as it lies. The weight is that of the finished part's
    wood alone; in one case of three it is farther off than the column beside it says.
    """
    words = Words(plan.shop.units)
    u = words.units
    header = [
        "blank",
        "pieces",
        "shelf",
        "species",
        f"blank_thickness_{u}",
        "number",
        "part",
        "order",
        "copy",
    ]
    header += [
        f"part_thickness_{u}",
        f"left_{u}",
        f"bottom_{u}",
        f"across_x_{u}",
        f"across_y_{u}",
        "turned_deg",
    ]
    header += [
        "mirror_image",
        "face_up",
        "bed",
        "along",
        "board_feet_of_blank",
        f"value_of_blank{currency_of(plan)}",
        f"weight_of_part_{words.weight_unit()}",
        f"weight_may_be_off_{words.weight_unit()}",
        "set",
    ]
    orders = {o.name: o for o in plan.shop.orders}
    pieces = {p.name: p for p in plan.shop.pieces}
    rows = []
    for layout in plan.layouts:
        blank = layout.blank
        shelves = sorted({pieces[m.piece].shelf for m in blank.members if m.piece in pieces} - {""})
        dx, dy = datum(layout)
        for k, placement in enumerate(layout.placements, start=1):
            part = plan.shop.part(placement.part)
            x0, y0, x1, y1 = bounds([move_of(placement).outline(part.outline)])
            bed, along = _bed(layout)
            rows.append(
                [
                    cell(blank.name),
                    _members(layout),
                    cell(", ".join(shelves)),
                    cell(blank.species),
                    words.cell(blank.thickness_mm),
                    str(k),
                    cell(part.name),
                    cell(placement.order),
                    str(placement.copy),
                    words.cell(part.thickness_mm, style="fine"),
                    words.cell(x0 - dx),
                    words.cell(y0 - dy),
                    words.cell(x1 - x0),
                    words.cell(y1 - y0),
                    words.angle(placement.angle_deg).removesuffix("°"),
                    _yes(placement.mirrored == placement.front_up),
                    "front" if placement.front_up else "back",
                    bed,
                    along,
                    f"{layout.board_feet:.2f}",
                    f"{layout.value:.2f}",
                    *weights.cells(layout, k - 1, words),
                    cell(orders[placement.order].set) if placement.order in orders else "",
                ]
            )
    return table(header, rows)


def leftovers(plan: Plan) -> bytes:
    """Return one row a leftover, usable or not."""
    words = Words(plan.shop.units)
    u = words.units
    header = [
        "leftover",
        "blank",
        "species",
        f"thickness_{u}",
        f"length_{u}",
        f"width_{u}",
    ]
    header += [f"area_{words.area_unit()}", "keep", "defects", f"clear_length_{u}", f"clear_width_{u}"]
    rows = []
    for layout in plan.layouts:
        for leftover in layout.leftovers:
            size = leftover.rectangle_mm[2:]
            rows.append(
                [
                    cell(leftover.name),
                    cell(layout.blank.name),
                    cell(layout.blank.species),
                    words.cell(plan.leftover_thickness_mm(layout), style="fine"),
                    *(words.cell(v, rounding="wood") if min(size) > 0 else "" for v in size),
                    words.area_cell(leftover.area_mm2),
                    _yes(leftover.usable),
                    cell(flaws.inside(layout, leftover)) if leftover.usable else "",
                    *_clear(
                        layout.inspection.leftovers if layout.inspection is not None else (), leftover, words
                    ),
                ]
            )
    return table(header, rows + _rests(plan, words))


def _rests(plan: Plan, words: Words) -> list[list[str]]:
    """Return one row for all that is left over of each piece sawn before the bed."""
    out = []
    for sawing in plan.sawings:
        piece = plan.shop.piece(sawing.piece)
        for k, rest in enumerate(sawing.rests):
            resaw = sawing.resaw
            thick = piece.thickness_mm if resaw is None else resaw.rests[k].thickness_mm
            out.append(
                [
                    cell(rest.name),
                    cell(piece.name),
                    cell(piece.species),
                    words.cell(thick, style="fine"),
                    *(words.cell(v, rounding="wood") for v in rest.rectangle_mm[2:]),
                    words.area_cell(rest.area_mm2),
                    _yes(rest.usable),
                    cell(flaws.kinds_in(rest, sawing.flaws, piece.defects)) if rest.usable else "",
                    *_clear(sawing.flaws, rest, words),
                ]
            )
    return out


def travel_of(plan: Plan, layout: Layout, number: int) -> tuple[float, float]:
    """Return the least travel along X and Y that cuts a part as it lies, the blank's length along X, mm."""
    placement = layout.placements[number - 1]
    x0, y0, x1, y1 = bounds([move_of(placement).outline(plan.shop.part(placement.part).outline)])
    cutter = plan.shop.settings.cutter_diameter_mm
    return x1 - x0 + cutter, y1 - y0 + cutter


def least_travel(plan: Plan) -> bytes:
    """Return ``travel.csv``: for each part the least travel along X and Y, with the blank along either."""
    words = Words(plan.shop.units)
    u = words.units
    header = ["blank", "number", "part", "blank_along", f"least_travel_x_{u}", f"least_travel_y_{u}"]
    rows = []
    for layout in plan.layouts:
        for k, placement in enumerate(layout.placements, start=1):
            there = travel_of(plan, layout, k)
            for along, (x, y) in (("x", there), ("y", there[::-1])):
                cells = (words.cell(x, style="machine"), words.cell(y, style="machine"))
                rows.append([cell(layout.blank.name), str(k), cell(placement.part), along, *cells])
    return table(header, rows)


def sawings(plan: Plan) -> bytes:
    """Return one row a cut of the pieces that are sawn before the bed.

    ``comes_off`` is measured from where the wood that the cut divides begins, the other lengths from
    the piece's corner. Of a resaw cut ``comes_off`` is the distance from fence to blade, ``from_corner`` the
    depth of the blade below the top face, and the cut runs through all of the piece.
    """
    words = Words(plan.shop.units)
    u = words.units
    lengths = ("comes_off", "from_corner", "runs_from", "runs_to")
    header = ["piece", "copy", "cut", "how", *(f"{name}_{u}" for name in lengths), "gives", "metal"]
    rows = []
    for sawing in plan.sawings:
        piece = plan.shop.piece(sawing.piece)
        x0, y0, _, _ = bounds(outlines_of(piece.shape))
        if sawing.resaw is not None:
            for each, told in zip(sawing.resaw.cuts, resaw_figure.rows(plan, sawing, sawing.resaw)):
                deep = (words.cell(each.fence_mm), words.cell(each.at_mm))
                rows.append(
                    [cell(piece.name), str(sawing.copy), told[0], "resaw", *deep, "", "", cell(told[2]), ""]
                )
        for number, cut in enumerate(sawing.cuts, start=1):
            corner, side = (x0, y0) if cut.across == "x" else (y0, x0)
            places = (cut.at_mm - cut.start_mm, cut.at_mm - corner, cut.from_mm - side, cut.to_mm - side)
            rows.append(
                [
                    cell(piece.name),
                    str(sawing.copy),
                    str(number),
                    saw_figure.direction(piece, cut),
                    *(words.cell(v) for v in places),
                    cell(saw_figure.gives(plan, sawing, cut)),
                    cell(", ".join(cut.defects)),
                ]
            )
    return table(header, rows)


def _clear(held: Sequence[LeftoverDefects], leftover: Leftover, words: Words) -> list[str]:
    """Return length and width of the rectangle that is clear of defects; empty for waste."""
    found = [one.clear_mm for one in held if one.leftover == leftover.name]
    return [words.cell(v, rounding="wood") for v in found[0][2:]] if found else ["", ""]


def seams(plan: Plan) -> bytes:
    """Return one row a seam under a part, and one for each seam that runs under none.

    ``wood_left`` is the least thickness that stays at the seam where it crosses a zone; ``from`` and ``to``
    are its ends, measured from the blank's datum corner.
    """
    words = Words(plan.shop.units)
    u = words.units
    header = [
        "blank",
        "seam",
        "number",
        "part",
        f"length_under_part_{u}",
        f"zones_crossed_{u}",
        f"wood_left_{u}",
    ]
    header += [
        "visible",
        f"from_x_{u}",
        f"from_y_{u}",
        f"to_x_{u}",
        f"to_y_{u}",
    ]
    rows = []
    for layout in plan.layouts:
        under = {s.seam for s in layout.seams}
        dx, dy = datum(layout)
        ends = {}
        for drawn in layout.blank.seams:
            (ax, ay), (bx, by) = sorted((drawn.line_mm[0], drawn.line_mm[-1]))
            ends[drawn.name] = [words.cell(v) for v in (ax - dx, ay - dy, bx - dx, by - dy)]
        for seam in layout.seams:
            zones = "; ".join(f"{name} {words.cell(run)}" for name, run in seam.zones)
            left = "; ".join(f"{name} {words.cell(mm, style='fine')}" for name, mm in seam.wood_left_mm)
            rows.append(
                [
                    cell(layout.blank.name),
                    cell(seam.seam),
                    str(seam.placement + 1),
                    cell(layout.placements[seam.placement].part),
                    words.cell(seam.length_mm),
                    cell(zones),
                    cell(left),
                    " ".join(seam.visible),
                    *ends.get(seam.seam, [""] * 4),
                ]
            )
        rows += [
            [cell(layout.blank.name), cell(s.name), "", "", words.cell(0.0), "", "", "", *ends[s.name]]
            for s in layout.blank.seams
            if s.name not in under
        ]
    return table(header, rows)


def fillings(plan: Plan) -> bytes:
    """Return one row a defect to be filled: of which part, where on the blank, how much filler."""
    words = Words(plan.shop.units)
    u = words.units
    header = ["blank", "number", "part", "order", "copy", "defect", "row", "face"]
    header += [
        f"middle_x_{u}",
        f"middle_y_{u}",
        f"across_x_{u}",
        f"across_y_{u}",
        f"filler_{words.volume_unit()}",
    ]
    rows = []
    for layout in plan.layouts:
        dx, dy = datum(layout)
        for item in fills.fillings(layout):
            placement = layout.placements[item.number - 1]
            x0, y0, x1, y1 = bounds(outlines_of(item.defect.shape))
            rows.append(
                [
                    cell(layout.blank.name),
                    str(item.number),
                    cell(placement.part),
                    cell(placement.order),
                    str(placement.copy),
                    cell(item.defect.kind),
                    cell(item.defect.name),
                    item.defect.face,
                    *(words.cell(v) for v in ((x0 + x1) / 2 - dx, (y0 + y1) / 2 - dy, x1 - x0, y1 - y0)),
                    words.volume_cell(item.volume_ml, rounding="up"),
                ]
            )
    return table(header, rows)


def caution_rows(plan: Plan) -> bytes:
    """Return one row a caution, general ones first."""
    rows = [["", cell(c.text), c.source] for c in cautions.general(plan)]
    for layout in plan.layouts:
        rows += [[cell(layout.blank.name), cell(c.text), c.source] for c in cautions.for_blank(plan, layout)]
    return table(["blank", "caution", "source"], rows)
