"""The cut list of a glue-up, worked by hand."""

from dataclasses import replace

import boards
import pytest

from nestyield.glueup.boards import boards_of
from nestyield.glueup.rip_offcuts import strips
from nestyield.model import MachineLimits, Outline, Seam, Settings, Shape

SETTINGS = Settings(cutter_diameter_mm=6.0)
SEAMS = {"seam 1": boards.SEAM}


def found(pieces=(boards.A, boards.B), settings=SETTINGS, seams=SEAMS, blank=boards.BLANK):
    cut = boards_of(blank, {p.name: p for p in pieces}, settings.jointing_mm)
    return [strips(stave, seams, settings) for stave in cut]


def test_a_small_strip_and_none():
    """Of 5 mm off A, 0.8 are jointed and 3.2 sawn away: 500 x 1.0 is left; of 3 mm off B nothing is."""
    (a,), b = found()
    assert (a.length_mm, a.width_mm) == pytest.approx((500, 1.0), abs=0.01)
    assert a.area_mm2 == pytest.approx(500, abs=2)
    assert not a.usable
    assert b == ()


def test_kerf_of_the_shop():
    """A thinner blade leaves more; with nothing jointed and nothing sawn away all 5 mm are left."""
    (a,), _ = found(settings=replace(SETTINGS, machines=MachineLimits(saw_kerf_mm=2.0)))
    assert a.width_mm == pytest.approx(2.2, abs=0.01)
    (a,), _ = found(settings=replace(SETTINGS, jointing_mm=0.0, machines=MachineLimits(saw_kerf_mm=0.0)))
    assert a.width_mm == pytest.approx(5.0, abs=0.01)


@pytest.mark.parametrize(("width", "usable"), [(149.1, True), (148.9, False)])
def test_worth_keeping(width, usable):
    """A strip of 200 x 50 mm is worth keeping: 95 + 0.8 + 3.2 + 50 = 149 mm of board."""
    wide = replace(boards.A, shape=Shape(outer=Outline.rectangle(0, 0, 500, width)))
    (a,), _ = found((wide, boards.B))
    assert a.usable is usable


def test_two_strips_beside_a_notch():
    """A notch in the edge leaves two strips, the longer one first."""
    notched = replace(
        boards.A,
        shape=Shape(
            outer=Outline.polygon(
                [(0, 0), (500, 0), (500, 130), (300, 130), (300, 95), (200, 95), (200, 130), (0, 130)]
            )
        ),
    )
    longer, shorter = found((replace(notched), boards.B))[0]
    assert (longer.length_mm, shorter.length_mm) == pytest.approx((200, 200), abs=0.01)
    assert longer.width_mm == pytest.approx(31, abs=0.01)


def test_seam_upright():
    """The rectangle of a strip is measured along its seam, whichever way that runs."""
    tall = replace(boards.A, shape=Shape(outer=Outline.rectangle(0, 0, 100, 500)))
    other = replace(boards.B, shape=Shape(outer=Outline.rectangle(0, 0, 120, 480)))
    seam = Seam(name="seam 1", line_mm=((80.0, 0.0), (80.0, 480.0)))
    blank = replace(
        boards.BLANK,
        members=(replace(boards.MEMBERS[0], x_um=0), replace(boards.MEMBERS[1], angle_deg=0, x_um=-40_000, y_um=0)),
        seams=(seam,),
        shape=Shape(outer=Outline.rectangle(-40, 0, 100, 480)),
    )  # fmt: skip
    # upwards is along: the upper member lies to the left, so A is ripped at its left side: 80 mm off
    strip = found((tall, other), seams={"seam 1": seam}, blank=blank)[0][0]
    assert (strip.length_mm, strip.width_mm) == pytest.approx((500, 76.0), abs=0.01)
