"""Everything on paper for a plan, as files in a folder."""

from __future__ import annotations

import os
from pathlib import Path

from nestyield.model import Plan
from nestyield.paperwork import (
    blank_svg,
    dxf,
    glue_sheet,
    glue_tables,
    laminate_sheet,
    pdf,
    report,
    report_ways,
    saw_sheet,
    sheet,
    strip_sheet,
    svg,
    tables,
    template,
)
from nestyield.paperwork.alike import first_alike
from nestyield.paperwork.canvas import Canvas
from nestyield.paperwork.features import content, has_bottom, other_way_fits
from nestyield.paperwork.page import papers_of
from nestyield.paperwork.report_sawing import saw_stems
from nestyield.paperwork.words import clean, stems


def render_all(plan: Plan) -> dict[str, bytes]:
    """Return every file of the paperwork, by its name relative to the folder of the plan.

    The same plan gives the same bytes.
    """
    names = stems(layout.blank.name for layout in plan.layouts)
    papers = papers_of(plan.shop.settings)
    out: dict[str, bytes] = {
        "report.html": report.html(plan, names).encode("utf-8"),
        "cuts.csv": tables.cuts(plan),
        "leftovers.csv": tables.leftovers(plan),
        "seams.csv": tables.seams(plan),
        "cautions.csv": tables.caution_rows(plan),
    }
    if any(layout.glueup for layout in plan.layouts):
        out["glueups.csv"] = glue_tables.csv_rows(plan)
    if plan.sawings:
        out["sawing.csv"] = tables.sawings(plan)
        for name, sawing in zip(saw_stems(plan), plan.sawings):
            for paper in papers:
                out |= _sheet(f"{name}-{paper}", saw_sheet.saw_sheet(plan, sawing, paper), plan)
    if plan.other_ways:
        out["other_ways.csv"] = tables.table(*report_ways.csv_rows(plan))
    if plan.shop.settings.both_directions:
        out["travel.csv"] = tables.least_travel(plan)
    if any(layout.fills for layout in plan.layouts):
        out["fills.csv"] = tables.fillings(plan)
    alike = first_alike(plan)
    for k, (name, layout) in enumerate(zip(names, plan.layouts)):
        for over in (False, True) if has_bottom(layout) else (False,):
            held, stem = content(plan, layout, over), f"drawings/{name}{'.bottom' if over else ''}"
            out[f"{stem}.dxf"] = dxf.drawing(plan, layout, over, held)
            out[f"{stem}.svg"] = blank_svg.drawing(plan, layout, over, held).encode("utf-8")
            if plan.shop.settings.both_directions and other_way_fits(layout):
                turned = content(plan, layout, over, quarter=True)
                out[f"{stem}.along-y.dxf"] = dxf.drawing(plan, layout, over, turned)
                out[f"{stem}.along-y.svg"] = blank_svg.drawing(plan, layout, over, turned).encode("utf-8")
        for paper in papers:
            glued = glue_sheet.glue_sheet(plan, layout, paper)
            if glued:
                out |= _sheet(f"sheets/{name}.glue-up-{paper}", glued, plan)
            layers = laminate_sheet.laminate_sheet(plan, layout, paper)
            if layers:
                out |= _sheet(f"sheets/{name}.layers-{paper}", layers, plan)
            strips = strip_sheet.strip_sheet(plan, layout, paper)
            if strips:
                out |= _sheet(f"sheets/{name}.strips-{paper}", strips, plan)
        full_size = template.full_size(plan, layout)
        for paper in papers:
            if alike[k] == k:
                also = [x for n, x in enumerate(plan.layouts) if n > k and alike[n] == k]
                out |= _sheet(f"sheets/{name}-{paper}", sheet.sheet(plan, layout, paper, also), plan)
            full = template.template(plan, layout, paper, full_size)
            if full:
                out[f"templates/{name}-{paper}.pdf"] = pdf.document(
                    full, full[0].title, clean(plan.shop.name)
                )
    return dict(sorted(out.items()))


def _sheet(name: str, pages: list[Canvas], plan: Plan) -> dict[str, bytes]:
    """Return a sheet as one PDF and one SVG a page."""
    title = pages[0].title.split(", page ")[0]
    out = {f"{name}.pdf": pdf.document(pages, title, clean(plan.shop.name))}
    for k, page in enumerate(pages, start=1):
        number = "" if len(pages) == 1 else f"-{k}"
        out[f"{name}{number}.svg"] = svg.document(page).encode("utf-8")
    return out


def write_all(plan: Plan, out_dir: Path) -> list[Path]:
    """Write report, drawings, sheets and tables of a plan, but not ``plan.json``.

    Everything is made before the first file is written, and each file appears whole.

    Parameters
    ----------
    plan : Plan
    out_dir : Path
        Made when missing. Files of the same names are replaced; others are left alone.

    Returns
    -------
    list of Path
        The files written, sorted.
    """
    rendered = render_all(plan)
    written = []
    for name, data in rendered.items():
        path = Path(out_dir) / name
        path.parent.mkdir(parents=True, exist_ok=True)
        part = path.with_name(f".{path.name}.part")
        part.write_bytes(data)
        os.replace(part, path)
        written.append(path)
    return written
