"""Woods with the maker's own figures."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from nestyield.api import check_shop
from nestyield.intake.densities import DensityError, parse_density

OWN = """
[species."black limba"]
radial = 4.0
tangential = 6.0
density = 560
synonyms = ["korina"]

[species.moabi]
density = "0.86 g/cm3"
"""


def read(shop: Path, own: str, rack: str = "", units: str = "mm"):
    text = (shop / "shop.toml").read_text().replace('units = "mm"', f'units = "{units}"')
    (shop / "shop.toml").write_text(text + own)
    (shop / "defects.csv").write_text("piece,kind,x,y,diameter\n")
    if rack:
        (shop / "rack.csv").write_text(f"piece,species,thickness_mm,length_mm,width_mm\n{rack}")
    return check_shop(shop)


def told(findings) -> list[str]:
    return [f"{f.severity} {f.code} {f.message}" for f in findings]


def test_own_woods_are_read(good_shop: Path) -> None:
    """Name, synonyms and figures arrive; the rack's names are brought to the maker's, other woods are not."""
    rack = "A,Black Limba,25,700,110\nB,korina,25,700,110\nC,limba,25,700,110\nD,swamp ash,25,700,110\nE,moabi,25,700,110\n"
    found, findings = read(good_shop, OWN, rack)
    assert found is not None, told(findings)
    assert [p.species for p in found.pieces] == ["black limba", "black limba", "limba", "swamp ash", "moabi"]
    limba, moabi = found.settings.own_woods
    assert (limba.radial_pct, limba.tangential_pct, limba.density_kg_m3) == (4.0, 6.0, 560.0)
    assert (moabi.radial_pct, moabi.density_kg_m3) == (None, 860.0)
    lines = told(findings)
    assert "note R011 'korina' is read as your own black limba" in lines
    assert "note S011 your own figures of black limba count, not those of limba" in lines
    # 4 / (3000 - 80) and 6 / (3000 - 120)
    assert any("it moves 0.137 to 0.208 % a point" in line and "medium" in line for line in lines)
    assert any("moabi: no movement is known" in line and "dense" in line for line in lines)


def test_an_unknown_wood_is_shown_the_way(good_shop: Path) -> None:
    """A wood that nobody knows is a note with what to write; a misspelt one of the maker's own an error."""
    _, findings = read(good_shop, OWN, "A,wenge,25,700,110\nB,moabbi,25,700,110\n")
    assert any('give your own figures under [species."wenge"]' in line for line in told(findings))
    assert "error R011 unknown species 'moabbi'; did you mean 'moabi'?" in told(findings)


@pytest.mark.parametrize(
    ("own", "error"),
    [
        ("[species.wenge]\n", "expected radial and tangential shrinkage, a density, or both; none is given"),
        ("[species.wenge]\nradial = 4\n", "expected radial and tangential shrinkage, got one of them"),
        (
            "[species.wenge]\nradial = 0.04\ntangential = 0.06\n",
            "radial is 0.04, too little; write 0.5 or more",
        ),
        ("[species.wenge]\ndensity = 0.9\n", "density is 0.9 kg/m³, too little; write 50 kg/m³ or more"),
        ('[species.wenge]\ndensity = "heavy"\n', "expected a density such as '560 kg/m3', got 'heavy'"),
        ("[species.wenge]\ndensty = 870\n", "unknown key 'densty'; did you mean 'density'?"),
        ("[species]\nradial = 4\n", "a species has a name: write [species.NAME]"),
        (
            '[species.wenge]\ndensity = 870\nsynonyms = ["white oak"]\n',
            "expected synonyms that are no other wood, 'white oak' is one of the species table",
        ),
        (
            '[species.wenge]\ndensity = 870\nsynonyms = ["dark"]\n[species.bog]\ndensity = 800\nsynonyms = ["Dark"]\n',
            "expected one wood for each name, 'dark' is wenge and bog",
        ),
    ],
)
def test_wrong_figures(own: str, error: str, good_shop: Path) -> None:
    """Figures that cannot be right and names of two woods are errors that say what to do."""
    found, findings = read(good_shop, "\n" + own)
    assert found is None
    assert any(error in f.message for f in findings if f.severity == "error"), told(findings)


def test_exchanged_figures_are_asked_about(good_shop: Path) -> None:
    """Wood shrinks less along its rays: the other way round is a warning."""
    _, findings = read(good_shop, "\n[species.wenge]\nradial = 6\ntangential = 4\n")
    assert any(
        "are radial and tangential exchanged?" in f.message for f in findings if f.severity == "warning"
    )


def test_an_inch_shop_reads_pounds(good_shop: Path) -> None:
    """A bare density of an inch shop is in pounds a cubic foot, and no message speaks of kilograms."""
    found, findings = read(good_shop, "\n[species.wenge]\ndensity = 870\n", units="in")
    assert found is None
    (message,) = [f.message for f in findings if "density" in f.message]
    # 1500 kg/m3 is 93.6 lb/ft3: 0.45359237 kg in 0.028316846592 m3
    assert re.fullmatch(r"density is 870.lb/ft³, too much; write 93\.6.lb/ft³ or less", message)


@pytest.mark.outside(source="pound and foot by their definitions", mark="D")
def test_densities() -> None:
    """Densities with and without units, in either kind of shop; what is none is refused."""
    assert parse_density(35, "in") == pytest.approx(35 * 0.45359237 / 0.028316846592)
    assert parse_density("35 lb/ft3", "mm") == parse_density(35, "in")
    assert parse_density(560, "mm") == 560.0
    for bad in ("560 kg", "-3", "", True, "1e400"):
        with pytest.raises(DensityError):
            parse_density(bad, "mm")
