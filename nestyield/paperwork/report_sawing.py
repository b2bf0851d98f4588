"""Pieces that are sawn before the bed, as the report tells them."""

from __future__ import annotations

from typing import Any

from markupsafe import Markup

from nestyield.model import Plan, Sawing
from nestyield.paperwork import resaw_figure, saw_figure, svg
from nestyield.paperwork.canvas import Canvas
from nestyield.paperwork.curves import Move, bounds, outlines_of
from nestyield.paperwork.page import PAPER_NAMES, papers_of
from nestyield.paperwork.resaw_sheet import end_scale
from nestyield.paperwork.saw_sheet import label, what_for
from nestyield.paperwork.words import clean, stems
from nestyield.words import Words, listed, plural

_WIDE_MM, _HIGH_MM, _AROUND_MM = 180.0, 80.0, 8.0


def saw_stems(plan: Plan) -> list[str]:
    """Return the file stem of each saw sheet, without the paper."""
    return [f"sheets/{stem}.saw" for stem in stems(label(s) for s in plan.sawings)]


def sawings(plan: Plan) -> list[dict[str, Any]]:
    """Return one record a sawn piece for the template."""
    words = Words(plan.shop.units)
    out = []
    for sawing, stem in zip(plan.sawings, saw_stems(plan)):
        piece = plan.shop.piece(sawing.piece)
        x0, y0, x1, y1 = bounds(outlines_of(piece.shape))
        canvas = _picture(plan, sawing)
        out.append(
            {
                "name": clean(label(sawing)),
                "size": words.size(x1 - x0, y1 - y0),
                "blanks": _gives(plan, sawing),
                "rests": _rests(sawing),
                "picture": Markup(svg.inline(canvas)),
                "why": what_for(plan, sawing),
                "resaw": sawing.resaw is not None,
                "head": saw_figure.HEAD if sawing.resaw is None else resaw_figure.HEAD,
                "rows": saw_figure.rows(plan, sawing)
                if sawing.resaw is None
                else resaw_figure.rows(plan, sawing, sawing.resaw),
                "kerf": words.length(sawing.kerf_mm, style="fine"),
                "files": [
                    (f"{stem}-{paper}.pdf", f"saw sheet ({PAPER_NAMES[paper]})")
                    for paper in papers_of(plan.shop.settings)
                ],
            }
        )
    return out


def _gives(plan: Plan, sawing: Sawing) -> str:
    """Return the blanks that come of a piece, or the boards of a glue-up."""
    if sawing.resaw is not None:
        return listed(clean(b) for b in sawing.blanks)
    return listed(clean(name) for name, _, _ in saw_figure.boards_of(plan, sawing))


def _rests(sawing: Sawing) -> str:
    """Return what goes back on the rack, with its verb; ``""`` for nothing."""
    names = [clean(rest.name) for rest in sawing.rests if rest.usable]
    return f"{listed(names)} {plural(len(names), 'goes', 'go')} back on the rack" if names else ""


def _picture(plan: Plan, sawing: Sawing) -> Canvas:
    """Return the picture of a sawn piece: from above with its cuts, or its leaves from the end."""
    piece = plan.shop.piece(sawing.piece)
    if sawing.resaw is not None:
        scale = end_scale(_WIDE_MM, plan, sawing, sawing.resaw)
        x0, y0, height = 0.0, 0.0, piece.thickness_mm
    else:
        x0, y0, x1, y1 = bounds(outlines_of(piece.shape))
        scale, height = min((_WIDE_MM - 2 * _AROUND_MM) / (x1 - x0), _HIGH_MM / (y1 - y0)), y1 - y0
    canvas = Canvas(
        width_mm=_WIDE_MM,
        height_mm=height * scale + 2 * _AROUND_MM,
        title=f"Saw cuts of {clean(label(sawing))}",
        description=f"Cuts that give {listed(clean(b) for b in sawing.blanks)}.",
    )
    at = Move(scale=scale, dx=_AROUND_MM - x0 * scale, dy=_AROUND_MM - y0 * scale)
    if sawing.resaw is None:
        saw_figure.draw(canvas, plan, sawing, at)
    else:
        resaw_figure.end_view(canvas, plan, sawing, sawing.resaw, at)
    return canvas
