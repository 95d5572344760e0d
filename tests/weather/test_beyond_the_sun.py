"""Light that is more than the sun sends to a place is of another place, and refused."""

import numpy as np
import pandas as pd
import pvlib
import pytest

from tests.weather.clear_sky import PLACE, minutes
from yieldkit.base.errors import InputError
from yieldkit.weather.quality.beyond_the_sun import daily_from_space
from yieldkit.weather.readers.canonical import Sampling, from_frame

MEANS = Sampling("mean", "start")


@pytest.fixture(scope="module")
def hours():
    """Return twenty clear days of hourly means of global light."""
    return minutes().resample("60min").mean()[["ghi", "temp_air"]]


@pytest.mark.parametrize("latitude", [0.0, 45.0, -33.0, 69.0])
def test_what_the_sun_sends_in_a_day_is_that_of_its_course(latitude):
    days = pd.DatetimeIndex(["2025-03-21", "2025-06-21", "2025-10-10", "2025-12-21"])
    own = daily_from_space(days, latitude)
    for day, kwh in zip(days, own, strict=True):
        steps = pd.date_range(day, periods=288, freq="5min", tz="UTC")
        sun = pvlib.solarposition.get_solarposition(steps, latitude, 0.0)
        extra = pvlib.irradiance.get_extra_radiation(steps.day_of_year.to_numpy())
        height = np.clip(np.cos(np.radians(sun["zenith"])), 0.0, None)
        # Near an equinox at 69 N a day more or less makes 3 % and more.
        assert kwh == pytest.approx(float((extra * height).sum()) / 12_000.0, rel=0.06, abs=0.05)


def test_weather_of_the_other_hemisphere_is_refused(hours):
    assert from_frame(hours, PLACE, MEANS)["ghi"].max() > 500.0
    south = PLACE._replace(latitude=-60.0)
    with pytest.raises(InputError, match="more light than the sun sends to 60 S") as caught:
        from_frame(hours, south, MEANS)
    said = str(caught.value)
    assert "kWh/m2 reach the top of the air on that day. Weather of another place or of the" in said
    assert "Correct site.latitude (south is negative), or name a weather file" in said


def test_a_few_wrong_rows_are_no_other_place(hours):
    table = hours.copy()
    table.iloc[30:54, 0] = 1000.0
    assert from_frame(table, PLACE, MEANS).sizes["time"] == len(hours)


def test_rows_that_are_there_twice_are_not_taken_for_daylight_saving(hours):
    june = hours.set_axis(pd.date_range("2025-06-01", periods=len(hours), freq="1h", tz="UTC"))
    october = hours.set_axis(pd.date_range("2025-10-01", periods=len(hours), freq="1h", tz="UTC"))
    for table, told in ((june, "Rows twice?"), (october, "clock with daylight saving?")):
        twice = pd.concat([table, table.iloc[5:6]])
        with pytest.raises(InputError, match="1 times twice") as caught:
            from_frame(twice, PLACE, MEANS)
        assert told in str(caught.value)
