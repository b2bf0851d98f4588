"""Types of the model refuse what cannot be, with a clear error."""

import math
import re
from dataclasses import replace
from typing import Any, get_args

import pytest

from nestyield import ModelError
from nestyield.model import (
    ROLES,
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
        ({"role": "centre_line", "shape": SQUARE}, "a centre_line has a line and no shape"),
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
