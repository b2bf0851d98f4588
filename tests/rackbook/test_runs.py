"""A folder of dated runs."""

import datetime

from nestyield.planfile.folder import replace_folder
from nestyield.rackbook.runs import SUMMARY_JSON, last_plan, let_go, next_name, runs_in

DAY = datetime.date(2026, 12, 1)


def make(folder, name):
    with replace_folder(folder / name) as new:
        (new / "plan.json").write_text("{}")
        (new / SUMMARY_JSON).write_text("{}")


def test_names_go_by_date_then_number(tmp_path):
    """A second run of a day gets a number, and 10 comes after 9."""
    for _ in range(11):
        make(tmp_path, next_name(tmp_path, DAY))
    make(tmp_path, "2026-11-30")
    assert [p.name for p in runs_in(tmp_path)] == [
        "2026-11-30",
        "2026-12-01",
        *(f"2026-12-01-{n}" for n in range(2, 12)),
    ]


def test_old_runs_go_and_other_folders_stay(tmp_path):
    """All but the last runs are removed; what is not a run, or was changed by hand, is never touched."""
    for day in ("2026-12-01", "2026-12-02", "2026-12-03", "2026-12-04"):
        make(tmp_path, day)
    (tmp_path / "notes").mkdir()
    (tmp_path / "2025-01-01").mkdir()  # a dated folder that is no run
    (tmp_path / "2026-12-02" / "mine.txt").write_text("a remark")
    assert let_go(tmp_path, 1) == ("2026-12-02",)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["2025-01-01", "2026-12-02", "2026-12-04", "notes"]
    assert (tmp_path / "2026-12-02" / "mine.txt").read_text() == "a remark"
    assert let_go(tmp_path, 5) == ()


def test_a_removal_cut_short_is_finished(tmp_path):
    """What a killed run began to remove is removed by the next one."""
    make(tmp_path, "2026-12-04")
    (tmp_path / ".2026-12-01-old").mkdir()
    (tmp_path / ".keep-old").mkdir()
    let_go(tmp_path, 1)
    assert sorted(p.name for p in tmp_path.iterdir()) == [".keep-old", "2026-12-04"]


def test_a_run_without_a_readable_plan_is_passed_over(maker, tmp_path):
    """The last plan is the last that can be read."""
    shop = maker.shop()
    plan = maker.plan(shop, ("A", 1, "first"))
    runs = tmp_path / "runs"
    assert last_plan(runs) is None
    make(runs, "2026-12-01")
    (runs / "2026-12-01" / "plan.json").write_bytes((plan / "plan.json").read_bytes())
    make(runs, "2026-12-02")
    found = last_plan(runs)
    assert found is not None
    assert found.layouts[0].blank.name == "A"
