"""Screws in the waste, and in wood that is kept only where the waste has no room."""

from __future__ import annotations

import math
from dataclasses import replace

import shapely

from nestyield.bed.holds import hold_downs
from nestyield.bed.sweep import outline_polygon
from nestyield.model import Outline, Settings
from nestyield.model.pose import Pose

#: 360 x 380 with a notch 56 wide and 60 deep in the middle of its lower edge.
NOTCHED = Outline.polygon([(0, 0), (152, 0), (152, 60), (208, 60), (208, 0), (360, 0), (360, 380), (0, 380)])
SETTINGS = Settings(cutter_diameter_mm=6.0)


def screws(make_part, make_blank, at, keep):
    blank = make_blank(Outline.rectangle(0, 0, 600, 400))
    pairs = ((make_part(NOTCHED), at(120, 10)),)
    found = hold_downs(blank, pairs, SETTINGS, (), keep)
    body = outline_polygon(NOTCHED, Pose(x_mm=120.0, y_mm=10.0))
    assert all(shapely.Point(h.x_mm, h.y_mm).distance(body) >= 9.0 + h.diameter_mm / 2 for h in found)
    return found


def test_the_place_in_the_waste_is_used_before_wood_that_is_kept(make_part, make_blank, at):
    """With both ends kept the notch has room for one screw: it stands there, the others in the ends.

    The four corners of the ends lie farther apart, so that without the rule nothing would stand in the notch.
    """
    ends = shapely.union(shapely.box(0, 0, 110, 400), shapely.box(490, 0, 600, 400))
    found = screws(make_part, make_blank, at, ends)
    notch = [h for h in found if 272 <= h.x_mm <= 328 and h.y_mm <= 70]
    assert len(found) == 4
    assert len(notch) == 1
    assert not ends.intersects(shapely.Point(notch[0].x_mm, notch[0].y_mm).buffer(notch[0].diameter_mm / 2))


def test_kept_wood_stays_whole_where_the_waste_has_room(make_part, make_blank, at):
    """With one end kept, both other screws stand in the other end and the notch, none in what is kept."""
    kept = shapely.box(0, 0, 110, 400)
    found = screws(make_part, make_blank, at, kept)
    assert len(found) >= 2
    assert not any(kept.intersects(shapely.Point(h.x_mm, h.y_mm).buffer(h.diameter_mm / 2)) for h in found)


def test_a_screw_of_another_section_is_not_stood_in(make_part, make_blank, at):
    """Screws of 10 mm given for another section keep 15 mm between centers from those chosen over this part of the table."""
    blank = make_blank(Outline.rectangle(0, 0, 600, 400))
    pairs = ((make_part(NOTCHED), at(120, 10)),)
    here = shapely.box(0, 0, 60, 400)
    alone = hold_downs(blank, pairs, SETTINGS, (), shapely.Point(), table=here)
    for first in alone:
        # just beside the place that would be taken, and not over the table here
        given = replace(first, name="given", x_mm=first.x_mm + 8.0)
        table = here.difference(shapely.Point(given.x_mm, given.y_mm).buffer(2.0))
        found = hold_downs(blank, pairs, SETTINGS, (), shapely.Point(), table=table, given=[given])
        assert found
        assert min(math.dist((h.x_mm, h.y_mm), (given.x_mm, given.y_mm)) for h in found) >= 15.0
