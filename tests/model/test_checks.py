"""Types of the model refuse what cannot be, with a clear error."""

import math
import re
from dataclasses import replace
from typing import Any, get_args

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from nestyield import ModelError
from nestyield.model import (
    DEFECTS,
    ROLES,
    Defect,
    GlueUpRules,
    MachineLimits,
    Order,
    Outline,
    Preferences,
    Season,
    Settings,
    Shape,
    Shop,
    ValueClass,
    Zone,
    ZoneRole,
)
from nestyield.model.ranges import allowed


def test_a_role_that_is_none() -> None:
    """A zone of an unknown role is refused, and the roles that there are are named."""
    shape = Shape(outer=Outline.rectangle(0, 0, 10, 10))
    with pytest.raises(ModelError, match=r"zone 'Z'.*pocket.*got 'banana'"):
        Zone(name="Z", role="banana", shape=shape)  # type: ignore[arg-type]


@pytest.mark.parametrize("diameter", [0.0, -6.0, math.nan])
def test_a_cutter_has_a_diameter(diameter: float) -> None:
    """A cutter of no, negative or unknown diameter is refused."""
    with pytest.raises(ModelError, match=re.escape(f"cutter_diameter_mm > 0, got {diameter}")):
        Settings(cutter_diameter_mm=diameter)


def test_an_order_for_no_part() -> None:
    """A shop with an order for a part that it does not have is refused."""
    with pytest.raises(ModelError, match="order 'o' is for part 'lute'; known parts: none"):
        Shop(
            name="s",
            units="mm",
            settings=Settings(cutter_diameter_mm=6.0),
            beds=(),
            parts=(),
            pieces=(),
            orders=(Order(name="o", part="lute"),),
        )


SQUARE = Shape(outer=Outline.rectangle(0, 0, 10, 10))


@pytest.mark.parametrize(
    ("zone", "why"),
    [
        ({"role": "pocket", "shape": SQUARE}, "a pocket has a depth from front or back, got none"),
        ({"role": "contour", "shape": SQUARE, "depth_mm": 3.0, "face": "through"}, "got face through"),
        ({"role": "cutout", "shape": SQUARE, "depth_mm": 3.0}, "a cutout has no depth, got depth_mm 3.0"),
        ({"role": "hole"}, "a hole has a shape"),
        ({"role": "center_line", "shape": SQUARE}, "a center_line has a line and no shape"),
        ({"role": "hole", "shape": SQUARE, "depth_mm": math.nan}, "depth_mm > 0 in zone 'Z', got nan"),
    ],
)
def test_a_zone_has_what_its_role_needs(zone: dict[str, Any], why: str) -> None:
    """A zone without the depth, face or shape of its role is refused, and the rule is named."""
    with pytest.raises(ModelError, match=re.escape(why)):
        Zone(name="Z", **zone)


@pytest.mark.parametrize(
    ("role", "depth_mm", "through"),
    [
        ("cutout", None, True),
        ("hole", None, True),
        ("hole", 19.9, False),
        ("hole", 20.0, True),
        ("pocket", 19.9, False),
        ("pocket", 20.0, True),
        ("contour", 25.0, False),
        ("no_seam", None, False),
        ("screw_row", None, False),
    ],
)
def test_what_goes_through(role: Any, depth_mm: float | None, through: bool) -> None:
    """Cutouts, holes without a depth and what is as deep as the part is thick are openings; a slope never is."""
    assert Zone(name="Z", role=role, shape=SQUARE, depth_mm=depth_mm).goes_through(20.0) is through


def test_every_role_is_a_row() -> None:
    """The roles that a type checker knows are those of the table."""
    assert set(ROLES) == set(get_args(ZoneRole))
    assert all(name == role.name for name, role in ROLES.items())


@pytest.mark.parametrize(
    ("of", "field", "value", "rule"),
    [
        (GlueUpRules, "most_pieces", 0, ">= 1, got 0"),
        (GlueUpRules, "most_pieces", 2.5, "to be a whole number, got 2.5"),
        (GlueUpRules, "taper_deg", 46.0, "<= 45, got 46.0"),
        (GlueUpRules, "crossed", "perhaps", "to be one of refused, allowed, got 'perhaps'"),
        (GlueUpRules, "mixed_species", "yes", "to be true or false, got 'yes'"),
        (GlueUpRules, "dowel_spacing_mm", 0.0, "> 0, got 0.0"),
        (Season, "humidity_low", 61.0, "humidity_low <= humidity_high, got 61 and 60"),
        (Season, "temperature", math.nan, ">= -1, got nan"),
        (MachineLimits, "planer_rollers_mm", -1.0, "> 0, got -1.0"),
        (MachineLimits, "saw_kerf_mm", 21.0, "<= 20, got 21.0"),
        (Preferences, "feed", "fast", "to be one of conventional, climb, got 'fast'"),
        (Preferences, "short_grain", True, "to be a number, got True"),
        (ValueClass, "times", -1.0, ">= 0, got -1.0"),
    ],
)
def test_settings_out_of_range(of: type, field: str, value: object, rule: str) -> None:
    """A setting outside its range, or that is no choice, is refused with its name, rule and value."""
    with pytest.raises(ModelError, match=re.escape(f"expected {of.__name__}.{field}")) as refused:
        of(**{field: value})
    assert str(refused.value).endswith(rule)


