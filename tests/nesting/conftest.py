"""Shared by the tests of the search."""

import os

import numpy as np
import pytest


@pytest.fixture
def jit() -> bool:
    """Whether kernels are compiled; NUMBA_DISABLE_JIT=1 runs their plain twins."""
    return os.environ.get("NUMBA_DISABLE_JIT", "0") in ("", "0")


@pytest.fixture
def needs_jit(jit: bool) -> None:
    """Skip where kernels are not compiled: such searches take minutes then."""
    if not jit:
        pytest.skip("needs compiled kernels")


@pytest.fixture(scope="session")
def shapes_of():
    """Return a maker of oriented shapes from rings in millimeters, one kind for each with some angles."""
    from nestyield.geometry.grid import area_um2, bounds
    from nestyield.model.pose import Pose
    from nestyield.nesting.shapes import OrientedShape

    def make(kinds):
        out = []
        for kind, (ring, angles) in enumerate(kinds):
            for angle in angles:
                turned = Pose(angle_deg=angle).on_grid([np.array(ring, dtype=np.int64) * 1000])
                x0, y0, x1, y1 = bounds(turned)
                out.append(
                    OrientedShape(
                        kind=kind,
                        angle_deg=angle,
                        mirrored=False,
                        rings=tuple(r - np.array([x0, y0]) for r in turned),
                        corner=(x0, y0),
                        size=(x1 - x0, y1 - y0),
                        area=area_um2(turned),
                    )
                )
        return out

    return make
