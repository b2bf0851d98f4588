"""Types of the model refuse what cannot be, with a clear error."""

import math
import re

import pytest

from nestyield import ModelError
from nestyield.model import Order, Outline, Settings, Shape, Shop, Zone


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