@pytest.mark.parametrize("of", [GlueUpRules, Season, MachineLimits, Preferences, ValueClass])
def test_defaults_keep_their_own_rules(of: type) -> None:
    """The defaults lie in their ranges, at which limits are allowed and one step beyond is not."""
    usual = of()
    for name, may in allowed(of).items():
        for limit, ok in ((may.range.low, True), (may.range.high, True), (may.range.above, False)):
            if limit is None or name == "humidity_high":
                continue
            if ok and name != "humidity_low":
                replace(usual, **{name: limit})
            step = -1 if limit in (may.range.low, may.range.above) else 1
            with pytest.raises(ModelError, match=name):
                replace(usual, **{name: limit + step})


def test_a_hole_may_touch_the_edge_along_a_line() -> None:
    """A leftover's ring around a triangular hole that shares a stretch of the edge goes there and back: no crossing.

    The triangle (0, 239), (338.7, 59.6), (855, 59.6) less the one with its base on that edge, worked by their bases
    and heights.
    """
    ring = [(338.7, 59.6), (380.5, 149.6), (665.0, 59.6), (338.7, 59.6), (855.0, 59.6), (0.0, 239.0)]
    made = Outline.polygon(ring)
    whole, hole = (855.0 - 338.7) * (239.0 - 59.6) / 2, (665.0 - 338.7) * (149.6 - 59.6) / 2
    assert abs(made.signed_area_mm2) == pytest.approx(whole - hole)


@pytest.mark.parametrize(
    "points",
    [
        [(0, 0), (100, 100), (100, 0), (0, 100)],  # bow-tie
        [(0, 0), (100, 100), (100, 0), (0, 40)],  # bow-tie with unlike loops
        [
            (0, 0),
            (100, 0),
            (100, 60),
            (40, 60),
            (40, -20),
            (60, -20),
            (60, 100),
            (0, 100),
        ],  # a loop counted twice
    ],
)
def test_an_outline_does_not_cross_itself(points: list[tuple[float, float]]) -> None:
    """An outline that crosses itself is refused wherever it is made, whatever its signed area comes to."""
    assert not shapely.Polygon(points).is_valid
    with pytest.raises(ModelError, match="does not cross itself, got one with"):
        Outline.polygon(points)
    with pytest.raises(ModelError, match="does not cross itself"):
        Outline.polygon(points[::-1])


def test_an_arc_that_runs_over_the_other_side() -> None:
    """An arc that bulges beyond the opposite side is refused; one that stays inside is not."""
    points = ((0.0, 0.0), (100.0, 0.0), (100.0, 30.0), (0.0, 30.0))
    # a bulge of -b dips 50 b into the rectangle, which is 30 high
    Outline(points_mm=points, bulges=(-0.5, 0.0, 0.0, 0.0))
    with pytest.raises(ModelError, match="does not cross itself"):
        Outline(points_mm=points, bulges=(-0.7, 0.0, 0.0, 0.0))


def test_what_only_touches_or_lies_on_itself_may_be_made() -> None:
    """Curves that touch themselves in a point, run back on themselves or have no area are not a crossing."""
    Outline.polygon([(0, 0), (50, 50), (100, 0), (100, 100), (50, 50), (0, 100)])
    Outline.polygon([(0, 0), (100, 0), (100, 50), (150, 50), (100, 50), (100, 100), (0, 100)])
    Outline.polygon([(0, 0), (100, 0), (50, 0)])
    Outline.circle(0, 0, 10)


def _square_enough(a: shapely.LineString, b: shapely.LineString) -> bool:
    """Whether two lines cross at 20 degrees or more."""
    (u, v) = (complex(*s.coords[1]) - complex(*s.coords[0]) for s in (a, b))
    return abs((u.conjugate() * v).imag) > math.sin(math.radians(20)) * abs(u) * abs(v)


@settings(max_examples=200, deadline=None, derandomize=True)
@given(st.lists(st.tuples(st.integers(0, 200), st.integers(0, 200)), min_size=3, max_size=9, unique=True))
def test_random_rings(points: list[tuple[int, int]]) -> None:
    """What shapely calls a valid ring can be made; lines that cross well inside each other are refused."""
    ring = [(float(x), float(y)) for x, y in points]
    sides = [shapely.LineString(pair) for pair in zip(ring, ring[1:] + ring[:1])]
    corners = shapely.MultiPoint(ring)
    crossing = any(
        a.crosses(b) and a.intersection(b).distance(corners) > 5 and _square_enough(a, b)
        for i, a in enumerate(sides)
        for b in sides[i + 2 :]
    )
    if shapely.Polygon(ring).is_valid:
        Outline.polygon(ring)
    elif crossing:
        with pytest.raises(ModelError, match="cross itself"):
            Outline.polygon(ring)


@pytest.mark.parametrize(
    ("trait", "kinds"),
    [
        ("metal", {"metal"}),
        ("may_hold_metal", {"metal", "nail hole", "screw hole"}),
        ("knot", {"knot", "loose knot"}),
        ("loose", {"loose knot", "split", "shake", "bark", "rot"}),
        (
            "wood_missing",
            {
                "live edge",
                "rough edge",
                "wane",
                "bark",
                "rot",
                "split",
                "loose knot",
                "dent",
                "mortise",
                "drilled hole",
            },
        ),
        ("clear", {"sapwood"}),
    ],
)
def test_kinds_of_defect(trait: str, kinds: set[str]) -> None:
    """Each trait of a defect belongs to the kinds that the trade says (common practice, no source)."""
    assert {name for name, kind in DEFECTS.items() if getattr(kind, trait)} == kinds


def test_a_kind_of_defect_that_is_none() -> None:
    """A defect of an unknown kind is refused, and the kinds that there are are named."""
    with pytest.raises(ModelError, match=r"expected D 1 to be one of knot.*got 'banana'"):
        Defect(name="D 1", kind="banana", shape=SQUARE)
