"""Once as many sets as wanted are found, dearer ones are not looked at: the sets returned are those of a search of all."""

import numpy as np
import pytest

from nestyield.glueup.chains import Interest
from nestyield.glueup.search import Search
from nestyield.model import GlueUpRules, Outline, Part, Piece, Settings, Shape

SETTINGS = Settings(cutter_diameter_mm=6.0, blank_margin_mm=5.0, jointing_mm=1.0)
PART = Part(
    name="p",
    drawing="",
    outline=Outline.polygon([(0, 40), (90, 0), (300, 20), (400, 120), (330, 230), (120, 250)]),
    thickness_mm=40.0,
    grain_deg=0.0,
    grain_tolerance_deg=4.0,
)
RULES = GlueUpRules(sliver_mm=0.0, least_piece_width_mm=20.0)
#: More than there are.
ALL = 10**6


def rack(seed: int) -> list[Piece]:
    """Boards of which two or three make the part; two have a tapered edge, so that the part is laid along it."""
    rng = np.random.default_rng([seed, 3])
    out = []
    for k in range(6):
        length, width, a = (
            float(rng.uniform(330, 450)),
            float(rng.uniform(80, 190)),
            float(rng.uniform(4, 20)),
        )
        corners = [(0, a * (k in (1, 4))), (length, 0), (length, width), (0, width)]
        out.append(
            Piece(
                name=f"b{k}",
                species="maple",
                thickness_mm=44.0,
                shape=Shape(outer=Outline.polygon(corners)),
                grain_deg=0.0,
                count=1 + k % 2,
            )
        )
    return out


def search_of(seed: int) -> Search:
    rng = np.random.default_rng([seed, 4])
    worth = {f"b{k}": float(v) for k, v in enumerate(rng.uniform(1.0, 3.0, 6))}
    return Search(PART, rack(seed), SETTINGS, lambda p: worth[p.name], RULES)


def told(chains) -> list[object]:  # type: ignore[no-untyped-def]
    return [(c.rows, c.lying.angle_deg, c.seams, round(c.value, 9)) for c in chains]


@pytest.mark.parametrize(
    ("seed", "wanted"), [(3, 1), *(pytest.param(s, 3 - s, marks=pytest.mark.study) for s in (0, 1, 2))]
)
def test_the_sets_wanted_are_the_cheapest_of_all(
    seed: int, wanted: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The sets come before all others of a search that looks at every set, with the same seams, and it is told that there are more."""
    interest = Interest(joint=0.4, budget=9.0, every=True, apart=False)
    every = search_of(seed).chains(3, ALL, ALL, interest=interest)
    search = search_of(seed)
    looks = [0]
    real = Search.chain

    def counted(self, *args):  # type: ignore[no-untyped-def]
        looks[0] += 1
        return real(self, *args)

    monkeypatch.setattr(Search, "chain", counted)
    found = search.chains(3, wanted, ALL, interest=interest)
    assert len({len(c.rows) for c in every}) > 1
    assert len(every) > wanted
    assert told(found[:wanted]) == told(every[:wanted])
    assert len(found) > wanted
    taken, looks[0] = looks[0], 0
    monkeypatch.setattr(Interest, "enough", lambda self, found, wanted: self)
    assert told(search_of(seed).chains(3, wanted, ALL, interest=interest)[:wanted]) == told(found[:wanted])
    assert taken < looks[0]


def test_fewer_sets_than_wanted_narrow_nothing() -> None:
    """With no more sets found than wanted, all up to the budget stay of interest."""
    interest = Interest(joint=0.4, budget=9.0, every=True, apart=False)
    found = search_of(0).chains(2, ALL, ALL, interest=interest)
    assert interest.enough(found, len(found)) == interest
    assert interest.enough(found, len(found) - 1).budget < 9.0
    assert Interest(budget=9.0, every=True).enough(found, 1).budget == 9.0
    assert Interest(budget=9.0, apart=False).enough(found, 1).budget == 9.0
