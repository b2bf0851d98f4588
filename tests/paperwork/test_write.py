"""All files of a plan in a folder."""

import dataclasses
import hashlib
import multiprocessing
import os
import subprocess
import sys

from nestyield import papers
from nestyield.paperwork.write import render_all, write_all


def test_what_is_written(plan, rendered, tmp_path):
    """Report, tables, and for each blank DXF, SVG, sheets on both papers and a template."""
    paths = write_all(plan, tmp_path / "out")
    names = {p.relative_to(tmp_path / "out").as_posix() for p in paths}
    assert names == set(rendered)
    assert {"report.html", "cuts.csv", "leftovers.csv", "seams.csv", "cautions.csv"} <= names
    for stem in ("C07", "T-3"):
        assert {f"drawings/{stem}.dxf", f"drawings/{stem}.svg"} <= names
        assert {f"sheets/{stem}-a4.pdf", f"sheets/{stem}-letter.pdf"} <= names
        assert {f"templates/{stem}-a4.pdf", f"templates/{stem}-letter.pdf"} <= names
    found = {p.relative_to(tmp_path / "out").as_posix() for p in (tmp_path / "out").rglob("*") if p.is_file()}
    assert found == names
    for path in paths:
        assert path.read_bytes() == rendered[path.relative_to(tmp_path / "out").as_posix()]


def test_twice_the_same_bytes(plan, rendered):
    """A second run in the same process gives the same bytes."""
    assert render_all(plan) == rendered


def test_the_same_bytes_in_another_process(build, rendered):
    """Another process with another hash seed gives the same bytes."""
    code = (
        "import hashlib, importlib.util, sys\n"
        "spec = importlib.util.spec_from_file_location('b', sys.argv[1])\n"
        "b = importlib.util.module_from_spec(spec)\n"
        "spec.loader.exec_module(b)\n"
        "from nestyield.paperwork.write import render_all\n"
        "for name, data in render_all(b.plan()).items():\n"
        "    print(hashlib.sha256(data).hexdigest(), name)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, build.__file__],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "PYTHONHASHSEED": "77", "TZ": "Asia/Tokyo"},
    )
    here = [f"{hashlib.sha256(data).hexdigest()} {name}" for name, data in rendered.items()]
    assert done.stdout.splitlines() == here


def test_the_same_bytes_from_several_processes(plan, rendered, monkeypatch, tmp_path):
    """Papers made by two other processes are those made here, and the processes are gone afterwards."""
    monkeypatch.setattr(papers, "LEAST_JOBS_TO_SHARE", 2)
    here = os.getpid()

    def refuse(plan, job):
        assert os.getpid() != here, f"made in this process: {job}"

    monkeypatch.setattr(papers, "papers_of_job", refuse)  # other processes have the true one
    write_all(plan, tmp_path / "out", papers.shared_by(2))
    written = {
        p.relative_to(tmp_path / "out").as_posix(): p.read_bytes()
        for p in (tmp_path / "out").rglob("*")
        if p.is_file()
    }
    assert written == rendered
    assert not multiprocessing.active_children()


def test_nothing_is_written_when_something_fails(plan, tmp_path):
    """A plan that names a part that does not exist leaves no half-written folder."""
    layout = plan.layouts[0]
    lost = dataclasses.replace(layout.placements[0], part="nobody")
    broken = dataclasses.replace(plan, layouts=(dataclasses.replace(layout, placements=(lost,)),))
    try:
        write_all(broken, tmp_path / "out")
    except KeyError:
        pass
    else:
        raise AssertionError("expected a KeyError")
    assert not (tmp_path / "out").exists()


def test_an_empty_plan_has_a_report(plan):
    """A plan without a blank still says why."""
    empty = dataclasses.replace(plan, layouts=(), orders=())
    files = render_all(empty)
    assert b"No blank is used." in files["report.html"]
    assert set(files) == {"report.html", "cuts.csv", "leftovers.csv", "seams.csv", "cautions.csv"}


def test_no_file_takes_the_place_of_another(glued):
    """Blanks named like the files of their neighbors still get every file of their own."""
    names = ("C07", "C07-bottom", "C07.bottom", "C07-glue-up", "C07-a4")
    layouts = [
        dataclasses.replace(
            layout,
            # unlike in thickness, so that each has a sheet of its own
            blank=dataclasses.replace(layout.blank, name=name, thickness_mm=44.0 + k / 8),
        )
        for k, (name, layout) in enumerate(zip(names, [glued.layouts[-1], *([glued.layouts[0]] * 4)]))
    ]
    files = render_all(dataclasses.replace(glued, layouts=tuple(layouts)))
    assert len([n for n in files if n.endswith(".dxf")]) == 9
    assert len([n for n in files if n.startswith("sheets/") and n.endswith(".pdf")]) == 12


def test_odd_layouts(plan):
    """No bed, no grain, no placement, no setup: every paper still comes."""
    layout = plan.layouts[0]
    odd = (
        dataclasses.replace(layout, chosen=None, work=None),
        dataclasses.replace(layout, setups=(), chosen=None, work=None),
        dataclasses.replace(layout, placements=(), seams=()),
        dataclasses.replace(layout, blank=dataclasses.replace(layout.blank, grain_deg=None)),
        dataclasses.replace(layout, blank=dataclasses.replace(layout.blank, grain_deg=37.0)),
    )
    files = render_all(dataclasses.replace(plan, layouts=odd))
    assert len([n for n in files if n.endswith(".dxf") and ".bottom" not in n]) == 5
    assert len({n.casefold() for n in files}) == len(files)
