"""The species table against the handbook's figures, and the finding of names."""

import pytest

from nestyield.wood.species import SEVERAL, SPECIES, find, is_another_name, usual_panel

# Wood Handbook FPL-GTR-190 (2010), tables 4-3, 4-4 and 13-5, as read:
# radial, tangential, volumetric, C_R, C_T.
READ = {
    "red alder": (4.4, 7.3, 12.6, 0.00151, 0.00256),
    "white ash": (4.9, 7.8, 13.3, 0.00169, 0.00274),
    "basswood": (6.6, 9.3, 15.8, 0.00230, 0.00330),
    "American beech": (5.5, 11.9, 17.2, 0.00190, 0.00431),
    "yellow birch": (7.3, 9.5, 16.8, 0.00256, 0.00338),
    "paper birch": (6.3, 8.6, 16.2, 0.00219, 0.00304),
    "butternut": (3.4, 6.4, 10.6, 0.00116, 0.00223),
    "black cherry": (3.7, 7.1, 11.5, 0.00126, 0.00248),
    "silver maple": (3.0, 7.2, 12.0, 0.00102, 0.00252),
    "white oak": (5.6, 10.5, 16.3, 0.00180, 0.00365),
    "sycamore": (5.0, 8.4, 14.1, 0.00172, 0.00296),
    "black walnut": (5.5, 7.8, 12.8, 0.00190, 0.00274),
    "quaking aspen": (3.5, 6.7, 11.5, 0.00119, 0.00234),
}

# Names of the 15 rows whose printed C are read in the source: the rule of thumb must give them back.
PRINTED = [*READ, "red maple", "sugar maple"]


@pytest.mark.outside(source="Wood Handbook FPL-GTR-190 (2010), tables 4-3, 4-4, 13-5", mark="S")
@pytest.mark.parametrize("name", sorted(READ))
def test_figures_read_in_the_handbook(name):
    """The shrinkage and change coefficients of each species are the handbook's figures."""
    s = find(name)
    assert (s.radial_pct, s.tangential_pct, s.volumetric_pct, s.c_radial, s.c_tangential) == READ[name]
    assert (s.shrinkage_mark, s.coefficient_mark) == ("S", "S")


@pytest.mark.outside(
    source="Wood Handbook FPL-GTR-190, table 13-5, from table 4-3 by C = S/(3000 - 20 S)", mark="D"
)
def test_coefficients_follow_from_shrinkage():
    """The rule gives the printed coefficients back, but for a grouped row and one last digit."""
    off = {n: max(_off(s, c) for s, c in _pairs(n)) for n in PRINTED}
    assert {n: d for n, d in off.items() if d} == {"sycamore": 1, "white oak": 14}


@pytest.mark.outside(source="derived by C = S/(3000 - 20 S) from Wood Handbook shrinkage", mark="D")
@pytest.mark.parametrize("name", [s.name for s in SPECIES if s.coefficient_mark == "D"])
def test_derived_coefficients(name):
    """Coefficients that are marked as derived are the rule's value, in the fifth decimal."""
    assert find(name).coefficient_mark == "D"
    assert all(_off(s, c) <= 1 for s, c in _pairs(name))


def _pairs(name):
    s = find(name)
    return ((s.radial_pct, s.c_radial), (s.tangential_pct, s.c_tangential))


def _off(shrinkage, coefficient):
    """Return by how many units of the fifth decimal the rule is off."""
    return abs(round(1e5 * shrinkage / (3000 - 20 * shrinkage)) - round(1e5 * coefficient))


@pytest.mark.outside(
    source="wood shrinks more along the rings than across them (Wood Handbook ch. 4)", mark="S"
)
def test_tangential_exceeds_radial():
    """Every wood moves more along the rings than across them."""
    for s in SPECIES:
        if not s.sheet:
            assert s.tangential_pct > s.radial_pct
            assert s.c_tangential > s.c_radial
            assert s.volumetric_pct > s.tangential_pct


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("hard maple", "sugar maple"),
        ("Hard-Maple", "sugar maple"),
        ("  ROCK  maple ", "sugar maple"),
        ("maple, hard", "sugar maple"),
        ("Douglas-fir, coast", "Douglas-fir"),
        ("douglas fir", "Douglas-fir"),
        ("yellow poplar", "yellow-poplar"),
        ("Acer rubrum", "red maple"),
        ("mdf", "MDF"),
        ("Baltic birch", "birch plywood"),
        ("ply", "plywood"),
        ("swamp ash", "swamp ash"),
        ("honey locust", "honeylocust"),
        ("mahogany (Swietenia)", "mahogany"),
    ],
)
def test_find_takes_the_names_of_the_trade(text, name):
    """Case, hyphens, turned names and aliases lead to the one row."""
    assert find(text).name == name


def test_find_knows_when_it_does_not_know():
    """An unknown or ambiguous name finds nothing."""
    assert find("maple") is None
    assert find("") is None


def test_no_name_means_two_woods():
    """No alias is claimed by two rows."""
    seen = [t.casefold().replace("-", " ") for s in SPECIES for t in {s.name, *s.aliases}]
    assert len(seen) == len(set(seen))


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("swamp ash", "white ash"),
        ("birch plywood", "plywood"),
        ("Baltic birch", "yellow birch"),
        ("African mahogany", "mahogany"),
        ("Spanish cedar", "western redcedar"),
        ("white walnut", "black walnut"),
        ("bigleaf maple", "sugar maple"),
    ],
)
@pytest.mark.outside(source="names of the trade that sound alike and are other woods", mark="P")
def test_a_wood_is_never_read_as_another(one, other):
    """Names that share a word and mean different woods lead to different rows."""
    assert find(one) is not find(other)


def test_names_of_several_woods():
    """A name that the trade gives to several woods finds none, and each of those is in the table."""
    for name, woods in SEVERAL.items():
        assert find(name) is None
        assert all(find(wood).name == wood for wood in woods)


@pytest.mark.parametrize(
    ("name", "another"),
    [("hard maple", True), ("Sugar-Maple", False), ("maple, sugar", False), ("alder", True), ("MDF", False)],
)
def test_another_name(name, another):
    """Case, hyphens and order make no other name."""
    assert is_another_name(name, find(name)) is another


def test_sheets():
    """Sheets carry no movement figures, and MDF its standard's thickness tolerance."""
    assert find("mdf").sheet
    assert find("mdf").c_radial is None
    assert find("mdf").thickness_tolerance_mm == 0.125
    assert not find("cherry").sheet


@pytest.mark.outside(source="common practice, no source", mark="P")
@pytest.mark.parametrize(
    ("size", "panel"),
    [((2440, 1220), (2440.0, 1220.0)), ((1230, 2450), (97 * 25.4, 49 * 25.4)), ((2500, 100), None)],
)
def test_usual_panels(size, panel):
    """MDF comes in 2440 x 1220 mm and 49 x 97 in; a rectangle may lie either way round."""
    assert usual_panel("mdf", *size) == panel
    assert usual_panel("sugar maple", *size) is None


@pytest.mark.outside(source="common practice, no source", mark="P")
def test_panels_of_an_inch_shop_are_in_whole_inches():
    """2440 x 1220 mm is sold as 96 x 48 in (common practice, no source); what is larger wants 97 x 49 in."""
    assert usual_panel("mdf", 2000, 1000, "in") == (96 * 25.4, 48 * 25.4)
    assert usual_panel("mdf", 2439.5, 1000, "in") == (97 * 25.4, 49 * 25.4)
