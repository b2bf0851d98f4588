"""Answers kept between runs: the same bytes with them and without, only what changed is asked again."""

from __future__ import annotations

from pathlib import Path

import pytest

from nestyield.cli import main
from nestyield.planning import questions

RACK = """\
piece,species,thickness,length,width,count,status
R1,sugar maple,25,330,110,1,ready
R2,sugar maple,25,700,111,2,ready
R3,sugar maple,25,311,110,1,ready
R4,sugar maple,25,400,60,1,ready
R5,sugar maple,25,410,62,1,ready
"""
QUESTIONS = (
    ["fit", "SHOP", "--part", "neck", "--piece", "R1"],
    ["fit", "SHOP", "--part", "neck", "--piece", "R3"],
    ["pieces", "SHOP", "--part", "neck", "--json"],
    ["make", "SHOP", "--json"],
    ["need", "SHOP", "--want", "neck=9"],
)


@pytest.fixture
def rack(shop: Path) -> Path:
    (shop / "rack.csv").write_text(RACK)
    return shop


@pytest.fixture
def answers(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "answers"
    monkeypatch.setenv("NESTYIELD_ANSWERS", str(folder))
    return folder


def said(words: list[str], shop: Path, capsys: pytest.CaptureFixture[str]) -> tuple[int, str]:
    code = main([str(shop) if w == "SHOP" else w for w in words])
    return code, capsys.readouterr().out


@pytest.mark.parametrize("question", QUESTIONS, ids=lambda q: " ".join(q[:1] + q[-1:]))
def test_a_question_has_one_answer(
    question: list[str], rack: Path, answers: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Anew, kept for the first time, and read back, a question is answered in the same words."""
    anew = said([*question, "--anew"], rack, capsys)
    assert not answers.exists()
    first = said(question, rack, capsys)
    assert any(answers.iterdir())
    assert anew == first == said(question, rack, capsys)


def test_a_plan_has_the_same_bytes(rack: Path, answers: Path, tmp_path: Path) -> None:
    """All files of a plan are the same anew, with answers kept, with them read back, and with all of them damaged."""

    def files(out: str, *more: str) -> dict[str, bytes]:
        main(["plan", str(rack), "--out", str(tmp_path / out), "--workers", "1", "--quiet", *more])
        return {p.name: p.read_bytes() for p in (tmp_path / out).rglob("*") if p.is_file()}

    anew = files("anew", "--anew")
    assert not answers.exists()
    assert files("first") == files("again") == anew
    for path in answers.iterdir():
        path.write_bytes(path.read_bytes()[:-3])
    assert files("damaged") == anew


def test_only_a_changed_row_is_asked_again(
    rack: Path, answers: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """After one row of the rack has changed, that row alone is tried; a note or a shelf changes nothing."""
    asked: list[str] = []
    real = questions._asked

    def told(shop, part, piece, beds):  # type: ignore[no-untyped-def]
        asked.append(piece.name)
        return real(shop, part, piece, beds)

    monkeypatch.setattr(questions, "_asked", told)
    said(QUESTIONS[2], rack, capsys)
    assert sorted(asked) == ["R1", "R2"]  # the others are too small at a glance
    asked.clear()
    (rack / "rack.csv").write_text(RACK.replace("R1,sugar maple,25,330", "R1,sugar maple,25,340"))
    said(QUESTIONS[2], rack, capsys)
    assert asked == ["R1"]
    asked.clear()
    (rack / "shop.toml").write_text((rack / "shop.toml").read_text().replace("[cutter]", "[cutter] # 1"))
    said(QUESTIONS[2], rack, capsys)
    assert asked == []


def test_none_are_kept_where_none_are_asked_for(
    rack: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """An empty NESTYIELD_ANSWERS keeps nothing; a folder that cannot be made is no error."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "home"))
    monkeypatch.setenv("NESTYIELD_ANSWERS", "")
    first = said(QUESTIONS[0], rack, capsys)
    assert not (tmp_path / "home").exists()
    (tmp_path / "file").write_text("")
    monkeypatch.setenv("NESTYIELD_ANSWERS", str(tmp_path / "file" / "answers"))
    assert said(QUESTIONS[0], rack, capsys) == first
    monkeypatch.delenv("NESTYIELD_ANSWERS")
    assert said(QUESTIONS[0], rack, capsys) == first
    assert any((tmp_path / "home" / "nestyield" / "answers").iterdir())
