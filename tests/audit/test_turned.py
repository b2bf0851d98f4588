from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely.affinity import rotate

from nestyield.audit.turned import Wood


@pytest.mark.parametrize(("half", "lost_mm"), [(0.0, 0.0), (0.3, 0.05), (2.0, 0.3), (10.0, 0.7)])
def test_kept_wood_is_in_every_turned_copy(half, lost_mm):
    """What is kept for a turn lies in the region turned by any angle of it, and is nearly all of that."""
    shape = shapely.Polygon([(-80, -40), (60, -50), (90, 0), (20, 10), (60, 60), (-70, 50)]).difference(
        shapely.box(-20, -20, 0, 15)
    )
    kept = Wood(shape).kept(half)
    common = shape
    for angle in np.linspace(-half, half, 81):
        turned = rotate(shape, angle, origin=(0, 0))
        assert turned.buffer(1e-6).covers(kept)
        common = common.intersection(turned)
    assert common.difference(kept.buffer(lost_mm)).area < 1e-3
