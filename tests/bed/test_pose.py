from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely.affinity import rotate, translate

from nestyield.bed.fit import load_of
from nestyield.bed.keep_outs import hits
from nestyield.bed.pose import lie, takes
from nestyield.model import KeepOut, Outline
from nestyield.model.facts import KeepOutInTheWay


def random_case(rng, make_bed, make_part, make_blank, at):
    keep_outs = []
    for k in range(int(rng.integers(1, 4))):
        x, y = rng.uniform(-20, 380), rng.uniform(-20, 280)
        w, h = rng.uniform(10, 90, 2)
        blocks = str(rng.choice(["cutter", "blank", "both"]))
        if rng.random() < 0.5:
            outline = Outline.rectangle(x, y, x + w, y + h)
        else:
            outline = Outline.polygon(
                [(x, y), (x + w, y), (x + w, y + 8), (x + 8, y + 8), (x + 8, y + h), (x, y + h)]
            )
        keep_outs.append(KeepOut(name=f"block {k}", outline=outline, blocks=blocks))
    bed = make_bed(400, 300, keep_outs=tuple(keep_outs), open_ends=("y+",) if rng.random() < 0.3 else ())
    w, h = rng.uniform(150, 390), rng.uniform(120, 290)
    blank = make_blank(Outline.rectangle(0, 0, w, h))
    bulge = float(rng.uniform(-0.3, 0.3))
    outline = Outline(
        points_mm=((0, 0), (w - 60, 0), (w - 60, h - 60), (w / 3, h / 2), (0, h - 60)),
        bulges=(0.0, bulge, 0.0, 0.0, bulge),
    )
    return bed, blank, ((make_part(outline), at(30, 30)),)


def test_the_quick_answer_is_the_whole_one(settings, make_bed, make_part, make_blank, at):
    """Whether a bed takes a load is told alike with and without looking for the best place; both answers come up."""
    told = []
    for seed in range(120):
        rng = np.random.default_rng([5, seed])
        bed, blank, pairs = random_case(rng, make_bed, make_part, make_blank, at)
        load = load_of(blank, pairs, 0.0, settings)
        assert takes(bed, load) == lie(bed, load).fits, seed
        told.append(takes(bed, load))
    assert 20 < sum(told) < 100


@pytest.mark.parametrize("seed", range(25))
def test_answer_against_a_grid_of_places(seed, settings, make_bed, make_part, make_blank, at):
    """No place of a fine grid does where the answer is no; where it is yes, all within the clearance does."""
    rng = np.random.default_rng(seed)
    bed, blank, pairs = random_case(rng, make_bed, make_part, make_blank, at)
    load = load_of(blank, pairs, 0.0, settings)
    answer = lie(bed, load)
    cut, wood = load.cut, load.blank
    good = []
    for x in np.arange(-200.0, 400.0, 8.0):
        for y in np.arange(-200.0, 300.0, 8.0):
            inside = cut.x0 + x >= 0 and cut.x1 + x <= 400 and cut.y0 + y >= 0 and cut.y1 + y <= 300
            inside &= wood.x0 + x >= 0 and wood.x1 + x <= 400 and wood.y0 + y >= 0
            inside &= "y+" in bed.open_ends or wood.y1 + y <= 300
            if inside and not any(hits(k, load, x, y) for k in bed.keep_outs):
                good.append((x, y))
    if not answer.fits:
        assert not good
        assert answer.refusals
    else:
        assert not any(hits(k, load, answer.x_mm, answer.y_mm) for k in bed.keep_outs)
        assert load.cut.x0 + answer.x_mm >= -0.002
        assert load.cut.x1 + answer.x_mm <= 400.002
        for dx, dy in np.random.default_rng(1).normal(size=(12, 2)):
            length = max(1e-9, float(np.hypot(dx, dy)))
            x = answer.x_mm + dx / length * answer.clearance_mm * 0.999
            y = answer.y_mm + dy / length * answer.clearance_mm * 0.999
            assert not any(hits(k, load, x, y) for k in bed.keep_outs)
            assert load.cut.x0 + x >= -0.002
            assert load.cut.y1 + y <= 300.002


def test_cutter_keep_out_may_stand_inside_a_part(settings, make_bed, make_part, make_blank, at):
    """A block that stops the cutter only may stand where no cutter goes: in the middle of a part."""
    block = KeepOut(name="post", outline=Outline.rectangle(190, 140, 210, 160), blocks="cutter")
    blank = make_blank(Outline.rectangle(0, 0, 390, 290))
    pairs = ((make_part(Outline.rectangle(0, 0, 330, 230)), at(30, 30)),)
    assert lie(make_bed(400, 300, keep_outs=(block,)), load_of(blank, pairs, 0.0, settings)).fits
    both = KeepOut(name="post", outline=block.outline, blocks="both")
    assert not lie(make_bed(400, 300, keep_outs=(both,)), load_of(blank, pairs, 0.0, settings)).fits


def test_keep_out_named_when_it_alone_is_in_the_way(settings, make_bed, make_part, make_blank, at):
    """Of two keep-outs the reason names the one without which there would be a place."""
    near = KeepOut(name="near", outline=Outline.rectangle(0, 0, 30, 300))
    far = KeepOut(name="far", outline=Outline.rectangle(395, 0, 400, 5))
    blank = make_blank(Outline.rectangle(0, 0, 380, 290))
    pairs = ((make_part(Outline.rectangle(0, 0, 300, 200)), at(30, 30)),)
    answer = lie(make_bed(400, 300, keep_outs=(near, far)), load_of(blank, pairs, 0.0, settings))
    assert answer.refusals == (KeepOutInTheWay(name="near"),)


def test_swept_band_is_a_diameter_wide(settings, make_part, at):
    """The cutter's body sweeps from the outline to a diameter outside it, and openings in full."""
    pairs = ((make_part(Outline.rectangle(0, 0, 100, 50)), at(0, 0, angle_deg=20.0)),)
    (body,) = load_of(None, pairs, 0.0, settings).swept_polygons
    true = rotate(shapely.box(0, 0, 100, 50), 20.0, origin=(0, 0))
    band = true.buffer(6.0, quad_segs=64).difference(true)
    assert body.buffer(1e-6).covers(band)
    assert body.area == pytest.approx(band.area, rel=0.01)
    assert not body.covers(translate(shapely.Point(true.centroid), 0, 0))
