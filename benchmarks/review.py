"""A year's log of three inputs, every ten minutes, reviewed."""

import numpy as np
import pandas as pd
import xarray as xr

import yieldkit
from benchmarks.timing import best_of
from yieldkit.study.logs.plant_log import PlantLog
from yieldkit.study.review.review import review
from yieldkit.study.simulation.simulate import simulate
from yieldkit.study.simulation.weather import site_weather

_STEPS = 6


def run() -> dict[str, float]:
    """Return the time of a review of the demonstration site's year, its tilt drawn otherwise."""
    site = yieldkit.load_site()
    weather = _ten_minutes(site_weather(site))
    true = site.variant({"planes.0.tilt_deg": site.planes[0].tilt_deg + 6.0})
    found = simulate(true, weather=weather)
    noise = 1.0 + 0.02 * np.random.default_rng(1).standard_normal(found["i_dc"].shape)
    data = found[["v_dc", "i_dc", "p_dc"]].copy()
    data["i_dc"], data["p_dc"] = data["i_dc"] * noise, data["p_dc"] * noise
    data["p_ac"] = (("time", "inverter"), found["p_ac"].to_numpy()[:, None])
    data["v_ac"] = found["v_ac"]
    data["left_out"] = (("time", "tracker"), np.zeros(noise.shape, dtype=np.int8))
    attrs = {"interval_s": 600.0, "utc_offset_s": 3600.0, "time_zone": "UTC+01:00"}
    log = PlantLog("year.csv", data.drop_attrs().assign_attrs(attrs), weather)
    return {"review_year_s": best_of(lambda: review(site, None, log), 2)}


def _ten_minutes(weather: xr.Dataset) -> xr.Dataset:
    """Return hourly weather with each hour in six steps that waver about it."""
    hours = pd.DatetimeIndex(weather.indexes["time"])
    times = pd.date_range(hours[0], periods=hours.size * _STEPS, freq="10min")
    fine = weather.isel(time=np.repeat(np.arange(hours.size), _STEPS))
    return fine.assign_coords(time=times).assign_attrs(weather.attrs | {"interval_s": 600.0})
