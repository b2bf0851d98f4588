"""Where a clamp across the seams would slip."""

import boards
import pytest

from nestyield.glueup.clamps import slips
from nestyield.model import Blank, Member, Outline, Seam, Shape

RING = Outline(points_mm=((0, 0), (900, 0), (900, 200), (0, 200)), bulges=(0.0, 1.0, 0.0, 0.0))


def blank(shape, *line):
    return Blank(
        name="b",
        members=(Member(piece="a", copy=1), Member(piece="b", copy=1)),
        species="sugar maple",
        thickness_mm=40.0,
        shape=shape,
        grain_deg=0.0,
        seams=(Seam(name="seam 1", line_mm=line),),
    )


@pytest.mark.outside(source="sine of the slope of a circle of 100 mm, by hand", mark="D")
def test_round_end():
    """Where the edge falls away at more than 15 degrees a clamp slips: a half circle of 100 at the end."""
    made = blank(Shape(outer=RING), (0.0, 80.0), (998.0, 80.0))
    # with a pad of 20 mm: at 920 the circle slopes asin(0.2) = 11.5 degrees, at 940 asin(0.4) = 23.6
    assert slips(made, made.seams[0], [50.0, 900.0, 920.0, 940.0, 990.0]) == (940.0, 990.0)


def test_upright_seam():
    """A seam along Y is clamped along X: places count from the lower end, and both long edges are straight."""
    made = blank(Shape(outer=Outline.rectangle(0, 0, 200, 500)), (100.0, 0.0), (100.0, 500.0))
    assert slips(made, made.seams[0], [50.0, 250.0, 450.0]) == ()
    # without a corner, the lower end slopes by 45 degrees
    cut = Outline.polygon([(100, 0), (200, 0), (200, 500), (0, 500), (0, 100)])
    made = blank(Shape(outer=cut), (150.0, 0.0), (150.0, 500.0))
    assert slips(made, made.seams[0], [50.0, 250.0, 450.0]) == (50.0,)


def test_in_the_plan():
    """Two plain boards have straight edges all along."""
    told = boards.layout().glueup.clamps
    assert told.slips_mm == ()
    assert len(told.at_mm) == 7
