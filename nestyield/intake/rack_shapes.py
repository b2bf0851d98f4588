"""Outlines and seams of the rows of the rack."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from functools import lru_cache

import shapely

from nestyield.intake.columns import Columns
from nestyield.intake.drawings import Drawings
from nestyield.intake.lengths import UNIT_MM, LengthError, parse_length
from nestyield.intake.piece_drawings import LayerMeaning, piece_from_drawing
from nestyield.intake.problems import nearest, shown
from nestyield.intake.sampling import sampled
from nestyield.intake.slipped import several_lengths
from nestyield.intake.table import Line
from nestyield.intake.tape import TAPE_MM, Taped, TapeError, does_not_fit, is_taped, parse_taped
from nestyield.intake.wkt import WktError, is_wkt, parse_lines, parse_polygon
from nestyield.model import Defect, ModelError, Outline, Seam, Shape

#: A seam may pass the edge by this: tables are not exact.
SEAM_SLACK_MM = 1.0


def shape_of_row(
    row: Line, c: Columns, drawings: Drawings, meanings: dict[str, LayerMeaning] | None, name: str
) -> tuple[Shape | None, tuple[Defect, ...]]:
    """Return the shape of a piece, and the defects that are drawn with it; None with an error.

    Parameters
    ----------
    row : Line
    c : Columns
        Of the rack table.
    drawings : Drawings
    meanings : dict of str to LayerMeaning, or None
        ``[rack_layers]`` of the shop file.
    name : str
        Of the piece.
    """
    outline = c.text(row, "outline")
    length, width = c.positive(row, "length"), c.positive(row, "width")
    if not outline:
        sizes = {key: c.text(row, key) for key in ("length", "width")}
        empty = [key for key, text in sizes.items() if not text]
        if empty and not any(map(several_lengths, sizes.values())):
            what = f"the {empty[0]} is" if len(empty) == 1 else "length and width are"
            them = f"the {empty[0]}" if len(empty) == 1 else "both"
            taper = "28, 7 1/2, 5 1/4" if c.unit("outline") == "in" else "710, 190, 133"
            shape = f'for an odd piece what the tape says in a column outline, as "taper {taper}"'
            c.error(row, f"{what} empty; write {them}, or {shape}", empty[0], "R007")
        if length is None or width is None:
            return None, ()
        return Shape(outer=Outline.rectangle(0.0, 0.0, length, width)), ()
    if c.text(row, "length") or c.text(row, "width"):
        c.error(row, "the row has a size and an outline; keep one of them", "outline", "R007")
        return None, ()
    if is_taped(outline):
        try:
            taped = parse_taped(outline, c.unit("outline"))
        except (TapeError, ModelError) as error:
            c.error(row, str(error), "outline", "R008")
            return None, ()
        _tell_taped(row, c, taped)
        return taped.shape, ()
    if is_wkt(outline):
        try:
            return parse_polygon(outline, float(UNIT_MM[c.unit("outline")]), c.unit("outline")), ()
        except (WktError, ModelError) as error:
            c.error(row, str(error), "outline", "R008")
            return None, ()
    if ".dxf" not in outline.casefold():
        c.error(row, _no_outline(outline, c, drawings), "outline", "R008")
        return None, ()
    stated = c.choice(row, "drawing_units", ("mm", "cm", "m", "in", "ft"), "") or None
    return piece_from_drawing(
        outline,
        stated=stated,
        drawings=drawings,
        meanings=meanings,
        file=c.file,
        where=c.where(row, "outline"),
        key=f"{row.place} (piece {name})",
    )


def _no_outline(cell: str, c: Columns, drawings: Drawings) -> str:
    """Return what is wrong with a cell that is no outline of any kind, and what to write."""
    sizes = several_lengths(cell)
    length, width = c.heading("length") or "length", c.heading("width") or "width"
    if len(sizes) == 2:
        todo = f"write {sizes[0]} under {length} and {sizes[1]} under {width}, and clear this cell"
        return f"a size is no outline; {todo}"
    there = sorted(path.name for path in drawings.files.folder.iterdir() if path.suffix.casefold() == ".dxf")
    near = nearest(f"{cell}.dxf", there)
    if near:
        return f"{shown(cell)} is no outline; a drawing is a DXF file, write {near}"
    if re.search(r"\.(dwg|svg|pdf|png|jpe?g|ai|eps)$", cell, re.IGNORECASE):
        return f"{shown(cell)} is no DXF drawing; save it as one, and write its name"
    corners = "0,0 28,0 26,7" if c.unit("outline") == "in" else "0,0 700,0 660,170"
    such = there[0] if there else "offcut.dxf"
    ways = f"{length} and {width}, the corners ({corners}), or a drawing such as {such}"
    return f"{shown(cell)} is no outline; clear the cell and write {ways}"


def other_unit(row: Line, c: Columns, name: str, large: bool) -> str:
    """Return what to write where a size is in the other unit: ``if inches are meant, write 25 in``.

    Parameters
    ----------
    row : Line
    c : Columns
    name : str
        Column of the size.
    large : bool
        It is too large, else too small.
    """
    cell, unit = c.text(row, name), c.unit(name)
    if not re.fullmatch(r"[\d.,/\s-]+", cell) or large == (unit == "mm"):
        return "correct it, or its unit"
    other, word = ("mm", "mm") if unit in ("in", "ft") else ("in", "inches")
    alike = ", and the other sizes alike" if name != "outline" else ""
    return f"if {word} are meant, write {cell} {other}{alike}"


def _tell_taped(row: Line, c: Columns, taped: Taped) -> None:
    """Tell how well the distances of an outline by sides and diagonals go together."""
    if taped.off_mm is None or taped.off_at is None:
        return
    off = c.words.length(taped.off_mm, style="setting")
    a, b = taped.off_at
    if taped.off_mm > TAPE_MM:
        c.problems.warning(
            "R012", does_not_fit(taped.off_at, taped.others_mm, taped.made_mm, c.unit("outline")), c.file,
            c.where(row, "outline"),
        )  # fmt: skip
    else:
        message = f"the distances go together within {off}, least at {a}-{b}"
        c.problems.note("R012", message, c.file, c.where(row, "outline"))


def seams_of_row(row: Line, c: Columns, shape: Shape | None) -> tuple[Seam, ...]:
    """Return the seams of a piece that is glued up already; errors R009 for what cannot be read.

    Parameters
    ----------
    row : Line
    c : Columns
        Of the rack table.
    shape : Shape or None
        Of the piece, within which they lie.
    """
    text = c.text(row, "seams")
    if not text:
        return ()
    unit_mm = float(UNIT_MM[c.unit("seams")])
    region = None if shape is None else region_of(shape)
    try:
        lines = parse_lines(text, unit_mm)
    except WktError as error:
        try:
            across = parse_length(text, c.unit("seams"))
        except LengthError:
            across = -1.0
        if across < 0 or region is None:
            c.error(row, str(error), "seams", "R009")
        else:
            x0, _, x1, _ = region.bounds
            line = _as_line([(x0, across), (x1, across)], unit_mm)
            c.error(row, f"a seam needs two ends; write {line}", "seams", "R009")
        return ()
    seams = tuple(Seam(name=f"seam {i}", line_mm=line) for i, line in enumerate(lines, start=1))
    for seam in seams if region is not None else ():
        _tell_seam_outside(row, c, seam, region, alone=len(seams) == 1)
    return seams


def _tell_seam_outside(row: Line, c: Columns, seam: Seam, region: shapely.Polygon, alone: bool) -> None:
    """Add an error for a seam that runs past its piece: how far, and what is left of it within."""
    line = shapely.LineString(seam.line_mm)
    if line.length - line.intersection(region.buffer(SEAM_SLACK_MM)).length <= SEAM_SLACK_MM:
        return
    inside = line.intersection(region)
    much = c.words.length(line.length - inside.length, style="setting")
    todo = "end it at the edge"
    if alone and inside.geom_type == "LineString" and not inside.is_empty:
        todo = f"write {_as_line(list(inside.coords), float(UNIT_MM[c.unit('seams')]))}"
    elif inside.is_empty:
        todo = "x runs along the length and y across, from corner 0,0"
    c.error(row, f"{seam.name} runs {much} past the piece; {todo}", "seams", "R009")


def _as_line(points_mm: Iterable[Sequence[float]], unit_mm: float) -> str:
    points = ", ".join(" ".join(f"{round(v / unit_mm, 4):g}" for v in p[:2]) for p in points_mm)
    return f"LINESTRING ({points})"


@lru_cache(maxsize=1024)
def region_of(shape: Shape) -> shapely.Polygon:
    """Return a shape as a shapely polygon with fine chords, for checks only."""
    outer = sampled(shape.outer)
    return outer.difference(shapely.union_all([sampled(h) for h in shape.holes])) if shape.holes else outer
