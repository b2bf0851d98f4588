from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from nestyield.audit.check import verify_dir
from nestyield.intake.shop import read_shop
from nestyield.model import Plan
from nestyield.planfile import dumps
from nestyield.planfile.folder import SUMS, sums


@pytest.fixture
def written(tmp_path: Path, sound_plans: list[Plan]) -> Path:
    """A folder as a run leaves it, with plain stand-ins for the papers."""
    return write(tmp_path / "out", sound_plans[0])


def write(folder: Path, plan: Plan) -> Path:
    folder.mkdir()
    (folder / "plan.json").write_bytes(dumps(plan))
    for name in ("report.html", "cuts.csv", "leftovers.csv"):
        (folder / name).write_text("x\n")
    (folder / SUMS).write_text(sums(folder))
    return folder


def codes(folder: Path, shop: Path | None = None) -> list[str]:
    return [f.code for f in verify_dir(folder, shop)]


def edit(folder: Path, change: Callable[[dict], object]) -> None:
    """Change plan.json by hand."""
    path = folder / "plan.json"
    data = json.loads(path.read_text())
    change(data)
    path.write_text(json.dumps(data))


def test_untouched_folder_passes(written):
    """A folder as written has no finding."""
    assert codes(written) == []


def test_a_tenth_of_a_millimeter_by_hand(written):
    """A placement moved 0.1 mm in plan.json is caught as a clash, and as a changed file."""

    def shift(data):
        data["layouts"][0]["placements"][0]["y_um"] -= 100

    edit(written, shift)
    assert {"A204", "A007"} <= set(codes(written))


def test_missing_field_is_named(written):
    """A hand-edited file without a field says which."""
    edit(written, lambda data: data["layouts"][0]["placements"][0].pop("angle_deg"))
    (finding,) = verify_dir(written)
    assert finding.code == "A002"
    assert "layouts[0].placements[0].angle_deg" in finding.message


def test_inputs_changed_inside_the_plan(written):
    """A defect dropped from the plan's copy of the rack and from the blank alike is caught by the digest."""

    def drop(data):
        data["shop"]["pieces"][0]["defects"].pop(0)
        data["layouts"][0]["blank"]["defects"].pop(0)

    edit(written, drop)
    assert "A003" in codes(written)


@pytest.mark.parametrize(
    "junk",
    [
        b"",
        b"\x00\xff\xfe junk",
        b"[]",
        b"null",
        b'{"schema": "nestyield plan 2"}',
        b'{"schema": "other 9"}',
        b"{" * 100_000,
        b"[" * 100_000,
        b'{"schema": "nestyield plan 2", "inputs_sha256": 7}',
        b'{"a": NaN}',
        b'{"schema": "nestyield plan 2", "seed": 1e999}',
    ],
)
def test_junk_gives_one_clear_finding(tmp_path, junk):
    """Whatever stands in plan.json, there is one finding and no traceback."""
    (tmp_path / "plan.json").write_bytes(junk)
    (finding,) = verify_dir(tmp_path)
    assert finding.code == "A002"
    assert finding.message


@pytest.mark.parametrize("seed", range(30))
def test_randomly_damaged_plans_never_raise(written, seed):
    """A plan with random values put in random fields is told or passes, never a traceback."""
    rng = np.random.default_rng(seed)
    wild = [None, -1, 0, 10**30, 1e308, -1e308, 1e-308, "", "x", [], {}, True, [[1, 2]], "\ud800"]

    def damage(data):
        node = data
        while True:
            keys = list(node) if isinstance(node, dict) else list(range(len(node)))
            if not keys:
                return
            key = keys[int(rng.integers(len(keys)))]
            if isinstance(node[key], dict | list) and node[key] and rng.random() < 0.9:
                node = node[key]
                continue
            node[key] = wild[int(rng.integers(len(wild)))]
            return

    edit(written, damage)
    assert isinstance(verify_dir(written), tuple)


def test_missing_folder_and_missing_plan(tmp_path):
    """Without a plan there is nothing to check, and it says so."""
    assert codes(tmp_path / "nowhere") == ["A001"]
    assert codes(tmp_path) == ["A001"]
    (tmp_path / "file").write_text("x")
    assert codes(tmp_path / "file") == ["A001"]


def test_changed_and_missing_papers(written):
    """A changed sheet, a missing table and a missing list of sums are each told."""
    (written / "report.html").write_text("other")
    (written / "cuts.csv").unlink()
    assert codes(written) == ["A007", "A007"]
    (written / SUMS).unlink()
    assert codes(written) == ["A007", "A008"]


def test_senseless_sums(written):
    """Lines that name files elsewhere, or nothing, are told and not followed."""
    (written / SUMS).write_bytes(b"00  ../../etc/passwd\n00  a\x00b\nnonsense\n00  " + b"n" * 5000 + b"\n")
    assert codes(written) == ["A008"] * 4


class TestAgainstTheShop:
    @pytest.fixture
    def both(self, tmp_path, written):
        """The demo shop, and a plan folder that says it was made from it."""
        demo = Path(__file__).parents[2] / "fixtures" / "demo-shop"
        shop_dir = tmp_path / "shop"
        shutil.copytree(demo, shop_dir)
        shop, _ = read_shop(shop_dir)
        assert shop is not None
        plan = Plan(
            shop=shop,
            seed=1,
            effort=1,
            layouts=(),
            orders=(),
        )
        return write(tmp_path / "plan", plan), shop_dir, plan

    def test_unchanged(self, both):
        """The same files give no finding about inputs."""
        out, shop_dir, _ = both
        assert not [c for c in codes(out, shop_dir) if c in ("A003", "A004", "A005", "A006")]

    def test_changed_rack(self, both):
        """A changed table is a warning that names the file and the rows."""
        out, shop_dir, _ = both
        rack = shop_dir / "rack.csv"
        header, *rows = rack.read_text().splitlines()
        assert header.startswith("piece,")
        name, rest = rows[0].split(",", 1)
        rack.write_text("\n".join([header, *rows, f"{name}-new,{rest}"]) + "\n")
        told = [f for f in verify_dir(out, shop_dir) if f.code in ("A004", "A005")]
        assert [f.file for f in told if f.code == "A004"] == ["rack.csv"]
        assert [f for f in told if f.code == "A005" and f.where == f"piece {name}-new"]
        assert all(f.severity == "warning" for f in told)

    def test_tampered_copy(self, both, tmp_path):
        """A defect left out of the plan's copy of the inputs is an error, the digest made right or not."""
        _, shop_dir, plan = both
        k = next(i for i, p in enumerate(plan.shop.pieces) if p.defects)
        pieces = list(plan.shop.pieces)
        pieces[k] = replace(pieces[k], defects=pieces[k].defects[1:])
        out = write(tmp_path / "tampered", replace(plan, shop=replace(plan.shop, pieces=tuple(pieces))))
        told = [f for f in verify_dir(out, shop_dir) if f.code == "A005"]
        assert [f.where for f in told] == [f"piece {pieces[k].name}"]
        assert told[0].severity == "error"
        assert "defects" in told[0].message

    def test_shop_gone(self, both, tmp_path):
        """A shop folder that is no more is told."""
        out, _, _ = both
        assert "A006" in codes(out, tmp_path / "gone")
