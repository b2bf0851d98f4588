"""A wood with the maker's own figures, from the shop file to the papers."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from pypdf import PdfReader

from nestyield.cli import main


def text_of(path: Path) -> str:
    return "\n".join(page.extract_text() for page in PdfReader(path).pages)


@pytest.mark.outside(source="Wood Handbook FPL-GTR-190: C = S / (3000 - 20 S), dD = D C dM", mark="D")
def test_own_figures_on_paper(porch: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A glue-up of the maker's wood moves by its figures, is clamped by its density, and the papers say whose."""
    assert main(["plan", str(porch), "--out", str(tmp_path / "run"), "--quiet"]) in (0, 1)
    plan = json.loads((tmp_path / "run" / "plan.json").read_text())
    (own,) = plan["shop"]["settings"]["own_woods"]
    assert (own["name"], own["radial_pct"], own["tangential_pct"]) == ("black limba", 4.5, 6.2)
    assert own["density_kg_m3"] == pytest.approx(30 * 16.018463, abs=1e-3)
    (glued,) = [layout for layout in plan["layouts"] if layout["glueup"]]
    assert glued["blank"]["species"] == "black limba"
    told = glued["glueup"]
    dry, damp = told["moisture_pct"]
    for row in told["movement"]:
        assert row["marks"] == ["O"]
        for key, shrinks in (("quartersawn_mm", 4.5), ("flatsawn_mm", 6.2)):
            rate = shrinks / (3000 - 20 * shrinks)
            assert row[key] == pytest.approx(row["width_mm"] * rate * (damp - dry), abs=0.01)
    assert told["clamps"]["density"] == "soft"  # 480 kg/m3; limba of the table is medium
    moves = next(fact for fact in glued["wood"] if fact["code"] == "G701")
    assert moves["own"] == ["black limba"]
    (sheet,) = (tmp_path / "run" / "sheets").glob("*.glue-up-*.pdf")
    assert text_of(sheet).count("the maker's own") == 3
    report = (tmp_path / "run" / "report.html").read_text()
    assert "The figures of black limba are the maker&#39;s own." in report
    assert main(["verify", str(tmp_path / "run")]) == 0


def test_the_tables_figures_are_not_called_own(porch: Path, tmp_path: Path) -> None:
    """Without figures in the shop file korina is limba, by the figures of the table."""
    text = (porch / "shop.toml").read_text()
    begin, end = text.index('[species."black limba"]'), text.index("[bed.bench]")
    (porch / "shop.toml").write_text(text[:begin] + text[end:])
    (porch / "rack.csv").write_text(
        "piece,species,thickness,length,width\nL1,korina,1 7/8,17,7\nL2,korina,1 7/8,17,7\n"
    )
    main(["plan", str(porch), "--out", str(tmp_path / "run"), "--quiet"])
    plan = json.loads((tmp_path / "run" / "plan.json").read_text())
    (glued,) = plan["layouts"]
    assert glued["blank"]["species"] == "limba"
    assert {tuple(row["marks"]) for row in glued["glueup"]["movement"]} == {("D",)}
    assert glued["glueup"]["clamps"]["density"] == "medium"


def test_a_plan_with_changed_figures_fails_its_check(porch: Path, tmp_path: Path) -> None:
    """The audit works movement and clamps out from the shop's own figures: other figures do not go with them."""
    from dataclasses import replace

    from nestyield.api import plan
    from nestyield.audit.check import audit

    made = plan(porch)
    assert not [f for f in audit(made) if f.severity == "error"]
    (own,) = made.shop.settings.own_woods
    for change in (
        {"tangential_pct": 8.0},
        {"density_kg_m3": 700.0},
        {"radial_pct": None, "tangential_pct": None},
    ):
        settings = replace(made.shop.settings, own_woods=(replace(own, **change),))
        wrong = replace(made, shop=replace(made.shop, settings=settings))
        assert "A121" in {f.code for f in audit(wrong)}, change
