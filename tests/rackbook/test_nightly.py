"""The scheduled run."""

import datetime
import json
import shutil
from pathlib import Path

import pytest

from nestyield.model import Plan, Shop
from nestyield.planning.run import make_plan
from nestyield.rackbook.errors import BusyError
from nestyield.rackbook.lock import lock
from nestyield.rackbook.nightly import OWN, Night, nightly

DAY = datetime.date(2026, 12, 1)


#: Plans of these shops: most tests are about what is done with them.
PLANS: dict[str, Plan] = {}


class Runner:
    """Runs a shop folder by schedule and counts how often it is planned anew.

    The planner runs once for each shop; where ``cached`` is true it runs every time, with the night's cache.
    """

    cached = False

    def __init__(self, maker, shop: Path, runs: Path) -> None:
        self.maker, self.shop, self.runs = maker, shop, runs
        self.planned = self.written = 0

    def __call__(self, **more) -> Night:
        def make(shop: Shop, cache) -> Plan:
            self.planned += 1
            if self.cached:
                return plan_of(shop, cache)
            if repr(shop) not in PLANS:
                PLANS[repr(shop)] = plan_of(shop)
            return PLANS[repr(shop)]

        def write(plan: Plan, folder: Path) -> None:
            self.written += 1
            (folder / "report.txt").write_text(f"{len(plan.layouts)} blanks\n")

        more = {"keep_last": None, "basis": "test", **more}
        return nightly(self.maker.read(self.shop), (), self.runs, DAY, make=make, write=write, **more)

    def rack(self, old: str, new: str) -> None:
        path = self.shop / "rack.csv"
        text = path.read_bytes().decode()
        assert old in text
        path.write_bytes(text.replace(old, new).encode())


def plan_of(shop: Shop, cache=None) -> Plan:
    return make_plan(shop, seed=1, effort=1, seconds=100_000, workers=1, cache=cache)


@pytest.fixture
def runner(maker, tmp_path) -> Runner:
    rack = (
        "piece,species,thickness,length,width,count,shelf,status\n"
        "A,sugar maple,44,400,300,1,top,ready\nB,limba,44,350,250,1,top,hold\n"
    )
    toml = maker.toml.partition('[[order]]\nname = "jigs"')[0]
    shop = maker.shop(rack=rack, defects="piece,kind,x,y,diameter\n", shop=toml)
    return Runner(maker, shop, tmp_path / "runs")


def test_nothing_is_planned_again_when_nothing_matters(runner):
    """The second run of an unchanged shop is not planned; a new shelf neither; a freed piece is."""
    first = runner()
    assert runner.planned == 1
    second = runner()
    assert second.reused
    assert runner.planned == 1
    assert not second.news.anything
    runner.rack("400,300,1,top", "400,300,1,low")
    third = runner()
    assert third.reused
    assert third.plan.shop.piece("A").shelf == "low"
    assert third.plan.layouts == first.plan.layouts
    runner.rack("hold", "ready")
    fourth = runner()
    assert runner.planned == 2
    assert [o.what for o in fourth.news.orders] == ["possible", "short"]
    assert [p.name for p in sorted(runner.runs.iterdir())] == [
        OWN,
        "2026-12-01",
        "2026-12-01-2",
        "2026-12-01-3",
        "2026-12-01-4",
    ]


def test_the_cache_may_be_deleted_or_spoiled(runner):
    """Without its cache, or with rubbish in it, a run gives the same bytes."""
    runner.cached = True
    first = runner()
    for spoil in (shutil.rmtree, rubbish):
        spoil(runner.runs / OWN / "cache")
        night = runner()
        assert (night.folder / "plan.json").read_bytes() == (first.folder / "plan.json").read_bytes()
    assert runner.planned == 3


def test_papers_of_the_same_plan_are_not_drawn_again(runner):
    """The papers of an unchanged plan are copied, unless somebody touched them."""
    first = runner()
    second = runner()
    assert runner.written == 1
    assert (second.folder / "report.txt").read_bytes() == (first.folder / "report.txt").read_bytes()
    assert (second.folder / "SHA256SUMS").read_bytes() != (first.folder / "SHA256SUMS").read_bytes()
    (second.folder / "report.txt").write_text("mine")
    third = runner()
    assert runner.written == 2
    assert (third.folder / "report.txt").read_bytes() == (first.folder / "report.txt").read_bytes()


def rubbish(folder: Path) -> None:
    for path in folder.iterdir():
        path.write_bytes(b"rubbish")


def test_a_run_folder_holds_plan_papers_and_summaries(runner):
    """A run's folder holds everything, listed with its sums, and no date inside."""
    night = runner()
    assert sorted(p.name for p in night.folder.iterdir()) == [
        "SHA256SUMS",
        "plan.json",
        "report.txt",
        "summary.json",
        "summary.txt",
    ]
    data = json.loads((night.folder / "summary.json").read_text())
    assert data["anything_new"] is True
    assert data["orders"][0]["order"] == "first"
    assert (night.folder / "summary.txt").read_text() == night.news.to_text()
    for path in night.folder.iterdir():
        assert b"2026-12-01" not in path.read_bytes()


def test_never_twice_at_once(runner):
    """While a run is at work on a runs folder another is refused, and writes nothing."""
    (runner.runs / OWN).mkdir(parents=True)
    with (
        lock(runner.runs / OWN / "lock", "the nightly run"),
        pytest.raises(BusyError, match="the nightly run"),
    ):
        runner()
    assert [p.name for p in runner.runs.iterdir()] == [OWN]
    runner()


def test_only_the_last_runs_stay(runner):
    """All but the last runs are removed after a run, except those that a person changed."""
    for _ in range(3):
        runner()
    (runner.runs / "2026-12-01" / "remark.txt").write_text("mine")
    night = runner(keep_last=2)
    assert night.stay == ("2026-12-01",)
    names = sorted(p.name for p in runner.runs.iterdir() if p.name != OWN)
    assert names == ["2026-12-01", "2026-12-01-3", "2026-12-01-4"]


def test_a_run_that_fails_leaves_no_folder(runner):
    """When the papers cannot be written no half run stays behind, and the next run goes well."""
    with pytest.raises(OSError, match="full"):
        nightly(
            runner.maker.read(runner.shop),
            (),
            runner.runs,
            DAY,
            make=lambda shop, cache: plan_of(shop),
            write=lambda plan, folder: (_ for _ in ()).throw(OSError("full")),
        )
    assert [p.name for p in runner.runs.iterdir()] == [OWN]
    assert runner().folder.name == "2026-12-01"


def test_other_basis_is_planned_anew(runner):
    """Another version of the program or other kept blanks do not reuse a plan."""
    runner()
    runner(basis="other")
    assert runner.planned == 2
