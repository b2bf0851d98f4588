"""Many shops by schedule, and the page that tells of all."""

from __future__ import annotations

import datetime
import json
import shutil
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import pytest

from nestyield.intake.shop import read_shop
from nestyield.model import InputError
from nestyield.planfile.folder import OutputError
from nestyield.planning.run import make_plan
from nestyield.rackbook.nightly import nightly
from nestyield.rackbook.nights import nights, shops_in

DAY = datetime.date(2026, 12, 1)


class Page(HTMLParser):
    """Collects the text, the links and the ids of a page."""

    def __init__(self, file: Path) -> None:
        super().__init__()
        self.text, self.links, self.ids = "", [], []
        self.feed(file.read_text(encoding="utf-8"))

    def handle_starttag(self, tag, attrs):
        self.links += [v for k, v in attrs if k == "href"]
        self.ids += [v for k, v in attrs if k == "id"]

    def handle_data(self, data):
        self.text += data


PLANS = {}


def plan_of(shop):
    """Plan a shop once, whatever it is called."""
    same = repr(replace(shop, name="", files={}))
    if same not in PLANS:
        PLANS[same] = make_plan(shop, seed=1, effort=1, seconds=100_000, workers=1)
    return replace(PLANS[same], shop=shop)


def one(shop: Path, runs: Path):
    if shop.name == "crash":
        raise IndexError("tuple index out of range")
    read, findings = read_shop(shop)
    if read is None:
        raise InputError([f for f in findings if f.severity == "error"])

    def write(plan, folder):
        (folder / "report.html").write_text(f"{len(plan.layouts)} blanks\n")

    return nightly(read, (), runs, DAY, make=lambda s, cache: plan_of(s), write=write)


def run(folder: Path, runs: Path, crashes: list | None = None):
    return nights(
        shops_in(folder),
        runs,
        DAY,
        plan=one,
        needs_person=lambda night: any(o.placed < o.count for o in night.plan.orders),
        crashed=lambda shop, error: None if crashes is None else crashes.append((shop.name, error)),
    )


@pytest.fixture
def folder(maker, tmp_path):
    """A folder of shops: one good, one with a mark in its name, one broken, one that the program fails on."""
    shops = tmp_path / "shops"
    shops.mkdir()
    only_jigs = maker.toml[: maker.toml.index('[[order]]\nname = "first"')] + '[[order]]\npart = "jig"\n'
    for name, text in (
        ("bench", only_jigs),
        ("attic & co", only_jigs.replace('name = "Test"', 'name = "Attic <b> & co"')),
        ("broken", maker.toml.replace("diameter = 6", "diameter = -6")),
        ("crash", only_jigs),
    ):
        shutil.copytree(maker.shop(shop=text), shops / name)
    (shops / "drawings").mkdir()
    (shops / ".old").mkdir()
    (shops / ".old" / "shop.toml").write_text("")
    return shops


def test_one_that_fails_does_not_cost_the_others(folder, tmp_path):
    """The good shops get their runs, the others are told with their reason, also where the program failed."""
    crashes: list = []
    found = run(folder, tmp_path / "runs", crashes)
    assert [(s.folder, s.failed) for s in found.shops] == [
        ("attic & co", False),
        ("bench", False),
        ("broken", True),
        ("crash", True),
    ]
    assert [name for name, _ in crashes] == ["crash"]
    assert (tmp_path / "runs" / "bench" / "2026-12-01" / "plan.json").is_file()
    assert (tmp_path / "runs" / "bench" / ".nightly" / "cache").is_dir()
    data = json.loads((tmp_path / "runs" / "index.json").read_text())
    assert (data["schema"], data["date"]) == ("nestyield nights 1", "2026-12-01")
    states = {s["folder"]: (s["state"], s["run"]) for s in data["shops"]}
    assert states["bench"] == ("done", "bench/2026-12-01")
    assert states["broken"] == ("failed", None)
    assert "diameter" in data["shops"][2]["error"]
    assert "fault of the program: IndexError" in data["shops"][3]["error"]


def test_the_page(folder, tmp_path):
    """Links lead to files that are there, names are text and no marks, and each shop has its row."""
    found = run(folder, tmp_path / "runs")
    page = Page(found.page)
    from urllib.parse import unquote

    for link in page.links:
        if link.startswith("#"):
            assert link[1:] in page.ids
        else:
            assert (tmp_path / "runs" / unquote(link)).is_file()
    assert sum("report.html" in link for link in page.links) >= 2
    assert "Attic <b> & co" in page.text
    assert "2 of 4 shops planned." in page.text
    assert "diameter" in page.text
    raw = found.page.read_text()
    assert str(tmp_path) not in raw
    assert "<script" not in raw


def test_the_same_night_makes_the_same_page(folder, tmp_path):
    """Page and data hold no clock, order of the disk or absolute path."""
    one, two = run(folder, tmp_path / "one"), run(folder, tmp_path / "two")
    assert one.page.read_bytes() == two.page.read_bytes()
    assert (tmp_path / "one" / "index.json").read_bytes() == (tmp_path / "two" / "index.json").read_bytes()


def test_the_next_night(folder, tmp_path):
    """The page of the night before is replaced; nothing new is told where nothing is new."""
    run(folder, tmp_path / "runs")
    found = run(folder, tmp_path / "runs")
    assert [s.news.anything for s in found.shops if not s.failed] == [False, False]
    assert "bench/2026-12-01-2/report.html" in Page(found.page).links
    assert "New since the last run" not in Page(found.page).text


def test_no_other_file_is_written_over(folder, tmp_path):
    """A page of somebody's own stays, and nothing is planned."""
    (tmp_path / "runs").mkdir()
    (tmp_path / "runs" / "index.html").write_text("my own")
    with pytest.raises(OutputError, match="would be lost"):
        run(folder, tmp_path / "runs")
    assert sorted(p.name for p in (tmp_path / "runs").iterdir()) == ["index.html"]


def test_ctrl_c_ends_the_night(folder, tmp_path):
    """What was planned until then stands; the rest is told as not planned."""

    def interrupted(shop: Path, runs: Path):
        if shop.name == "bench":
            raise KeyboardInterrupt
        return one(shop, runs)

    found = nights(
        shops_in(folder),
        tmp_path / "runs",
        DAY,
        plan=interrupted,
        needs_person=lambda n: False,
        crashed=print,
    )
    assert [s.failed for s in found.shops] == [False, True, True, True]
    assert "the run was stopped before" in found.shops[2].error


def test_a_shop_is_no_folder_of_shops(maker, tmp_path):
    """A shop folder with shops below it is one shop."""
    shop = maker.shop()
    shutil.copytree(shop, shop / "old")
    assert shops_in(shop) == []
    assert [p.name for p in shops_in(tmp_path)] == [shop.name]
