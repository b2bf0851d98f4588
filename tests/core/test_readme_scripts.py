"""The README's scripts run as they stand, and shapely judges what they made."""

from __future__ import annotations

import os
import re
from pathlib import Path
from typing import Any

import pytest

README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
SCRIPTS = [s for s in re.findall(r"```python\n(.*?)```", README, re.S) if s.startswith("# script")]

pytestmark = pytest.mark.skipif(
    os.environ.get("NUMBA_DISABLE_JIT", "0") not in ("", "0"), reason="needs compiled kernels"
)


def run(script: str, folder: Path, monkeypatch: pytest.MonkeyPatch) -> dict[str, Any]:
    monkeypatch.chdir(folder)
    names: dict[str, Any] = {}
    exec(compile(script, "README.md", "exec"), names)
    return names


def test_there_are_two_of_at_most_forty_lines() -> None:
    """Both fit on a screen and use public names only."""
    assert len(SCRIPTS) == 2
    for script in SCRIPTS:
        assert len(script.splitlines()) <= 40
        assert "nestyield." not in script
        assert not re.search(r"\._", script)


def test_place_glue_nest_and_plot(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Parts lie on their wood with margin and gap, clear of the knot; the picture is there."""
    matplotlib = pytest.importorskip("matplotlib", reason="the plot of the script needs matplotlib")
    matplotlib.use("Agg")
    names = run(SCRIPTS[0], tmp_path, monkeypatch)
    laid = names["placed"].laid
    assert names["refused"].laid is None
    for one in (laid, names["glued"], *names["nested"].laid):
        margin = one.wood.buffer(-6.33)
        assert one.placed
        assert all(margin.covers(outline) for outline in one.outlines)
        for i, a in enumerate(one.outlines):
            assert all(a.distance(b) >= 9.33 for b in one.outlines[:i])
    knot, zone = laid.defects[0][1], laid.zones[0][0][1]
    held = laid.outlines[0].intersection(knot)
    assert held.area < 0.01 or zone.buffer(0.01).covers(held)
    assert len(names["nested"].laid[0].placed) >= 6
    assert (tmp_path / "sheet.png").stat().st_size > 10_000


def test_a_rule_of_ones_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing lies on the stamp; without the rule something does."""
    names = run(SCRIPTS[1], tmp_path, monkeypatch)
    stamp, core = names["stamp"], names["core"]
    for laid in (names["one"].laid, *names["many"].laid):
        assert all(o.intersection(stamp).area < 0.5 for o in laid.outlines)
    free = core.nest([(names["neck"], 12)], [names["board"]], names["settings"])
    assert any(o.intersects(stamp) for laid in free.laid for o in laid.outlines)
