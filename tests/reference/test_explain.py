"""What explain says, and that nothing is left out."""

from __future__ import annotations

import json
import re
from pathlib import Path

import ezdxf
import pytest

from nestyield import api
from nestyield.cli import main
from nestyield.intake.keys import KEYS
from nestyield.model import DEFECT_KINDS, DEFECTS
from nestyield.model.roles import ROLES
from nestyield.paperwork.marks import entries
from nestyield.reference import UnknownWordError, explain, words
from nestyield.reference.entries import SECTIONS
from nestyield.reference.meanings import DEFECT_MEANS, LAYERS, ROLE_MEANS
from nestyield.wood.species import SPECIES


def told(word: str, capsys: pytest.CaptureFixture[str]) -> str:
    assert main(["explain", *word.split()]) == 0
    return " ".join(capsys.readouterr().out.split())


@pytest.mark.parametrize(
    ("word", "says"),
    [
        (
            "planing",
            [
                "[allowance] planing",
                "off each face before routing (common practice)",
                "0.8 mm (about 1/32 in)",
            ],
        ),
        ("blank_margin", ["6.35 mm (1/4 in)", "at least 0"]),
        ("bed.bench.travel_x", ["[bed.NAME] travel_x", "required", "more than 0"]),
        ("[bed.bench]", ["section [bed.NAME]", "travel_x, travel_y"]),
        ("[[order]]", ["section [[order]]", "part, count, priority"]),
        ("mirrored", ['one of "no", "allowed", "only"']),
        ("Width_MM", ["column width of the rack table", "width_in"]),
        ("hard maple", ["sugar maple", "Acer saccharum", "9.9 % tangentially"]),
        ("maple", ["may be several woods", "bigleaf maple"]),
        ("knots", ["kind of defect: knot", "marked K in drawings"]),
        ("NL", ["kind of defect: nail hole"]),
        ("re", ["kind of defect: rough edge"]),
        ("H2", ["holes of the blank for pins"]),
        ("P", ["pins that stand in the table", "common practice"]),
        ("POCKET TOP 12 MM", ["layer POCKET TOP", "by face of the wood and depth"]),
        ("no-seam", ["role no_seam"]),
        ("r005", ["finding R005", "cells hold what their column says"]),
        ("A206", ["finding A206, of the check of a plan", "parts keep their gap"]),
        ("nightly", ["command nestyield nightly", "nightly --help"]),
        (
            "check",
            ["its options: nestyield check --help", "command nestyield check", "kind of defect: check"],
        ),
    ],
)
def test_what_is_said(word: str, says: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    """Each word is found as people write it, with where it stands, what it means and its default."""
    text = told(word, capsys)
    for phrase in says:
        assert phrase in text


@pytest.mark.parametrize(
    ("word", "meant"),
    [
        ("planning", "planing"),
        ("legnth", "length"),
        ("mahagony", "mahogany"),
        ("material", "species"),
        ("F05", "F005"),
    ],
)
def test_a_slip_is_answered_with_the_word(word: str, meant: str, capsys: pytest.CaptureFixture[str]) -> None:
    """A misspelt word, or one that makers use, ends with 2 and names the word that is meant."""
    assert main(["explain", word]) == 2
    assert f"did you mean {meant!r}?" in capsys.readouterr().err


def test_nothing_near() -> None:
    """Where no word is near, the list is named."""
    with pytest.raises(UnknownWordError, match="lists what there is"):
        explain("zzzzzz")


def test_every_word_of_the_tables_is_explained() -> None:
    """Keys, roles, kinds, woods: none is left out, none is made up."""
    assert set(ROLE_MEANS) == {"outline", *ROLES, "ignore"}
    assert set(DEFECT_MEANS) == set(DEFECT_KINDS)
    assert {k.section for k in KEYS} <= set(SECTIONS)
    for key in KEYS:
        assert any(m.lines[0] == key.doc for m in explain(f"{key.section.replace('.*', '')}.{key.name}")), key
    for species in SPECIES:
        for name in (species.name, *species.aliases):
            assert any(m.word == species.name for m in explain(name)), name
    assert len(words()["code"]) == len(set(words()["code"])) > 150


def test_letters_of_drawings_are_explained() -> None:
    """The letters that mark each kind of defect, and those of the legend, lead to what they stand for."""
    for kind, row in DEFECTS.items():
        assert any(m.word == kind for m in explain(row.letters)), kind
    legend = {e.text.split(":")[0] for e in entries({"pin", "clamp"})}
    assert legend == {"H", "S"}
    for letter in legend:
        assert any(m.kind == "sign" for m in explain(f"{letter}1")), letter


def test_the_list_is_printed(capsys: pytest.CaptureFixture[str]) -> None:
    """Without a word every word is listed; JSON has the same."""
    assert main(["explain"]) == 0
    text = capsys.readouterr().out
    assert "keys of shop.toml:" in text
    assert main(["explain", "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert data["words"] == api.explained_words()
    for names in data["words"].values():
        assert all(name in " ".join(text.split()) for name in names)


def test_layers_of_drawings_are_those_that_are_written(tmp_path: Path) -> None:
    """Every layer of every drawing of a plan with a glue-up is in the table of layers, its figures aside."""
    out = tmp_path / "out"
    assert main(["new", str(tmp_path / "shop"), "--quiet"]) == 0
    assert main(["plan", str(tmp_path / "shop"), "--out", str(out), "--workers", "1", "--quiet"]) in (0, 1)
    known = {re.sub(r"[\d./ ]+(MM|IN)$", "", name) for names, _ in LAYERS for name in names}
    seen = set()
    for path in (out / "drawings").glob("*.dxf"):
        seen |= {layer.dxf.name for layer in ezdxf.readfile(path).layers} - {"0", "Defpoints"}
    assert len(seen) > 6
    for name in seen:
        bare = re.sub(r"\s[\d./ ]+(MM|IN)$", "", name)
        assert bare in known or bare in {
            f"{r.layer} {f}" for r in ROLES.values() for f in ("TOP", "BOTTOM")
        }, name
