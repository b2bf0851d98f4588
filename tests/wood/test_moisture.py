"""The humidity equation against the handbook's table."""

import pytest

from nestyield.model import ModelError, Season
from nestyield.wood.moisture import (
    moisture_in_air,
    season_of,
    season_range,
)

HUMIDITY = (30, 40, 50, 60, 70, 80)
# Wood Handbook FPL-GTR-190 (2010), table 4-2: moisture content at these humidities, by degrees F.
TABLE_4_2 = {
    30: (6.3, 7.9, 9.5, 11.3, 13.5, 16.5),
    70: (6.2, 7.7, 9.2, 11.0, 13.1, 16.0),
    90: (5.9, 7.4, 8.9, 10.5, 12.6, 15.4),
}


@pytest.mark.outside(source="Wood Handbook FPL-GTR-190 (2010), table 4-2", mark="S")
@pytest.mark.parametrize(("degrees_f", "row"), sorted(TABLE_4_2.items()))
def test_table_4_2(degrees_f, row):
    """Moisture in air of a given humidity agrees with the handbook's table within 0.1 %."""
    for humidity, moisture in zip(HUMIDITY, row, strict=True):
        assert moisture_in_air(humidity, (degrees_f - 32) / 1.8) == pytest.approx(moisture, abs=0.1)


@pytest.mark.parametrize("temperature", [-1, 10, 21, 35, 60])
def test_more_humidity_is_more_moisture(temperature):
    """Moisture begins at nothing and grows with humidity."""
    steps = [moisture_in_air(h, temperature) for h in range(99)]
    assert steps == sorted(set(steps))
    assert steps[0] == 0


def test_season():
    """The season's range is the moisture at its two humidities."""
    assert season_of(Season()) == season_range(30, 60, 21)
    assert season_of(Season(humidity_high=65, temperature=0.5)) == season_range(30, 65, 0.5)
    assert season_range(35, 65, 20) == (moisture_in_air(35, 20), moisture_in_air(65, 20))


@pytest.mark.parametrize(
    "call",
    [
        lambda: moisture_in_air(-1),
        lambda: moisture_in_air(99),
        lambda: moisture_in_air(50, 200),
        lambda: season_range(60, 40),
    ],
)
def test_out_of_range(call):
    """Values without a table behind them are refused with the rule."""
    with pytest.raises(ModelError, match="expected"):
        call()
