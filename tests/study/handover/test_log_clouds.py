"""Logs of cloudy days with light measured on the planes: glass takes less of diffuse light."""

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from tests.study import sites
from yieldkit.physics.irradiance.cloudless import cloudless_sky, usual_turbidity
from yieldkit.physics.irradiance.sun import sun_position
from yieldkit.study.handover.log_verdict import log_verdict
from yieldkit.study.logs.plant_log import PlantLog
from yieldkit.study.simulation.simulate import simulate
from yieldkit.weather.readers.canonical import Sampling, Station, from_frame

pytestmark = pytest.mark.slow

DAY = "2026-10-01"


def cloudy_log(site, seed, brightness):
    """Return a day's log of the site's first wiring below clouds, sensors on all planes."""
    rng = np.random.default_rng(seed)
    place = site.site
    time = pd.date_range(f"{DAY} 00:00", periods=144, freq="10min", tz="UTC")
    middle = time + pd.Timedelta("5min")
    sun = sun_position(middle, place.latitude, place.longitude, place.altitude_m)
    turbidity = usual_turbidity(middle, place.latitude, place.longitude)
    clear = cloudless_sky(sun, turbidity, place.altitude_m).ghi
    moving = np.interp(np.arange(144), np.arange(0, 150, 6), rng.uniform(0.7, 1.3, 25))
    frame = pd.DataFrame(
        {"ghi": clear * np.minimum(brightness * moving, 1.0), "temp_air": 14.0, "wind_speed": 1.5},
        index=time,
    )
    station = Station(
        place.latitude, place.longitude, place.altitude_m, place.utc_offset_s, wind_height_m=10.0
    )
    sky = from_frame(frame, station, Sampling("mean", "start"))
    made = simulate(site, None, sky)
    light = {
        f"poa_global of {plane}": ("time", made["poa_global"].sel(plane=plane).to_numpy())
        for plane in made["plane"].to_numpy()
    }
    heat = {
        f"temp_cell of {plane}": ("time", made["temp_cell"].sel(plane=plane).to_numpy())
        for plane in made["plane"].to_numpy()
    }
    digits = {"v_dc": 1, "i_dc": 2, "p_dc": 0}
    data = xr.Dataset({name: made[name].round(to) for name, to in digits.items()})
    codes = np.zeros((made.sizes["time"], made.sizes["tracker"]), dtype=np.int8)
    data = data.assign(left_out=(("time", "tracker"), codes))
    data = data.assign_attrs(
        interval_s=600.0, utc_offset_s=place.utc_offset_s, time_zone=place.time_zone
    )
    weather = xr.Dataset({**light, **heat, "temp_air": sky["temp_air"]}, {"time": made["time"]})
    return PlantLog("cloudy.csv", data, weather.assign_attrs(sky.attrs))


@pytest.mark.parametrize(("seed", "brightness"), [(1, 0.25), (2, 0.45), (3, 0.65), (4, 0.85)])
def test_a_right_plant_below_clouds_is_called_right(seed, brightness):
    site = sites.demo()
    found = log_verdict(site, None, cloudy_log(site, seed, brightness))
    assert found.explanations[0][1][0] == "as drawn"
    assert found.as_drawn > 0.75
