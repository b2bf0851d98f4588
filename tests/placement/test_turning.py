import itertools
from dataclasses import replace

import numpy as np
import pytest
from study_exact import audit_says, jigsaw, random_blank, random_part, study

from nestyield.model import Blank, Outline, Part, Settings, Shape
from nestyield.model.pose import Pose
from nestyield.placement.single import place_part

SETTINGS = Settings(cutter_diameter_mm=6.0, blank_margin_mm=0.0)


def plain(length, width, **more):
    return Blank(
        name="piece",
        members=(),
        species="sugar maple",
        thickness_mm=44.0,
        shape=Shape(outer=Outline.rectangle(0, 0, length, width)),
        grain_deg=0.0,
        **more,
    )


def bar(p, q, tolerance=90.0):
    return Part(
        name="bar",
        drawing="",
        outline=Outline.rectangle(0, 0, p, q),
        thickness_mm=40.0,
        grain_tolerance_deg=tolerance,
    )


def least_width(p, q, a):
    """Carver, Amer. Math. Monthly 64 (1957): width in which a p x q bar lies tilted in length a < p."""
    d = p * p + q * q
    return (2 * p * q * a + (p * p - q * q) * np.sqrt(d - a * a)) / d


@pytest.mark.outside(source="tilted rectangle rule, Carver, Amer. Math. Monthly 64, 1957", mark="M")
@pytest.mark.parametrize(("p", "q", "a"), [(200.0, 30.0, 190.0), (300.0, 60.0, 280.0), (150.0, 20.0, 130.0)])
def test_tilted_bars_fit_exactly_when_the_rule_says(p, q, a):
    """A bar longer than the piece lies tilted when the piece is 0.1 mm wider than the rule asks, and is
    proved not to when it is 0.1 mm narrower."""
    b = least_width(p, q, a)
    assert b <= a
    wide = place_part(bar(p, q), plain(a, b + 0.1), SETTINGS)
    assert wide.placement is not None
    narrow = place_part(bar(p, q), plain(a, b - 0.1), SETTINGS)
    assert narrow.verdict == "infeasible"
    assert narrow.certificate is not None
    assert narrow.certificate.outright


def test_the_grain_tolerance_bounds_the_tilt():
    """The same bar in the same piece fails when its tilt is not allowed."""
    b = least_width(200, 30, 190) + 0.1
    assert place_part(bar(200, 30, 80.0), plain(190, b), SETTINGS).placement is not None
    got = place_part(bar(200, 30, 5.0), plain(190, b), SETTINGS)
    assert got.verdict == "infeasible"


def test_certificates_cover_every_allowed_angle():
    """Intervals of each branch follow on each other over the whole range."""
    got = place_part(bar(200, 30, 7.0), plain(190, 60), SETTINGS)
    assert got.certificate is not None
    branches = got.certificate.branches
    assert len(branches) == 4
    for branch in branches:
        spans = branch.intervals
        assert spans[0].from_deg in (-7.0, 173.0)
        assert spans[-1].to_deg == pytest.approx(spans[0].from_deg + 14.0, abs=1e-9)
        assert all(b.from_deg == pytest.approx(a.to_deg, abs=1e-9) for a, b in itertools.pairwise(spans))


@pytest.mark.outside(source="the audit, which shares no code with the search", mark="D")
def test_a_sample_of_the_study_holds():
    """Random cases: every answer is decided, placements pass the audit."""
    counts, _, contradictions, _ = study(8, 3, 0)
    assert contradictions == []
    assert sum(counts[k] for k in ("placed", "infeasible", "tight")) == 8


@pytest.mark.parametrize("arcs", [False, True])
def test_a_sample_of_the_jigsaws_is_found(arcs):
    """Parts are found on pieces of their own outline, turned by a random angle."""
    found, _ = jigsaw(4, 11, arcs)
    assert found == 4


def moved_question(part, blank, angle, mirrored, x, y):
    """The same question with the piece turned, perhaps mirrored, and shifted."""
    grain = blank.grain_deg
    grain = (180.0 - grain if mirrored else grain) + angle
    pose = Pose(angle_deg=angle, mirrored=mirrored, x_mm=x, y_mm=y)
    flip = {"top": "bottom", "bottom": "top", "through": "through"}
    defects = tuple(
        replace(d, shape=pose.shape(d.shape), face=flip[d.face] if mirrored else d.face)
        for d in blank.defects
    )
    return replace(blank, shape=pose.shape(blank.shape), grain_deg=grain, defects=defects)


def scaled(o, k):
    return Outline(points_mm=tuple((k * x, k * y) for x, y in o.points_mm), bulges=o.bulges)


def scaled_shape(s, k):
    return Shape(outer=scaled(s.outer, k), holes=tuple(scaled(h, k) for h in s.holes))


@pytest.mark.parametrize("seed", range(3))
def test_moving_and_rescaling_the_question_changes_no_answer(seed):
    """Turning, turning over, shifting and rescaling everything gives the same answer."""
    rng = np.random.default_rng([5, seed])
    part = random_part(rng, points=60)
    blank = random_blank(rng, part, tight=1.15)
    settings = Settings(cutter_diameter_mm=6.0, blank_margin_mm=2.0)
    want = place_part(part, blank, settings).verdict
    assert place_part(part, moved_question(part, blank, 37.0, False, 300, -80), settings).verdict == want
    # a piece turned over is seen mirrored, its top is its bottom; both faces of the part may lie up
    assert place_part(part, moved_question(part, blank, -20.0, True, 0, 50), settings).verdict == want
    k = 0.5
    small = replace(
        part,
        outline=scaled(part.outline, k),
        zones=tuple(replace(z, shape=scaled_shape(z.shape, k)) for z in part.zones),
    )
    shrunk = replace(
        blank,
        shape=scaled_shape(blank.shape, k),
        defects=tuple(replace(d, shape=scaled_shape(d.shape, k)) for d in blank.defects),
    )
    less = replace(settings, blank_margin_mm=1.0, chord_error_mm=0.01)
    assert place_part(small, shrunk, less).verdict == want


def test_a_limit_of_effort_leaves_it_undecided():
    """At the effort limit the widest open interval is told, and no certificate is given."""
    b = least_width(200, 30, 190) - 0.02
    got = place_part(bar(200, 30), plain(190, b), SETTINGS, limit=6)
    assert got.verdict == "undecided"
    assert got.certificate is None
    assert got.open_deg is not None
    assert got.open_deg[1] > got.open_deg[0]


def test_no_grain_means_any_angle():
    """Without grain all round is searched: a bar across the corner of a square is found."""
    piece = replace(plain(150, 150), grain_deg=None)
    got = place_part(bar(190, 15), piece, SETTINGS)
    assert got.placement is not None
    assert not audit_says(bar(190, 15), replace(piece, members=()), SETTINGS, got.placement)
