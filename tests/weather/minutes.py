"""Minutes with invented clouds, and the measured ones that come with the package as a table."""

from functools import cache

import numpy as np
import pandas as pd

from yieldkit.physics.irradiance.cloudless import beam_below
from yieldkit.physics.irradiance.sun import sun_position
from yieldkit.weather.readers.canonical import Sampling, Station, from_frame
from yieldkit.weather.readers.tables import canonical_text

PLACE = Station(47.0, 8.0, 450.0, 3600, 2.0)
"""Where the invented clouds drift by."""


@cache
def cloudy(days=16, first="2019-05-10", place=PLACE, seed=7):
    """Return minutes under clouds that come and go, index in UTC at the start of each.

    Parameters
    ----------
    days : int
        How many.
    first : str
        The first of them.
    place : Station
        Where.
    seed : int
        Of the clouds.
    """
    begins = pd.date_range(first, periods=1440 * days, freq="1min", tz="UTC")
    spot = (place.latitude, place.longitude, place.altitude_m)
    sun = sun_position(begins + pd.Timedelta(seconds=30), *spot)
    height = np.maximum(np.cos(np.radians(sun.zenith)), 0.0)
    draw = np.random.default_rng(seed)
    # Every hour has its share of cloud, and clouds stay for some minutes.
    share = np.repeat(draw.choice([0.0, 0.3, 0.6, 1.0], size=24 * days), 60)
    turn = draw.random(begins.size) < 0.2
    cloud = draw.random(begins.size)[np.maximum.accumulate(np.where(turn, np.arange(turn.size), 0))]
    lit = (cloud >= share).astype(float)
    beam = beam_below(sun, np.full(begins.size, 3.0), place.altitude_m)
    dni = np.where(height > 0.0, lit * beam, 0.0)
    dhi = sun.dni_extra * height * np.where(share == 0.0, 0.1, 0.17 + 0.1 * lit)
    frame = pd.DataFrame({"ghi": dni * height + dhi, "dni": dni, "dhi": dhi}, index=begins)
    return frame.assign(temp_air=18.0, wind_speed=2.0)


def hourly(minutes, place=PLACE):
    """Return the hourly means of minutes as canonical weather."""
    means = minutes.resample("1h").mean()
    return from_frame(means, place, Sampling("mean", "start"), provenance={"title": "invented"})


def by_minute(minutes, place=PLACE):
    """Return minutes as canonical weather of one-minute steps."""
    return from_frame(minutes, place, Sampling("mean", "start"), provenance={"title": "invented"})


def as_file(minutes, path, place=PLACE, title="invented clouds"):
    """Write minutes in our own plain form, with their place."""
    facts = {
        "title": title,
        "latitude": place.latitude,
        "longitude": place.longitude,
        "altitude_m": place.altitude_m,
        "time_zone": "UTC+00:00",
        "wind_height_m": place.wind_height_m,
        "sampling": "mean",
        "label": "start",
    }
    local = minutes.set_axis(minutes.index.tz_convert(None), axis="index")
    path.write_text(canonical_text(local.round(2), facts), encoding="utf-8")
    return path
