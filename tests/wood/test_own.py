"""The maker's own figures against the table's and the handbook's rule."""

import pytest

from nestyield.model import ModelError, OwnWood
from nestyield.wood.own import coefficient, density_class, species_of
from nestyield.wood.species import find

#: Specific gravity at 12 % (ovendry mass, volume at 12 %), Wood Handbook FPL-GTR-190 table 5-3 (M).
GRAVITY = {
    "red alder": 0.41,
    "white ash": 0.60,
    "basswood": 0.37,
    "American beech": 0.64,
    "yellow birch": 0.62,
    "paper birch": 0.55,
    "butternut": 0.38,
    "black cherry": 0.50,
    "red maple": 0.54,
    "silver maple": 0.47,
    "sugar maple": 0.63,
    "white oak": 0.68,
    "sycamore": 0.49,
    "black walnut": 0.55,
    "quaking aspen": 0.38,
    "yellow-poplar": 0.42,
}


@pytest.mark.outside(source="Wood Handbook FPL-GTR-190, table 5-3: specific gravity at 12 %", mark="M")
@pytest.mark.parametrize("name", GRAVITY)
def test_classes_of_the_table_follow_from_densities(name):
    """A wood with the density that the handbook gives gets the class that the table has for it."""
    assert density_class(1000 * GRAVITY[name] * 1.12) == find(name).density


@pytest.mark.outside(source="Wood Handbook FPL-GTR-190, tables 4-3 and 13-5, cherry and walnut", mark="S")
def test_coefficients_follow_from_shrinkage():
    """Printed shrinkage gives the printed coefficients back."""
    assert (coefficient(3.7), coefficient(7.1)) == (0.00126, 0.00248)
    assert (coefficient(5.5), coefficient(7.8)) == (0.00190, 0.00274)
    assert coefficient(None) is None


def test_own_figures_go_first():
    """A maker's wood goes before the table's of that name, under each of its names; others stay the table's."""
    own = (OwnWood(name="white ash", radial_pct=4.0, tangential_pct=7.0, synonyms=("bog ash",)),)
    for name in ("white ash", "Ash, White", "bog-ash"):
        assert species_of(name, own).coefficient_mark == "O", name
        assert species_of(name, own).radial_pct == 4.0
    assert species_of("swamp ash", own).name == "swamp ash"
    assert species_of("white ash", ()) is find("white ash")
    assert species_of("moon cheese", own) is None


def test_one_shrinkage_alone_is_refused():
    """Radial shrinkage without tangential says nothing about a board whose rings nobody knows."""
    with pytest.raises(ModelError, match="give both"):
        OwnWood(name="x", radial_pct=4.0)
