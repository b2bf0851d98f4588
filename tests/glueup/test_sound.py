"""Slivers of allowed shifts: what of them is true."""

import numpy as np
import pytest
import study_glueup as study

from nestyield.glueup.band import rectangle
from nestyield.glueup.find import find
from nestyield.glueup.sound import sound

#: Subgrid units a millimeter.
MM = 16_000
BOARD = [rectangle(0, 0, 100_000, 50_000)]


def _path(*corners):
    return np.array(corners, dtype=np.int64)


def test_a_sliver_stays_where_the_wood_fits():
    """By hand: 100 x 10 mm in 100 x 50 mm slides up by 40 mm and along by nothing."""
    wood = [rectangle(0, 0, 100_000, 10_000)]
    true = _path((0, 0), (1, 40 * MM), (0, 40 * MM))
    assert [p.tolist() for p in sound([true], BOARD, wood)] == [true.tolist()]


def test_of_a_sliver_that_leaves_the_wood_a_point_stays():
    """By hand: 3 mm along, the wood reaches 3 mm past the board."""
    wood = [rectangle(0, 0, 100_000, 10_000)]
    (left,) = sound([_path((0, 0), (3 * MM, 40 * MM), (3 * MM + 1, 40 * MM))], BOARD, wood)
    assert np.abs(left).max() <= 1
    assert sound([_path((2 * MM, 0), (3 * MM, 40 * MM), (3 * MM + 1, 40 * MM))], BOARD, wood) == []


def test_a_wide_region_is_not_looked_at():
    """Guards the time: where there is room, every corner is right to the subgrid."""
    wide = _path((0, 0), (3 * MM, 0), (3 * MM, 40 * MM))
    assert sound([wide], BOARD, [rectangle(0, 0, 100_000, 10_000)])[0] is wide


@pytest.mark.study
@pytest.mark.parametrize(("seed", "members", "play"), [(38, 2, 0.05), (38, 3, 2.0)])
def test_glue_ups_cover_the_margin(seed, members, play):
    """Planted glue-ups of which one more was found that left the margin bare; measured by shapely."""
    planted = study.plant_turned(seed, members, 12, play)
    found = find(planted.part, planted.pieces, study.SETTINGS, lambda p: p.shape.area_mm2)
    assert found
    assert [study.faults(planted, each) for each in found] == [[] for _ in found]
