"""Everything on paper for a plan, as files in a folder."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Literal

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

#: What is made in one go: what tells of the whole plan, the saw sheets of a piece, the papers of a blank.
Job = tuple[Literal["plan", "sawing", "blank"], int]
#: Makes jobs of a plan and returns what each gave, in any order.
Maker = Callable[[Plan, Sequence[Job]], Iterable[dict[str, bytes]]]


def papers_of_job(plan: Plan, job: Job) -> dict[str, bytes]:
    """Return the files of one job, by name relative to the folder of the plan."""
    kind, k = job
    if kind == "plan":
        return _of_plan(plan)
    return _of_sawing(plan, k) if kind == "sawing" else _of_blank(plan, k)


def in_turn(plan: Plan, jobs: Sequence[Job]) -> Iterable[dict[str, bytes]]:
    """Make jobs one after the other, in this process."""
    return (papers_of_job(plan, job) for job in jobs)


def render_all(plan: Plan, make: Maker = in_turn) -> dict[str, bytes]:
    """Return every file of the paperwork, by its name relative to the folder of the plan.

    The same plan gives the same bytes, whoever makes the jobs.

    Parameters
    ----------
    plan : Plan
    make : callable
        Makes the jobs; left out, this process does, one after the other.
    """
    jobs: list[Job] = [("plan", 0)]
    jobs += [("sawing", k) for k in range(len(plan.sawings))]
    jobs += [("blank", k) for k in range(len(plan.layouts))]
    out: dict[str, bytes] = {}
    for files in make(plan, jobs):
        out |= files
    return dict(sorted(out.items()))


def _of_plan(plan: Plan) -> dict[str, bytes]:
    names = stems(layout.blank.name for layout in plan.layouts)
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
    if plan.other_ways:
        out["other_ways.csv"] = tables.table(*report_ways.csv_rows(plan))
    if plan.shop.settings.both_directions:
        out["travel.csv"] = tables.least_travel(plan)
    if any(layout.fills for layout in plan.layouts):
        out["fills.csv"] = tables.fillings(plan)
    return out


def _of_sawing(plan: Plan, k: int) -> dict[str, bytes]:
    name = saw_stems(plan)[k]
    out: dict[str, bytes] = {}
    for paper in papers_of(plan.shop.settings):
        out |= _sheet(f"{name}-{paper}", saw_sheet.saw_sheet(plan, plan.sawings[k], paper), plan)
    return out


def _of_blank(plan: Plan, k: int) -> dict[str, bytes]:
    name = stems(layout.blank.name for layout in plan.layouts)[k]
    layout, papers = plan.layouts[k], papers_of(plan.shop.settings)
    out: dict[str, bytes] = {}
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
    alike = first_alike(plan)
    for paper in papers:
        if alike[k] == k:
            also = [x for n, x in enumerate(plan.layouts) if n > k and alike[n] == k]
            out |= _sheet(f"sheets/{name}-{paper}", sheet.sheet(plan, layout, paper, also), plan)
        full = template.template(plan, layout, paper, full_size)
        if full:
            out[f"templates/{name}-{paper}.pdf"] = pdf.document(full, full[0].title, clean(plan.shop.name))
    return out


def _sheet(name: str, pages: list[Canvas], plan: Plan) -> dict[str, bytes]:
    """Return a sheet as one PDF and one SVG a page."""
    title = pages[0].title.split(", page ")[0]
    out = {f"{name}.pdf": pdf.document(pages, title, clean(plan.shop.name))}
    for k, page in enumerate(pages, start=1):
        number = "" if len(pages) == 1 else f"-{k}"
        out[f"{name}{number}.svg"] = svg.document(page).encode("utf-8")
    return out


def write_all(plan: Plan, out_dir: Path, make: Maker = in_turn) -> list[Path]:
    """Write report, drawings, sheets and tables of a plan, but not ``plan.json``.

    Everything is made before the first file is written, and each file appears whole.

    Parameters
    ----------
    plan : Plan
    out_dir : Path
        Made when missing. Files of the same names are replaced; others are left alone.
    make : callable
        As of `render_all`.

    Returns
    -------
    list of Path
        The files written, sorted.
    """
    rendered = render_all(plan, make)
    written = []
    for name, data in rendered.items():
        path = Path(out_dir) / name
        path.parent.mkdir(parents=True, exist_ok=True)
        part = path.with_name(f".{path.name}.part")
        part.write_bytes(data)
        os.replace(part, path)
        written.append(path)
    return written
